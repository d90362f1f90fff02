"""Labels for boards, places, pieces and buyers, from facts of the record only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.ids import Code, kind_of
from salvage.records.place import PLACE_KIND
from salvage.records.printer import Printer
from salvage.records.things import Board, DropOff
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_drop_off, load_place
from salvage.units import format_mass, format_money
from salvage.work.card_claims import audience_line
from salvage.work.card_words import with_article
from salvage.work.label_symbols import SYMBOLS, label_symbol
from salvage.work.papers import fonts_of
from salvage.work.pieces import SINGLE, PieceView, view_piece
from salvage.work.printers import correction_for, stock_for
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.label import PrintedLabels, Run
    from salvage.paper.label_page import Label
    from salvage.paper.stock import Stock

LABEL_KINDS = "BPD" + PLACE_KIND
"""Kind letters of what may have a label."""

DESIGNS = ("board", "place", "tag", "card")
"""Designs of labels; a card label is for whoever takes the piece home."""

_USUAL_DESIGN = {"B": "board", "D": "board", "P": "tag", PLACE_KIND: "place"}


@dataclass(frozen=True, slots=True)
class LabelLook:
    """
    What the labels look like and what prints them.

    Args:
        design: One of :data:`DESIGNS`; empty for the usual one of each kind of thing.
        symbol: One of :data:`salvage.work.label_symbols.SYMBOLS`; empty for the one that suits
            the size.
        printer: Its readings put every label right; None for a printer that nobody measured.
    """

    design: str = ""
    symbol: str = ""
    printer: Printer | None = None


@dataclass(frozen=True, slots=True)
class DrawnLabels:
    """
    Labels as bitmaps.

    Args:
        pages: One black and white PNG a page.
        missing: Characters that no font here has.
    """

    pages: tuple[bytes, ...]
    missing: tuple[str, ...]


def codes_without_label(shop: Workshop) -> tuple[Code, ...]:
    """Boards, pieces and places whose label was never printed, oldest first."""
    rows = shop.conn.execute(
        "SELECT code FROM board WHERE label_printed = 0 AND retired = ''"
        " UNION ALL SELECT code FROM piece WHERE label_printed = 0"
        f" AND stage NOT IN ('sold', 'withdrawn') AND {SINGLE}"
        " UNION ALL SELECT code FROM place WHERE label_printed = 0 ORDER BY code"
    )
    return tuple(Code(code) for (code,) in rows)


def print_labels(
    shop: Workshop,
    *,
    codes: Sequence[Code],
    stock: Stock,
    start: int = 1,
    look: LabelLook | None = None,
    dry_run: bool = False,
) -> PrintedLabels:
    """
    A PDF of labels at true scale, and a note that they were printed.

    A character that no font here has does not stop the sheet; it is named in the result.

    Args:
        shop: The open workshop.
        codes: Boards, pieces, drop-offs and places.
        stock: Sheet or roll.
        start: First free place on a half-used sheet.
        look: Design, symbol and printer, where they are not the usual ones.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If there is nothing to print, or a code is of another kind.
        NotFound: If a code is not known.
    """
    from salvage.paper.label import print_what_can_be

    look = look or LabelLook()
    stock = stock_for(stock, look.printer)
    labels = _labels(shop, codes, stock, look)
    printed = print_what_can_be(labels, stock, _run(shop, look, start))
    _note(shop, codes, stock.name, dry_run=dry_run)
    return printed


def draw_labels(
    shop: Workshop,
    *,
    codes: Sequence[Code],
    stock: Stock,
    start: int = 1,
    look: LabelLook | None = None,
    dry_run: bool = False,
) -> DrawnLabels:
    """
    Labels as black and white bitmaps at the printer's own dots, and a note that they were printed.

    Arguments and errors are those of :func:`print_labels`.
    """
    from salvage.paper.label import draw_what_can_be

    look = look or LabelLook()
    stock = stock_for(stock, look.printer)
    labels = _labels(shop, codes, stock, look)
    pages, missing = draw_what_can_be(labels, stock, _run(shop, look, start))
    _note(shop, codes, stock.name, dry_run=dry_run)
    return DrawnLabels(tuple(pages), missing)


def _run(shop: Workshop, look: LabelLook, start: int) -> Run:
    from salvage.paper.label import Run

    return Run(shop.today, start, correction_for(look.printer), fonts_of(shop))


def _note(shop: Workshop, codes: Sequence[Code], stock: str, *, dry_run: bool) -> None:
    def steps(change: Change) -> None:
        change.append("label.printed", tuple(dict.fromkeys(codes)), {"stock": stock})

    shop.commit("print labels", steps, dry_run=dry_run)


def check_look(look: LabelLook) -> LabelLook:
    """
    The look, if its design and symbol are known.

    Raises:
        BadValue: If one is not.
    """
    if look.design not in ("", *DESIGNS):
        raise BadValue(f"'{look.design}' is no design of a label", hint=_choices(DESIGNS))
    if look.symbol not in ("", *SYMBOLS):
        raise BadValue(f"'{look.symbol}' is no symbol", hint=_choices(SYMBOLS))
    return look


def _labels(shop: Workshop, codes: Sequence[Code], stock: Stock, look: LabelLook) -> list[Label]:
    check_look(look)
    return [_label(shop, code, stock, look) for code in codes]


def _choices(words: Sequence[str]) -> str:
    return f"use one of: {', '.join(words)}"


def _label(shop: Workshop, code: Code, stock: Stock, look: LabelLook) -> Label:
    from salvage.paper.label_page import Label

    if code[0] not in LABEL_KINDS:
        raise BadValue(
            f"{code} is a {kind_of(code)}; labels are for boards, pieces, drop-offs and places"
        )
    design = look.design or _USUAL_DESIGN[code[0]]
    if design == "card" and code[0] != "P":
        raise BadValue(f"{code} is a {kind_of(code)}; a buyer's label is for pieces")
    title, lines, alert = _words(shop, code, design)
    symbol = label_symbol(shop, stock, code, design=design, wanted=look.symbol, alert=bool(alert))
    return Label(code, title, lines, symbol, alert, design)


def _words(shop: Workshop, code: Code, design: str) -> tuple[str, tuple[str, ...], str]:
    """Title, lines and warning of one label."""
    if code[0] == "B":
        board = load_board(shop.conn, code)
        return board.title, _board_lines(board), _board_alert(board)
    if code[0] == "P":
        view = view_piece(shop.conn, code)
        lines = _buyer_lines(shop, view) if design == "card" else _piece_lines(shop, view)
        alert = "RECALLED: do not sell" if view.piece.recalled else ""
        return view.piece.shape.replace("-", " "), lines, alert
    if code[0] == PLACE_KIND:
        return load_place(shop.conn, code).name, (), ""
    found = load_drop_off(shop.conn, code)
    return found.contents, _drop_off_lines(found), ""


def _board_alert(board: Board) -> str:
    if board.recalled:
        return "RECALLED: do not cut"
    return "" if board.clearance == "cleared" else "HELD: clear before cutting"


def _board_lines(board: Board) -> tuple[str, ...]:
    parts = [f"from {board.drop_off}"]
    if board.date_code:
        parts.append(f"date code {board.date_code}")
    if board.place:
        parts.append(board.place)
    return tuple(parts)


def _piece_lines(shop: Workshop, view: PieceView) -> tuple[str, ...]:
    piece = view.piece
    whom = audience_line(shop, piece)
    price = "" if piece.price_minor is None else format_money(piece.price_minor, piece.currency)
    if len(view.parts) > 1:
        boards = len(view.boards)
        of = f"from {view.board.code}" if boards == 1 else f"from {boards} boards"
        return (price, whom, f"{len(view.parts)} pieces {of}", piece.made_at[:10])
    return (price, whom, f"from {view.board.code}", view.cut.at[:10])


def _buyer_lines(shop: Workshop, view: PieceView) -> tuple[str, ...]:
    """What a buyer reads: who made it, and where the code leads; nothing about the donor."""
    settings, whom = shop.settings, audience_line(shop, view.piece)
    address = settings.web_address.removeprefix("https://").removeprefix("http://")
    where = f"its story: {address.split('/')[0]}" if address else "ask us for its story"
    if len(view.boards) > 1:
        return (f"cut from {len(view.boards)} circuit boards", whom, where, settings.name)
    kind = "circuit board" if view.board.type == "other" else view.board.type.replace("-", " ")
    return (f"cut from {with_article(kind)}", whom, where, settings.name)


def _drop_off_lines(drop_off: DropOff) -> tuple[str, ...]:
    weight = [format_mass(drop_off.weight_mg / 1000)] if drop_off.weight_mg else []
    return (f"received {drop_off.received_on}", *weight)
