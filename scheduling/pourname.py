"""Names of pours, which are also those of their files, and of the shop's book."""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import date
from functools import lru_cache

from scheduling.errors import BadInput, Fault

SHOP = "shop"
"""Name under which the shop's own events are kept; a pour's has a dot and its day."""

_POUR_NAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,79}")
_WANT = "a pour's name is 1 to 80 of a-z, 0-9, '.' and '-', a letter or digit first"


def new_pour_name(job_id: str, existing: Collection[str], local_date: date) -> str:
    """Names a pour after its job and day: ``bench.0401``, the next ``bench.0401-2``.

    Args:
        job_id: Letters, digits and hyphens; long ones are cut.
        existing: Names already taken, of any year.
        local_date: The day the pour starts, local.
    """
    return _numbered(f"{_stem(job_id)}.{local_date:%m%d}", existing)


def pours_of(job_id: str, pours: Collection[str]) -> list[str]:
    """The pours that were named after a job."""
    return [pour for pour in pours if pour.rpartition(".")[0] == _stem(job_id)]


def namesakes(pour: str, existing: Collection[str]) -> list[str]:
    """The pours that may have a name only because this one or its like was taken."""
    stem = _unnumbered(pour)
    return sorted(name for name in existing if _unnumbered(name) == stem)


def next_pour_name(pour: str, existing: Collection[str]) -> str:
    """Names a pour anew when its name was taken: the next of that job and day."""
    return _numbered(_unnumbered(pour), existing)


def _unnumbered(pour: str) -> str:
    return re.sub(r"-\d+$", "", pour)


def _stem(job_id: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", job_id.lower()).strip("-")[:64] or "pour"


def _numbered(name: str, existing: Collection[str]) -> str:
    number = 1
    while (numbered := name if number == 1 else f"{name}-{number}") in existing:
        number += 1
    return numbered


@lru_cache(256)  # every event that is read back asks it of its own
def is_pour_name(pour: str) -> bool:
    """Whether a name is one plain file name on every system."""
    return _POUR_NAME.fullmatch(pour) is not None


def check_pour_name(pour: str) -> None:
    """Refuses a name that is not one plain file name on every system.

    Raises:
        BadInput: With what a name may be.
    """
    if not is_pour_name(pour):
        raise BadInput(Fault("pour", "", ascii(pour[:90]), _WANT))
