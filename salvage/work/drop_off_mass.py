"""
What became of one drop-off, by weight: pieces, recyclers, containers, shelf, dust, and the rest.

The figures claim no more than the record holds: *recycled* means handed to a receiver who recycles,
*confirmed* that the receiver said so.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from salvage.ids import Code
from salvage.store.lookup import load_board, load_drop_off
from salvage.work.balance import (
    EVER,
    NOTHING,
    Amount,
    BoardMass,
    balance_boards,
    recorded,
    total,
    weighed,
)


@dataclass(frozen=True, slots=True)
class DropOffMass:
    """
    The balance of a drop-off.

    Args:
        drop_off: Its code.
        came: What was weighed at the door, else what its recorded boards and parts add up to.
        pieces: What became pieces.
        dust: What the kerf took.
        recycled: What was handed to recyclers.
        confirmed: How much of that was confirmed by them.
        waiting: What lies in containers here.
        shelf: What is left of its boards here.
        boards: The balance of each of its boards.
        unweighed: Things put into containers whose weight nobody knows.
        not_recorded: Boards that were counted at the door and have no record yet.
    """

    drop_off: Code
    came: Amount
    pieces: Amount
    dust: Amount
    recycled: Amount
    confirmed: Amount
    waiting: Amount
    shelf: Amount
    boards: tuple[BoardMass, ...]
    unweighed: int
    not_recorded: int

    @property
    def unexplained_mg(self) -> int:
        """What came in and is found nowhere; below zero where more is found than came."""
        found = (self.pieces, self.dust, self.recycled, self.waiting, self.shelf)
        return self.came.mg - sum(amount.mg for amount in found)


@dataclass(frozen=True, slots=True)
class _Away:
    """Something that is no more on a board: how much, and whether it left and was confirmed."""

    amount: Amount
    sent: bool
    confirmed: bool


def balance_drop_off(conn: sqlite3.Connection, code: Code, *, until: str = EVER) -> DropOffMass:
    """
    The balance of a drop-off up to a day.

    Raises:
        NotFound: If there is no such drop-off.
    """
    found = load_drop_off(conn, code)
    boards = balance_boards(conn, where="drop_off = ?", code=code, until=until)
    away = (
        _put_away(conn, code, until) + _sent_whole(conn, code, until) + _tagged(conn, code, until)
    )
    loose = total(one.amount for one in _direct(conn, code, until))
    if found.weight_mg:
        came = weighed(found.weight_mg)
    else:
        came = total(board.came for board in boards) + loose
    recycled = total(one.amount for one in away if one.sent)
    return DropOffMass(
        code,
        came,
        total(board.pieces for board in boards),
        total(board.dust for board in boards),
        recycled,
        total(one.amount for one in away if one.confirmed),
        total(one.amount for one in away if not one.sent),
        total(board.shelf for board in boards),
        boards,
        sum(1 for one in away if one.amount.mg == 0),
        max(0, (found.board_count or 0) - len(boards)),
    )


def balance_board(conn: sqlite3.Connection, code: Code, *, until: str = EVER) -> BoardMass:
    """
    The balance of one board up to a day.

    Raises:
        NotFound: If there is no such board.
    """
    load_board(conn, code)
    found = balance_boards(conn, where="code = ?", code=code, until=until)
    nothing = (NOTHING,) * 5
    return found[0] if found else BoardMass(code, Code(""), *nothing, NOTHING, "gone", 0)


_SENT_BY = (
    "SELECT consignment_item.code AS container, confirmed_on FROM consignment_item"
    " JOIN consignment ON consignment.code = consignment_item.consignment"
    " JOIN consignment_detail ON consignment_detail.consignment = consignment.code"
    " WHERE sent_on <= ?2"
)


def _put_away(conn: sqlite3.Connection, code: Code, until: str) -> list[_Away]:
    """Parts and board material in containers, from the drop-off or one of its boards."""
    rows = conn.execute(
        "SELECT weight_mg, weighed, sent.container IS NOT NULL, sent.confirmed_on FROM waste_item"
        f" LEFT JOIN ({_SENT_BY}) AS sent ON sent.container = waste_item.container"
        " WHERE matter <> 'dust' AND put_on <= ?2 AND (source = ?1 OR source IN"
        " (SELECT code FROM board WHERE drop_off = ?1)) ORDER BY waste_item.container, n",
        (code, until),
    )
    return [
        _Away(recorded(mg, is_weighed), bool(sent), bool(confirmed))
        for mg, is_weighed, sent, confirmed in rows
    ]


def _sent_whole(conn: sqlite3.Connection, code: Code, until: str) -> list[_Away]:
    rows = conn.execute(
        "SELECT item.weight_mg, item.weighed, confirmed_on FROM consignment_item AS item"
        " JOIN consignment ON consignment.code = item.consignment"
        " JOIN consignment_detail ON consignment_detail.consignment = consignment.code"
        " WHERE what = 'board' AND sent_on <= ?2"
        " AND item.code IN (SELECT code FROM board WHERE drop_off = ?1) ORDER BY item.code",
        (code, until),
    )
    return [_Away(recorded(mg, weighed_), True, bool(day)) for mg, weighed_, day in rows]


def _tagged(conn: sqlite3.Connection, code: Code, until: str) -> list[_Away]:
    """Loose things that went straight to a recycler and are told to be from the drop-off."""
    old = conn.execute(
        "SELECT weight_mg, 1, coalesce(confirmed_on, '') FROM consignment"
        " LEFT JOIN consignment_detail ON consignment = code"
        " WHERE drop_off = ?1 AND sent_on <= ?2 ORDER BY code",
        (code, until),
    ).fetchall()
    new = conn.execute(
        "SELECT item.weight_mg, item.weighed, confirmed_on FROM consignment_item AS item"
        " JOIN consignment ON consignment.code = item.consignment"
        " JOIN consignment_detail ON consignment_detail.consignment = consignment.code"
        " WHERE item.drop_off = ?1 AND what = 'loose' AND sent_on <= ?2"
        " ORDER BY item.consignment, n",
        (code, until),
    ).fetchall()
    return [_Away(recorded(mg, weighed_), True, bool(day)) for mg, weighed_, day in (*old, *new)]


def _direct(conn: sqlite3.Connection, code: Code, until: str) -> list[_Away]:
    """What came with the drop-off but was on none of its boards."""
    rows = conn.execute(
        "SELECT weight_mg, weighed FROM waste_item WHERE source = ? AND put_on <= ?"
        " AND matter <> 'dust' ORDER BY container, n",
        (code, until),
    )
    put = [_Away(recorded(mg, is_weighed), False, False) for mg, is_weighed in rows]
    return put + _tagged(conn, code, until)
