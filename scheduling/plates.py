"""A piece as plates: its sides and corners, the area of each plate, its volume.

Every body is a plate of its own thickness, whatever two plates would count twice at a
corner is taken off once, openings and foam are deducted. The sums are derived.

Volume
    Top: open plan x thickness, less its foam. Aprons below the top: run x
    (depth - thickness) x thickness. Legs below the top: width x (height - thickness
    of the top) x their own thickness, less foam. Basins: (walls + floor - openings
    in the floor) x thickness, less rim perimeter x thickness squared, which the top
    has already. At each corner where two uprights meet below the top: thickness x
    thickness x (lesser depth - thickness of the top) taken off. Pads: as boxes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, pi

from scheduling.errors import BadInput, Fault
from scheduling.job import SIDES, Basin, Foam, KnockOut, Piece, Side

CORNERS: tuple[tuple[Side, Side], ...] = (
    ("front", "left"),
    ("front", "right"),
    ("back", "left"),
    ("back", "right"),
)
"""The corners of the top, each by the two sides that meet there."""


@dataclass(frozen=True, slots=True)
class Upright:
    """What hangs from a side of the top.

    Attributes:
        depth: From the face of the top down, m.
        thickness: m.
        leg: Index of the leg it is, None for an apron or a plain edge.
    """

    depth: float
    thickness: float
    leg: int | None = None


def _side_length(piece: Piece, side: Side) -> float:
    return piece.length if side in {"front", "back"} else piece.width


def _legs_width(piece: Piece, side: Side) -> float:
    return sum(leg.width for leg in piece.legs if leg.side == side)


def free_run(piece: Piece, side: Side) -> float:
    """Length of a side that no leg takes, m; legs that fill it leave exactly 0."""
    return max(0.0, _side_length(piece, side) - _legs_width(piece, side))


def _apron_depth(piece: Piece, side: Side) -> float | None:
    return next((a.depth for a in piece.aprons if a.side == side), None)


def sprayed_depth(piece: Piece, side: Side) -> float:
    """Depth sprayed along a side, m: apron, plain edge, or nothing at a wall."""
    apron = _apron_depth(piece, side)
    if apron is not None:
        return apron
    return 0.0 if side in piece.wall_edges else piece.thickness


def upright_at(piece: Piece, side: Side) -> Upright | None:
    """What reaches the corners of a side: its tallest leg, else its apron.

    A leg narrower than its side is taken to reach both corners: the piece does not
    say where along the side it stands, and the sums differ by a few grams.
    """
    legs = [
        Upright(leg.height, leg.thickness, index)
        for index, leg in enumerate(piece.legs)
        if leg.side == side
    ]
    if legs:
        return max(legs, key=lambda upright: upright.depth)
    apron = _apron_depth(piece, side)
    return None if apron is None else Upright(apron, piece.thickness)


def deepest_at(piece: Piece, corner: tuple[Side, Side]) -> Upright:
    """The deeper of what reaches a corner from its two sides, else the plain edge."""
    plain = Upright(piece.thickness, piece.thickness)
    uprights = (upright_at(piece, side) or plain for side in corner)
    return max(uprights, key=lambda upright: upright.depth)


def neighbours(side: Side) -> tuple[Side, Side]:
    """The two sides that meet a side at its ends."""
    return ("left", "right") if side in {"front", "back"} else ("front", "back")


def perimeter(piece: Piece) -> float:
    """Once around the top, m."""
    return 2 * (piece.length + piece.width)


def _opening_area(knock_outs: tuple[KnockOut, ...]) -> float:
    return sum(
        k.count * k.length * (k.length * pi / 4 if k.shape == "round" else k.width)
        for k in knock_outs
    )


def open_plan(piece: Piece) -> float:
    """Plan of the top less its openings and basins, m2."""
    basins = sum(basin.length * basin.width for basin in piece.basins)
    return piece.length * piece.width - _opening_area(piece.knock_outs) - basins


def rim_perimeter(basin: Basin) -> float:
    """Once around the opening of a basin, m."""
    return 2 * (basin.length + basin.width)


def wall_area(basin: Basin) -> float:
    """Four trapezoids, leaning when the floor is smaller than the opening, m2."""
    across = (basin.length + basin.floor_length) / 2
    along = (basin.width + basin.floor_width) / 2
    lean_across = (basin.length - basin.floor_length) / 2
    lean_along = (basin.width - basin.floor_width) / 2
    side_depth = (basin.depth_front + basin.depth_back) / 2
    return (
        across * hypot(basin.depth_front, lean_along)
        + across * hypot(basin.depth_back, lean_along)
        + 2 * along * hypot(side_depth, lean_across)
    )


def open_floor(basin: Basin) -> float:
    """Floor measured along its fall from front to back, less its openings, m2."""
    fall = basin.depth_back - basin.depth_front
    floor = basin.floor_length * hypot(basin.floor_width, fall)
    return floor - _opening_area(basin.knock_outs)


def foam_volume(foam: Foam | None) -> float:
    """Volume of a foam core, m3; 0 without one."""
    return foam.length * foam.width * foam.thickness if foam else 0.0


def concrete_volume(piece: Piece) -> float:
    """All the concrete of a piece, foam not counted, m3."""
    pads = sum(p.count * p.length * p.width * p.height for p in piece.pads)
    return sum(volume for _, volume in _parts(piece)) - _overlaps(piece) + pads


def _parts(piece: Piece) -> Iterator[tuple[str, float]]:
    """Key and volume of each part of a piece, before corners are taken off."""
    shell = piece.thickness
    yield "", open_plan(piece) * shell - foam_volume(piece.foam)
    for index, apron in enumerate(piece.aprons):
        run = free_run(piece, apron.side)
        yield f"aprons[{index}]", run * (apron.depth - shell) * shell
    for index, leg in enumerate(piece.legs):
        plate = leg.width * (leg.height - shell) * leg.thickness
        yield f"legs[{index}]", plate - foam_volume(leg.foam)
    for index, basin in enumerate(piece.basins):
        plate = (wall_area(basin) + open_floor(basin)) * shell
        yield f"basins[{index}]", plate - rim_perimeter(basin) * shell * shell


def _overlaps(piece: Piece) -> float:
    """What two uprights meeting at a corner would count twice below the top."""
    total = 0.0
    for side, next_side in CORNERS:
        one, other = upright_at(piece, side), upright_at(piece, next_side)
        if one and other:
            shared = min(one.depth, other.depth) - piece.thickness
            total += one.thickness * other.thickness * shared
    return total


def refuse_impossible(piece: Piece) -> None:
    """Refuses a piece whose sizes do not go together.

    Raises:
        BadInput: Every part left with no concrete, every side its legs do not fit,
            every foam core that does not lie within its body.
    """
    faults = [*_empty_parts(piece), *_crowded_sides(piece), *_loose_cores(piece)]
    if faults:
        raise BadInput(*faults)


def _empty_parts(piece: Piece) -> Iterator[Fault]:
    for key, volume in _parts(piece):
        if not volume > 0:
            want = "its sizes must leave some concrete"
            yield Fault("piece", key or "top", f"{volume * 1000:.2f} L", want)


def _crowded_sides(piece: Piece) -> Iterator[Fault]:
    for side in SIDES:
        length, legs = _side_length(piece, side), _legs_width(piece, side)
        # Legs that fill a side may pass it by a rounding of the last digit.
        if legs > length + 1e-9:
            want = f"the legs under the {side} must fit its {length * 1000:.0f} mm"
            yield Fault("piece", "legs", f"{legs * 1000:.0f} mm", want)


def _loose_cores(piece: Piece) -> Iterator[Fault]:
    bodies = [("foam", piece.foam, (piece.length, piece.width, piece.thickness))]
    for index, leg in enumerate(piece.legs):
        body = (leg.width, leg.height - piece.thickness, leg.thickness)
        bodies.append((f"legs[{index}].foam", leg.foam, body))
    for key, foam, body in bodies:
        if foam is None:
            continue
        core = (foam.length, foam.width, foam.thickness)
        if any(inside >= outside for inside, outside in zip(core, body, strict=True)):
            yield Fault("piece", key, _sizes(core), f"must lie within {_sizes(body)}")


def _sizes(sizes: tuple[float, float, float]) -> str:
    return " x ".join(f"{size * 1000:.0f}" for size in sizes) + " mm"
