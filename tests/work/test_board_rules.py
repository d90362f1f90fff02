"""What a board's standing forbids: no place is promised where nothing will be cut."""

from __future__ import annotations

import pytest

from salvage.errors import Held, Refused
from salvage.records.things import Board
from salvage.work.cutting import release, reserve
from salvage.work.recall import close_recall, open_recall
from salvage.work.record import retire_board
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
    close_recall(empty_shop, recall=recall.code, outcome="false alarm")
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
