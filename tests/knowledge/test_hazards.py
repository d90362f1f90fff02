"""What must be off a board before it is cut, and how we know."""

from __future__ import annotations

import pytest

from salvage.errors import NotFound
from salvage.knowledge.board_types import UNKNOWN_TYPE, board_types
from salvage.knowledge.hazards import all_hazards, find_hazard, hazards_expected, notices_for

TYPES = [kind.slug for kind in board_types()]
BLOCKING = {hazard.slug for hazard in all_hazards() if hazard.blocks_cutting}


def slugs(board_type: str) -> set[str]:
    """Slugs of the hazards that hold a board of a type."""
    return {hazard.slug for hazard in hazards_expected(board_type)}


@pytest.mark.parametrize("board_type", TYPES)
def test_every_hazard_of_every_type_can_be_acted_on(board_type: str) -> None:
    """A checklist line tells where to look, how to spot it, take it off and be rid of it."""
    for hazard in (*hazards_expected(board_type), *notices_for(board_type)):
        assert hazard.name
        assert hazard.where
        assert hazard.how_to_spot
        assert hazard.how_removed
        assert hazard.goes_to
        assert hazard.protection
        assert hazard.source.text
        assert hazard.practice.text


@pytest.mark.parametrize("board_type", TYPES)
def test_no_type_goes_unchecked(board_type: str) -> None:
    """There is no kind of board that may be cut without a look."""
    assert hazards_expected(board_type)


@pytest.mark.parametrize("board_type", [UNKNOWN_TYPE, "", "psu", "spaceship"])
def test_an_unknown_board_takes_the_strict_branch(board_type: str) -> None:
    """What nobody can name is checked for everything."""
    assert slugs(board_type) == BLOCKING
    assert {n.slug for n in notices_for(board_type)} >= {"leaded-solder", "toner"}


def test_the_strict_branch_holds_every_other() -> None:
    """No type asks for a check that an unknown board is spared."""
    assert all(slugs(board_type) <= slugs(UNKNOWN_TYPE) for board_type in TYPES)


@pytest.mark.parametrize(
    ("board_type", "wanted"),
    [
        ("motherboard", {"coin-cell", "clock-battery", "potted-clock", "large-capacitor"}),
        ("expansion-card", {"lithium-pack", "supercapacitor", "coin-cell"}),
        ("power-supply", {"stored-charge", "large-capacitor", "pcb-oil-capacitor"}),
        ("ups-board", {"stored-charge", "lead-acid", "large-capacitor", "mercury-tilt"}),
        ("display-driver", {"stored-charge", "backlight-lamp", "cathode-ray-tube"}),
        ("backplane", {"mercury-relay", "surge-arrester", "beryllium-oxide"}),
        ("line-card", {"mercury-relay", "surge-arrester", "beryllium-oxide"}),
        ("laptop-board", {"lithium-pack", "data-bearing-part", "mercury-tilt"}),
        ("phone-board", {"lithium-pack", "data-bearing-part"}),
        ("test-gear-board", {"mercury-relay", "beryllium-oxide", "radioactive-source"}),
        ("drive-board", {"data-bearing-part"}),
    ],
)
def test_each_type_is_checked_for_what_the_trade_looks_for(
    board_type: str, wanted: set[str]
) -> None:
    """The look-first list of the trade (common practice, no source)."""
    assert slugs(board_type) >= wanted


@pytest.mark.parametrize("notice", ["leaded-solder", "nickel-finish", "flame-retarded-plastic"])
def test_notices_do_not_hold_a_board(notice: str) -> None:
    """Every board has solder: it is told, and does not stop the cut."""
    assert all(notice in {n.slug for n in notices_for(board_type)} for board_type in TYPES)
    assert notice not in BLOCKING


def test_board_types_of_the_rows_exist() -> None:
    """A hazard for a type that is spelt wrong would never be looked for."""
    named = {name for hazard in all_hazards() for name in hazard.board_types}

    assert named <= {*TYPES, "all"}
    assert UNKNOWN_TYPE not in named


def test_every_hazard_belongs_to_some_named_type() -> None:
    """No row is reached through unknown boards only."""
    named = set().union(*(slugs(t) for t in TYPES if t != UNKNOWN_TYPE))

    assert named == BLOCKING


def test_a_hazard_claims_no_more_than_its_weaker_source() -> None:
    """That mercury relays matter was read in the law; how they look is trade lore."""
    relay = find_hazard("mercury-relay")

    assert relay.source.confidence == "read-primary"
    assert relay.weakest_source.is_weak


def test_a_hazard_is_found_however_it_is_typed() -> None:
    """Case, spaces and hyphens do not matter, nor slug or name."""
    assert find_hazard("Coin Cell") == find_hazard("coin-cell")
    assert find_hazard("mercury-wetted relay").slug == "mercury-relay"


def test_a_mistyped_hazard_is_answered_with_the_nearest() -> None:
    """A slip gets a suggestion, and the field is named."""
    with pytest.raises(NotFound) as caught:
        find_hazard("coin-sell", field="hazard")

    assert caught.value.nearest == ("coin-cell",)
    assert caught.value.field == "hazard"


def test_nothing_fragile_is_to_be_opened() -> None:
    """The rows for sealed dangers say to leave them whole or alone."""
    for slug in ("potted-clock", "mercury-relay", "beryllium-oxide", "surge-arrester"):
        assert "whole" in find_hazard(slug).how_removed
    for slug in ("radioactive-source", "cathode-ray-tube", "asbestos"):
        assert "refuse" in find_hazard(slug).how_removed
