"""Reads a job file: TOML in trade words, one job to a file.

The name of the file is the job's id. Every length carries its unit; what is left out
takes the default of ``scheduling.job``. All faults of a file are reported together.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

from scheduling.errors import BadInput, Fault
from scheduling.job import OPTIONAL_STEPS, SEALERS, Bare, Finish, Job
from scheduling.piecefile import read_shape
from scheduling.quantities import LENGTH
from scheduling.schema import Table, load_toml, parse_toml

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_FILLETS: tuple[Literal["silicone", "clay"], ...] = ("silicone", "clay")
_RELEASES: tuple[Literal["before caulk", "after caulk"], ...] = (
    "before caulk",
    "after caulk",
)
_FINISHES: tuple[Literal["light", "acid", "hone"], ...] = ("light", "acid", "hone")

_JOB = Job("", "", Bare())
_FINISH = Finish()


def read_job(path: Path) -> Job:
    """Reads a job file.

    Raises:
        BadInput: With every fault found in it.
    """
    return _job(load_toml(path))


def read_job_text(text: str, where: str) -> Job:
    """Reads the text of a job file.

    Args:
        text: What the file holds.
        where: The file; its name without the ending is the job's id.

    Raises:
        BadInput: With every fault found in it.
    """
    return _job(parse_toml(text, where))


def _job(table: Table) -> Job:
    job_id = Path(table.where).stem
    if not _ID.fullmatch(job_id):
        want = (
            "wants a file name of at most 40 small letters, digits and hyphens, "
            "such as garden-bench.toml"
        )
        raise BadInput(Fault(table.where, "", "", want))
    job = Job(
        id=job_id,
        title=table.text("title", job_id),
        shape=read_shape(table),
        castings=table.whole("castings", 1, 99, _JOB.castings),
        mix=table.text("mix", _JOB.mix),
        due=table.day("due"),
        fillet=table.choice("fillet", _FILLETS, _JOB.fillet),
        fillet_radius=table.quantity(
            "fillet_radius", LENGTH, _JOB.fillet_radius, least="1 mm", most="50 mm"
        ),
        release=table.choice("release", _RELEASES, _JOB.release),
        finish=_finish(table.table("finish")),
        optional=table.choices("optional", OPTIONAL_STEPS),
        note=table.text("note", _JOB.note, may_be_empty=True),
    )
    table.finish()
    return job


def _finish(table: Table) -> Finish:
    kind = table.choice("kind", _FINISHES, _FINISH.kind)
    honed = kind == "hone"
    grits = table.whole("grits", 1, 10, _FINISH.grits if honed else 0)
    if "grits" in table and not (honed or table.faulty("kind")):
        table.fault("grits", 'belongs to kind = "hone" only')
    return Finish(
        kind=kind,
        grits=grits,
        slurry=table.whole("slurry", 0, 5, _FINISH.slurry),
        sealer=table.choice("sealer", SEALERS, _FINISH.sealer),
        coats=table.whole("coats", 1, 10, _FINISH.coats),
        two_part=table.flag("two_part", default=_FINISH.two_part),
    )
