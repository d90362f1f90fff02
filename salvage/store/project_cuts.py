"""What events of reservations, cuts, pieces and sales do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.project_boards import rings_text, set_usable
from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _reserve(conn: sqlite3.Connection, event: Event) -> None:
    code, board = event.about[:2]
    insert_row(
        conn,
        "reservation",
        event.data,
        leave=("region", "usable_um2"),
        code=code,
        board=board,
        region=rings_text(event.data["region"]),
        state="held",
    )
    set_usable(conn, event)


def _release(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("UPDATE reservation SET state = 'released' WHERE code = ?", (event.about[0],))
    set_usable(conn, event)


def _cut(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    code, board = event.about[:2]
    insert_row(
        conn,
        "cut",
        data,
        leave=("region", "custody"),
        code=code,
        board=board,
        region=rings_text(data["region"]),
        by=event.by,
        at=event.at,
        clock=event.clock,
    )
    conn.execute(
        "UPDATE board SET cut_count = cut_count + 1, usable_um2 = ? WHERE code = ?",
        (data["usable_after_um2"], board),
    )
    if data["reservation"]:
        conn.execute("UPDATE reservation SET state = 'cut' WHERE code = ?", (data["reservation"],))
    if data["outcome"] == "piece":
        _make_piece(conn, event)


def _make_piece(conn: sqlite3.Connection, event: Event) -> None:
    code, board, piece = event.about[:3]
    conn.execute(
        "INSERT INTO piece (code, cut, board, shape, stage, recalled, price_minor, currency,"
        " weight_mg, custody, label_printed, cards_printed, made_at)"
        " VALUES (?, ?, ?, ?, 'rough', 0, NULL, '', NULL, ?, 0, 0, ?)",
        (piece, code, board, event.data["shape"], event.data["custody"], event.at),
    )


def _stage(conn: sqlite3.Connection, event: Event) -> None:
    """Set the stage, unless the piece was sold on another device meanwhile: a sale stands."""
    conn.execute(
        "UPDATE piece SET stage = ?1 WHERE code = ?2 AND NOT EXISTS"
        " (SELECT 1 FROM sale WHERE piece = ?2 AND returned_on = '')",
        (event.data["stage"], event.about[0]),
    )


def _price(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE piece SET price_minor = ?, currency = ? WHERE code = ?",
        (event.data["price_minor"], event.data["currency"], event.about[0]),
    )


def _weigh(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE piece SET weight_mg = ? WHERE code = ?", (event.data["weight_mg"], event.about[0])
    )


def _sell(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "sale", event.data, piece=event.about[0], returned_on="", reason="")
    conn.execute("UPDATE piece SET stage = 'sold' WHERE code = ?", (event.about[0],))


def _take_back(conn: sqlite3.Connection, event: Event) -> None:
    piece, data = event.about[0], event.data
    conn.execute(
        "UPDATE sale SET returned_on = ?, reason = ? WHERE piece = ? AND n = ?",
        (data["returned_on"], data["reason"], piece, data["n"]),
    )
    conn.execute(
        "UPDATE piece SET stage = CASE WHEN EXISTS (SELECT 1 FROM sale WHERE piece = ?1"
        " AND returned_on = '') THEN 'sold' ELSE 'returned' END WHERE code = ?1",
        (piece,),
    )


def _print_card(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE piece SET cards_printed = cards_printed + 1 WHERE code = ?", (event.about[0],)
    )


CUT_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "reservation.made": _reserve,
    "reservation.released": _release,
    "cut.made": _cut,
    "piece.staged": _stage,
    "piece.priced": _price,
    "piece.weighed": _weigh,
    "piece.sold": _sell,
    "piece.returned": _take_back,
    "card.printed": _print_card,
}
"""Rules by event kind."""
