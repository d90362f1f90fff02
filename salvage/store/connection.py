"""
One SQLite connection, set up the same way everywhere, and SQLite's errors in plain words.

WAL with ``synchronous=FULL``: in simulated power cuts that pair lost no acknowledged transaction,
while WAL with NORMAL did (measured by a prototype; see docs/measurements.md). Creating the file and
switching it to WAL runs under EXTRA, so that the old journal's removal is on disk as well.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from salvage.errors import StoreTrouble

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

DATABASE_NAME = "workshop.db"
"""Name of the database in a workshop's folder, and in a copy of it."""

APPLICATION_ID = 0x53414C56
"""Marks our databases (the letters SALV), so that another program's file is refused."""

BUSY_MS = 10_000
"""How long a writer waits for another before it gives up."""

_PRAGMAS = (
    "PRAGMA foreign_keys = ON",
    "PRAGMA synchronous = FULL",
    "PRAGMA recursive_triggers = ON",  # else INSERT OR REPLACE slips past the no-delete guard
    "PRAGMA cell_size_check = ON",
    "PRAGMA cache_size = -65536",  # 64 MiB: the upper pages of the indices of a million pieces
    "PRAGMA journal_size_limit = 8388608",  # a log that grew long is cut when it begins anew
    "PRAGMA secure_delete = ON",  # a forgotten donor's name is overwritten, not only unlinked
)


def connect(path: Path, *, busy_ms: int = BUSY_MS) -> sqlite3.Connection:
    """
    An open connection to the database at *path*, created if it is not there.

    Where its folder cannot be written, as on a sealed memory card, it can be read all the same if
    it was closed cleanly; whoever writes is told that it cannot be written.

    Raises:
        StoreTrouble: If the file cannot be opened, or is no database of ours.
    """
    with plain_errors(path):
        try:
            return _open(path, str(path), busy_ms)
        except sqlite3.OperationalError as error:
            if not _is_sealed(path, error):
                raise
        return _open(path, f"{path.resolve().as_uri()}?immutable=1", busy_ms, sealed=True)


def _open(path: Path, name: str, busy_ms: int, *, sealed: bool = False) -> sqlite3.Connection:
    conn = sqlite3.connect(name, uri=sealed, isolation_level=None, timeout=busy_ms / 1000)
    try:
        _set_up(conn, path)
        if sealed:
            conn.execute("PRAGMA query_only = ON")
    except BaseException:
        conn.close()
        raise
    return conn


def _is_sealed(path: Path, error: sqlite3.OperationalError) -> bool:
    """
    Whether a database cannot be opened only because nothing may be written beside it.

    Raises:
        StoreTrouble: If it was not closed cleanly: a part of the record stands in its log, and only
            who may write can bring the two together.
    """
    refused = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
    if not refused or os.access(path.parent, os.W_OK) or not os.access(path, os.R_OK):
        return False
    log = path.with_name(f"{path.name}-wal")
    if log.exists() and log.stat().st_size:
        raise StoreTrouble(
            f"{path} was not closed cleanly, and its folder cannot be written",
            hint="copy the whole folder to a place that can be written, and open it there",
        ) from error
    return True


def _set_up(conn: sqlite3.Connection, path: Path) -> None:
    # Tables first: another process that is just making this database marks it before it fills it.
    (tables,) = conn.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    (marked,) = conn.execute("PRAGMA application_id").fetchone()
    if marked != APPLICATION_ID and tables:
        raise StoreTrouble(
            f"{path} is another program's database", hint="name another folder with --shop"
        )
    if not tables:
        conn.execute("PRAGMA synchronous = EXTRA")
        conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        _switch_to_wal(conn)
    for pragma in _PRAGMAS:
        conn.execute(pragma)


def _switch_to_wal(conn: sqlite3.Connection) -> None:
    """
    Switch a new database to WAL, although another process may be doing the same.

    SQLite does not wait for a lock here but reports it at once; it does wait to begin a writing
    transaction, so that is done before the next try.
    """
    tries = 0
    while True:
        try:
            conn.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if tries == _SWITCHES or error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                raise
        tries += 1
        conn.execute("BEGIN IMMEDIATE")
        conn.execute("ROLLBACK")


_SWITCHES = 50
"""How often to try again; each of the others switches once, so a few are enough."""


def begin_writing(conn: sqlite3.Connection) -> None:
    """
    Begin a writing transaction, waiting for another writer as long as the connection may.

    Left to itself SQLite naps longer and longer, up to a tenth of a second, while those who come
    later knock more often and go first. Asked anew every so often it stays as quick as they are,
    and Ctrl-C is heard in between.
    """
    (patience_ms,) = conn.execute("PRAGMA busy_timeout").fetchone()
    conn.execute(f"PRAGMA busy_timeout = {min(_NAPS_MS, patience_ms)}")
    naps = patience_ms // _NAPS_MS
    try:
        while True:
            try:
                conn.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError as error:
                if naps == 0 or error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                    raise
            naps -= 1
    finally:
        conn.execute(f"PRAGMA busy_timeout = {patience_ms}")


_NAPS_MS = 33
"""SQLite's first naps: 1, 2, 5, 10 and 15 ms."""


def log_bytes(path: Path) -> int:
    """Length of the write-ahead log of the database at *path*."""
    try:
        return path.with_name(f"{path.name}-wal").stat().st_size
    except FileNotFoundError:
        return 0


def shorten_log(conn: sqlite3.Connection, path: Path, *, before: int) -> None:
    """
    Empty the write-ahead log where what was just committed made it longer by another step.

    SQLite writes the log back into the database by itself, but begins it anew only at a moment when
    nobody reads. Where readers overlap all day that moment never comes, so it is waited for: those
    who read leave soon, and those who come meanwhile no longer need the log. Behind a reader that
    stays the log goes on growing; then this costs a quarter of a second for each step.

    Args:
        conn: Connection without an open transaction.
        path: The database file.
        before: Length of the log before the change.
    """
    if log_bytes(path) // _LOG_STEP_BYTES <= before // _LOG_STEP_BYTES:
        return
    (patience_ms,) = conn.execute("PRAGMA busy_timeout").fetchone()
    conn.execute(f"PRAGMA busy_timeout = {min(_READERS_MS, patience_ms)}")
    # The change is kept already; a disk that cannot do this now tells so at the next one.
    with suppress(sqlite3.DatabaseError):
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    conn.execute(f"PRAGMA busy_timeout = {patience_ms}")


_LOG_STEP_BYTES = 8 << 20
"""Twice what SQLite lets the log grow to by itself, a thousand pages."""

_READERS_MS = 250

_BUSY = (
    "another program is writing to it and has not finished",
    "let it finish or close it, then try again; nothing was recorded",
)
_WORDS = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    # Another stands still in the blink in which it reads in the log of one that died.
    sqlite3.SQLITE_PROTOCOL: _BUSY,
    sqlite3.SQLITE_FULL: ("the disk is full", "free some space and try again"),
    sqlite3.SQLITE_READONLY: (
        "it cannot be written",
        "check the folder's permissions, or name another folder with --shop",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "it cannot be opened",
        "check that the folder exists and may be written, or name another with --shop",
    ),
    sqlite3.SQLITE_IOERR: (
        "the disk reports an error",
        "check the disk, run 'salvage check', and look at 'salvage journal' before you do it again",
    ),
    sqlite3.SQLITE_CORRUPT: ("it is damaged", "restore the last backup from the backups folder"),
    sqlite3.SQLITE_NOTADB: ("it is not a database", "name another folder with --shop"),
    sqlite3.SQLITE_PERM: ("it cannot be written", "check the folder's permissions"),
}


@contextmanager
def plain_errors(path: Path | str) -> Iterator[None]:
    """Turn SQLite's trouble with the file at *path* into one clear line; other errors pass."""
    try:
        yield
    except UnicodeDecodeError as error:  # SQLite quotes the spoilt bytes of a table's definition
        what, mend = _WORDS[sqlite3.SQLITE_CORRUPT]
        raise StoreTrouble(f"{path}: {what}", hint=mend) from error
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", None)
        if code is None or code & 0xFF not in _WORDS:
            raise
        what, mend = _WORDS[code & 0xFF]
        raise StoreTrouble(f"{path}: {what}", hint=mend) from error
