"""Laws of strength gain: strength against equivalent age, and back.

Every law takes the equivalent age in hours at its own reference temperature, and gives
the mean compressive strength in MPa. They were made for concretes cured at one
temperature; what they say of a thin polymer mix is a guide until the shop has tested.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Literal, Protocol

DAY_H = 24.0

MOST_MPA = 200.0
"""Largest strength taken for one, MPa."""

CementClass = Literal["32.5N", "32.5R", "42.5N", "42.5R", "52.5N", "52.5R"]
AciRow = Literal["I moist", "III moist", "I steam", "III steam"]

CEMENT_CLASSES: tuple[CementClass, ...] = (
    "32.5N",
    "32.5R",
    "42.5N",
    "42.5R",
    "52.5N",
    "52.5R",
)
"""Strength classes of cement; R gains early, N ordinarily."""

SLOPES: dict[CementClass, float] = {
    "32.5N": 0.38,
    "32.5R": 0.25,
    "42.5N": 0.25,
    "42.5R": 0.20,
    "52.5N": 0.20,
    "52.5R": 0.20,
}
"""s of EN 1992-1-1 and of Model Code 2010 by class of cement: the groups S (0.38),
N (0.25) and R (0.20). Standing: published, second hand. A binder with 35 to 65 % slag
or 20 to 35 % fly ash counts as N, with more as S (published, second hand)."""

ACI_ROWS: dict[AciRow, tuple[float, float]] = {
    "I moist": (4.0, 0.85),
    "III moist": (2.3, 0.92),
    "I steam": (1.0, 0.95),
    "III steam": (0.70, 0.98),
}
"""a (d) and b of ACI 209R by type of cement and curing (from memory)."""


def check_mpa(what: str, mpa: float) -> None:
    """Refuses a strength that is not above 0 to MOST_MPA.

    Raises:
        ValueError: With what it is and its value.
    """
    if not 0 < mpa <= MOST_MPA:
        raise ValueError(f"{what} {mpa} MPa: want above 0 to {MOST_MPA:g} MPa")


def _check_age(age_h: float) -> None:
    if not 0 <= age_h < inf:
        raise ValueError(f"age {age_h} h: want 0 or more")


def _check_wanted(mpa: float) -> None:
    if not 0 < mpa < inf:
        raise ValueError(f"strength {mpa} MPa: want above 0")


def _check_hours(what: str, hours: float) -> None:
    if not 0 < hours < inf:
        raise ValueError(f"{what} {hours} h: want above 0")


class StrengthLaw(Protocol):
    """Mean strength as a function of equivalent age."""

    @property
    def reference_c(self) -> float:
        """Temperature its equivalent age is meant at, degC."""
        ...

    def strength(self, age_h: float) -> float:
        """Mean strength, MPa, 0 or more.

        Args:
            age_h: Equivalent age at the reference temperature, h, 0 or more.

        Raises:
            ValueError: The age is under 0 or not finite.
        """
        ...

    def age(self, mpa: float) -> float:
        """Equivalent age at which a strength is reached, h; ``inf`` if it never is.

        Args:
            mpa: Strength, MPa, above 0.

        Raises:
            ValueError: The strength is not above 0 or not finite.
        """
        ...


@dataclass(frozen=True, slots=True)
class Hyperbolic:
    """S = Su k (te - t0) / (1 + k (te - t0)) from te = t0 on, nothing before.

    Reference 23 degC. Shape: ASTM C1074 (from memory); its constants come from tests.

    Attributes:
        ultimate: Su, MPa.
        half_after_h: 1 / k, h: half of Su is reached so long after t0.
        starts_h: t0, h, 0 or more.

    Raises:
        ValueError: A constant is outside its range.
    """

    ultimate: float
    half_after_h: float
    starts_h: float = 0.0

    def __post_init__(self) -> None:
        check_mpa("ultimate strength", self.ultimate)
        _check_hours("time to half the ultimate strength", self.half_after_h)
        _check_age(self.starts_h)

    @property
    def reference_c(self) -> float:
        """23 degC."""
        return 23.0

    def strength(self, age_h: float) -> float:
        """Mean strength, MPa; 0 up to t0."""
        _check_age(age_h)
        gone = max(age_h - self.starts_h, 0.0)
        return self.ultimate * gone / (self.half_after_h + gone)

    def age(self, mpa: float) -> float:
        """Equivalent age at which a strength is reached, h; ``inf`` from Su on."""
        _check_wanted(mpa)
        if mpa >= self.ultimate:
            return inf
        return self.starts_h + self.half_after_h * mpa / (self.ultimate - mpa)


@dataclass(frozen=True, slots=True)
class Exponential:
    """S = Su exp(-(tau / te)^a): a third of Su at tau, all of it in the end.

    Reference 20 degC. Shape: Freiesleben Hansen and Pedersen (from memory).

    Attributes:
        ultimate: Su, MPa.
        tau_h: tau, h; the strength there is Su / e.
        shape: a, above 0 to 5; 0.5 to 1.2 is usual.

    Raises:
        ValueError: A constant is outside its range.
    """

    ultimate: float
    tau_h: float
    shape: float

    def __post_init__(self) -> None:
        check_mpa("ultimate strength", self.ultimate)
        _check_hours("tau", self.tau_h)
        if not 0 < self.shape <= 5:
            raise ValueError(f"shape {self.shape}: want above 0 to 5")

    @property
    def reference_c(self) -> float:
        """20 degC."""
        return 20.0

    def strength(self, age_h: float) -> float:
        """Mean strength, MPa."""
        _check_age(age_h)
        if not age_h:
            return 0.0
        # A logarithm above 50 to exp would overflow, and stands for no strength at all.
        depth = self.shape * log(self.tau_h / age_h)
        return self.ultimate * exp(-exp(depth)) if depth < 50 else 0.0

    def age(self, mpa: float) -> float:
        """Equivalent age at which a strength is reached, h; ``inf`` from Su on."""
        _check_wanted(mpa)
        if mpa >= self.ultimate:
            return inf
        return float(self.tau_h * log(self.ultimate / mpa) ** (-1 / self.shape))


@dataclass(frozen=True, slots=True)
class Eurocode:
    """fcm(t) = fcm exp(s (1 - sqrt(28 d / t))), of EN 1992-1-1 and Model Code 2010.

    Reference 20 degC. Standing: published, second hand (EN 1992-1-1 (3.1), (3.2)).
    Below 3 d the standard wants tests (from memory).

    Attributes:
        mean_28d: fcm, mean strength at 28 d and 20 degC, MPa.
        cement: Strength class of the cement.
        model_code: Whether Model Code 2010 is followed, which takes s = 0.20 for every
            class where fcm is above 60 MPa (seen in a public library's source).

    Raises:
        ValueError: The strength is outside its range.
    """

    mean_28d: float
    cement: CementClass
    model_code: bool = False

    def __post_init__(self) -> None:
        check_mpa("strength at 28 d", self.mean_28d)

    @property
    def reference_c(self) -> float:
        """20 degC."""
        return 20.0

    @property
    def slope(self) -> float:
        """The s that applies."""
        if self.model_code and self.mean_28d > 60:
            return 0.20
        return SLOPES[self.cement]

    def strength(self, age_h: float) -> float:
        """Mean strength, MPa."""
        _check_age(age_h)
        if not age_h:
            return 0.0
        return self.mean_28d * exp(self.slope * (1 - sqrt(28 * DAY_H / age_h)))

    def age(self, mpa: float) -> float:
        """Equivalent age at which a strength is reached, h; ``inf`` from fcm e^s on."""
        _check_wanted(mpa)
        root = 1 - log(mpa / self.mean_28d) / self.slope
        return 28 * DAY_H / root**2 if root > 0 else inf


@dataclass(frozen=True, slots=True)
class Aci209:
    """f(t) = f28 t / (a + b t), t in days.

    Reference 23 degC (from memory). Standing: ACI 209R, from memory. With its rounded
    constants f(28 d) is 1.0072, 0.9979, 1.0145 and 0.9950 of f28, in the order of rows.

    Attributes:
        mean_28d: f28, MPa.
        row: Type of cement and curing.

    Raises:
        ValueError: The strength is outside its range.
    """

    mean_28d: float
    row: AciRow

    def __post_init__(self) -> None:
        check_mpa("strength at 28 d", self.mean_28d)

    @property
    def reference_c(self) -> float:
        """23 degC."""
        return 23.0

    def strength(self, age_h: float) -> float:
        """Mean strength, MPa."""
        _check_age(age_h)
        a, b = ACI_ROWS[self.row]
        days = age_h / DAY_H
        return self.mean_28d * days / (a + b * days)

    def age(self, mpa: float) -> float:
        """Equivalent age at which a strength is reached, h; ``inf`` from f28 / b on."""
        _check_wanted(mpa)
        a, b = ACI_ROWS[self.row]
        left = self.mean_28d - b * mpa
        return DAY_H * a * mpa / left if left > 0 else inf


AnyLaw = Hyperbolic | Exponential | Eurocode | Aci209

USUAL_LAW = Eurocode(50.0, "42.5N")
"""Law of a mix that names none (estimate). 50 MPa at 28 d is the middle of 40 to 60 MPa
for glass-fibre premix with 3 % fibre (published, second hand); a cement with pozzolan
and polymer is taken to gain like class N."""
