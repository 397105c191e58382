"""The windows of a shop as its log teaches them: each threshold, of each mix.

All mixes of one threshold are learned together, so that a new mix begins where the
shop's others stand; thresholds are learned apart from each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from scheduling.laws import ACTIVATION_ENERGY, CLOSE_SHARE, OPEN_SHARE
from scheduling.learned import Learned, Weighed
from scheduling.learning import Fit, fit
from scheduling.observation import Observation
from scheduling.oneday import shares
from scheduling.posterior import Prior
from scheduling.shop import Shop
from scheduling.sightings import Sightings
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS, RECOAT, SEALER_POT_LIFE

COATED = ("recoat opens", "recoat closes", "sealer pot life")
"""Thresholds on the coating clock; what they hold for is the sealer's family."""

_ORDER = {name: place for place, name in enumerate((*DEFAULTS, *COATED))}

_FIXED = "the shop file gives this threshold as certain: p10 and p90 are the same"


def learn_windows(observations: Iterable[Observation], shop: Shop) -> list[Learned]:
    """Learns every threshold of every mix that the observations are about.

    Args:
        observations: Of all pours, in any order; those of a threshold or a family
            of sealers that the program does not know are passed over.
        shop: As its file has it, without accepted values.

    Returns:
        In the order of ``thresholds.DEFAULTS``, then the sealers; of one threshold
        the shop's mixes in their order, then others by name.
    """
    windows = Windows(shop)
    windows.add(observations)
    return windows.learned()


@dataclass(frozen=True, slots=True)
class Outlook:
    """How a threshold of a mix is forecast.

    Attributes:
        spread: Reference minutes.
        energy: Activation energy to run its clock with, kJ/mol; None where it has none.
        share: Of evaporation to run its clock with; None where it has none.
    """

    spread: Spread
    energy: float | None
    share: float | None


class Windows:
    """The thresholds of a shop, learned from a log that may grow.

    Nothing that was added is ever taken back: after a correction or an undo, begin
    anew. What was learned before makes the next answer quick, and of a threshold to
    which nothing was added the answer is the one there was.
    """

    def __init__(self, shop: Shop) -> None:
        """Begins with nothing seen.

        Args:
            shop: As its file has it, without accepted values.
        """
        self._shop = shop
        self._thresholds: dict[str, _Threshold] = {}

    def add(self, observations: Iterable[Observation]) -> None:
        """Takes more observations in; nothing is computed before it is asked for."""
        by_name: dict[str, list[Observation]] = {}
        for said in observations:
            if is_known(said.name, said.mix):
                by_name.setdefault(said.name, []).append(said)
        for name, about in by_name.items():
            if name not in self._thresholds:
                self._thresholds[name] = _Threshold(name, self._shop)
            self._thresholds[name].add(about)

    def learned(self) -> list[Learned]:
        """All that was learned, in order."""
        return [
            learned
            for name in sorted(self._thresholds, key=lambda name: _ORDER[name])
            for learned in self._thresholds[name].learned()
        ]

    def seen(self, name: str) -> int:
        """How many observations of a threshold something is learned from."""
        threshold = self._thresholds.get(name)
        return threshold.count if threshold else 0

    def outlook(self, name: str, mix: str) -> Outlook:
        """The forecast of a threshold of a mix by all that was added."""
        threshold = self._thresholds.get(name)
        if threshold is None:
            return default_outlook(name, mix, self._shop)
        return threshold.outlook(mix)


def is_known(name: str, mix: str) -> bool:
    """Whether there is such a threshold, and such a family if it is a sealer's."""
    if name in COATED:
        return mix in (SEALER_POT_LIFE if name == "sealer pot life" else RECOAT)
    return name in DEFAULTS


def default_outlook(name: str, mix: str, shop: Shop) -> Outlook:
    """The forecast of a threshold of a mix without the log.

    Args:
        name: Of the threshold.
        mix: Or the sealer's family, as in an observation.
        shop: As its file has it, without accepted values.

    Raises:
        KeyError: There is no such threshold, or no such family of sealers.
    """
    if name in COATED:
        return Outlook(_coated(name, mix), None, None)
    threshold, own = DEFAULTS[name], shop.mixes.get(mix)
    spread = threshold.spread if own is None else own.thresholds.get(name)
    chemical = threshold.clock in ("face", "hydration")
    energy = own.activation_energy if own else ACTIVATION_ENERGY
    share = OPEN_SHARE if name == "face opens" else CLOSE_SHARE
    return Outlook(
        spread or threshold.spread,
        energy if chemical else None,
        share if threshold.clock == "face" else None,
    )


def _coated(name: str, family: str) -> Spread:
    if name == "sealer pot life":
        return SEALER_POT_LIFE[family]
    return RECOAT[family][COATED.index(name)]


class _Threshold:
    """One threshold of all mixes that were seen or asked for."""

    def __init__(self, name: str, shop: Shop) -> None:
        self._name, self._shop = name, shop
        self._priors: dict[str, Prior] = {}
        self._usable: list[Observation] = []
        self._left_out: list[Observation] = []
        self._seen: Sightings | None = None
        self._fit: Fit | None = None
        self._answer: list[Learned] | None = None

    @property
    def count(self) -> int:
        """How many observations something is learned from."""
        return len(self._usable)

    def add(self, about: Iterable[Observation]) -> None:
        self._answer = None
        for said in about:
            if said.why_not:
                self._left_out.append(said)
            elif not self._default(said.mix).spread.sigma:
                self._left_out.append(replace(said, why_not=_FIXED))
            else:
                self._usable.append(said)

    def outlook(self, mix: str) -> Outlook:
        """The forecast for a mix, whether it was seen or not."""
        default = self._default(mix)
        if not self._usable or not default.spread.sigma:
            return default
        found, place = self._learned_fit(mix)
        return _outlook(found, place)

    def learned(self) -> list[Learned]:
        """What was learned of each mix there is an observation of."""
        if self._answer is None:
            self._answer = self._answered()
        return self._answer

    def _answered(self) -> list[Learned]:
        mine: dict[str, list[int]] = {said.mix: [] for said in self._left_out}
        for number, said in enumerate(self._usable):
            mine.setdefault(said.mix, []).append(number)
        order = list(self._shop.mixes)
        others = sorted(mine.keys() - set(order))
        mixes = [*(mix for mix in order if mix in mine), *others]
        return [self._of_mix(mix, mine[mix]) for mix in mixes]

    def _of_mix(self, mix: str, numbers: list[int]) -> Learned:
        default = self._default(mix)
        left_out = sorted(
            (said for said in self._left_out if said.mix == mix), key=_moment
        )
        energy = share = None
        seen: list[Weighed[Observation]] = []
        outlook = self.outlook(mix)
        if self._usable and default.spread.sigma:
            found, place = self._learned_fit(mix)
            energy, share = found.energy(place), found.share(place)
            weights = found.weights.tolist()
            seen = [Weighed(self._usable[n], weights[n]) for n in numbers]
            seen.sort(key=lambda weighed: weighed.said.at)
        said = [weighed.said for weighed in seen]
        temps = [about.temp_c for about in said or left_out if about.measured]
        return Learned(
            name=self._name,
            mix=mix,
            default=default.spread,
            learned=outlook.spread,
            pours=len({each.said.pour for each in seen if not each.odd}),
            bracketed=sum(1 for about in said if about.after and about.before),
            temp_range_c=(min(temps), max(temps)) if temps else None,
            energy=energy,
            share=share,
            seen=tuple(seen),
            left_out=tuple(left_out),
        )

    def _default(self, mix: str) -> Outlook:
        return default_outlook(self._name, mix, self._shop)

    def _learned_fit(self, mix: str) -> tuple[Fit, int]:
        """The fit to all that was added, and the place of a mix in it."""
        start = self._fit
        done = len(start.weights) if start else 0
        fresh = self._usable[done:]
        wanted = {mix, *(said.mix for said in fresh)} - self._priors.keys()
        for new in sorted(wanted):
            outlook = self._default(new)
            self._priors[new] = Prior(
                outlook.spread.p50, outlook.spread.sigma, outlook.energy, outlook.share
            )
        places = {known: place for place, known in enumerate(self._priors)}
        if fresh:
            more = Sightings.of(
                (places[said.mix], said.after, said.before) for said in fresh
            )
            seen = self._seen.with_more(more) if self._seen else more
            pours = [(said.mix, said.pour) for said in self._usable]
            self._seen = replace(seen, counts=shares(pours))
        if fresh or wanted or start is None:
            assert self._seen is not None
            self._answer = None
            self._fit = fit(
                list(self._priors.values()),
                self._seen,
                start=None if wanted else start,
            )
        assert self._fit is not None
        return self._fit, places[mix]


def _outlook(found: Fit, place: int) -> Outlook:
    energy, share = (
        None if constant is None else constant.p50
        for constant in (found.energy(place), found.share(place))
    )
    return Outlook(Spread(*found.next_wait(place, energy, share)), energy, share)


def _moment(said: Observation) -> datetime:
    return said.at
