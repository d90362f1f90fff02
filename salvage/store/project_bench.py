"""What events of stock-takes and of the inbox of photos do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.project_boards import BOARD_RULES, keep_file
from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _begin(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "stock_take",
        event.data,
        code=event.about[0],
        state="open",
        begun_at=event.at,
        begun_by=event.by,
        closed_at="",
    )


def _see(conn: sqlite3.Connection, event: Event) -> None:
    """Seen again at another place, a thing lies where it was seen last."""
    codes = event.data["codes"]
    assert isinstance(codes, list)
    conn.executemany(
        "INSERT INTO stock_seen (stock_take, code, place, source) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO UPDATE SET place = excluded.place, source = excluded.source",
        [(event.about[0], code, event.data["place"], event.data["source"]) for code in codes],
    )


def _close(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE stock_take SET state = 'closed', closed_at = ? WHERE code = ?",
        (event.at, event.about[0]),
    )


def _lose(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "INSERT INTO lost_thing (code, stock_take, reason, at) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO NOTHING",
        (event.about[0], data["stock_take"], data["reason"], event.at),
    )


def _find(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("DELETE FROM lost_thing WHERE code = ?", (event.about[0],))


def _wait(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    codes = data["codes"]
    assert isinstance(codes, list)
    keep_file(conn, data["sha256"], str(data["media_type"]), data["byte_count"], data["name"])
    conn.execute(
        "INSERT INTO inbox (sha256, name, reason, codes, at) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT DO NOTHING",
        (data["sha256"], data["name"], data["reason"], " ".join(map(str, codes)), event.at),
    )


def _drop(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("DELETE FROM inbox WHERE sha256 = ?", (event.data["sha256"],))


def _file(conn: sqlite3.Connection, event: Event) -> None:
    """A photo that is filed waits no longer."""
    BOARD_RULES["photo.added"](conn, event)
    _drop(conn, event)


BENCH_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "photo.added": _file,
    "stocktake.begun": _begin,
    "stocktake.seen": _see,
    "stocktake.closed": _close,
    "thing.lost": _lose,
    "thing.found": _find,
    "inbox.waiting": _wait,
    "inbox.dropped": _drop,
}
"""Rules by event kind."""
