"""Connections: set up alike everywhere, and the disk's trouble in plain words."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import StoreTrouble
from salvage.store.connection import APPLICATION_ID, connect, plain_errors


def test_every_connection_guards_the_record(tmp_path: Path) -> None:
    """Links are watched, a commit is on disk when it returns, and what is erased is overwritten."""
    path = tmp_path / "workshop.db"
    for _ in range(2):  # new, and found again
        conn = connect(path)
        found = {
            name: conn.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                *("foreign_keys", "synchronous", "recursive_triggers", "cell_size_check"),
                *("cache_size", "secure_delete", "journal_mode", "application_id", "busy_timeout"),
            )
        }
        conn.execute("CREATE TABLE IF NOT EXISTS shelf (name TEXT)")
        conn.close()

        assert found == {
            "foreign_keys": 1,
            "synchronous": 2,
            "recursive_triggers": 1,
            "cell_size_check": 1,
            "cache_size": -65536,
            "secure_delete": 1,
            "journal_mode": "wal",
            "application_id": APPLICATION_ID,
            "busy_timeout": 10_000,
        }
    assert APPLICATION_ID.to_bytes(4, "big") == b"SALV"


def failing(code: int, *, times: int) -> tuple[type[sqlite3.Connection], list[str]]:
    """A kind of connection whose switch to the write-ahead log fails so often, and its notes."""
    notes: list[str] = []

    class Failing(sqlite3.Connection):
        def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
            notes.append(sql)
            if sql == "PRAGMA journal_mode = WAL" and notes.count(sql) <= times:
                error = sqlite3.OperationalError("database is locked")
                error.sqlite_errorcode = code
                raise error
            return super().execute(sql, *args)

    return Failing, notes


Patch = Callable[[int, int], list[str]]


@pytest.fixture
def fail(monkeypatch: pytest.MonkeyPatch) -> Patch:
    """Lets the switch to the write-ahead log fail with a code, so often."""

    def patch(code: int, times: int) -> list[str]:
        kind, notes = failing(code, times=times)
        real = sqlite3.connect
        monkeypatch.setattr(sqlite3, "connect", lambda *a, **k: real(*a, factory=kind, **k))
        return notes

    return patch


def test_two_that_begin_at_once_wait_for_one_another(tmp_path: Path, fail: Patch) -> None:
    """While another process switches the new file, this one waits for its turn and tries again."""
    busy_recovery = sqlite3.SQLITE_BUSY | (1 << 8)  # an extended code of the same trouble
    notes = fail(busy_recovery, 3)
    conn = connect(tmp_path / "workshop.db")
    (mode,) = conn.execute("PRAGMA journal_mode").fetchone()
    conn.close()

    assert mode == "wal"
    assert notes.count("BEGIN IMMEDIATE") == notes.count("ROLLBACK") == 3
    assert notes.count("PRAGMA journal_mode = WAL") == 4


def test_one_that_never_gets_its_turn_is_told(tmp_path: Path, fail: Patch) -> None:
    """After fifty turns of others the maker reads that somebody else is writing."""
    notes = fail(sqlite3.SQLITE_BUSY, 10_000)
    with pytest.raises(StoreTrouble, match="another program is writing to it"):
        connect(tmp_path / "workshop.db")

    assert notes.count("PRAGMA journal_mode = WAL") == 51


def test_a_disk_that_fails_is_not_asked_again(tmp_path: Path, fail: Patch) -> None:
    """Only a busy file is worth another try."""
    notes = fail(sqlite3.SQLITE_IOERR, 10_000)
    with pytest.raises(StoreTrouble, match="the disk reports an error"):
        connect(tmp_path / "workshop.db")

    assert notes.count("PRAGMA journal_mode = WAL") == 1


def test_a_new_file_is_on_disk_before_it_is_used(tmp_path: Path, fail: Patch) -> None:
    """Making the file and removing its old journal is flushed the hard way, and then no more."""
    notes = fail(sqlite3.SQLITE_BUSY, 0)
    connect(tmp_path / "workshop.db").close()
    wal = notes.index("PRAGMA journal_mode = WAL")

    assert (
        notes.index("PRAGMA synchronous = EXTRA") < wal < notes.index("PRAGMA synchronous = FULL")
    )


WORDS = {
    sqlite3.SQLITE_BUSY: "another program is writing to it.*nothing was recorded",
    sqlite3.SQLITE_LOCKED: "another program is writing to it.*nothing was recorded",
    sqlite3.SQLITE_PROTOCOL: "another program is writing to it.*nothing was recorded",
    sqlite3.SQLITE_FULL: "the disk is full.*free some space",
    sqlite3.SQLITE_READONLY: "it cannot be written.*permissions.*--shop",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened.*may be written.*--shop",
    sqlite3.SQLITE_IOERR: "the disk reports an error.*salvage check",
    sqlite3.SQLITE_CORRUPT: "it is damaged.*last backup",
    sqlite3.SQLITE_NOTADB: "it is not a database.*--shop",
    sqlite3.SQLITE_PERM: "it cannot be written.*permissions",
}


def trouble(code: int | None) -> sqlite3.DatabaseError:
    """An error as SQLite raises it."""
    error = sqlite3.DatabaseError("as SQLite says it")
    if code is not None:
        error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize("code", WORDS)
@pytest.mark.parametrize("extended", [0, 3 << 8])
def test_the_disks_trouble_is_told_with_the_mend(code: int, extended: int) -> None:
    """Which file, what is wrong, and what to do, in one line."""
    with (
        pytest.raises(StoreTrouble, match=rf"shop/workshop\.db: {WORDS[code]}"),
        plain_errors(Path("shop/workshop.db")),
    ):
        raise trouble(code | extended)


@pytest.mark.parametrize("code", [None, sqlite3.SQLITE_MISUSE])
def test_what_is_no_trouble_of_the_disk_passes(code: int | None) -> None:
    """A slip of the program is not told as a fault of the disk."""
    with pytest.raises(sqlite3.DatabaseError, match="as SQLite says it"), plain_errors("x"):
        raise trouble(code)


def test_spoilt_words_of_the_schema_are_damage() -> None:
    """Where a table's own definition is spoilt, SQLite quotes bytes that are no text."""
    with pytest.raises(StoreTrouble, match=r"x: it is damaged.*backup"), plain_errors("x"):
        b"\xff".decode("utf-8")


def test_a_file_without_our_mark_is_left_alone(tmp_path: Path) -> None:
    """Another program's database is not marked as ours, and nothing is set in it."""
    path = tmp_path / "workshop.db"
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(StoreTrouble, match="another program's database"):
        connect(path)
    other.close()

    assert path.read_bytes() == before
