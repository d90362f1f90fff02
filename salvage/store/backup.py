"""Consistent copies of the database while others may be writing."""

from __future__ import annotations

import os
import sqlite3
from typing import TYPE_CHECKING

from salvage.errors import StoreTrouble
from salvage.store.connection import plain_errors
from salvage.store.durable import drop_part, flush_folder
from salvage.store.files import plain_os_errors

if TYPE_CHECKING:
    from pathlib import Path


def copy_database(conn: sqlite3.Connection, target: Path) -> None:
    """
    A whole, checked copy of the database at *target*.

    SQLite's online backup writes to a part file, the copy is opened and checked, flushed to disk
    and only then given its name. A plain file copy of a live database would lose what still stands
    in the write-ahead log.

    Raises:
        StoreTrouble: If the copy cannot be written or does not pass its check.
    """
    part = target.with_name(target.name + ".part")
    with plain_errors(target), plain_os_errors(target):
        try:
            copy = sqlite3.connect(part)
            try:
                conn.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")  # one file, readable from a USB stick
                (verdict,) = copy.execute("PRAGMA integrity_check(1)").fetchone()
            finally:
                copy.close()
            if verdict != "ok":
                raise StoreTrouble(
                    f"the copy at {target} does not pass its check: {' '.join(verdict.split())}",
                    hint="copy again; if it stays so, look at that disk, and run 'salvage check'",
                )
            _flush(part)
            os.replace(part, target)
            flush_folder(target.parent)
        finally:
            drop_part(part)


def _flush(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
