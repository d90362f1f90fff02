"""Limits as they were read: by topic and jurisdiction, decided by nobody here."""

from __future__ import annotations

import re

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


def test_limits_are_picked_by_topic_and_jurisdiction() -> None:
    """A seller in California sees the rows of California only."""
    rows = limits(topic="jewellery", jurisdiction="California")

    assert {row.slug for row in rows} == {"ca-jewellery-lead", "ca-jewellery-plastic-lead"}
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
