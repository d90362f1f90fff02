"""What events of outings, sales and working time do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import correct_row, insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _plan(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "outing",
        event.data,
        code=event.about[0],
        state="planned",
        float_minor=0,
        opened_device="",
        opened_at="",
        closed_at="",
        reason="",
        stock_take="",
    )


def _correct(conn: sqlite3.Connection, event: Event) -> None:
    correct_row(conn, "outing", event)


def _pack(conn: sqlite3.Connection, event: Event) -> None:
    _put(conn, event, "packed")


def _come_home(conn: sqlite3.Connection, event: Event) -> None:
    _put(conn, event, "home")


def _put(conn: sqlite3.Connection, event: Event, state: str) -> None:
    """Packed again, a piece keeps the key that stands on the printed list."""
    conn.execute(
        "INSERT INTO outing_piece (outing, piece, key, state) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO UPDATE SET state = excluded.state",
        (event.data["outing"], event.about[0], event.data["key"], state),
    )


def _unpack(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE outing_piece SET state = 'unpacked' WHERE outing = ? AND piece = ?",
        (event.data["outing"], event.about[0]),
    )


def _open(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE outing SET state = 'open', float_minor = ?, opened_device = ?, opened_at = ?"
        " WHERE code = ?",
        (event.data["float_minor"], event.device, event.at, event.about[0]),
    )


def _move_cash(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "outing_cash", event.data, id=event.id, outing=event.about[0], at=event.at)


def _close(conn: sqlite3.Connection, event: Event) -> None:
    data, outing = event.data, event.about[0]
    missing = data["missing"]
    assert isinstance(missing, list)
    conn.execute(
        "UPDATE outing SET state = 'closed', closed_at = ?, expected_minor = ?, counted_minor = ?,"
        " reason = ?, stock_take = ? WHERE code = ?",
        (
            event.at,
            data["expected_minor"],
            data["counted_minor"],
            data["reason"],
            data["stock_take"],
            outing,
        ),
    )
    conn.executemany(
        "UPDATE outing_piece SET state = 'missing' WHERE outing = ? AND piece = ?",
        [(outing, piece) for piece in missing],
    )


def _write_slip(conn: sqlite3.Connection, event: Event) -> None:
    """A slip stands whatever the record says of its pieces: the money changed hands."""
    number, data = f"{event.device}{event.n}", event.data
    lines = data["lines"]
    assert isinstance(lines, list)
    insert_row(
        conn,
        "slip",
        data,
        leave=("lines", "order"),
        number=number,
        kind="sale" if event.kind == "sale.made" else "refund",
        customer_order=data["order"],
        at=event.at,
        operation=event.operation,
    )
    for n, line in enumerate(lines, 1):
        insert_row(conn, "slip_line", line, slip=number, n=n)


def _note_time(conn: sqlite3.Connection, event: Event) -> None:
    spent = event.data["spent"]
    assert isinstance(spent, list)
    conn.executemany(
        "INSERT INTO time_spent (event_id, piece, step, seconds) VALUES (?, ?, ?, ?)",
        [(event.id, one["piece"], event.data["step"], one["seconds"]) for one in spent],
    )


def _rate(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    key = (data["shape"], data["step"], data["tool"])
    conn.execute("DELETE FROM step_rate WHERE shape = ? AND step = ? AND tool = ?", key)
    if data["seconds"] is not None:
        insert_row(conn, "step_rate", data)


SEASON_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "outing.planned": _plan,
    "outing.corrected": _correct,
    "piece.packed": _pack,
    "piece.unpacked": _unpack,
    "piece.came_home": _come_home,
    "outing.opened": _open,
    "outing.cash_moved": _move_cash,
    "outing.closed": _close,
    "sale.made": _write_slip,
    "sale.refunded": _write_slip,
    "time.noted": _note_time,
    "time.rated": _rate,
}
"""Rules by event kind."""
