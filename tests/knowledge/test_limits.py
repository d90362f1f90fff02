"""Limits as they were read: by topic and jurisdiction, decided by nobody here."""

from __future__ import annotations

import re
from datetime import date

import pytest

from salvage.errors import NotFound
from salvage.knowledge.limits import OPERATORS, find_limit, limits


@pytest.mark.parametrize(
    ("slug", "operator", "number", "unit"),
    [
        ("eu-jewellery-lead", "<", 0.05, "% w/w"),
        ("eu-jewellery-cadmium", "<", 0.01, "% w/w"),
        ("eu-skin-nickel", "<=", 0.5, "ug/cm2/week"),
        ("us-children-lead", "<=", 100, "ppm"),
        ("us-children-paint-lead", "<=", 90, "ppm"),
        ("ca-jewellery-lead", "<", 500, "ppm"),
        ("eu-rohs-lead", "<=", 0.1, "% w/w"),
        ("us-air-lead-action", "<", 30, "ug/m3"),
        ("ca-air-lead", "<=", 10, "ug/m3"),
    ],
)
def test_limits_that_decide_most(slug: str, operator: str, number: float, unit: str) -> None:
    """REACH XVII 63, 23 and 27; 15 USC 1278a; 16 CFR 1303; HSC 25214.2; RoHS; lead in air."""
    limit = find_limit(slug)

    assert (limit.operator, limit.number, limit.unit) == (operator, number, unit)


def test_rohs_allows_twice_the_lead_of_jewellery() -> None:
    """This is why a RoHS mark clears no pendant."""
    rohs, jewellery = find_limit("eu-rohs-lead").number, find_limit("eu-jewellery-lead").number

    assert rohs is not None
    assert jewellery is not None
    assert rohs / jewellery == pytest.approx(2)


OLD = {
    "ca-jewellery-plated-lead-2019",
    "ca-jewellery-unplated-lead-2019",
    "ca-jewellery-coating-lead-2019",
}


@pytest.mark.parametrize(
    ("slug", "ppm"),
    [
        ("eu-jewellery-lead", 500),  # 0.05 % = 0.5 g in a kilogram
        ("eu-jewellery-cadmium", 100),
        ("eu-rohs-lead", 1000),
        ("us-children-lead", 100),  # 15 USC 1278a: 100 parts per million
        ("us-children-paint-lead", 90),  # 16 CFR 1303.1: 0.009 %
        ("ca-jewellery-lead", 500),
        ("us-voluntary-unplated-lead", 15_000),
        ("eu-skin-nickel", None),
    ],
)
def test_shares_in_parts_per_million(slug: str, ppm: float | None) -> None:
    """One per cent is 10 000 mg in a kilogram; a release rate is no share."""
    found = find_limit(slug).ppm

    assert found == (None if ppm is None else pytest.approx(ppm))


@pytest.mark.parametrize(
    ("slug", "times"), [("eu-jewellery-lead", 740), ("us-children-lead", 3700)]
)
def test_how_far_leaded_solder_is_above_a_limit(slug: str, times: float) -> None:
    """Sn63Pb37 holds 37 % lead by its name: 370 000 ppm."""
    allowed = find_limit(slug).ppm

    assert allowed is not None
    assert 370_000 / allowed == pytest.approx(times)


@pytest.mark.parametrize(
    ("slug", "mg_per_m3"),
    [("us-air-lead", 0.05), ("ca-air-lead", 0.01), ("us-dust-respirable", 5)],
)
def test_masses_in_air_in_one_unit(slug: str, mg_per_m3: float) -> None:
    """50 ug/m3 (29 CFR 1910.1025) beside 5 mg/m3 (29 CFR 1910.1000 Table Z-3)."""
    assert find_limit(slug).mg_per_m3 == pytest.approx(mg_per_m3)
    assert find_limit("us-glass-fibres").mg_per_m3 is None


def test_a_limit_that_has_ended_is_expired() -> None:
    """California's lines of 2019 held until 2020-05-31, and today's from the day after."""
    old, new = find_limit("ca-jewellery-unplated-lead-2019"), find_limit("ca-jewellery-lead")

    assert old.state_on(date(2020, 5, 31)) == "in force"
    assert old.state_on(date(2020, 6, 1)) == "expired"
    assert new.state_on(date(2020, 5, 31)) == "not yet"
    assert new.state_on(date(2020, 6, 1)) == "in force"
    assert "until 2020-05-31" in old.words


def test_a_limit_known_by_its_year_begins_with_that_year() -> None:
    """ASTM F2999-19 is of 2019; the day was not read."""
    voluntary = find_limit("us-voluntary-unplated-lead")

    assert voluntary.state_on(date(2018, 12, 31)) == "not yet"
    assert voluntary.state_on(date(2019, 1, 1)) == "in force"


def test_limits_are_picked_by_topic_and_jurisdiction() -> None:
    """A seller in California sees the rows of California only."""
    rows = limits(topic="jewellery", jurisdiction="California")

    assert {row.slug for row in rows} == {"ca-jewellery-lead", "ca-jewellery-plastic-lead"} | OLD
    assert limits(topic="jewellery", jurisdiction="Atlantis") == ()
    assert set(rows) < set(limits(topic="jewellery")) < set(limits())


def test_the_topics_a_maker_needs_are_there() -> None:
    """Selling, breathing and throwing away each have their rows."""
    assert {row.topic for row in limits()} >= {
        "jewellery",
        "children",
        "ornament",
        "exposure",
        "waste",
        "recall",
    }


def test_every_row_can_be_read() -> None:
    """A figure has a unit and is a number; a day is a day; a rule is words."""
    for row in limits():
        assert row.operator in OPERATORS
        assert row.value
        if row.operator == "rule":
            assert row.number is None
        elif row.operator == "from":
            assert re.fullmatch(r"\d{4}-\d{2}-\d{2}", row.value)
            assert row.number is None
        else:
            assert row.unit
            assert row.number is not None
        assert re.fullmatch(r"(\d{4}(-\d{2}){0,2})?", row.effective)


def test_an_unknown_limit_is_answered_with_the_nearest() -> None:
    """A misspelt name gets a suggestion."""
    with pytest.raises(NotFound) as caught:
        find_limit("eu-jewelery-lead")

    assert caught.value.nearest[0] == "eu-jewellery-lead"
