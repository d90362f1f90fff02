"""What events of materials do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.project_boards import keep_file
from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _receive(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "batch",
        event.data,
        code=event.about[0],
        recalled=0,
        recorded_by=event.by,
        recorded_at=event.at,
    )


def _add_paper(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    keep_file(conn, data["sha256"], str(data["media_type"]), data["byte_count"], data["name"])
    insert_row(
        conn,
        "batch_paper",
        {name: data[name] for name in ("n", "sha256", "title")},
        batch=event.about[0],
        at=event.at,
    )


def _use(conn: sqlite3.Connection, event: Event) -> None:
    for code in event.about[1:]:
        insert_row(
            conn,
            "material_use",
            event.data,
            batch=event.about[0],
            code=code,
            by=event.by,
            at=event.at,
            voided="",
        )


def _void_use(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE material_use SET voided = ? WHERE batch = ? AND n = ?",
        (event.data["why"], event.about[0], event.data["n"]),
    )


MATERIAL_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "batch.received": _receive,
    "batch.paper_added": _add_paper,
    "batch.used": _use,
    "batch.use_voided": _void_use,
}
"""Rules by event kind."""
