"""What events of documents do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.canonical import canonical_bytes, sha256_hex
from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _set_wording(conn: sqlite3.Connection, event: Event) -> None:
    document, words = event.data["document"], event.data["words"]
    conn.execute("DELETE FROM wording WHERE document = ?", (document,))
    if words:
        text = canonical_bytes(words)
        conn.execute(
            "INSERT INTO wording VALUES (?, ?, ?, ?)",
            (document, text.decode("utf-8"), sha256_hex(text), event.at),
        )


def _print_paper(conn: sqlite3.Connection, event: Event) -> None:
    code = event.about[0] if event.about else ""
    insert_row(conn, "printed_paper", event.data, event_id=event.id, code=code, at=event.at)


PAPER_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "wording.set": _set_wording,
    "paper.printed": _print_paper,
}
"""Rules by event kind."""
