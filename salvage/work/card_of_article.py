"""What the card of an assembled article says: all its boards, and how much is of which."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from datetime import date

from salvage.records.things import Board
from salvage.store.lookup import load_drop_off
from salvage.work.card_words import (
    date_code_year,
    format_day,
    listed,
    marked,
    number_word,
    tool_words,
    type_words,
    with_article,
)
from salvage.work.lineage import cut_pieces, cuts_of, shares_of
from salvage.work.pieces import PieceView


def article_headline(view: PieceView) -> str:
    """The article's name, and of how many boards it is."""
    name = view.piece.shape.replace("-", " ")
    name = name[:1].upper() + name[1:]
    if len(view.boards) == 1:
        return f"{name}, made from {with_article(type_words(view.board))}"
    return f"{name}, made from {number_word(len(view.boards))} circuit boards"


def article_story(conn: sqlite3.Connection, view: PieceView, *, today: date) -> tuple[str, ...]:
    """Sentences about parts, boards, cuts and shares; every one rests on a field of the record."""
    pieces, cuts = cut_pieces(conn, view.piece.code), cuts_of(conn, view.piece.code)
    made = format_day(date.fromisoformat(view.piece.made_at[:10]))
    tools = listed(list(dict.fromkeys(tool_words(cut.tool) for cut in cuts)))
    count = number_word(len(pieces))
    sentences = [
        f"It is made of {count} pieces, cut with {tools} and put together on {made}.",
    ]
    for board in view.boards:
        ours = [piece.code for piece in pieces if piece.board == board.code]
        sentences.append(_about_board(board, ours, today))
    sentences.append(_share_words(conn, view))
    drop_offs = dict.fromkeys(board.drop_off for board in view.boards)
    stories = dict.fromkeys(load_drop_off(conn, code).story for code in drop_offs)
    told = [story for story in stories if story]
    who = "The donor" if len(drop_offs) == 1 else "A donor"
    return (*sentences, *(f"{who} told: “{story}”" for story in told))


def _about_board(board: Board, pieces: Sequence[str], today: date) -> str:
    is_one = len(pieces) == 1
    year = date_code_year(board, today=today)
    code = f"; its date code, {board.date_code}, points to {year}" if year else ""
    return f"{listed(pieces)} {'is' if is_one else 'are'} from {marked(board)}{code}."


def _share_words(conn: sqlite3.Connection, view: PieceView) -> str:
    shares = shares_of(conn, view.piece.code)
    if len(shares) == 1:
        return "All of its board material is from that one board."
    told = listed([f"{share.share_ppm / 10_000:.0f} % from {share.board}" for share in shares])
    return f"Of its board material, by {shares[0].measured}, {told}."
