"""What a piece is made of: its own cut, or the cuts of all parts of an assembled article."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.ids import Code
from salvage.records.article import BoardShare, Part
from salvage.store.lookup import load_board, load_cut, load_donor, load_drop_off, load_piece
from salvage.store.rows import select

if TYPE_CHECKING:
    import sqlite3

    from salvage.records.things import Board, Cut, Donor, Piece


def parts_of(conn: sqlite3.Connection, article: Code) -> tuple[Part, ...]:
    """All parts that were put into an article, in order; none for a piece of one cut."""
    return select(conn, Part, "FROM part WHERE article = ? ORDER BY n", (article,))


def articles_with(conn: sqlite3.Connection, piece: Code) -> tuple[Code, ...]:
    """The articles that a piece is in now; more than one only where devices clash."""
    rows = conn.execute(
        "SELECT article FROM part WHERE piece = ? AND taken_out_at = '' ORDER BY article", (piece,)
    )
    return tuple(Code(article) for (article,) in rows)


def outermost(conn: sqlite3.Connection, piece: Code) -> Code:
    """The article that a piece is in, or the article that this one is in; else the piece itself."""
    seen = [piece]
    while (around := articles_with(conn, seen[-1])) and around[0] not in seen:
        seen.append(around[0])
    return seen[-1]


def cut_pieces(conn: sqlite3.Connection, piece: Code) -> tuple[Piece, ...]:
    """The pieces of one cut each that a piece is made of, in order: mostly itself alone."""
    found: dict[Code, Piece] = {}
    waiting, seen = [piece], {piece}
    while waiting:
        one = load_piece(conn, waiting.pop())
        if one.cut:
            found[one.code] = one
        more = [part.piece for part in parts_of(conn, one.code) if part.piece not in seen]
        seen.update(more)
        waiting += reversed(more)
    return tuple(found.values())


def cuts_of(conn: sqlite3.Connection, piece: Code) -> tuple[Cut, ...]:
    """The cuts that a piece came from, in the order of its parts."""
    return tuple(load_cut(conn, one.cut) for one in cut_pieces(conn, piece) if one.cut)


def boards_of(conn: sqlite3.Connection, piece: Code) -> tuple[Board, ...]:
    """The boards that a piece came from, in the order of its parts, each once."""
    codes = dict.fromkeys(one.board for one in cut_pieces(conn, piece) if one.board)
    return tuple(load_board(conn, code) for code in codes)


def donors_of(conn: sqlite3.Connection, piece: Code) -> tuple[Donor, ...]:
    """The donors whose boards a piece came from, each once."""
    drop_offs = dict.fromkeys(board.drop_off for board in boards_of(conn, piece))
    donors = dict.fromkeys(load_drop_off(conn, code).donor for code in drop_offs)
    return tuple(load_donor(conn, code) for code in donors)


def shares_of(conn: sqlite3.Connection, article: Code) -> tuple[BoardShare, ...]:
    """How much of an article is from which board, the most first; none for a piece of one cut."""
    rest = "FROM board_share WHERE article = ? ORDER BY share_ppm DESC, board"
    return select(conn, BoardShare, rest, (article,))
