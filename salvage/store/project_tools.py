"""What events of bits, filters and masks do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _describe(conn: sqlite3.Connection, event: Event) -> None:
    """A tool; told again, its limits are new and its life goes on."""
    data = event.data
    known = conn.execute("SELECT 1 FROM tool WHERE name = ?", (data["name"],)).fetchone()
    if not known:
        insert_row(conn, "tool", data, fresh_clock=event.clock, retired="")
        return
    columns = ("kind", "diameter_um", "limit_um", "limit_minutes", "limit_from", "notes")
    conn.execute(
        f"UPDATE tool SET {', '.join(f'{name} = ?' for name in columns)} WHERE name = ?",
        (*(data[name] for name in columns), data["name"]),
    )


def _use(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "INSERT INTO tool_use VALUES (?, ?, ?, ?)",
        (event.about[0], event.data["name"], event.data["length_um"], event.clock),
    )


def _run(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "INSERT INTO tool_run VALUES (?, ?, ?, ?, ?)",
        (event.id, data["name"], data["minutes"], data["ran_on"], event.clock),
    )


def _change(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE tool SET fresh_on = ?, fresh_clock = ? WHERE name = ?",
        (event.data["fresh_on"], event.clock, event.data["name"]),
    )


def _retire(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE tool SET retired = ? WHERE name = ?", (event.data["reason"], event.data["name"])
    )


TOOL_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "tool.described": _describe,
    "tool.used": _use,
    "tool.ran": _run,
    "tool.changed": _change,
    "tool.retired": _retire,
}
"""Rules by event kind."""
