"""What is to be made: a job and the geometry of its piece, as the maker writes it.

All lengths are metres. The piece is described the way it stands in use (top up);
the form is its mirror, cast upside down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Side = Literal["front", "back", "left", "right"]
SIDES: tuple[Side, ...] = ("front", "back", "left", "right")

OPTIONAL_STEPS = (
    "template",
    "drawing",
    "mock weigh-off",
    "scrim",
    "coupon",
    "green trim",
    "crate",
    "install",
)
"""Steps a job may switch on; the others always belong to a pour."""

SEALERS = (
    "penetrating",
    "densifier",
    "acrylic",
    "waterborne urethane",
    "solvent urethane",
    "epoxy",
    "polyaspartic",
)
"""Generic sealer families; the label of the drum always wins."""


@dataclass(frozen=True, slots=True)
class Foam:
    """A foam core bedded between the lifts, metres."""

    length: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class KnockOut:
    """Openings of one kind in the top or in a basin floor.

    Attributes:
        shape: ``round`` (``length`` is the diameter), ``rectangle`` or ``slot``.
        length: Along the front, metres; the diameter of a round one.
        width: Front to back, metres; equal to length for a round one.
        count: How many of them.
    """

    shape: Literal["round", "rectangle", "slot"]
    length: float
    width: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Apron:
    """A turned-down edge: apron, return or rim, of the shell's thickness.

    Attributes:
        side: The side of the top it hangs from; runs its whole length.
        depth: Overall depth including the thickness of the top, metres.
    """

    side: Side
    depth: float


@dataclass(frozen=True, slots=True)
class Leg:
    """An upright under one side of the top.

    Attributes:
        name: Zone name, such as "left leg".
        side: The side of the top it stands under, flush with it.
        height: Overall, floor to the face of the top, metres.
        width: Along that side, metres.
        thickness: Metres.
        foam: Core, or None for a solid leg.
        inner_face: Whether the inner face is form contact too (else it is troweled).
    """

    name: str
    side: Side
    height: float
    width: float
    thickness: float
    foam: Foam | None = None
    inner_face: bool = False


@dataclass(frozen=True, slots=True)
class Basin:
    """A basin or trough hanging from an opening in the top.

    Attributes:
        name: Zone name, such as "trough".
        length: Of the opening, along the front, metres.
        width: Of the opening, front to back, metres.
        floor_length: Of the floor, metres.
        floor_width: Of the floor in plan, metres.
        depth_front: Below the face of the top at the front of the floor, metres.
        depth_back: The same at the back, metres.
        knock_outs: Drains and slots in the floor.
    """

    name: str
    length: float
    width: float
    floor_length: float
    floor_width: float
    depth_front: float
    depth_back: float
    knock_outs: tuple[KnockOut, ...] = ()


@dataclass(frozen=True, slots=True)
class Pads:
    """Bonding pads over hangers or inserts, on the back of the shell, metres."""

    count: int
    length: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Piece:
    """The geometry of one casting.

    Attributes:
        length: Of the top along the front, metres.
        width: Of the top front to back, metres.
        thickness: Of the top: the shell, or the whole look of a cored slab, metres.
        face_coat: Thickness of the sprayed face coat, metres.
        foam: A core inside the top, or None.
        wall_edges: Sides cast against a plain strip but never seen, so not sprayed.
        aprons: Turned-down edges.
        legs: Uprights.
        basins: Basins and troughs.
        knock_outs: Openings in the top itself.
        pads: Bonding pads.
        inserts: How many threaded inserts, feet or hangers are set.
    """

    length: float
    width: float
    thickness: float
    face_coat: float = 0.003
    foam: Foam | None = None
    wall_edges: tuple[Side, ...] = ()
    aprons: tuple[Apron, ...] = ()
    legs: tuple[Leg, ...] = ()
    basins: tuple[Basin, ...] = ()
    knock_outs: tuple[KnockOut, ...] = ()
    pads: tuple[Pads, ...] = ()
    inserts: int = 0


@dataclass(frozen=True, slots=True)
class BareZone:
    """A zone of a pour that has no geometry: only what the clock needs.

    Attributes:
        name: Zone name.
        area: Face area, m2.
        upright: Whether it is packed upright.
    """

    name: str
    area: float = 1.0
    upright: bool = False


@dataclass(frozen=True, slots=True)
class Bare:
    """A pour that only wants the clock: zones and thickness, no geometry.

    Attributes:
        zones: In the order they are sprayed.
        thickness: Of the shell, metres.
        face_coat: Metres.
    """

    zones: tuple[BareZone, ...] = (BareZone("field"),)
    thickness: float = 0.022
    face_coat: float = 0.003


@dataclass(frozen=True, slots=True)
class Finish:
    """What happens after demould.

    Attributes:
        kind: ``light`` hand sand, ``acid`` wash, or ``hone`` by grits.
        grits: Honing passes; 0 unless kind is hone.
        slurry: Slurry coats, each sanded off.
        sealer: Family, one of SEALERS.
        coats: Sealer coats.
        two_part: Whether the sealer is mixed from two parts.
    """

    kind: Literal["light", "acid", "hone"] = "hone"
    grits: int = 1
    slurry: int = 1
    sealer: str = "penetrating"
    coats: int = 2
    two_part: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """What is to be made, one TOML file.

    Attributes:
        id: Short name, also the file name; letters, digits and hyphens.
        title: For people.
        shape: The piece's geometry, or a bare pour's zones.
        castings: How many are cast from the one form.
        mix: Name of a mix in the shop file.
        due: When it is promised, or None.
        fillet: ``silicone`` waits for its cure, ``clay`` is ready at once.
        fillet_radius: Metres.
        release: Whether the release goes on ``before caulk`` or ``after caulk``.
        finish: What happens after demould.
        optional: The optional steps switched on, of OPTIONAL_STEPS.
        note: Free text.
    """

    id: str
    title: str
    shape: Piece | Bare
    castings: int = 1
    mix: str = "M1"
    due: date | None = None
    fillet: Literal["silicone", "clay"] = "silicone"
    fillet_radius: float = 0.006
    release: Literal["before caulk", "after caulk"] = "before caulk"
    finish: Finish = field(default_factory=Finish)
    optional: tuple[str, ...] = ()
    note: str = ""
