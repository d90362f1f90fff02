"""What events of customers' orders do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.project_boards import rings_text
from salvage.store.rows import correct_row, insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _take(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "customer_order",
        event.data,
        leave=("lines",),
        code=event.about[0],
        state="asked",
        reason="",
        taken_by=event.by,
    )
    _set_lines(conn, event)
    _keep_forgotten(conn, event)


def _set_lines(conn: sqlite3.Connection, event: Event) -> None:
    lines = event.data["lines"]
    assert isinstance(lines, list)
    conn.execute("DELETE FROM order_line WHERE customer_order = ?", (event.about[0],))
    for n, line in enumerate(lines, 1):
        insert_row(
            conn,
            "order_line",
            line,
            leave=("region",),
            customer_order=event.about[0],
            n=n,
            region=rings_text(line["region"]),
        )


def _reline(conn: sqlite3.Connection, event: Event) -> None:
    """Other shapes need another quote."""
    _set_lines(conn, event)
    conn.execute("UPDATE customer_order SET state = 'asked' WHERE code = ?", (event.about[0],))


def _correct(conn: sqlite3.Connection, event: Event) -> None:
    """A correction made elsewhere meanwhile brings no forgotten customer's name back."""
    correct_row(conn, "customer_order", event)
    _keep_forgotten(conn, event)


def _keep_forgotten(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE customer_order SET name_seal = NULL, contact_seal = NULL WHERE code = ?"
        " AND code IN (SELECT customer_order FROM forgotten_customer)",
        (event.about[0],),
    )


def _quote(conn: sqlite3.Connection, event: Event) -> None:
    order, lines = event.about[0], event.data["lines"]
    assert isinstance(lines, list)
    insert_row(conn, "quote", event.data, leave=("lines",), customer_order=order)
    for n, line in enumerate(lines, 1):
        insert_row(conn, "quote_line", line, customer_order=order, quote=event.data["n"], n=n)
    _set_state(conn, order, "quoted", "")


def _answer(conn: sqlite3.Connection, event: Event) -> None:
    _set_state(conn, event.about[0], str(event.data["answer"]), str(event.data["reason"]))


def _cancel(conn: sqlite3.Connection, event: Event) -> None:
    _set_state(conn, event.about[0], "cancelled", str(event.data["reason"]))
    conn.execute("DELETE FROM set_aside WHERE customer_order = ?", (event.about[0],))


def _set_state(conn: sqlite3.Connection, order: str, state: str, reason: str) -> None:
    conn.execute(
        "UPDATE customer_order SET state = ?, reason = ? WHERE code = ?", (state, reason, order)
    )


def _plan(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "INSERT INTO order_plan (customer_order, plan) VALUES (?, ?) ON CONFLICT DO NOTHING",
        (event.about[0], event.data["plan"]),
    )


def _forget(conn: sqlite3.Connection, event: Event) -> None:
    """Erase the sealed words; the order itself stays, with what was made for it."""
    seals = event.data["seals"]
    assert isinstance(seals, list)
    conn.executemany("DELETE FROM private_field WHERE seal = ?", [(seal,) for seal in seals])
    conn.execute(
        "INSERT INTO forgotten_customer (customer_order, at) VALUES (?, ?) ON CONFLICT DO NOTHING",
        (event.about[0], event.at),
    )
    _keep_forgotten(conn, event)


def _set_aside(conn: sqlite3.Connection, event: Event) -> None:
    """Set aside twice on devices that were apart, a piece fails here and is told as a clash."""
    conn.execute(
        "INSERT INTO set_aside (piece, customer_order, line) VALUES (?, ?, ?)",
        (event.about[0], event.data["order"], event.data["line"]),
    )


def _free(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("DELETE FROM set_aside WHERE piece = ?", (event.about[0],))


ORDER_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "order.taken": _take,
    "order.corrected": _correct,
    "order.relined": _reline,
    "order.quoted": _quote,
    "order.answered": _answer,
    "order.planned": _plan,
    "order.cancelled": _cancel,
    "order.forgotten": _forget,
    "piece.set_aside": _set_aside,
    "piece.freed": _free,
}
"""Rules by event kind."""
