"""The shop folder: where the shop file, the jobs and the log lie."""

from __future__ import annotations

import os
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from platformdirs import user_data_path

from scheduling.errors import BadInput, Fault
from scheduling.job import Bare, Job
from scheduling.shop import Shop
from scheduling.shopfile import read_shop

BARE = Job(id="bare", title="Bare pour", shape=Bare())
"""A pour with no job file: one zone, a 22 mm shell, only the clock."""

SAMPLE_SHOP = "shop.toml"


def samples() -> Path:
    """Returns the folder of the sample shop and jobs that come with the program."""
    from importlib.resources import files  # noqa: PLC0415 - after the first paint

    return Path(str(files("sample_jobs").joinpath(SAMPLE_SHOP))).parent


def sample_jobs() -> list[Path]:
    """Returns the sample job files, sorted by name."""
    return sorted(p for p in samples().glob("*.toml") if p.name != SAMPLE_SHOP)


def default_folder() -> Path:
    """Returns the shop folder when none is named: POURBELL_SHOP or the platform's."""
    named = os.environ.get("POURBELL_SHOP")
    return Path(named) if named else user_data_path("pourbell", appauthor=False)


@dataclass(frozen=True, slots=True)
class ShopFolder:
    """One shop's files. Nothing is created before something is to be kept."""

    path: Path

    @property
    def shop_file(self) -> Path:
        """The shop file, which may not exist."""
        return self.path / "shop.toml"

    @property
    def log(self) -> Path:
        """The folder of the log."""
        return self.path / "log"

    @property
    def jobs(self) -> Path:
        """The folder of the job files."""
        return self.path / "jobs"

    def shop(self) -> Shop:
        """Returns the shop as written, or the built-in one without a shop file.

        Raises:
            BadInput: The shop file is wrong; every fault of it.
        """
        return read_shop(self.shop_file) if self.shop_file.exists() else Shop()

    def is_empty(self) -> bool:
        """Whether nobody has set up anything here yet."""
        return not (self.shop_file.exists() or self.job_files() or self.log.exists())

    def job_files(self) -> list[Path]:
        """Returns the job files in the shop folder, sorted by name."""
        return sorted(self.jobs.glob("*.toml"))

    def job(self, name: str) -> Job:
        """Returns a job by the path of its file, or by its id in the shop folder.

        Args:
            name: A path, a job's id, or ``bare``.

        Raises:
            BadInput: There is none such, or its file is wrong.
        """
        from scheduling.jobfile import read_job  # noqa: PLC0415 - after the first paint

        if name == BARE.id:
            return BARE
        own = self.jobs / f"{name}.toml"
        if own.is_file():
            return read_job(own)
        path = Path(name)
        if path.exists() or path.suffix == ".toml" or len(path.parts) > 1:
            return read_job(path)
        known = [file.stem for file in self.job_files()]
        near = get_close_matches(name, known, n=1)
        want = f'did you mean "{near[0]}"?' if near else "a path or the id of a job"
        if not near and known:
            want += f" in {self.jobs} ({', '.join(known)})"
        raise BadInput(Fault("JOB", "", name, f"no such job; {want}"))

    def check_mix(self, job: Job, shop: Shop) -> None:
        """Refuses a job whose mix the shop does not have.

        Raises:
            BadInput: Naming the mix and those there are.
        """
        if job.mix not in shop.mixes:
            names = ", ".join(sorted(shop.mixes))
            raise BadInput(Fault(job.id, "mix", job.mix, f"one of the shop's: {names}"))

    def adopt_samples(self) -> None:
        """Writes the sample shop and jobs here; files that exist are left alone."""
        self.jobs.mkdir(parents=True, exist_ok=True)
        _copy(samples() / SAMPLE_SHOP, self.shop_file)
        for sample in sample_jobs():
            _copy(sample, self.jobs / sample.name)


def _copy(source: Path, target: Path) -> None:
    if not target.exists():
        target.write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
