"""What a board's standing forbids: no place is promised where nothing will be cut."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace

import pytest

from salvage.errors import Held, Refused
from salvage.geometry.outline import map_points, rectangle
from salvage.records.region import Region
from salvage.records.things import Board
from salvage.work.board_rules import check_same_size
from salvage.work.cutting import release, reserve
from salvage.work.recall import close_recall, open_recall
from salvage.work.record import (
    NewKeepOut,
    add_keep_outs,
    lift_keep_out,
    retire_board,
    set_outline,
)
from salvage.work.workshop import Workshop
from tests.bench import circle_at, dump


def test_no_place_is_reserved_on_a_recalled_or_retired_board(
    empty_shop: Workshop, held_board: Board
) -> None:
    """An order is not promised a board that may never be cut."""
    spot = circle_at(empty_shop, 40, 40)
    recall = open_recall(empty_shop, subject=held_board.code, reason="mercury").recall
    with pytest.raises(Held, match=r"nothing can be reserved on .*it is recalled"):
        reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 3")
    close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="a drill")
    retire_board(empty_shop, board=held_board.code, reason="split")
    before = dump(empty_shop)
    with pytest.raises(Held, match="it was retired: split"):
        reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 3")

    assert dump(empty_shop) == before


def test_a_held_board_may_still_be_reserved(empty_shop: Workshop, held_board: Board) -> None:
    """Hazards are looked at before the cut, not before the order."""
    spot = circle_at(empty_shop, 40, 40)

    assert reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 3").state == "held"


def test_a_board_with_reserved_places_is_not_retired(
    empty_shop: Workshop, held_board: Board
) -> None:
    """Whoever waits for a place is told before the board goes."""
    spot = circle_at(empty_shop, 40, 40)
    held = reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 3")
    with pytest.raises(Refused, match=rf"{held.code} \(circle for order 3\)") as caught:
        retire_board(empty_shop, board=held_board.code, reason="split")
    release(empty_shop, reservation=held.code)

    assert f"salvage release {held.code}" in caught.value.hint
    assert retire_board(empty_shop, board=held_board.code, reason="split").retired == "split"


def test_a_keep_out_is_not_left_outside(empty_shop: Workshop, held_board: Board) -> None:
    """A smaller outline does not silently lose the connector in its corner."""
    keep_outs = [
        NewKeepOut(rectangle(9, 9), "port"),
        NewKeepOut(_moved(rectangle(9, 9), 100, 60), "torn corner"),
    ]
    add_keep_outs(empty_shop, board=held_board.code, keep_outs=keep_outs)
    before = dump(empty_shop)
    with pytest.raises(Refused, match=r"outside the new outline: 2 \(torn corner\)") as caught:
        set_outline(empty_shop, board=held_board.code, outline=rectangle(90, 60), outline_from="x")
    unchanged = dump(empty_shop) == before
    lift_keep_out(empty_shop, board=held_board.code, n=2, reason="cut off")
    smaller = set_outline(
        empty_shop, board=held_board.code, outline=rectangle(90, 60), outline_from="x"
    )

    assert unchanged
    assert caught.value.hint.endswith(f"salvage board lift {held_board.code} 2")
    assert smaller.outline_um2 == 5400 * 10**6


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "fits"),
    [
        (120, 80, True),
        (125.9, 76.1, True),
        (126.1, 80, False),
        (120, 75.9, False),
        (80, 120, False),
    ],
)
def test_a_size_within_a_twentieth_is_the_same_board(
    held_board: Board, width_mm: float, height_mm: float, fits: bool
) -> None:
    """120 x 80 mm by ruler may be 125 x 77 by photo, and is not 126 x 80."""
    told = nullcontext() if fits else pytest.raises(Refused, match="is it the right board")

    with told:
        check_same_size(held_board, rectangle(width_mm, height_mm))


def test_a_board_without_an_outline_takes_any(held_board: Board) -> None:
    """The first measurement has nothing to differ from."""
    check_same_size(replace(held_board, outline=None), rectangle(10, 10))

    with pytest.raises(Refused, match=r"120.0 x 80.0 mm, and the photo shows 10.0 x 10.0 mm"):
        check_same_size(held_board, rectangle(10, 10))


def _moved(region: Region, x_mm: int, y_mm: int) -> Region:
    return map_points(region, lambda point: (point[0] + x_mm * 1000, point[1] + y_mm * 1000))
