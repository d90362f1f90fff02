"""
Numbered SQL files under ``schema/``, applied in order, once each.

An older database is brought up to date in place after a copy of it was laid into ``backups/``; a
newer one is refused. The SHA-256 of each applied file is kept, and ``check`` compares it.
"""

from __future__ import annotations

import os
import re
import sqlite3
from typing import TYPE_CHECKING

from salvage.canonical import sha256_hex
from salvage.errors import StoreTrouble
from salvage.frozen import dataclass
from salvage.store.connection import begin_writing
from salvage.store.files import plain_os_errors
from salvage.store.journal import count_events

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

_NAME = re.compile(r"([0-9]{4})_[a-z0-9_]+\.sql")

NEWEST = 25
"""Number of the newest schema file; a test compares it with the folder, and start-up trusts it."""


@dataclass(frozen=True, slots=True)
class SchemaFile:
    """One numbered SQL file."""

    number: int
    name: str
    text: str

    @property
    def sha256(self) -> str:
        """Hash of the file's bytes."""
        return sha256_hex(self.text.encode("utf-8"))


def schema_files() -> tuple[SchemaFile, ...]:
    """The files shipped with the program, in order."""
    from importlib.resources import files
    from pathlib import Path

    folder = files("salvage") / "schema"
    if not folder.is_dir():  # an editable install keeps schema/ beside the package
        folder = Path(__file__).parents[2] / "schema"
    found = ((_NAME.fullmatch(entry.name), entry) for entry in folder.iterdir())
    return tuple(
        sorted(
            (
                SchemaFile(int(match[1]), entry.name, entry.read_text("utf-8"))
                for match, entry in found
                if match
            ),
            key=lambda file: file.number,
        )
    )


def schema_number(conn: sqlite3.Connection) -> int:
    """Number of the newest file applied to this database; 0 for an empty one."""
    (number,) = conn.execute("PRAGMA user_version").fetchone()
    return int(number)


def migrate(
    conn: sqlite3.Connection,
    path: Path,
    *,
    now: str,
    shipped: Sequence[SchemaFile] | None = None,
) -> int:
    """
    Apply what is missing and give the number reached.

    Args:
        conn: Open connection.
        path: The database file; its folder takes the backup.
        now: Instant for the record and the backup's name.
        shipped: Files to apply; the program's own unless given.

    Raises:
        StoreTrouble: If the database was written by a newer version.
    """
    newest = NEWEST if shipped is None else max(file.number for file in shipped)
    before = schema_number(conn)
    if before == newest:
        return before
    if before > newest:
        raise StoreTrouble(
            f"{path} was written by a newer version (schema {before}, this one knows {newest})",
            hint="update with: pip install --upgrade salvage",
        )
    if before:
        _keep_copy(conn, path, before, now)
    _apply(conn, shipped if shipped is not None else schema_files(), now)
    return newest


def _keep_copy(conn: sqlite3.Connection, path: Path, before: int, now: str) -> None:
    folder = path.parent / "backups"
    with plain_os_errors(folder / "copy"):
        folder.mkdir(exist_ok=True)
    from salvage.store.backup import copy_database

    stamp = re.sub(r"[^0-9T]", "", now)[:15]
    copy_database(conn, folder / f"schema-{before}-before-upgrade-{stamp}-{os.getpid()}.db")


def _apply(conn: sqlite3.Connection, shipped: Sequence[SchemaFile], now: str) -> None:
    # A table whose columns change is made anew and renamed, which its references must not hinder.
    (watched,) = conn.execute("PRAGMA foreign_keys").fetchone()
    conn.execute("PRAGMA foreign_keys = OFF")
    try:
        _apply_unwatched(conn, shipped, now)
    finally:
        conn.execute(f"PRAGMA foreign_keys = {watched}")


def _apply_unwatched(conn: sqlite3.Connection, shipped: Sequence[SchemaFile], now: str) -> None:
    begin_writing(conn)
    try:
        done = schema_number(conn)  # another process may have been quicker
        for file in shipped:
            if file.number <= done:
                continue
            for statement in split_statements(file.text):
                conn.execute(statement)
            conn.execute(
                "INSERT INTO schema_file (number, name, sha256, applied_at) VALUES (?, ?, ?, ?)",
                (file.number, file.name, file.sha256, now),
            )
            conn.execute(f"PRAGMA user_version = {file.number}")
        if done and count_events(conn):  # a new table may be filled by events that are old
            from salvage.store.projection import rebuild

            rebuild(conn)
        _check_references(conn)
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:  # a full disk has rolled back already
            conn.execute("ROLLBACK")
        raise


def _check_references(conn: sqlite3.Connection) -> None:
    """Raise if a row points to nothing, which nobody watched over meanwhile."""
    broken = conn.execute("PRAGMA foreign_key_check").fetchone()
    if broken:
        raise StoreTrouble(
            f"a row of {broken[0]} points to nothing in {broken[2]}; nothing was changed",
            hint="restore the last backup from the backups folder",
        )


def split_statements(text: str) -> Iterator[str]:
    """
    The single statements of an SQL text; triggers stay whole.

    sqlite3's own ``executescript`` would commit the open transaction first.
    """
    gathered = ""
    for line in text.splitlines(keepends=True):
        gathered += line
        if sqlite3.complete_statement(gathered):
            yield gathered
            gathered = ""
    if gathered.strip():
        yield gathered
