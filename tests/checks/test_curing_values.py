"""Curing, stripping and cold-weather tables, cell by cell.

DIN 1045-3 and ACI 347R are published second hand; UFGS-03301 and the freezing strength
are published; EN 13670 Annex F, ACI 308/301 and ACI 306R are from memory.
"""

from __future__ import annotations

import pytest

from scheduling import curing
from scheduling.curing import (
    cold_placing,
    din_1045_3_days,
    en_13670_days,
    hours_towards_stripping,
)
from scheduling.quantities import STRENGTH

TEMPS = (25, 15, 10, 5)
RATIOS = (0.50, 0.30, 0.15, 0.05)


@pytest.mark.parametrize(
    ("temp_c", "days"),
    [(25, (1, 2, 2, 3)), (15, (1, 2, 4, 5)), (10, (2, 4, 7, 10)), (5, (3, 6, 10, 15))],
)
@pytest.mark.parametrize("above", [0, 0.001, 4.999])
def test_din_1045_3_published_second_hand(temp_c, days, above):
    for ratio, expected in zip(RATIOS, days, strict=True):
        assert din_1045_3_days(temp_c + above, ratio) == expected
        assert din_1045_3_days(temp_c + above, ratio, "wear") == 2 * expected
        assert din_1045_3_days(temp_c + above, ratio, "dry inside") == 0.5


def test_din_1045_3_boundaries():
    # Exactly 15 degC and exactly 0.30 belong to the warmer row and the faster column.
    assert din_1045_3_days(15, 0.30) == 2
    assert din_1045_3_days(14.999, 0.30) == 4
    assert din_1045_3_days(15, 0.2999) == 4
    assert din_1045_3_days(4.999, 0.5) is None
    assert din_1045_3_days(40, 1.0) == 1


EN = {
    2: ((1, 1.5, 2.5), (1, 2.5, 5), (1.5, 4, 8), (2, 5, 11)),
    3: ((1.5, 2.5, 3.5), (2, 4, 7), (2.5, 7, 12), (3.5, 9, 18)),
    4: ((3, 5, 6), (5, 9, 12), (7, 13, 21), (9, 18, 30)),
}


@pytest.mark.parametrize("curing_class", EN)
def test_en_13670_from_memory(curing_class):
    for temp_c, days in zip(TEMPS, EN[curing_class], strict=True):
        for ratio, expected in zip(RATIOS[:3], days, strict=True):
            assert en_13670_days(curing_class, temp_c, ratio) == expected
            assert en_13670_days(1, temp_c, ratio) == 0.5
        assert en_13670_days(curing_class, temp_c, 0.149) is None
    assert en_13670_days(curing_class, 4.9, 0.6) is None


@pytest.mark.parametrize(
    ("temp_c", "ratio"), [(float("nan"), 0.5), (20, float("nan")), (20, -0.1), (20, 2)]
)
def test_what_is_out_of_range_is_refused(temp_c, ratio):
    with pytest.raises(ValueError, match="want"):
        din_1045_3_days(temp_c, ratio)
    with pytest.raises(ValueError, match="want"):
        en_13670_days(2, temp_c, ratio)


def test_ufgs_03301_published():
    assert curing.UFGS_DAYS == {
        "I": 7,
        "IS or IP": 7,
        "silica fume": 7,
        "II": 14,
        "to 25 %": 14,
        "over 25 %": 21,
    }


def test_aci_308_from_memory():
    assert (curing.ACI_308_DAYS, curing.ACI_308_EARLY_DAYS) == (7, 3)
    assert (curing.ACI_308_SHARE, curing.ACI_308_LEAST_C) == (0.70, 10)


def test_aci_347_published_second_hand():
    counted = hours_towards_stripping([(5, 12), (10, 5), (7, 11)])
    assert counted == curing.STRIPPING_HOURS == 12
    assert hours_towards_stripping([(3, 10), (3, 9.99)]) == 3
    assert hours_towards_stripping([]) == 0
    with pytest.raises(ValueError, match="want 0 or more"):
        hours_towards_stripping([(-1, 20)])


def test_freezing_published():
    # Published as about 500 psi; 3.5 MPa is 507.6 psi.
    assert STRENGTH.read("500 psi") == pytest.approx(curing.FREEZING_MPA, rel=0.02)


@pytest.mark.parametrize(
    ("least_m", "least_c", "drop"),
    [
        (0.022, 13, 28),
        (0.299, 13, 28),
        (0.3, 10, 22),
        (0.9, 7, 17),
        (1.8, 5, 11),
        (3, 5, 11),
    ],
)
def test_aci_306_from_memory(least_m, least_c, drop):
    row = cold_placing(least_m)
    assert (row.least_c, row.most_drop) == (least_c, drop)


def test_aci_306_protection_from_memory():
    assert list(curing.COLD_PROTECTION.values()) == [(2, 1), (3, 2), (6, 4)]


def test_every_rule_says_where_it_is_from():
    standings = {
        "DIN_1045_3": "published, second hand",
        "EN_13670": "from memory",
        "UFGS_03301": "published",
        "ACI_308": "from memory",
        "ACI_347": "published, second hand",
        "FREEZING": "published",
        "COLD_WEATHER": "published",
        "COLD_DAYS": "published",
        "ACI_306": "from memory",
    }
    rules = {
        name: rule for name, rule in vars(curing).items() if type(rule) is curing.Rule
    }
    assert {name: rule.standing for name, rule in rules.items()} == standings
    assert all(rule.words and rule.source for rule in rules.values())
