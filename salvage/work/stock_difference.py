"""How what a stock-take saw differs from the record."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from dataclasses import dataclass

from salvage.ids import Code
from salvage.records.counting import LostThing, SeenThing, StockTake
from salvage.records.things import Board, Piece
from salvage.store.lookup import load_piece
from salvage.store.rows import select, select_one
from salvage.work.lineage import outermost

KINDS = ("missing", "elsewhere", "sold", "retired", "withdrawn", "found", "unknown")
"""Ways to differ, in the order in which they are told."""

MENDS = {
    "missing": "settle as lost, or look again",
    "elsewhere": "settle as moved",
    "sold": "settle as returned, or give it to its buyer",
    "retired": "undo the retirement, or throw it away: salvage history CODE",
    "withdrawn": "throw it away, or give it a stage: salvage piece stage CODE …",
    "found": "settle as found again",
    "unknown": "find out whose it is; the record does not know it",
}
"""What to do about each."""


@dataclass(frozen=True, slots=True)
class Difference:
    """
    One thing that is not as the record says.

    Args:
        kind: One of :data:`KINDS`.
        code: The thing's code.
        words: What is odd about it.
        title: What it is; empty for an unknown one.
        place: Where the record has it; empty where it says nothing.
        seen_at: Where it was seen; empty where it was not, or no place was said.
    """

    kind: str
    code: Code
    words: str
    title: str = ""
    place: str = ""
    seen_at: str = ""


def find_differences(conn: sqlite3.Connection, take: StockTake) -> tuple[Difference, ...]:
    """
    Every difference between a stock-take and the record as it is now, by kind and code.

    Args:
        conn: Open connection.
        take: The stock-take.
    """
    rest = "FROM stock_seen WHERE stock_take = ?"
    seen = {one.code: one for one in select(conn, SeenThing, rest, (take.code,))}
    lost = {one.code: one for one in select(conn, LostThing, "FROM lost_thing")}
    boards = {board.code: board for board in select(conn, Board, "FROM board")}
    pieces = {piece.code: piece for piece in select(conn, Piece, "FROM piece")}
    inside = dict(conn.execute("SELECT piece, article FROM part WHERE taken_out_at = ''"))
    for code in [code for code in seen if code in inside]:  # whoever sees a part sees its article
        seen.setdefault(outermost(conn, code), seen[code])
    found = [
        *(
            _judge_board(take, board, seen.get(code), lost.get(code))
            for code, board in boards.items()
        ),
        *(
            _judge_piece(take, piece, seen.get(code), lost.get(code))
            for code, piece in pieces.items()
            if code not in inside  # its article is counted
        ),
        *(_stranger(one) for code, one in seen.items() if code not in boards | pieces),
    ]
    return tuple(
        sorted((one for one in found if one), key=lambda one: (KINDS.index(one.kind), one.code))
    )


def judge_codes(
    conn: sqlite3.Connection, take: StockTake, codes: Collection[Code]
) -> dict[Code, Difference]:
    """
    How some things that a stock-take saw differ; what it costs does not grow with the stock.

    Args:
        conn: Open connection.
        take: The stock-take.
        codes: What was seen; what does not differ is left out of the answer.
    """
    found: dict[Code, Difference] = {}
    for code in codes:
        seen = select_one(
            conn, SeenThing, "FROM stock_seen WHERE stock_take = ? AND code = ?", (take.code, code)
        )
        lost = select_one(conn, LostThing, "FROM lost_thing WHERE code = ?", (code,))
        board = select_one(conn, Board, "FROM board WHERE code = ?", (code,))
        piece = select_one(conn, Piece, "FROM piece WHERE code = ?", (code,))
        if board:
            odd = _judge_board(take, board, seen, lost)
        elif piece:
            around = outermost(conn, code)  # whoever sees a part sees its article
            whole = piece if around == code else load_piece(conn, around)
            odd = _judge_piece(take, whole, seen, lost)
        else:
            odd = _stranger(seen) if seen else None
        if odd:
            found[code] = odd
    return found


def _judge_board(
    take: StockTake, board: Board, seen: SeenThing | None, lost: LostThing | None
) -> Difference | None:
    def differs(kind: str, words: str) -> Difference:
        at = seen.place if seen else ""
        return Difference(kind, board.code, words, board.title, board.place, at)

    if seen is None:
        here = not take.place or board.place.casefold() == take.place.casefold()
        expected = take.things != "pieces" and here and not board.retired and not lost
        return differs("missing", _missing(board.place)) if expected else None
    if board.retired:
        return differs("retired", f"retired ({board.retired}), but there")
    if lost:
        return differs("found", f"lost since {lost.at[:10]}, but there")
    if seen.place and seen.place.casefold() != board.place.casefold():
        recorded = f"recorded at {board.place}" if board.place else "recorded at no place"
        return differs("elsewhere", f"seen at {seen.place}, {recorded}")
    return None


def _missing(place: str) -> str:
    return f"not seen, recorded at {place}" if place else "not seen"


def _judge_piece(
    take: StockTake, piece: Piece, seen: SeenThing | None, lost: LostThing | None
) -> Difference | None:
    def differs(kind: str, words: str) -> Difference:
        at = seen.place if seen else ""
        return Difference(kind, piece.code, words, piece.shape, "", at)

    is_gone = piece.stage in ("sold", "withdrawn")
    if seen is None:
        expected = take.things != "boards" and not take.place and not is_gone and not lost
        return differs("missing", f"not seen, recorded as {piece.stage}") if expected else None
    if is_gone:
        return differs(piece.stage, f"{piece.stage}, but there")
    if lost:
        return differs("found", f"lost since {lost.at[:10]}, but there")
    return None


def _stranger(seen: SeenThing) -> Difference:
    words = "a code of ours that this workshop does not hold"
    return Difference("unknown", seen.code, words, seen_at=seen.place)
