"""
What can be made again at any time, kept so that it need not be: a database of its own.

``cache.db`` may be deleted whenever nobody works; it is no part of the record and of no backup.
"""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

_TABLE = """
CREATE TABLE IF NOT EXISTS kept (
    subject TEXT NOT NULL,
    kind    TEXT NOT NULL,
    state   TEXT NOT NULL,
    data    BLOB NOT NULL,
    PRIMARY KEY (subject, kind)
) STRICT, WITHOUT ROWID
"""


class Cache:
    """
    Bytes by subject and kind, good for one state of the subject.

    Args:
        path: The database; made on first use. Where it cannot be written, nothing is kept and
            nothing fails.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def load_all(self, kind: str) -> dict[str, tuple[str, bytes]]:
        """State and bytes of every subject that has something of this kind."""
        try:
            with self._open() as conn:
                rows = conn.execute(
                    "SELECT subject, state, data FROM kept WHERE kind = ?", (kind,)
                ).fetchall()
        except sqlite3.DatabaseError:
            return {}
        return {subject: (state, data) for subject, state, data in rows}

    def load(self, subject: str, kind: str, *, state: str) -> bytes | None:
        """What is kept for one subject, if it is good for this state of it."""
        try:
            with self._open() as conn:
                row = conn.execute(
                    "SELECT data FROM kept WHERE (subject, kind, state) = (?, ?, ?)",
                    (subject, kind, state),
                ).fetchone()
        except sqlite3.DatabaseError:
            return None
        return row[0] if row else None

    def save_all(self, kind: str, kept: Iterable[tuple[str, str, bytes]]) -> None:
        """Keep bytes for subjects and their states, in the place of older ones."""
        rows = [(subject, kind, state, data) for subject, state, data in kept]
        try:
            with self._open() as conn:
                conn.executemany("REPLACE INTO kept VALUES (?, ?, ?, ?)", rows)
        except sqlite3.DatabaseError:
            return  # a cache that cannot be written is only slower

    def _open(self) -> _Connection:
        return _Connection(self.path)


class _Connection:
    """A connection that commits and closes at the end of a ``with`` block."""

    def __init__(self, path: Path) -> None:
        self._conn = sqlite3.connect(path, timeout=0.5)

    def __enter__(self) -> sqlite3.Connection:
        self._conn.execute("PRAGMA synchronous = OFF")
        self._conn.execute(_TABLE)
        return self._conn

    def __exit__(self, *trouble: object) -> None:
        if trouble[0] is None:
            self._conn.commit()
        self._conn.close()
