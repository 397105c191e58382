"""From geometry to areas, lengths, volumes and masses of one casting.

The sums are by plates, and so is the volume: see ``scheduling.plates``. Small things
(fillet radii, draft, chamfers) are not reckoned with. How the craft counts is common
practice, no source; the sums themselves are derived.

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

from dataclasses import dataclass
from math import isfinite

from scheduling.errors import BadInput, Fault
from scheduling.job import SIDES, Bare, Basin, Piece
from scheduling.plates import (
    CORNERS,
    concrete_volume,
    deepest_at,
    foam_volume,
    free_run,
    neighbours,
    open_floor,
    open_plan,
    perimeter,
    refuse_impossible,
    rim_perimeter,
    sprayed_depth,
    upright_at,
    wall_area,
)
from scheduling.shop import Mix

UPRIGHT_DEPTH = 0.040
"""Sides of the top deeper than this are packed upright, metres. Common practice."""

BASE_MARGIN = 0.1
"""Form base board beyond the piece on every side, metres. Common practice."""


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
    refuse_impossible(piece)
    zones = _zones(piece)
    face = sum(zone.face_m2 for zone in zones)
    volume = concrete_volume(piece)
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
        foam_l=sum(foam_volume(foam) for foam in cores) * 1000,
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


def _zones(piece: Piece) -> tuple[ZoneTakeoff, ...]:
    legs = (_leg_zone(piece, index) for index in range(len(piece.legs)))
    basins = (_basin_zone(basin) for basin in piece.basins)
    return (*legs, *basins, _top_zone(piece))


def _leg_zone(piece: Piece, index: int) -> ZoneTakeoff:
    leg = piece.legs[index]
    below = leg.height - piece.thickness
    face = leg.width * leg.height
    for side in neighbours(leg.side):
        other = upright_at(piece, side)
        covered = other.depth if other else sprayed_depth(piece, side)
        face += leg.thickness * max(0.0, leg.height - covered)
    fillet = _corner_uprights(piece, index)
    if leg.inner_face:
        face += leg.width * below
        fillet += 2 * below
    return ZoneTakeoff(leg.name, face, face, fillet)


def _basin_zone(basin: Basin) -> ZoneTakeoff:
    walls = wall_area(basin)
    floor_perimeter = 2 * (basin.floor_length + basin.floor_width)
    return ZoneTakeoff(
        basin.name,
        walls + open_floor(basin),
        walls,
        rim_perimeter(basin) + floor_perimeter,
    )


def _top_zone(piece: Piece) -> ZoneTakeoff:
    plain = not (piece.legs or piece.basins or piece.aprons)
    face = open_plan(piece)
    upright = 0.0
    for side in SIDES:
        depth = sprayed_depth(piece, side)
        area = free_run(piece, side) * depth
        face += area
        upright += area if depth > UPRIGHT_DEPTH else 0.0
    fillet = perimeter(piece) + _corner_uprights(piece, None)
    return ZoneTakeoff("slab" if plain else "top", face, upright, fillet)


def _corner_uprights(piece: Piece, leg: int | None) -> float:
    """Upright fillets at the corners of the top that belong to a leg, or to none."""
    deepest = (deepest_at(piece, corner) for corner in CORNERS)
    return sum(upright.depth for upright in deepest if upright.leg == leg)


def _edge_length(piece: Piece) -> float:
    legs = (2 * (g.height - piece.thickness) + g.width for g in piece.legs)
    return perimeter(piece) + sum(map(rim_perimeter, piece.basins)) + sum(legs)
