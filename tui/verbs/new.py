"""``new``: a commented sample to change, in the shop folder."""

from __future__ import annotations

import argparse
from difflib import get_close_matches
from pathlib import Path

from scheduling.errors import BadInput, Fault, LogFault
from scheduling.folder import SAMPLE_SHOP, ShopFolder, sample_jobs, samples
from scheduling.jobfile import read_job_text
from scheduling.written import shown
from tui import output
from tui.verbs.arguments import Parser, Verbs, add_verb
from tui.verbs.opening import shop_folder

SHOP = Path(SAMPLE_SHOP).stem
"""What asks for the shop file instead of a job."""


def add(verbs: Verbs[Parser]) -> None:
    """Adds the verb."""
    parser = add_verb(
        verbs, "new", "a commented sample job to change, or the shop file"
    )
    names = ", ".join(path.stem for path in sample_jobs())
    parser.add_argument("sample", metavar="SAMPLE", help=f'"{SHOP}", or one of {names}')
    parser.add_argument(
        "--as", dest="job_id", metavar="ID", help="the id of the new job"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Writes the copy and prints where it is."""
    folder = shop_folder(args)
    text = _sample(args.sample).read_text(encoding="utf-8")
    target = _target(folder, args, text)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with target.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        want = "never overwritten; give another id with --as, or change that file"
        raise BadInput(Fault(str(target), "", "", want)) from None
    except OSError as error:
        raise LogFault(f"cannot write {target} ({error.strerror})") from error
    if args.json:
        output.as_json({"path": str(target)})
    else:
        output.line(str(target))
    return 0


def _sample(name: str) -> Path:
    known = {SHOP: samples() / SAMPLE_SHOP, **{p.stem: p for p in sample_jobs()}}
    if name in known:
        return known[name]
    near = get_close_matches(name, known, n=1)
    want = f'did you mean "{near[0]}"?' if near else f"one of {', '.join(known)}"
    raise BadInput(Fault("SAMPLE", "", shown(name), want))


def _target(folder: ShopFolder, args: argparse.Namespace, text: str) -> Path:
    if args.sample != SHOP:
        target = folder.jobs / f"{args.job_id or args.sample}.toml"
        if args.job_id is not None and Path(args.job_id).name != args.job_id:
            raise BadInput(Fault("--as", "", shown(args.job_id), "an id, not a path"))
        read_job_text(text, target.name)
        return target
    if args.job_id is not None:
        raise BadInput(Fault("--as", "", shown(args.job_id), "there is one shop file"))
    return folder.shop_file
