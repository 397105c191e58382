"""Jobs, shops and their values as plain data for the log, and back without loss.

The log keeps what a pour was started with, so that a later change of the files does
not change its history. Data without a newer field takes that field's default.
"""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass
from datetime import date, datetime, time
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Literal, TypeVar, get_args, get_origin, get_type_hints

from scheduling.errors import BadInput, Fault
from scheduling.job import Job
from scheduling.shop import Shop
from scheduling.written import shown, visible

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_Value = TypeVar("_Value")


def job_to_data(job: Job) -> dict[str, object]:
    """A job as JSON can hold it: SI numbers, ISO 8601 dates."""
    return to_data(job)


def job_from_data(data: object) -> Job:
    """The job that ``job_to_data`` was given.

    Raises:
        BadInput: The data is not that of a job.
    """
    return from_data(Job, data, "job")


def shop_to_data(shop: Shop) -> dict[str, object]:
    """A shop as JSON can hold it: SI numbers, ISO 8601 dates and times."""
    return to_data(shop)


def shop_from_data(data: object) -> Shop:
    """The shop that ``shop_to_data`` was given.

    Raises:
        BadInput: The data is not that of a shop.
    """
    return from_data(Shop, data, "shop")


def to_data(value: DataclassInstance) -> dict[str, object]:
    """Any of our values as JSON can hold it: SI numbers, ISO 8601 dates and times."""
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}


def _plain(value: object) -> object:
    if is_dataclass(value) and not isinstance(value, type):
        return to_data(value)
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, date | time):
        return value.isoformat()
    return value


def _fault(path: str, data: object, want: str) -> BadInput:
    return _fault_of(path, shown(data), want)


def _fault_of(path: str, value: str, want: str) -> BadInput:
    return BadInput(Fault("snapshot", path, value, want))


@cache  # a pour is folded at every mark, and asking costs 0.2 ms
def _hints(kind: object) -> dict[str, object]:
    """The fields of a dataclass and what each holds; {} for anything else."""
    return get_type_hints(kind) if is_dataclass(kind) else {}


def from_data(kind: type[_Value], data: object, path: str) -> _Value:
    """The value that ``to_data`` was given.

    Args:
        kind: What it is.
        data: As ``to_data`` made it.
        path: What to call it in a fault.

    Raises:
        BadInput: The data is not that of such a value.
    """
    hints = _hints(kind)  # type: ignore[arg-type]  # a class can be a key
    if not isinstance(data, dict):
        raise _fault(path, data, "wants a table")
    for name in data:
        if name not in hints:
            raise _fault_of(f"{path}.{visible(str(name))}", "", "no such field")
    for field in fields(kind):  # type: ignore[arg-type] # only called for dataclasses
        needed = field.default is MISSING and field.default_factory is MISSING
        if needed and field.name not in data:
            raise _fault_of(f"{path}.{field.name}", "", "missing")
    values = {
        name: _read(hints[name], inner, f"{path}.{name}")
        for name, inner in data.items()
    }
    try:
        return kind(**values)
    except ValueError as error:
        raise _fault_of(path, "", str(error)) from error


def _read(hint: object, data: object, path: str) -> object:
    """Reads data as what a type hint says."""
    origin = get_origin(hint)
    if origin is UnionType:
        return _read_union(get_args(hint), data, path)
    if origin is tuple:
        return _read_tuple(get_args(hint), data, path)
    if origin is dict:
        return _read_dict(get_args(hint)[1], data, path)
    if isinstance(hint, type) and is_dataclass(hint):
        return from_data(hint, data, path)
    return _read_scalar(hint, data, path)


def _read_union(hints: tuple[object, ...], data: object, path: str) -> object:
    """Reads the one of some types that has all the fields of the data."""
    if data is None and NoneType in hints:
        return None
    kinds = [hint for hint in hints if hint is not NoneType]
    for kind in kinds[:-1]:
        if isinstance(data, dict) and set(data) <= set(_hints(kind)):
            return _read(kind, data, path)
    return _read(kinds[-1], data, path)


def _read_tuple(hints: tuple[object, ...], data: object, path: str) -> object:
    if not isinstance(data, list):
        raise _fault(path, data, "wants a list")
    if hints[-1] is ...:
        hints = hints[:1] * len(data)
    if len(hints) != len(data):
        raise _fault(path, data, f"wants {len(hints)} items")
    pairs = zip(hints, data, strict=True)
    return tuple(
        _read(hint, one, f"{path}[{i}]") for i, (hint, one) in enumerate(pairs)
    )


def _read_dict(hint: object, data: object, path: str) -> object:
    if not isinstance(data, dict) or not all(isinstance(key, str) for key in data):
        raise _fault(path, data, "wants a table")
    return {
        key: _read(hint, inner, f"{path}.{visible(key)}") for key, inner in data.items()
    }


def _read_scalar(hint: object, data: object, path: str) -> object:
    if get_origin(hint) is Literal:
        if data in get_args(hint):
            return data
        raise _fault(path, data, f"wants one of {', '.join(get_args(hint))}")
    for kind in (date, time, datetime):
        if hint is kind:
            return _read_iso(kind, data, path)
    if isinstance(data, float) and not isfinite(data):
        raise _fault(path, data, "wants a finite number")
    # Another program's JSON may have written 1.0 as 1.
    whole = hint is float and type(data) is int
    if type(data) is not hint and not whole:
        raise _fault(path, data, f"wants {getattr(hint, '__name__', hint)}")
    return data


def _read_iso(kind: type[date | time | datetime], data: object, path: str) -> object:
    try:
        if isinstance(data, str):
            return kind.fromisoformat(data)
    except ValueError:
        pass
    raise _fault(path, data, f"wants an ISO 8601 {kind.__name__}")
