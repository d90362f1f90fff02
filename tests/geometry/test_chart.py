"""The map in characters looks like the board."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue
from salvage.geometry.chart import ASCII_LEGEND, LEGEND, draw_chart
from salvage.geometry.ledger import LAYERS, Rules, Taken, account
from salvage.geometry.outline import rectangle
from salvage.geometry.placing import Placement, place
from salvage.records.region import Region

BOARD = rectangle(80, 48)


def at(width_mm: float, height_mm: float, x_mm: int, y_mm: int) -> Region:
    """A rectangle with its lower left corner at a place of the board."""
    return place(rectangle(width_mm, height_mm), Placement(x_mm * 1000, y_mm * 1000))


# Cells of 4 x 8 mm: everything lies on whole cells.
THINGS = [
    Taken("cut", "kite", at(16, 16, 8, 16), kerf_um=8000),
    Taken("keep-out", "serial port", at(12, 8, 0, 40)),
    Taken("reservation", "order 12", at(20, 16, 60, 0)),
]


def test_each_layer_has_its_glyph() -> None:
    """Cut solid, its kerf grey all round, the keep-out crossed, the reservation lettered."""
    chart = draw_chart(BOARD, account(BOARD, THINGS, Rules(0, 0, 0)), columns=20)

    assert chart == (
        "xxx·················",
        "░░░░░░░░············",
        "░░████░░············",
        "░░████░░············",
        "░░░░░░░░·······rrrrr",
        "···············rrrrr",
    )


def test_plain_ascii_for_old_printers() -> None:
    """The same map with characters that any terminal and printer has."""
    ledger = account(BOARD, THINGS, Rules(0, 0, 0))
    chart = draw_chart(BOARD, ledger, columns=20, ascii_only=True)

    assert chart[2] == "++####++............"
    assert all(row.isascii() for row in chart)


def test_a_piece_is_shown_on_top() -> None:
    """What is about to be cut covers what lies below; y points up."""
    chart = draw_chart(BOARD, {"usable": [BOARD]}, columns=20, highlight=at(40, 8, 0, 0))

    assert chart[-1] == "@" * 10 + "·" * 10
    assert "@" not in "".join(chart[:-1])


def test_narrow_ground_is_told_from_usable_ground() -> None:
    """A strip of 8 mm beside a bracket is no good for a 20 mm shape."""
    bracket = [Taken("keep-out", "bracket", at(8, 48, 8, 0))]
    chart = draw_chart(BOARD, account(BOARD, bracket, Rules(0, 0, 20)), columns=20)

    assert chart[2] == "--xx" + "·" * 16


def test_there_is_nothing_where_there_is_no_board() -> None:
    """A hole in the board is blank, and so is a notch in its edge."""
    board = Region(
        ((0, 0), (80_000, 0), (80_000, 24_000), (40_000, 24_000), (40_000, 48_000), (0, 48_000)),
        (((8000, 8000), (8000, 16_000), (16_000, 16_000), (16_000, 8000)),),
    )
    chart = draw_chart(board, {}, columns=20)

    assert chart[0] == ":" * 10 + " " * 10
    assert chart[4] == "::  " + ":" * 16


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "columns", "rows"),
    [(100, 100, 40, 20), (244, 244, 61, 31), (300, 3, 10, 1), (10, 200, 4, 40)],
)
def test_the_map_keeps_the_boards_proportions(
    width_mm: float, height_mm: float, columns: int, rows: int
) -> None:
    """A character is twice as tall as wide, so a square board has half as many rows as columns."""
    chart = draw_chart(rectangle(width_mm, height_mm), {}, columns=columns)

    assert len(chart) == rows
    assert {len(row) for row in chart} == {columns}


def test_overlapping_layers_of_ones_own_are_drawn_in_order() -> None:
    """Two keep-outs that overlap are both keep-out; a cut lies on top of them."""
    layers = {"keep-out": [at(40, 48, 0, 0), at(40, 48, 20, 0)], "cut": [at(8, 48, 0, 0)]}

    assert draw_chart(BOARD, layers, columns=20)[0] == "██" + "x" * 13 + ":" * 5


@pytest.mark.parametrize("columns", [0, -1, 501])
def test_a_map_of_no_width_is_refused(columns: int) -> None:
    """From 1 to 500 characters."""
    with pytest.raises(BadValue, match="from 1 to 500"):
        draw_chart(BOARD, {}, columns=columns)


def test_the_legends_name_every_layer() -> None:
    """Each glyph is told from all others by its shape, and each layer has a word."""
    for legend in (LEGEND, ASCII_LEGEND):
        words = " ".join(legend.values())

        assert all(layer in words for layer in LAYERS)
        assert len(legend) == 9
    assert all(glyph.isascii() for glyph in ASCII_LEGEND)


def test_pieces_are_told_apart_by_their_marks() -> None:
    """Two planned places stand on the map, each with the sign under which it is listed."""
    marks = {"1": at(20, 40, 0, 0), "A": at(20, 40, 60, 0)}
    rows = draw_chart(rectangle(80, 40), {}, columns=8, marks=marks)

    assert rows == ("11::::AA", "11::::AA")
