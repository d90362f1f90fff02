"""Board types, and the words people type for them."""

from __future__ import annotations

import pytest

from salvage.errors import NotFound
from salvage.knowledge.board_types import (
    UNKNOWN_TYPE,
    board_types,
    find_board_type,
    is_board_type,
    parse_board_type,
)
from salvage.knowledge.table import tidy_name

REQUIRED = {
    "motherboard",
    "expansion-card",
    "memory-module",
    "power-supply",
    "phone-board",
    "laptop-board",
    "backplane",
    "line-card",
    "display-driver",
    "drive-board",
    "ups-board",
    "test-gear-board",
    "other",
}


def test_the_types_of_the_trade_are_there() -> None:
    """Whatever comes in a donated box has a word, and the last is for what has none."""
    slugs = [kind.slug for kind in board_types()]

    assert set(slugs) >= REQUIRED
    assert slugs[-1] == UNKNOWN_TYPE
    assert all(is_board_type(slug) for slug in slugs)


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("psu", "power-supply"),
        ("Mainboard", "motherboard"),
        ("RAM", "memory-module"),
        ("DIMM", "memory-module"),
        ("dimms", "memory-module"),
        ("gpu", "expansion-card"),
        (" Graphics Card ", "expansion-card"),
        ("POWER_SUPPLY", "power-supply"),
        ("oscilloscope", "test-gear-board"),
        ("Medical", "test-gear-board"),
        ("router", "network-board"),
        ("?", "other"),
        ("not sure", "other"),
    ],
)
def test_people_type_what_they_call_it(text: str, slug: str) -> None:
    """A maker need not know our word for a board."""
    assert parse_board_type(text) == slug


def test_no_word_means_two_types() -> None:
    """A synonym that led to two types would send a board to the wrong checklist."""
    owners: dict[str, str] = {}
    for kind in board_types():
        for name in {tidy_name(n) or n for n in (kind.slug, kind.words, *kind.synonyms)}:
            assert owners.setdefault(name, kind.slug) == kind.slug


def test_every_type_is_described() -> None:
    """A list on a screen tells what each word means."""
    assert all(kind.words and kind.what for kind in board_types())


def test_a_mistyped_type_is_answered_with_the_nearest() -> None:
    """A slip of the finger gets a suggestion, and the field is named."""
    with pytest.raises(NotFound) as caught:
        parse_board_type("motherbord", field="--type")

    assert caught.value.nearest[0] == "motherboard"
    assert str(caught.value).startswith("--type: 'motherbord'")


@pytest.mark.parametrize("text", ["", "zzz", "qqqqqq"])
def test_a_strange_word_is_answered_with_all_types(text: str) -> None:
    """Where nothing looks alike, the whole list is the hint."""
    with pytest.raises(NotFound) as caught:
        parse_board_type(text)

    assert caught.value.nearest == ()
    assert "motherboard" in caught.value.hint


def test_a_type_is_found_by_any_of_its_names() -> None:
    """The record of a type is reached by slug or synonym."""
    assert find_board_type("psu").words == "power supply"
    assert not is_board_type("psu")
