"""What the program learns of a shop's windows: each threshold, of each mix."""

from dataclasses import replace

import numpy as np
import pytest

from scheduling.draft import learned_from
from scheduling.observation import Mark
from scheduling.shop import Mix, Shop
from scheduling.spread import Spread
from scheduling.thresholds import DEFAULTS, RECOAT, SEALER_POT_LIFE
from scheduling.timings import Windows, default_outlook, is_known, learn_windows
from support.taught import Truth, forgotten, pours, steady_day

OWN = Spread(15.0, 0.3)
SHOP = Shop(
    mixes={
        "M1": Mix(),
        "white": Mix("white", activation_energy=38.0, thresholds={"face opens": OWN}),
    }
)


def said(truth, count, *, seed=1, **about):
    waits = pours(np.random.default_rng(seed), truth, count, **about)
    return [wait.said for wait in waits]


def one(observations, shop=SHOP):
    (learned,) = learn_windows(observations, shop)
    return learned


def coated(name, family, minutes, number=0):
    """A wait on the coating clock, which has no constants to learn."""
    (some,) = said(Truth(20, 0.1), 1, name="hone")
    marks = [Mark(m, (m, m, m)) for m in (minutes * 0.95, minutes * 1.05)]
    return replace(
        some, name=name, mix=family, pour=f"s-{number}", after=marks[0], before=marks[1]
    )


def test_nothing_seen_is_nothing_learned():
    assert learn_windows([], SHOP) == []
    assert Windows(SHOP).outlook("demould", "M1") == default_outlook(
        "demould", "M1", SHOP
    )


def test_the_prior_is_the_default_or_the_shops_own():
    m1 = one(said(Truth(20, 0.1, 42, 0.4), 3))
    white = one(said(Truth(20, 0.1, 42, 0.4), 3, mix="white"))
    assert m1.default == DEFAULTS["face opens"].spread
    assert white.default == OWN
    assert (m1.energy.prior, white.energy.prior) == (42.0, 38.0)
    assert (m1.share.prior, white.share.prior) == (0.4, 0.4)
    closes = one(said(Truth(45, 0.1, 42, 0.5), 3, name="face closes"))
    assert closes.share.prior == 0.5


def test_a_mix_the_shop_no_longer_has_still_counts():
    learned = one(said(Truth(26, 0.1, 42, 0.4), 12, mix="old"))
    assert learned.mix == "old"
    assert learned.default == DEFAULTS["face opens"].spread
    assert learned.learned.p50 == pytest.approx(26, rel=0.1)


def test_they_come_in_the_order_of_the_trade():
    truth = Truth(30, 0.1, 42)
    seen = [
        coated("sealer pot life", "epoxy", 30),
        coated("recoat closes", "acrylic", 3000),
        coated("recoat opens", "acrylic", 180),
        *said(Truth(1000, 0.1, 42), 1, name="demould"),
        *said(truth, 1, name="back pot life", mix="zinc"),
        *said(truth, 1, name="back pot life", mix="ash"),
        *said(truth, 1, name="back pot life", mix="white"),
        *said(truth, 1, name="back pot life", mix="M1"),
    ]
    assert [(learned.name, learned.mix) for learned in learn_windows(seen, SHOP)] == [
        ("back pot life", "M1"),
        ("back pot life", "white"),
        ("back pot life", "ash"),
        ("back pot life", "zinc"),
        ("demould", "M1"),
        ("recoat opens", "acrylic"),
        ("recoat closes", "acrylic"),
        ("sealer pot life", "epoxy"),
    ]


def test_the_order_of_what_was_seen_does_not_matter():
    seen = said(Truth(24, 0.2, 38, 0.5), 25) + said(
        Truth(30, 0.2, 45, 0.4), 9, mix="white", seed=2
    )
    forth, back = learn_windows(seen, SHOP), learn_windows(seen[::-1], SHOP)
    for first, second in zip(forth, back, strict=True):
        assert first.learned.p50 == pytest.approx(second.learned.p50, rel=1e-4)
        assert [w.said for w in first.seen] == [w.said for w in second.seen]
        assert [w.weight for w in first.seen] == pytest.approx(
            [w.weight for w in second.seen], abs=1e-3
        )


def test_sealers_are_learned_by_family():
    for name, family, default in (
        ("recoat opens", "epoxy", RECOAT["epoxy"][0]),
        ("recoat closes", "epoxy", RECOAT["epoxy"][1]),
        ("sealer pot life", "epoxy", SEALER_POT_LIFE["epoxy"]),
    ):
        slow = default.p50 * 1.3
        learned = one([coated(name, family, slow, number) for number in range(8)])
        assert learned.default == default
        assert learned.learned.p50 == pytest.approx(slow, rel=0.05)
        assert learned.learned.sigma < default.sigma
        assert learned.energy is learned.share is None
        assert learned.timing.energy is None


def test_zones_of_one_pour_tell_less_than_as_many_pours():
    """However they come in: of the same mix, pour and threshold, and of no other."""
    truth = Truth(24, 0.15, 42, 0.4)
    apart = said(truth, 6)
    zones = [replace(about, pour="m1-0", zone=about.pour) for about in apart]
    together = one(zones)
    assert together.pours == 1
    assert together.learned.sigma > 1.05 * one(apart).learned.sigma
    assert [w.weight > 0.5 for w in together.seen] == [True] * 6
    grown = Windows(SHOP)
    for about in zones:
        grown.add([about])
        grown.learned()
    (late,) = grown.learned()
    assert late.learned.p50 == pytest.approx(together.learned.p50, rel=2e-3)
    assert late.learned.sigma == pytest.approx(together.learned.sigma, rel=5e-3)
    # Other mixes and thresholds of the same pour take nothing from it.
    mixes = [replace(about, mix=f"mix {about.zone}") for about in zones]
    alone = [replace(about, mix=f"mix {about.pour}") for about in apart]
    for first, second in zip(
        learn_windows(mixes, SHOP), learn_windows(alone, SHOP), strict=True
    ):
        assert first.learned == second.learned


def test_what_has_no_default_is_passed_over():
    some = said(Truth(20, 0.1, 42, 0.4), 2)
    strange = [replace(some[0], name="gloss"), coated("recoat opens", "honey", 9)]
    assert not any(is_known(about.name, about.mix) for about in strange)
    assert len(one([*some, *strange]).seen) == 2


def test_pours_brackets_and_temperatures_are_counted():
    seen = said(Truth(24, 0.1, 42, 0.4), 6)
    seen.append(replace(seen[0], zone="B", before=None))
    seen.append(replace(seen[1], zone="B", after=None))
    seen.append(replace(seen[5], pour="m1-99", why_not="cover not written", temp_c=50))
    learned = one(seen)
    assert learned.pours == 6
    assert len(learned.seen) == 8
    assert learned.bracketed == 6
    temps = [about.temp_c for about in seen[:-1]]
    assert learned.temp_range_c == (min(temps), max(temps))
    assert learned.left_out == (seen[-1],)
    moments = [weighed.said.at for weighed in learned.seen]
    assert moments == sorted(moments)


def test_only_left_out_waits_leave_the_default():
    seen = [replace(s, why_not="stopped by hand") for s in said(Truth(99, 0.1), 2)]
    for about in seen:
        assert about.name == "face opens"
    learned = one(seen)
    assert learned.learned == learned.default == DEFAULTS["face opens"].spread
    assert (learned.pours, learned.seen, len(learned.left_out)) == (0, (), 2)


def test_what_is_left_out_teaches_nothing():
    seen = said(Truth(24, 0.1, 42, 0.4), 8)
    odd = [replace(s, why_not="no") for s in said(Truth(90, 0.1, 42, 0.4), 8, seed=3)]
    assert one(seen + odd).learned == one(seen).learned


def test_a_threshold_the_shop_calls_certain_stays():
    shop = Shop(mixes={"M1": Mix(thresholds={"face opens": Spread(15.0)})})
    learned = one(said(Truth(24, 0.1, 42, 0.4), 8), shop)
    assert learned.learned == learned.default == Spread(15.0)
    assert len(learned.left_out) == 8
    assert all("certain" in about.why_not for about in learned.left_out)


def test_soft_and_never_ready_is_learned_from_too():
    """Twelve waits known only to be longer than 30 reference minutes."""
    seen = [
        replace(about, after=Mark(30.0, (30.0,) * 3, 30.0), before=None)
        for about in said(Truth(40, 0.1, 42, 0.4), 12, days=steady_day)
    ]
    learned = one(seen)
    assert learned.bracketed == 0
    assert learned.learned.p50 > 30
    early = [replace(about, after=None, before=about.after) for about in seen]
    assert one(early).learned.p50 < 18


def bounded(minutes, count, *, above):
    """Waits at the reference known only to be above or below so many minutes."""
    bound = Mark(minutes, (minutes,) * 3, minutes)
    sides = (bound, None) if above else (None, bound)
    return [
        replace(about, after=sides[0], before=sides[1])
        for about in said(Truth(18, 0.12, 42, 0.4), count, days=steady_day)
    ]


def test_a_log_tells_what_it_narrowed_or_moved():
    default = DEFAULTS["face opens"].spread
    once = one(said(Truth(18, 0.12, 42, 0.4), 1))
    assert once.tells
    assert once.learned.sigma < 0.9 * default.sigma
    # Never soft after 40 minutes says hardly more than the default does.
    for afar in (bounded(40.0, 12, above=False), bounded(5.0, 12, above=True)):
        learned = one(afar)
        assert learned.pours == 12
        assert learned.learned != default
        assert not learned.tells
    later = one(bounded(40.0, 1, above=True))
    assert later.learned.sigma > 0.9 * default.sigma
    assert later.learned.p50 > 1.25 * default.p50
    assert later.tells
    left_out = [replace(about, why_not="no") for about in bounded(9, 3, above=True)]
    assert not one(left_out).tells
    certain = Shop(mixes={"M1": Mix(thresholds={"face opens": Spread(15.0)})})
    assert not one(bounded(40.0, 5, above=True), certain).tells


def test_a_pour_of_which_all_is_odd_is_not_counted():
    waits = pours(np.random.default_rng(5), Truth(20, 0.12, 42, 0.4), 20)
    lunch = forgotten(waits[7], 5.0).said
    seen = [w.said for w in waits[:7]] + [lunch] + [w.said for w in waits[8:]]
    assert one(seen).pours == 19
    # Another zone of it that was looked at in time makes it count.
    assert one([*seen, replace(waits[7].said, zone="B")]).pours == 20


def test_an_absurd_entry_is_shown_as_odd_and_kept():
    waits = pours(np.random.default_rng(5), Truth(20, 0.12, 42, 0.4), 20)
    lunch = forgotten(waits[7], 5.0)
    learned = one([w.said for w in waits[:7]] + [lunch.said] + [
        w.said for w in waits[8:]
    ])  # fmt: skip
    assert [weighed.said for weighed in learned.seen if weighed.odd] == [lunch.said]
    assert len(learned.seen) == 20
    clean = one([wait.said for wait in waits]).learned.p50
    assert learned.learned.p50 == pytest.approx(clean, rel=0.03)


def test_mixes_lend_each_other_what_the_shop_has_in_common():
    many = said(Truth(30, 0.1, 42, 0.4), 30)
    few = said(Truth(30, 0.1, 42, 0.4), 1, mix="other", seed=8)
    alone = one(few)
    _, together = learn_windows(many + few, SHOP)
    assert together.mix == "other"
    assert together.pours == 1
    assert together.learned.sigma < alone.learned.sigma
    windows = Windows(SHOP)
    windows.add(many)
    assert 20 < windows.outlook("face opens", "never seen").spread.p50 < 28
    assert windows.outlook("face closes", "M1") == default_outlook(
        "face closes", "M1", SHOP
    )


def test_what_there_is_to_accept_is_what_the_forecast_uses():
    """A constant that is not told is not touched; one that is told goes along."""
    warm = one(said(Truth(1100, 0.08, 35.0), 40, name="demould"))
    assert warm.energy.told
    assert warm.timing.energy == warm.energy.p50 < 40
    same = one(said(Truth(1100, 0.08, 35.0), 40, name="demould", days=steady_day))
    assert not same.energy.told
    assert same.timing.energy is None
    assert same.energy.p50 == same.energy.prior
    assert same.timing.spread == same.learned
    assert learned_from(same.timing.pours) == "learned from 40 pours"


def test_a_log_that_grows_is_learned_as_one_that_was_there():
    seen = said(Truth(24, 0.2, 36, 0.5), 40) + said(
        Truth(1300, 0.1, 38), 40, name="demould"
    )
    windows = Windows(SHOP)
    windows.add(about for about in seen if int(about.pour[3:]) < 20)
    windows.learned()
    for number in range(20, 40):
        windows.add(about for about in seen if about.pour == f"m1-{number}")
        windows.learned()
    for grown, whole in zip(windows.learned(), learn_windows(seen, SHOP), strict=True):
        assert grown.learned.p50 == pytest.approx(whole.learned.p50, rel=2e-3)
        assert grown.learned.sigma == pytest.approx(whole.learned.sigma, rel=5e-3)
        assert grown.pours == whole.pours == 40
        assert [w.said for w in grown.seen] == [w.said for w in whole.seen]


def test_what_was_not_added_to_is_not_learned_again():
    opens, demould = (
        said(Truth(24, 0.1, 42, 0.4), 9),
        said(Truth(1100, 0.1, 42), 9, name="demould"),
    )
    windows = Windows(SHOP)
    windows.add([*opens, *demould[:8]])
    before = windows.learned()
    windows.add([])
    assert all(a is b for a, b in zip(windows.learned(), before, strict=True))
    windows.add(demould[8:])
    first, second = windows.learned()
    assert first is before[0]
    assert (before[1].pours, second.pours) == (8, 9)
    # Nor is an answer kept that another mix, asked for meanwhile, has changed.
    windows.outlook("face opens", "white")
    (asked, _) = windows.learned()
    assert asked.learned == windows.outlook("face opens", "M1").spread
