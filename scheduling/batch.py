"""How much to mix, in how many equal batches, and who lifts the piece."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isfinite

from scheduling.errors import BadInput, Fault
from scheduling.takeoff import Takeoff
from scheduling.units import Units

FACE_FACTOR = 1.15
"""Face coat mixed per face coat needed. Common practice, no source."""

FACE_LOSS = 2.0
"""Least extra face coat for what stays in hopper and hose, kg. Common practice."""

BACK_FACTOR = 1.08
"""Back coat mixed per back coat needed. Common practice, no source."""

COUPON = 2.5
"""Back coat of one coupon board, kg. Common practice, no source."""

ORDER_STEP = 0.5
"""Orders are rounded up to this, kg. Common practice, no source."""

LIFTING_BANDS: tuple[tuple[float, int, str], ...] = (
    (23.0, 1, "one person in good posture, two if it is awkward"),
    (35.0, 2, "two people"),
    (60.0, 3, "three or four people, or a cart and a tilt table"),
)
"""Heaviest piece in kg, least crew, and words. The 23 kg is the load constant of the
NIOSH lifting equation (published, second hand); 35 and 60 kg are common practice."""

HEAVIEST_CREW = 4
"""Hands at a piece above every band; common practice, above the usual guideline."""

# So that a mass that is a whole number of steps but for its last digit stays there.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Order:
    """What to mix for one casting, kg; batches of one kind are all equal.

    Attributes:
        face_kg: Face coat with its losses.
        back_kg: Back coat with its losses, and the coupon board where one is cast.
        face_batches: How many batches of face coat.
        face_batch_kg: Mass of each.
        batches: How many batches of back coat.
        batch_kg: Mass of each.
    """

    face_kg: float
    back_kg: float
    face_batches: int
    face_batch_kg: float
    batches: int
    batch_kg: float

    @property
    def fibre_kg(self) -> float:
        """Glass fibre in each back batch, kg, weighed on top of the mix before it."""
        return self.batch_kg * FIBRE_OF_MIX / (1 + FIBRE_OF_MIX)


FIBRE_OF_MIX = 0.03
"""Fibre per mass of back mix before fibre: 3.0 % of it, 2.9 % of the total. Common
practice for premix laid by hand, no source."""


def order(takeoff: Takeoff, mixer_load_kg: float, *, coupon: bool) -> Order:
    """Sizes the order of one casting and divides it into equal batches.

    Equal, because the dregs of a short last batch change colour and set. Losses,
    rounding and batching are common practice, no source.

    Args:
        takeoff: Its net face and back masses are what the form takes.
        mixer_load_kg: Usable load of the mixer, kg, above 0.
        coupon: Whether a coupon board is cast beside the piece.

    Raises:
        BadInput: The mixer's load is not a mass above 0.
    """
    if not (isfinite(mixer_load_kg) and mixer_load_kg > 0):
        want = "the usable load of the mixer must be above 0 kg"
        raise BadInput(Fault("shop", "mixer_load", f"{mixer_load_kg} kg", want))
    face = _round_up(max(takeoff.face_kg * FACE_FACTOR, takeoff.face_kg + FACE_LOSS))
    back = _round_up(takeoff.back_kg * BACK_FACTOR + (COUPON if coupon else 0.0))
    face_batches = ceil(face / mixer_load_kg - _ROUNDING)
    batches = ceil(back / mixer_load_kg - _ROUNDING)
    return Order(
        face_kg=face,
        back_kg=back,
        face_batches=face_batches,
        face_batch_kg=face / face_batches,
        batches=batches,
        batch_kg=back / batches,
    )


def _round_up(mass_kg: float) -> float:
    return ceil(mass_kg / ORDER_STEP - _ROUNDING) * ORDER_STEP


def lifting_crew(piece_kg: float) -> int:
    """Least number of people to lift a piece by hand, 1 to 4.

    Above 60 kg even the four are above the usual guideline: show ``lifting_note``.

    Args:
        piece_kg: Mass of the piece, kg, above 0.

    Raises:
        BadInput: The mass is not above 0.
    """
    return _lifting(piece_kg)[0]


def lifting_note(piece_kg: float, units: Units) -> str:
    """Says the mass of a piece and how to lift it, deferring to local rules.

    Args:
        piece_kg: Mass of the piece, kg, above 0.
        units: To say it in.

    Raises:
        BadInput: The mass is not above 0.
    """
    advice = _lifting(piece_kg)[1]
    return f"{units.mass(piece_kg)}: {advice}. Your local lifting rules come first."


def _lifting(piece_kg: float) -> tuple[int, str]:
    if not (isfinite(piece_kg) and piece_kg > 0):
        want = "the mass of a piece must be above 0 kg"
        raise BadInput(Fault("piece", "", f"{piece_kg} kg", want))
    for heaviest, crew, words in LIFTING_BANDS:
        if piece_kg <= heaviest:
            return crew, words
    return HEAVIEST_CREW, (
        "above the usual guideline for lifting by hand, even with four; "
        "a cart or hoist planned before the form is built"
    )
