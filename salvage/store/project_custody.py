"""What events of data-bearing parts do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _search(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "data_search", event.data, drop_off=event.about[0], by=event.by, at=event.at)


def _describe(conn: sqlite3.Connection, event: Event) -> None:
    """Describe a medium anew; one of several like it is first taken out as a part of its own."""
    drop_off, data = event.about[0], event.data
    if data["taken_from"] is not None:
        conn.execute(
            "INSERT INTO data_part (drop_off, n, part, count, state, how, settled_by, settled_at)"
            " SELECT drop_off, ?, part, 1, 'open', '', '', '' FROM data_part"
            " WHERE drop_off = ? AND n = ?",
            (data["n"], drop_off, data["taken_from"]),
        )
        # Two devices that take the last one out at once go below nothing: that is a clash.
        conn.execute(
            "UPDATE data_part SET count = CASE WHEN count > 1 THEN count - 1 ELSE -1 END"
            " WHERE drop_off = ? AND n = ?",
            (drop_off, data["taken_from"]),
        )
    conn.execute("DELETE FROM medium WHERE drop_off = ? AND n = ?", (drop_off, data["n"]))
    insert_row(conn, "medium", data, leave=("taken_from",), drop_off=drop_off)


def _hand_over(conn: sqlite3.Connection, event: Event) -> None:
    drop_off, data = event.about[0], event.data
    insert_row(conn, "hand_over", data, drop_off=drop_off, by=event.by, at=event.at)
    if data["role"] == "donor":
        told = [str(data[name]) for name in ("place", "document") if data[name]]
        _settle(conn, event, "returned", ", ".join(["handed back to the donor", *told]))


def _sanitise(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    insert_row(conn, "sanitising", data, drop_off=event.about[0], by=event.by, at=event.at)
    if data["validation"] == "accept":
        state = "destroyed" if data["method"] == "destroy" else "sanitised"
        _settle(conn, event, state, f"{data['method']}: {data['technique']}, {data['tool']}")


def _settle(conn: sqlite3.Connection, event: Event, state: str, how: str) -> None:
    conn.execute(
        "UPDATE data_part SET state = ?, how = ?, settled_by = ?, settled_at = ?"
        " WHERE drop_off = ? AND n = ? AND state = 'open'",
        (state, how, event.by, event.at, event.about[0], event.data["n"]),
    )


def _close(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "INSERT INTO drop_off_closed (drop_off, note, by, at) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO UPDATE SET note = excluded.note, by = excluded.by, at = excluded.at",
        (event.about[0], event.data["note"], event.by, event.at),
    )


CUSTODY_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "custody.searched": _search,
    "custody.described": _describe,
    "custody.handed": _hand_over,
    "custody.sanitised": _sanitise,
    "dropoff.closed": _close,
}
"""Rules by event kind."""
