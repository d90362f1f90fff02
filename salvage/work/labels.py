"""Labels for boards, pieces and drop-offs, from facts of the record only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.ids import Code, kind_of
from salvage.records.things import Board, DropOff
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_drop_off
from salvage.units import format_mass
from salvage.work.papers import fonts_of, symbol_svg
from salvage.work.pieces import view_piece
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.label import Label, PrintedLabels
    from salvage.paper.stock import Stock


def codes_without_label(shop: Workshop) -> tuple[Code, ...]:
    """Boards and pieces whose label was never printed, oldest first."""
    rows = shop.conn.execute(
        "SELECT code FROM board WHERE label_printed = 0 AND retired = ''"
        " UNION ALL SELECT code FROM piece WHERE label_printed = 0"
        " AND stage NOT IN ('sold', 'withdrawn') ORDER BY code"
    )
    return tuple(Code(code) for (code,) in rows)


def print_labels(
    shop: Workshop,
    *,
    codes: Sequence[Code],
    stock: Stock,
    start: int = 1,
    dry_run: bool = False,
) -> PrintedLabels:
    """
    A PDF of labels at true scale, and a note that they were printed.

    A character that no font here has does not stop the sheet; it is named in the result.

    Args:
        shop: The open workshop.
        codes: Boards, pieces and drop-offs.
        stock: Sheet or roll.
        start: First free place on a half-used sheet.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If there is nothing to print, or a code is of another kind.
        NotFound: If a code is not known.
    """
    from salvage.paper.label import print_what_can_be

    labels = [_label(shop, code) for code in codes]
    printed = print_what_can_be(
        labels, stock, made_on=shop.today, start=start, extra_fonts=fonts_of(shop)
    )

    def steps(change: Change) -> PrintedLabels:
        change.append("label.printed", tuple(dict.fromkeys(codes)), {"stock": stock.name})
        return printed

    return shop.commit("print labels", steps, dry_run=dry_run)


def _label(shop: Workshop, code: Code) -> Label:
    from salvage.paper.label import Label

    symbol = symbol_svg(code)
    if code[0] == "B":
        board = load_board(shop.conn, code)
        return Label(code, board.title, _board_lines(board), symbol, _board_alert(board))
    if code[0] == "P":
        view = view_piece(shop.conn, code)
        lines = (f"from {view.board.code}", view.cut.at[:10])
        alert = "RECALLED: do not sell" if view.piece.recalled else ""
        return Label(code, view.piece.shape.replace("-", " "), lines, symbol, alert)
    if code[0] == "D":
        found = load_drop_off(shop.conn, code)
        return Label(code, found.contents, _drop_off_lines(found), symbol)
    raise BadValue(f"{code} is a {kind_of(code)}; labels are for boards, pieces and drop-offs")


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


def _drop_off_lines(drop_off: DropOff) -> tuple[str, ...]:
    weight = [format_mass(drop_off.weight_mg / 1000)] if drop_off.weight_mg else []
    return (f"received {drop_off.received_on}", *weight)
