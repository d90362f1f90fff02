"""What is looked for on a board, by its type and its age."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from salvage.knowledge.board_types import board_types
from salvage.knowledge.expected import age_rules, expect_hazards
from salvage.knowledge.hazards import find_hazard, hazards_expected

TODAY = date(2026, 11, 30)
TYPES = [kind.slug for kind in board_types()]


def slugs(board_type: str, date_code: str) -> set[str]:
    """Slugs of what is expected on a board."""
    found = expect_hazards(board_type, date_code=date_code, today=TODAY)
    return {one.hazard.slug for one in found}


@pytest.mark.parametrize("board_type", TYPES)
def test_a_date_only_ever_adds(board_type: str) -> None:
    """A code is a lower bound, and parts lie in stock: a young board is spared nothing."""
    listed = {hazard.slug for hazard in hazards_expected(board_type)}

    assert slugs(board_type, "") == listed
    assert slugs(board_type, "2436") == listed
    assert slugs(board_type, "7801") >= listed


@pytest.mark.parametrize(
    ("board_type", "date_code", "added"),
    [
        ("memory-module", "7926", {"pcb-oil-capacitor"}),
        ("memory-module", "7927", set()),
        ("line-card", "9501", {"clock-battery"}),
        ("network-board", "8852", {"clock-battery", "potted-clock", "mercury-relay"}),
        ("network-board", "9952", {"clock-battery", "potted-clock"}),
        ("network-board", "0001", set()),
        ("network-board", "8049", set()),
    ],
)
def test_an_old_date_adds_what_was_usual_then(
    board_type: str, date_code: str, added: set[str]
) -> None:
    """PCB by law (40 CFR 761.2(a)(4)); clocks and relays are common practice, no source."""
    more = slugs(board_type, date_code) - slugs(board_type, "")

    assert more >= added
    assert bool(more) == bool(added)


def test_each_expectation_says_why_and_on_what_it_rests() -> None:
    """Who asks why a memory module is searched for oil capacitors is told."""
    by_slug = {
        one.hazard.slug: one
        for one in expect_hazards("memory-module", date_code="7801", today=TODAY)
    }

    assert "date code 7801" in by_slug["pcb-oil-capacitor"].because
    assert by_slug["pcb-oil-capacitor"].source is not None
    assert "memory-module" in by_slug["data-bearing-part"].because


def test_the_workshops_own_hazard_is_expected_on_its_types() -> None:
    """A row of one's own counts like one of ours."""
    own = replace(find_hazard("coin-cell"), slug="own-thermal-link", board_types=("memory-module",))
    found = expect_hazards("memory-module", date_code="", today=TODAY, own=[own])
    elsewhere = expect_hazards("drive-board", date_code="", today=TODAY, own=[own])

    assert found[-1].hazard == own
    assert own not in [one.hazard for one in elsewhere]


def test_every_age_rule_can_be_acted_on() -> None:
    """Its hazards hold boards, its types exist."""
    for rule in age_rules():
        assert set(rule.board_types) <= {*TYPES, "all"}
        assert all(find_hazard(slug).blocks_cutting for slug in rule.hazards)
        assert rule.why
