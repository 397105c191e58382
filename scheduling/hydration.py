"""Heat of hydration of cement: how much in all, and how fast, by three parameters.

Indicative for this material: the model was calibrated on paving concretes of w/cm 0.36
to 0.53, and a thin polymer mix of w/cm 0.32 lies outside. Every coefficient here is
from memory: Mills for the ultimate degree, the sum of the phases for the heat (after
Bogue), Schindler 2004 and Schindler and Folliard 2005 for tau, beta and the activation
energy.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log

from scheduling.maturity import arrhenius_rate

STANDING = "indicative: calibrated on paving concretes of w/cm 0.36 to 0.53"
"""What to say beside every figure of this model."""

REFERENCE_C = 21.1
"""Reference temperature of tau and of the equivalent age of this model, degC."""

_J_KG = 1000.0

_NOT_BEGUN = 100.0
"""(tau / te)^beta beyond which next to nothing has hydrated: exp(-100)."""


@dataclass(frozen=True, slots=True)
class Cement:
    """Composition of a Portland cement, mass fractions, and its fineness.

    Attributes:
        c3s: Alite.
        c2s: Belite.
        c3a: Aluminate.
        c4af: Ferrite.
        so3: Sulphate.
        free_cao: Free lime.
        mgo: Magnesia.
        blaine: Fineness, m2/kg, 200 to 700.

    Raises:
        ValueError: A fraction is under 0, they add up to more than 1, or the fineness
            is outside its range.
    """

    c3s: float
    c2s: float
    c3a: float
    c4af: float
    so3: float
    free_cao: float
    mgo: float
    blaine: float

    def __post_init__(self) -> None:
        parts = (self.c3s, self.c2s, self.c3a, self.c4af)
        others = (self.so3, self.free_cao, self.mgo)
        if not all(part > 0 for part in (*parts, self.so3)):
            raise ValueError("phases and sulphate of a cement: want above 0")
        if not all(part >= 0 for part in others) or not sum((*parts, *others)) <= 1:
            raise ValueError("parts of a cement: want 0 or more, together at most 1")
        if not 200 <= self.blaine <= 700:
            raise ValueError(f"fineness {self.blaine} m2/kg: want 200 to 700 m2/kg")

    @property
    def heat(self) -> float:
        """Heat of complete hydration, J/g: the sum over what it is made of."""
        return (
            500 * self.c3s
            + 260 * self.c2s
            + 866 * self.c3a
            + 420 * self.c4af
            + 624 * self.so3
            + 1186 * self.free_cao
            + 850 * self.mgo
        )


GREY = Cement(0.55, 0.18, 0.10, 0.08, 0.03, 0.01, 0.012, 350)
"""An ordinary grey Portland cement (estimate)."""

WHITE = Cement(0.66, 0.15, 0.10, 0.01, 0.03, 0.02, 0.010, 400)
"""A white Portland cement (estimate). It has next to no ferrite, which takes the
model's activation energy down to 29 kJ/mol: further outside its calibration yet."""


@dataclass(frozen=True, slots=True)
class Binder:
    """Cement and what stands in for part of it.

    Attributes:
        cement: The Portland cement.
        w_cm: Water to all cementitious, by mass, 0.2 to 0.8.
        slag: Share of slag in the cementitious, 0 to 1.
        fly_ash: Share of fly ash, 0 to 1; with ``slag`` under 1.
        fly_ash_cao: Lime in the fly ash, 0 to 0.4.

    Raises:
        ValueError: A value is outside its range.
    """

    cement: Cement
    w_cm: float
    slag: float = 0.0
    fly_ash: float = 0.0
    fly_ash_cao: float = 0.0

    def __post_init__(self) -> None:
        if not 0.2 <= self.w_cm <= 0.8:
            raise ValueError(f"w/cm {self.w_cm}: want 0.2 to 0.8")
        if not (self.slag >= 0 and self.fly_ash >= 0 and self.slag + self.fly_ash < 1):
            raise ValueError(
                f"slag {self.slag}, fly ash {self.fly_ash}: want 0 or more, under 1"
            )
        if not 0 <= self.fly_ash_cao <= 0.4:
            raise ValueError(f"lime in fly ash {self.fly_ash_cao}: want 0 to 0.4")

    @property
    def heat(self) -> float:
        """Heat of complete hydration Hu, J per g of cementitious."""
        cement = self.cement.heat * (1 - self.slag - self.fly_ash)
        return cement + 461 * self.slag + 1800 * self.fly_ash_cao * self.fly_ash

    @property
    def ultimate(self) -> float:
        """Degree of hydration in the end (Mills), at most 1."""
        mills = 1.031 * self.w_cm / (0.194 + self.w_cm)
        return min(mills + 0.50 * self.fly_ash + 0.30 * self.slag, 1.0)

    @property
    def tau_h(self) -> float:
        """Time parameter, h of equivalent age."""
        cement = self.cement
        lime = self.fly_ash * self.fly_ash_cao
        return float(
            66.78
            * cement.c3a**-0.154
            * cement.c3s**-0.401
            * cement.blaine**-0.804
            * cement.so3**-0.758
            * exp(2.187 * self.slag + 9.50 * lime)
        )

    @property
    def beta(self) -> float:
        """Shape parameter."""
        cement = self.cement
        return float(
            181.4
            * cement.c3a**0.146
            * cement.c3s**0.227
            * cement.blaine**-0.535
            * cement.so3**0.558
            * exp(-0.647 * self.slag)
        )

    @property
    def activation_energy(self) -> float:
        """Apparent activation energy, kJ/mol."""
        cement = self.cement
        ash = 1.05 * self.fly_ash * (1 - self.fly_ash_cao / 0.40)
        factor = 1 - ash + 0.40 * self.slag
        energy = 22.1 * cement.c3a**0.30 * cement.c4af**0.25 * cement.blaine**0.35
        return float(energy * factor)


M1_BINDER = Binder(GREY, w_cm=0.32, fly_ash=0.15)
"""Binder of mix M1: 85 % cement, 15 % pozzolan taken for a fly ash without lime, which
gives no heat of its own in the first days (estimate)."""

M1_CEMENTITIOUS = 844 / 2089
"""Cementitious in the back coat of mix M1, by mass (derived from its batch)."""


class HydrationHeat:
    """Heat of a binder as it hydrates: alpha = alpha_u exp(-(tau / te)^beta).

    Attributes:
        ultimate: alpha_u.
        tau_h: tau, h.
        beta: beta.
        activation_energy: Of its equivalent age te, kJ/mol.
        reference_c: Of te, degC.
        full: Heat of complete hydration, J per m2 of the piece (or per m3, or per kg:
            whatever the amount of cementitious is of).
    """

    __slots__ = (
        "_flow",
        "activation_energy",
        "beta",
        "full",
        "reference_c",
        "tau_h",
        "ultimate",
    )

    def __init__(self, binder: Binder, cementitious: float) -> None:
        """Takes a binder and how much of it there is.

        Args:
            binder: What hydrates.
            cementitious: kg per m2 of the piece (or per m3).

        Raises:
            ValueError: The amount is under 0 or not finite.
        """
        if not 0 <= cementitious < inf:
            raise ValueError(f"cementitious {cementitious} kg: want 0 or more")
        self.ultimate = binder.ultimate
        self.tau_h = binder.tau_h
        self.beta = binder.beta
        self.activation_energy = binder.activation_energy
        self.reference_c = REFERENCE_C
        self.full = binder.heat * _J_KG * cementitious
        self._flow = self.full * self.ultimate * self.beta / 3600

    def degree(self, age_h: float) -> float:
        """Degree of hydration at an equivalent age, h, 0 or more."""
        if age_h <= 0:
            return 0.0
        return self.ultimate * exp(-((self.tau_h / age_h) ** self.beta))

    def age(self, degree: float) -> float:
        """Equivalent age at which a degree above 0 is reached, h; ``inf`` if never."""
        if degree >= self.ultimate:
            return inf
        return float(self.tau_h * log(self.ultimate / degree) ** (-1 / self.beta))

    def released(self, age_h: float) -> float:
        """Heat given off up to an equivalent age, J."""
        return self.full * self.degree(age_h)

    def watts(self, age_h: float, rate: float) -> float:
        """Heat given off at an equivalent age, W.

        Args:
            age_h: Equivalent age, h.
            rate: Equivalent hours that pass in an hour, at the temperature it has.
        """
        if age_h <= 0:
            return 0.0
        turn = (self.tau_h / age_h) ** self.beta
        if turn > _NOT_BEGUN:
            return 0.0
        return float(self._flow * turn / age_h * exp(-turn) * rate)

    def watts_at(self, age_h: float, temp_c: float) -> float:
        """Heat given off at an equivalent age and a temperature, W."""
        rate = arrhenius_rate(temp_c, self.activation_energy, self.reference_c)
        return self.watts(age_h, rate)

    def adiabatic_rise(self, capacity: float) -> float:
        """How far it would warm itself with no loss at all, K.

        Args:
            capacity: Heat capacity of the same m2 (or m3), J/K, above 0.
        """
        return self.full * self.ultimate / capacity
