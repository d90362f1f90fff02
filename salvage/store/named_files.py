"""Which files the record needs: those of its tables, and those of what was taken back."""

from __future__ import annotations

import sqlite3

from salvage.records.events import KINDS

_NAMING = tuple(kind for kind, fields in KINDS.items() if "sha256" in fields)


def named_files(conn: sqlite3.Connection) -> list[str]:
    """
    SHA-256 of every file that an event names, in order.

    A photo or shape that was taken back belongs to them: its undo can be undone, and cuts that were
    made with a shape keep it.
    """
    marks = ", ".join("?" * len(_NAMING))
    rows = conn.execute(
        "SELECT sha256 FROM file UNION SELECT json_extract(body, '$.data.sha256') FROM event"
        f" WHERE kind IN ({marks}) ORDER BY 1",
        _NAMING,
    )
    return [sha256 for (sha256,) in rows]
