"""Whether a piece may be sold: not twice, not recalled, not what waits for somebody else."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.store.lookup import count_rows
from salvage.work.day_order import check_order, local_day
from salvage.work.lineage import articles_with, cut_pieces
from salvage.work.verdict import check_fit_to_sell

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from salvage.ids import Code
    from salvage.records.things import Piece, Sale


def check_sellable(conn: sqlite3.Connection, piece: Piece, *, order: str = "") -> None:
    """
    Raise unless a piece may be sold now.

    Args:
        conn: Open connection.
        piece: The piece.
        order: The order that it is handed over to; empty for a sale to anybody.

    Raises:
        Refused: If it is recalled, sold, lost, withdrawn, or waits for another order.
        Held: If it was cut by override from a board whose hazards are still open.
    """
    if piece.recalled:
        raise Refused(f"{piece.code} is recalled and may not be sold")
    check_single(conn, piece.code)
    if piece.stage == "sold":
        raise Refused(
            f"{piece.code} is sold already", hint=f"salvage history {piece.code} shows when"
        )
    if count_rows(conn, "FROM lost_thing WHERE code = ?", (piece.code,)):
        raise Refused(
            f"{piece.code} was not found at a stock-take",
            hint=f"if it lies before you: salvage stocktake found {piece.code}",
        )
    if piece.stage == "withdrawn":
        raise Refused(f"{piece.code} is withdrawn", hint="set a bench stage first if it was not")
    waits = order_of_piece(conn, piece)
    if waits and waits != order:
        raise Refused(
            f"{piece.code} waits for the order {waits}",
            hint=f"hand it over with 'salvage order handover {waits}', or sell another piece",
        )
    check_fit_to_sell(conn, piece)


def check_single(conn: sqlite3.Connection, piece: Code) -> None:
    """Raise if a piece is part of an article, whose stage and sale are its own then."""
    around = articles_with(conn, piece)
    if around:
        raise Refused(
            f"{piece} is a part of {around[0]}",
            hint=f"take {around[0]} instead, or first: salvage article apart {around[0]}",
        )


def order_of_piece(conn: sqlite3.Connection, piece: Piece) -> str:
    """The open order that a piece, or a part of it, was set aside or cut for; empty for none."""
    for part in (piece, *cut_pieces(conn, piece.code)):
        row = conn.execute(
            "SELECT code FROM customer_order WHERE state NOT IN ('declined', 'cancelled')"
            " AND code IN (SELECT customer_order FROM set_aside WHERE piece = ?1 UNION ALL"
            "  SELECT customer_order FROM cut JOIN reservation ON reservation.code = reservation"
            "  JOIN order_plan USING (plan) WHERE cut.code = ?2) ORDER BY code",
            (part.code, part.cut),
        ).fetchone()
        if row:
            return str(row[0])
    return ""


def check_sale_day(piece: Piece, sales: Sequence[Sale], day: date) -> None:
    """
    Raise if a sale would lie before the piece was made, or before it last came back.

    Raises:
        BadValue: Naming both days.
    """
    check_order(local_day(piece.made_at), day, words=f"{piece.code} was made")
    if sales:
        back = date.fromisoformat(sales[-1].returned_on)
        check_order(back, day, words=f"{piece.code} came back")


def standing_sale(piece: Code, stage: str, sales: Sequence[Sale]) -> Sale:
    """
    The sale of a piece that stands.

    Raises:
        Refused: If it is not sold.
    """
    if stage != "sold":
        raise Refused(f"{piece} is not sold but {stage}")
    return [sale for sale in sales if not sale.returned_on][-1]
