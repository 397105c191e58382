"""From geometry to areas, lengths, volumes and masses of one casting.

The sums are by plates: every body is a plate of its own thickness, whatever two
plates would count twice at a corner is taken off once, openings and foam are
deducted. Small things (fillet radii, draft, chamfers) are not reckoned with. How the
craft counts is common practice, no source; the sums themselves are derived.

Volume
    Top: open plan x thickness, less its foam. Aprons below the top: run x
    (depth - thickness) x thickness. Legs below the top: width x (height - thickness
    of the top) x their own thickness, less foam. Basins: (walls + floor - openings
    in the floor) x thickness, less rim perimeter x thickness squared, which the top
    has already. At each corner where two uprights meet below the top: thickness x
    thickness x (lesser depth - thickness of the top) taken off. Pads: as boxes.
Face (form contact)
    Top: plan less its openings and basins. Each side of the top: its run x the depth
    of the apron, or x the thickness of the top for a plain cast edge, or nothing for
    an unsprayed wall edge. Legs: the outside over the whole height, two edges less
    what the neighbouring side has covered already, and the inner face below the top
    where it is form contact. Basins: walls and floor. The run of a side is its length
    less the widths of the legs under it.
Upright
    All of the legs, basin walls, and sides of the top deeper than 40 mm.
Form strips
    Perimeter of the top, the perimeter of each basin opening, and up, across and
    down each leg below the top.
Fillet
    Every inside corner of the form: perimeter of the top, the upright at each of its
    four corners (as long as the deepest thing there), rim and floor of each basin,
    and both sides of an inner leg face.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, isfinite, pi

from scheduling.errors import BadInput, Fault
from scheduling.job import SIDES, Bare, Basin, Foam, KnockOut, Piece, Side
from scheduling.shop import Mix

UPRIGHT_DEPTH = 0.040
"""Sides of the top deeper than this are packed upright, metres. Common practice."""

BASE_MARGIN = 0.1
"""Form base board beyond the piece on every side, metres. Common practice."""

_CORNERS: tuple[tuple[Side, Side], ...] = (
    ("front", "left"),
    ("front", "right"),
    ("back", "left"),
    ("back", "right"),
)


@dataclass(frozen=True, slots=True)
class ZoneTakeoff:
    """What one zone of the form has to be sprayed, packed and caulked.

    Attributes:
        name: Of the leg or basin; ``top`` for the rest; ``slab`` for a plain slab.
        face_m2: Form contact, m2.
        upright_m2: Of it packed upright, m2.
        fillet_m: Inside corners to caulk and brush first, m.
    """

    name: str
    face_m2: float
    upright_m2: float
    fillet_m: float

    @property
    def flat_m2(self) -> float:
        """Face packed flat, m2."""
        return self.face_m2 - self.upright_m2


@dataclass(frozen=True, slots=True)
class Takeoff:
    """All the quantities of one casting.

    Attributes:
        zones: In spraying order: each leg, each basin, then the rest.
        plan_m2: Length x width of the top, openings and all.
        base_m2: Form base board.
        face_m2: Form contact; the sum of the zones.
        upright_m2: Of it packed upright; the sum of the zones.
        edge_m: Length of form strips.
        strips: How many form strips.
        fillet_m: Inside corners to caulk; the sum of the zones.
        corners: Three-way corners of the form.
        simple_knock_outs: Round and rectangular openings.
        basin_knock_outs: Basin plugs and slots.
        legs: How many legs.
        inserts: How many inserts.
        foam_count: How many foam cores.
        foam_m2: Their flat area.
        foam_l: Their volume, litres.
        volume_l: Of concrete, litres, foam not counted.
        face_kg: Net wet mass of the face coat.
        back_kg: Net wet mass of the back coat.
        piece_kg: Mass of the piece, face and back.
    """

    zones: tuple[ZoneTakeoff, ...]
    plan_m2: float
    base_m2: float
    face_m2: float
    upright_m2: float
    edge_m: float
    strips: int
    fillet_m: float
    corners: int
    simple_knock_outs: int
    basin_knock_outs: int
    legs: int
    inserts: int
    foam_count: int
    foam_m2: float
    foam_l: float
    volume_l: float
    face_kg: float
    back_kg: float
    piece_kg: float

    @property
    def flat_m2(self) -> float:
        """Face packed flat, m2."""
        return self.face_m2 - self.upright_m2


def take_off(shape: Piece | Bare, mix: Mix) -> Takeoff:
    """Takes the quantities of one casting off its geometry.

    A bare pour has no form to build: its strips, fillets and corners are 0.

    Args:
        shape: The piece, metres, or a bare pour's zones.
        mix: Its densities turn volumes into masses.

    Raises:
        BadInput: A part is left with no concrete, a core does not fit its body, or
            the face coat needs as much as the whole piece holds.
    """
    if isinstance(shape, Bare):
        return _bare(shape, mix)
    return _piece(shape, mix)


def _bare(bare: Bare, mix: Mix) -> Takeoff:
    zones = tuple(
        ZoneTakeoff(zone.name, zone.area, zone.area if zone.upright else 0.0, 0.0)
        for zone in bare.zones
    )
    face = sum(zone.face_m2 for zone in zones)
    upright = sum(zone.upright_m2 for zone in zones)
    volume = face * bare.thickness
    face_kg, back_kg = _masses(face * bare.face_coat, volume, mix)
    return Takeoff(
        zones=zones,
        plan_m2=sum(zone.flat_m2 for zone in zones),
        base_m2=face,
        face_m2=face,
        upright_m2=upright,
        edge_m=0.0,
        strips=0,
        fillet_m=0.0,
        corners=0,
        simple_knock_outs=0,
        basin_knock_outs=0,
        legs=0,
        inserts=0,
        foam_count=0,
        foam_m2=0.0,
        foam_l=0.0,
        volume_l=volume * 1000,
        face_kg=face_kg,
        back_kg=back_kg,
        piece_kg=face_kg + back_kg,
    )


def _piece(piece: Piece, mix: Mix) -> Takeoff:
    _refuse_impossible(piece)
    zones = _zones(piece)
    face = sum(zone.face_m2 for zone in zones)
    volume = _volume(piece)
    face_kg, back_kg = _masses(face * piece.face_coat, volume, mix)
    openings = [*piece.knock_outs, *(k for b in piece.basins for k in b.knock_outs)]
    slots = sum(k.count for k in openings if k.shape == "slot")
    cores = [foam for foam in (piece.foam, *(g.foam for g in piece.legs)) if foam]
    return Takeoff(
        zones=zones,
        plan_m2=piece.length * piece.width,
        base_m2=(piece.length + 2 * BASE_MARGIN) * (piece.width + 2 * BASE_MARGIN),
        face_m2=face,
        upright_m2=sum(zone.upright_m2 for zone in zones),
        edge_m=_edge_length(piece),
        strips=4 + 4 * len(piece.legs) + 4 * len(piece.basins),
        fillet_m=sum(zone.fillet_m for zone in zones),
        corners=4
        + 8 * len(piece.basins)
        + sum(4 if leg.inner_face else 2 for leg in piece.legs),
        simple_knock_outs=sum(k.count for k in openings) - slots,
        basin_knock_outs=len(piece.basins) + slots,
        legs=len(piece.legs),
        inserts=piece.inserts,
        foam_count=len(cores),
        foam_m2=sum(foam.length * foam.width for foam in cores),
        foam_l=sum(_foam_volume(foam) for foam in cores) * 1000,
        volume_l=volume * 1000,
        face_kg=face_kg,
        back_kg=back_kg,
        piece_kg=face_kg + back_kg,
    )


def _masses(face_volume: float, volume: float, mix: Mix) -> tuple[float, float]:
    """Net wet masses of the face coat and of the back coat behind it, kg."""
    if not (isfinite(volume) and 0 < face_volume < volume):
        raise BadInput(
            Fault(
                "piece",
                "face_coat",
                f"{face_volume * 1000:.2f} L of face in {volume * 1000:.2f} L in all",
                "the face coat must be some, but not the whole, of the piece",
            )
        )
    return face_volume * mix.face_density, (volume - face_volume) * mix.back_density


# --- sides and corners of the top ------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Upright:
    """What hangs from a side of the top: depth and thickness, and whose it is."""

    depth: float
    thickness: float
    leg: int | None = None


def _side_length(piece: Piece, side: Side) -> float:
    return piece.length if side in {"front", "back"} else piece.width


def _legs_width(piece: Piece, side: Side) -> float:
    return sum(leg.width for leg in piece.legs if leg.side == side)


def _run(piece: Piece, side: Side) -> float:
    """Length of a side that no leg takes; legs that fill it leave exactly 0."""
    return max(0.0, _side_length(piece, side) - _legs_width(piece, side))


def _apron_depth(piece: Piece, side: Side) -> float | None:
    return next((a.depth for a in piece.aprons if a.side == side), None)


def _side_depth(piece: Piece, side: Side) -> float:
    """Depth sprayed along a side: the apron, the plain edge, or nothing at a wall."""
    apron = _apron_depth(piece, side)
    if apron is not None:
        return apron
    return 0.0 if side in piece.wall_edges else piece.thickness


def _upright(piece: Piece, side: Side) -> _Upright | None:
    """What reaches the corners of a side: its tallest leg, else its apron.

    A leg narrower than its side is taken to reach both corners: the piece does not
    say where along the side it stands, and the sums differ by a few grams.
    """
    legs = [
        _Upright(leg.height, leg.thickness, index)
        for index, leg in enumerate(piece.legs)
        if leg.side == side
    ]
    if legs:
        return max(legs, key=lambda upright: upright.depth)
    apron = _apron_depth(piece, side)
    return None if apron is None else _Upright(apron, piece.thickness)


def _deepest(piece: Piece, corner: tuple[Side, Side]) -> _Upright:
    plain = _Upright(piece.thickness, piece.thickness)
    uprights = (_upright(piece, side) or plain for side in corner)
    return max(uprights, key=lambda upright: upright.depth)


def _neighbours(side: Side) -> tuple[Side, Side]:
    return ("left", "right") if side in {"front", "back"} else ("front", "back")


# --- zones -----------------------------------------------------------------------


def _zones(piece: Piece) -> tuple[ZoneTakeoff, ...]:
    legs = (_leg_zone(piece, index) for index in range(len(piece.legs)))
    basins = (_basin_zone(basin) for basin in piece.basins)
    return (*legs, *basins, _top_zone(piece))


def _leg_zone(piece: Piece, index: int) -> ZoneTakeoff:
    leg = piece.legs[index]
    below = leg.height - piece.thickness
    face = leg.width * leg.height
    for side in _neighbours(leg.side):
        other = _upright(piece, side)
        covered = other.depth if other else _side_depth(piece, side)
        face += leg.thickness * max(0.0, leg.height - covered)
    fillet = _corner_uprights(piece, index)
    if leg.inner_face:
        face += leg.width * below
        fillet += 2 * below
    return ZoneTakeoff(leg.name, face, face, fillet)


def _basin_zone(basin: Basin) -> ZoneTakeoff:
    walls = _wall_area(basin)
    floor_perimeter = 2 * (basin.floor_length + basin.floor_width)
    return ZoneTakeoff(
        basin.name,
        walls + _open_floor(basin),
        walls,
        _rim_perimeter(basin) + floor_perimeter,
    )


def _top_zone(piece: Piece) -> ZoneTakeoff:
    plain = not (piece.legs or piece.basins or piece.aprons)
    face = _open_plan(piece)
    upright = 0.0
    for side in SIDES:
        depth = _side_depth(piece, side)
        area = _run(piece, side) * depth
        face += area
        upright += area if depth > UPRIGHT_DEPTH else 0.0
    fillet = _perimeter(piece) + _corner_uprights(piece, None)
    return ZoneTakeoff("slab" if plain else "top", face, upright, fillet)


def _corner_uprights(piece: Piece, leg: int | None) -> float:
    """Upright fillets at the corners of the top that belong to a leg, or to none."""
    deepest = (_deepest(piece, corner) for corner in _CORNERS)
    return sum(upright.depth for upright in deepest if upright.leg == leg)


def _perimeter(piece: Piece) -> float:
    return 2 * (piece.length + piece.width)


def _edge_length(piece: Piece) -> float:
    legs = (2 * (g.height - piece.thickness) + g.width for g in piece.legs)
    return _perimeter(piece) + sum(map(_rim_perimeter, piece.basins)) + sum(legs)


# --- openings and basins ---------------------------------------------------------


def _opening_area(knock_outs: tuple[KnockOut, ...]) -> float:
    return sum(
        k.count * k.length * (k.length * pi / 4 if k.shape == "round" else k.width)
        for k in knock_outs
    )


def _open_plan(piece: Piece) -> float:
    basins = sum(basin.length * basin.width for basin in piece.basins)
    return piece.length * piece.width - _opening_area(piece.knock_outs) - basins


def _rim_perimeter(basin: Basin) -> float:
    return 2 * (basin.length + basin.width)


def _wall_area(basin: Basin) -> float:
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


def _open_floor(basin: Basin) -> float:
    """Floor measured along its fall from front to back, less its openings, m2."""
    fall = basin.depth_back - basin.depth_front
    floor = basin.floor_length * hypot(basin.floor_width, fall)
    return floor - _opening_area(basin.knock_outs)


# --- volumes, m3 -----------------------------------------------------------------


def _volume(piece: Piece) -> float:
    pads = sum(p.count * p.length * p.width * p.height for p in piece.pads)
    return sum(volume for _, volume in _parts(piece)) - _overlaps(piece) + pads


def _parts(piece: Piece) -> Iterator[tuple[str, float]]:
    """Key and volume of each part of a piece, before corners are taken off."""
    shell = piece.thickness
    yield "", _open_plan(piece) * shell - _foam_volume(piece.foam)
    for index, apron in enumerate(piece.aprons):
        run = _run(piece, apron.side)
        yield f"aprons[{index}]", run * (apron.depth - shell) * shell
    for index, leg in enumerate(piece.legs):
        plate = leg.width * (leg.height - shell) * leg.thickness
        yield f"legs[{index}]", plate - _foam_volume(leg.foam)
    for index, basin in enumerate(piece.basins):
        plate = (_wall_area(basin) + _open_floor(basin)) * shell
        yield f"basins[{index}]", plate - _rim_perimeter(basin) * shell * shell


def _foam_volume(foam: Foam | None) -> float:
    return foam.length * foam.width * foam.thickness if foam else 0.0


def _overlaps(piece: Piece) -> float:
    """What two uprights meeting at a corner would count twice below the top."""
    total = 0.0
    for side, next_side in _CORNERS:
        one, other = _upright(piece, side), _upright(piece, next_side)
        if one and other:
            shared = min(one.depth, other.depth) - piece.thickness
            total += one.thickness * other.thickness * shared
    return total


# --- what cannot be cast ---------------------------------------------------------


def _refuse_impossible(piece: Piece) -> None:
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
