"""Sheets of labels from their measures."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue
from salvage.paper.sheet import TypedSheet, parse_sheet
from salvage.paper.stock import A4_MM, STOCKS, parse_stock


@pytest.mark.parametrize(
    "typed",
    [
        TypedSheet("63.5x38.1", page="a4", grid="3x7", pitch="66x38.1", margin="7.25x15.15"),
        TypedSheet("63,5 x 38,1 mm", page="210x297", grid="3×7", gap="2.5x0"),
        TypedSheet("63.5x38.1", page="A4", grid="3x7", gap="2.5 x 0"),
    ],
)
def test_a_sheet_is_described_in_several_ways(typed: TypedSheet) -> None:
    """Pitch or gap, margin or none: the labels lie where the known sheet has them."""
    stock, known = parse_sheet("mine", typed), STOCKS["a4-3x7"]

    assert stock.page_mm == A4_MM
    for place in range(known.count):
        assert stock.corner_mm(place) == pytest.approx(known.corner_mm(place))


def test_a_label_alone_is_a_roll() -> None:
    """Without a page, the page is the label."""
    stock = parse_sheet("mine", TypedSheet("57x32"), dpi=300)

    assert (stock.page_mm, stock.count, stock.dpi) == ((57, 32), 1, 300)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (TypedSheet("63.5"), "--label"),
        (TypedSheet("0x5"), "--label"),
        (TypedSheet("63.5x38.1", page="a4", grid="0x7"), "--grid"),
        (TypedSheet("63.5x38.1", page="a4", grid="three"), "--grid"),
        (TypedSheet("63.5x38.1", page="a4", grid="3x8"), "304.8 mm"),
        (TypedSheet("63.5x38.1", page="a4", grid="3x7", pitch="60x38.1"), "overlap"),
        (TypedSheet("63.5x38.1", page="a4", grid="3x7", margin="30x15"), "220.5 mm"),
        (TypedSheet("63.5x38.1", page="a4", pitch="66x38.1", gap="1x1"), "twice"),
        (TypedSheet("60x12", fold="over"), "--fold"),
        (TypedSheet("60x12", tail="50"), "no room"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(typed: TypedSheet, words: str) -> None:
    """What does not fit on the page, or together, is said with its measure or its field."""
    with pytest.raises(BadValue) as refusal:
        parse_sheet("mine", typed)

    assert words in str(refusal.value)
    assert refusal.value.hint


def test_a_tag_has_two_halves() -> None:
    """The strip between the halves belongs to neither."""
    assert parse_stock("68x12mm tail 36").half_mm == (16, 12)
    assert parse_stock("25x50 fold top").half_mm == (25, 25)
    assert parse_stock("60x25@300 fold side").half_mm == (30, 25)
    assert parse_sheet("t", TypedSheet("68x12", tail="36")).fold == "side"
