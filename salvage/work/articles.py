"""
Articles: several pieces assembled into one, such as a pair of earrings or a mobile of nine.

An article is a piece with a code of its own. Its parts keep their codes and their history, and
cannot be sold singly while they are in it; taken apart, each is again what it was before.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Sequence

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.things import Cut, Piece
from salvage.store.change import Change
from salvage.store.lookup import count_rows, load_cut, load_piece
from salvage.store.rows import select
from salvage.work.cutting import ONE_BOARD
from salvage.work.lineage import articles_with, cut_pieces, parts_of
from salvage.work.pieces import PieceView, view_piece
from salvage.work.workshop import Workshop

# ISO 22095:2020, controlled blending model (from memory): materials mixed in proportions that are
# known. The standard speaks of one that has the characteristics and one that lacks them; here each
# board is a source.
SEVERAL_BOARDS = "controlled blending"

_WHOLE_PPM = 1_000_000
_LEAST_PARTS = 2


def assemble(
    shop: Workshop, *, parts: Sequence[Code], name: str, note: str = "", dry_run: bool = False
) -> PieceView:
    """
    Make one article of several pieces.

    How much of it is from which board is worked out from the weights of its parts where all are
    weighed, else from the areas of their cuts.

    Args:
        shop: The open workshop.
        parts: Codes of the pieces, in order; the first one's place is shown on the card.
        name: What it is, such as "tern earrings".
        note: What was done, for the workshop.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece is not known.
        BadValue: If there are fewer than two pieces, one is named twice, or it has no name.
        Refused: If a piece is sold, withdrawn, recalled, lost, packed for an outing, or part of
            another article.
    """
    codes = _check_named(parts, name)

    def steps(change: Change) -> PieceView:
        pieces = [load_piece(change.conn, code) for code in codes]
        for piece in pieces:
            _check_free(change.conn, piece)
        measured, shares = _shares(change.conn, codes)
        article = change.new_code("P")
        change.append(
            "article.assembled",
            (article, *codes),
            {
                "name": name.strip(),
                "parts": list(codes),
                "shares": [{"board": code, "share_ppm": ppm} for code, ppm in shares.items()],
                "measured": measured,
                "custody": ONE_BOARD if len(shares) == 1 else SEVERAL_BOARDS,
                "note": note,
            },
            made=(article,),
        )
        return view_piece(change.conn, article)

    return shop.commit("assemble article", steps, dry_run=dry_run)


def _check_named(parts: Sequence[Code], name: str) -> tuple[Code, ...]:
    """The parts, if they are two or more, each named once, and the article has a name."""
    codes = tuple(dict.fromkeys(parts))
    if len(codes) != len(parts):
        raise BadValue("a piece is named twice", hint="name each part once")
    if len(codes) < _LEAST_PARTS:
        raise BadValue("an article is made of two pieces or more", hint="name them all")
    if not name.strip():
        raise BadValue("say what it is", hint="such as 'tern earrings'", field="--name")
    return codes


def _check_free(conn: sqlite3.Connection, piece: Piece) -> None:
    """Raise unless a piece is in hand and may become part of something that is sold."""
    around = articles_with(conn, piece.code)
    if around:
        raise Refused(
            f"{piece.code} is a part of {around[0]}",
            hint=f"salvage article apart {around[0]} takes it out",
        )
    if piece.stage in ("sold", "withdrawn"):
        raise Refused(f"{piece.code} is {piece.stage}", hint=f"salvage history {piece.code}")
    if piece.recalled:
        raise Refused(f"{piece.code} is recalled", hint=f"salvage trace {piece.code}")
    _check_at_hand(conn, piece.code)


def _check_at_hand(conn: sqlite3.Connection, piece: Code) -> None:
    if count_rows(conn, "FROM lost_thing WHERE code = ?", (piece,)):
        raise Refused(
            f"{piece} was not found at a stock-take",
            hint=f"if it lies before you: salvage stocktake found {piece}",
        )
    packed = conn.execute(
        "SELECT code, name FROM outing_piece JOIN outing ON outing.code = outing"
        " WHERE piece = ? AND outing_piece.state = 'packed' AND outing.state <> 'closed'",
        (piece,),
    ).fetchone()
    if packed:
        raise Refused(
            f"{piece} is packed for {packed[0]} ({packed[1]})",
            hint=f"salvage outing unpack {packed[0]} {piece}",
        )


def _shares(conn: sqlite3.Connection, codes: Sequence[Code]) -> tuple[str, dict[Code, int]]:
    """What was compared, and the millionths of each board, which add up to the whole."""
    pieces = [piece for code in codes for piece in cut_pieces(conn, code)]
    is_weighed = all(piece.weight_mg for piece in pieces)
    amounts: dict[Code, int] = defaultdict(int)
    for piece in pieces:
        assert piece.cut is not None
        assert piece.board is not None
        cut: Cut = load_cut(conn, piece.cut)
        amounts[piece.board] += (piece.weight_mg or 0) if is_weighed else cut.area_um2
    return "weight" if is_weighed else "area", split_whole(amounts)


def split_whole(amounts: dict[Code, int]) -> dict[Code, int]:
    """
    Millionths of each amount; what rounding leaves goes to the largest remainders.

    >>> split_whole({"BC0002J": 1, "BC0004E": 2})
    {'BC0002J': 333333, 'BC0004E': 666667}
    """
    whole = sum(amounts.values())
    found = {code: amount * _WHOLE_PPM // whole for code, amount in amounts.items()}
    by_rest = sorted(amounts, key=lambda code: (-(amounts[code] * _WHOLE_PPM % whole), code))
    for code in by_rest[: _WHOLE_PPM - sum(found.values())]:
        found[code] += 1
    return found


def take_apart(
    shop: Workshop, *, article: Code, reason: str, dry_run: bool = False
) -> tuple[PieceView, ...]:
    """
    Take an article apart; gives its pieces, each as it was before.

    Args:
        shop: The open workshop.
        article: The article's code; it is withdrawn and keeps its history.
        reason: Why; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such piece.
        Refused: If it is no article, is sold, lost, packed for an outing, apart already, or itself
            part of another.
        BadValue: If no reason is given.
    """
    if not reason.strip():
        raise BadValue("say why it is taken apart", field="--reason")

    def steps(change: Change) -> tuple[PieceView, ...]:
        found = load_piece(change.conn, article)
        inside = [part for part in parts_of(change.conn, article) if not part.taken_out_at]
        _check_apart(change.conn, found, bool(inside))
        data: dict[str, Json] = {"reason": reason}
        change.append("article.taken_apart", (article, *(part.piece for part in inside)), data)
        return tuple(view_piece(change.conn, part.piece) for part in inside)

    return shop.commit("take article apart", steps, dry_run=dry_run)


def _check_apart(conn: sqlite3.Connection, article: Piece, is_whole: bool) -> None:
    if article.cut:
        raise Refused(f"{article.code} is one piece, not an assembled article")
    if article.stage == "sold":
        raise Refused(
            f"{article.code} is sold", hint=f"salvage piece return {article.code} if it came back"
        )
    if not is_whole:
        raise Refused(f"{article.code} is taken apart already")
    _check_at_hand(conn, article.code)
    around = articles_with(conn, article.code)
    if around:
        raise Refused(f"{article.code} is a part of {around[0]}", hint="take that apart first")


def list_articles(shop: Workshop, *, most: int = 100) -> tuple[PieceView, ...]:
    """
    Assembled articles, newest first, those that were taken apart among them.

    Args:
        shop: The open workshop.
        most: At most so many.
    """
    # Named, because SQLite takes the index of cuts for what has none, and sorts them all.
    newest = "ORDER BY made_at DESC, code DESC LIMIT ?"
    rest = f"FROM piece INDEXED BY piece_article WHERE cut IS NULL {newest}"
    found = select(shop.conn, Piece, rest, (most,))
    return tuple(view_piece(shop.conn, piece.code) for piece in found)
