"""Reads the shape in a job file: [piece] with its geometry, or [bare] with zones.

Every part is checked against what it must lie in or hang from, so that a shape that
was read can be cast. A size that cannot be read is NaN until ``Table.finish``, and
then no check about it fires.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi
from typing import Literal

from scheduling.job import (
    SIDES,
    Apron,
    Bare,
    BareZone,
    Basin,
    Foam,
    KnockOut,
    Leg,
    Pads,
    Piece,
    Side,
)
from scheduling.quantities import AREA, LENGTH
from scheduling.schema import Table

LARGEST = "10 m"
"""Longest side of anything cast in such a shop; beyond it a unit was mistyped."""

MOST_ALIKE = 99
"""Openings or pads of one kind."""

_SHAPES: tuple[Literal["round", "rectangle", "slot"], ...] = (
    "round",
    "rectangle",
    "slot",
)
_TOP_NAMES = {"top": "the top itself", "slab": "the top itself"}
"""Zone names that are given without asking."""

_BARE = Bare()


@dataclass(frozen=True, slots=True)
class _Body:
    """What cores and openings must lie in.

    Attributes:
        length: Metres, as are the others.
        width: Across the length.
        thickness: Across both.
        words: How faults speak of the three.
    """

    length: float
    width: float
    thickness: float
    words: tuple[str, str, str]


def read_shape(table: Table) -> Piece | Bare:
    """Reads the one shape of a job file; faults go on the table's list.

    Args:
        table: The whole file.
    """
    piece, bare = table.table("piece"), table.table("bare")
    if "piece" in table and "bare" in table:
        table.fault_at("bare", "", "wants [piece] or [bare] in one file, not both")
    elif "bare" in table:
        return _bare(bare)
    elif "piece" not in table:
        want = "missing; wants [piece] with sizes, or [bare] with zones"
        table.fault_at("piece", "", want)
        return _BARE
    return _piece(piece)


def _size(table: Table, key: str, default: float | None = None) -> float:
    return table.quantity(key, LENGTH, default, above="0 mm", most=LARGEST)


def _under(table: Table, key: str, size: float, limit: float, outer: str) -> None:
    """Adds a fault unless a size is less than the one it must lie in."""
    if size >= limit:
        table.fault(key, f"must be less than {outer}")


def _check_names(zones: Iterable[tuple[Table, str]], taken: dict[str, str]) -> None:
    """Adds a fault for each zone whose name, capitals or not, is taken."""
    seen = dict(taken)
    for row, name in zones:
        if row.faulty("name"):
            continue
        other = seen.setdefault(name.casefold(), row.path)
        if other != row.path:
            row.fault("name", f'"{name}" is {other} already; wants a name of its own')


def _bare(table: Table) -> Bare:
    thickness = _size(table, "thickness", _BARE.thickness)
    face_coat = _size(table, "face_coat", _BARE.face_coat)
    outer = table.written("thickness", "the thickness")
    _under(table, "face_coat", face_coat, thickness, outer)
    rows = table.tables("zones", 20)
    if not rows and not table.faulty("zones"):
        table.fault("zones", "wants at least one zone, written [[bare.zones]]")
    zones = tuple(_bare_zone(row) for row in rows)
    named = ((row, zone.name) for row, zone in zip(rows, zones, strict=True))
    _check_names(named, {})
    return Bare(zones, thickness, face_coat)


def _bare_zone(row: Table) -> BareZone:
    return BareZone(
        name=row.text("name"),
        area=row.quantity("area", AREA, 1.0, above="0 m2", most="100 m2"),
        upright=row.flag("upright", default=False),
    )


def _piece(table: Table) -> Piece:
    top = _Body(
        _size(table, "length"),
        _size(table, "width"),
        _size(table, "thickness"),
        (
            table.written("length", "the length"),
            table.written("width", "the width"),
            table.written("thickness", "the thickness"),
        ),
    )
    face_coat = _size(table, "face_coat", _BARE.face_coat)
    _under(table, "face_coat", face_coat, top.thickness, top.words[2])
    foam = _foam(table, top)
    walls = table.choices("wall_edges", SIDES)
    hung: dict[Side, str] = {}
    apron_rows = table.tables("aprons", len(SIDES))
    aprons = tuple(_apron(row, top, walls, hung) for row in apron_rows)
    leg_rows = table.tables("legs", len(SIDES))
    legs = tuple(_leg(row, top, face_coat, hung) for row in leg_rows)
    basin_rows = table.tables("basins", 8)
    basins = tuple(_basin(row, top) for row in basin_rows)
    named = [
        *((row, leg.name) for row, leg in zip(leg_rows, legs, strict=True)),
        *((row, basin.name) for row, basin in zip(basin_rows, basins, strict=True)),
    ]
    _check_names(named, _TOP_NAMES)
    openings = sum(basin.length * basin.width for basin in basins)
    return Piece(
        length=top.length,
        width=top.width,
        thickness=top.thickness,
        face_coat=face_coat,
        foam=foam,
        wall_edges=walls,
        aprons=aprons,
        legs=legs,
        basins=basins,
        knock_outs=_knock_outs(table, top, openings),
        pads=tuple(_pads(row, top) for row in table.tables("pads", 20)),
        inserts=table.whole("inserts", 0, 200, 0),
    )


def _foam(table: Table, body: _Body) -> Foam | None:
    row = table.table("foam")
    if "foam" not in table:
        return None
    foam = Foam(_size(row, "length"), _size(row, "width"), _size(row, "thickness"))
    _under(row, "length", foam.length, body.length, body.words[0])
    _under(row, "width", foam.width, body.width, body.words[1])
    _under(row, "thickness", foam.thickness, body.thickness, body.words[2])
    return foam


def _hung_side(row: Table, hung: dict[Side, str]) -> Side:
    """Reads the side something hangs from; each side once."""
    side = row.choice("side", SIDES)
    if not row.faulty("side"):
        other = hung.setdefault(side, row.path)
        if other != row.path:
            row.fault("side", f"this side already has {other}")
    return side


def _apron(
    row: Table, top: _Body, walls: tuple[Side, ...], hung: dict[Side, str]
) -> Apron:
    side = _hung_side(row, hung)
    if side in walls and not row.faulty("side"):
        row.fault("side", "this side is a wall edge, which is not sprayed")
    depth = _size(row, "depth")
    if depth <= top.thickness:
        row.fault("depth", f"must be more than {top.words[2]}")
    return Apron(side, depth)


def _leg(row: Table, top: _Body, face_coat: float, hung: dict[Side, str]) -> Leg:
    side = _hung_side(row, hung)
    height, width = _size(row, "height"), _size(row, "width")
    thickness = _size(row, "thickness")
    if height <= top.thickness:
        row.fault("height", f"must be more than {top.words[2]}")
    if not row.faulty("side"):
        _check_footing(row, (side, width, thickness), top)
    if thickness <= face_coat:
        row.fault("thickness", f"must be more than the face coat of {_mm(face_coat)}")
    below = height - top.thickness
    words = (
        row.written("width", "the width"),
        f"the leg below the top, {_mm(below)}",
        row.written("thickness", "the thickness"),
    )
    return Leg(
        name=row.text("name", f"{side} leg"),
        side=side,
        height=height,
        width=width,
        thickness=thickness,
        foam=_foam(row, _Body(width, below, thickness, words)),
        inner_face=row.flag("inner_face", default=False),
    )


def _check_footing(row: Table, leg: tuple[Side, float, float], top: _Body) -> None:
    """Adds a fault where a leg does not fit under its side of the top."""
    side, width, thickness = leg
    run, across = (top.length, top.words[0]), (top.width, top.words[1])
    if side in ("left", "right"):
        run, across = across, run
    if width > run[0]:
        row.fault("width", f"must be at most {run[1]}")
    _under(row, "thickness", thickness, across[0], across[1])


def _basin(row: Table, top: _Body) -> Basin:
    length, width = _size(row, "length"), _size(row, "width")
    _under(row, "length", length, top.length, top.words[0])
    _under(row, "width", width, top.width, top.words[1])
    floor_length = _size(row, "floor_length", length)
    floor_width = _size(row, "floor_width", width)
    rim = (row.written("length", "the length"), row.written("width", "the width"))
    if floor_length > length:
        row.fault("floor_length", f"must be at most {rim[0]}")
    if floor_width > width:
        row.fault("floor_width", f"must be at most {rim[1]}")
    words = (row.written("floor_length", rim[0]), row.written("floor_width", rim[1]))
    floor = _Body(floor_length, floor_width, top.thickness, (*words, top.words[2]))
    return Basin(
        name=row.text("name", "basin"),
        length=length,
        width=width,
        floor_length=floor_length,
        floor_width=floor_width,
        depth_front=_size(row, "depth_front"),
        depth_back=_size(row, "depth_back"),
        knock_outs=_knock_outs(row, floor, 0.0),
    )


def _knock_outs(table: Table, body: _Body, taken: float) -> tuple[KnockOut, ...]:
    """Reads the openings in a top or floor, of which some area (m2) is taken."""
    rows = table.tables("knock_outs", 20)
    openings = tuple(_knock_out(row, body) for row in rows)
    area = taken + sum(
        one.count * one.length * one.width * (pi / 4 if one.shape == "round" else 1)
        for one in openings
    )
    if area >= body.length * body.width:
        where = table.key_path("knock_outs" if openings else "basins")
        table.fault_at(where, "", "the openings together must leave some concrete")
    return openings


def _knock_out(row: Table, body: _Body) -> KnockOut:
    shape = row.choice("shape", _SHAPES)
    count = row.whole("count", 1, MOST_ALIKE, 1)
    along, across = ("length", "width")
    if shape == "round" and not row.faulty("shape"):
        along = across = "diameter"
    length, width = _size(row, along), _size(row, across)
    _under(row, along, length, body.length, body.words[0])
    _under(row, across, width, body.width, body.words[1])
    return KnockOut(shape, length, width, count)


def _pads(row: Table, top: _Body) -> Pads:
    pads = Pads(
        count=row.whole("count", 1, MOST_ALIKE, 1),
        length=_size(row, "length"),
        width=_size(row, "width"),
        height=_size(row, "height"),
    )
    _under(row, "length", pads.length, top.length, top.words[0])
    _under(row, "width", pads.width, top.width, top.words[1])
    return pads


def _mm(metres: float) -> str:
    return f"{metres * 1000:g} mm"
