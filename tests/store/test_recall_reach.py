"""What a cause reaches, asked of the tables."""

from __future__ import annotations

from salvage.store.recall_reach import is_hit, reach
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle


def test_a_cause_of_a_kind_that_is_not_known_reaches_nothing(empty_shop: Workshop) -> None:
    """A newer version's recall stands with what it names; nothing joins it by guessing."""
    board = add_cleared_board(empty_shop)

    assert reach(empty_shop.conn, {"kind": "weather"}) == []
    assert not is_hit(empty_shop.conn, {"kind": "weather"}, board.code)


def test_a_board_reaches_its_pieces_and_they_do_not_reach_it(empty_shop: Workshop) -> None:
    """What came of a thing is reached; what it came of is not."""
    board, other = add_cleared_board(empty_shop), add_cleared_board(empty_shop)
    piece = cut_circle(empty_shop, board.code, 40, 40).piece
    cut_circle(empty_shop, other.code, 40, 40)
    assert piece is not None
    of_board = {"kind": "descent", "code": board.code}

    assert reach(empty_shop.conn, of_board) == sorted([board.code, piece.code])
    assert reach(empty_shop.conn, {"kind": "descent", "code": piece.code}) == [piece.code]
    assert is_hit(empty_shop.conn, of_board, board.code)
    assert not is_hit(empty_shop.conn, of_board, piece.code)
    assert not is_hit(empty_shop.conn, of_board, other.code)
