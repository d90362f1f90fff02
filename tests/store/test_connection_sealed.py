"""A database that nobody here may write to, and a log that grew long."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import StoreTrouble
from salvage.store import connection
from salvage.store.connection import connect, log_bytes, shorten_log


@pytest.fixture
def sealed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database that was closed, in a folder that is read-only for whoever opens it."""
    path = tmp_path / "workshop.db"
    with closing(connect(path)) as conn:
        conn.execute("CREATE TABLE shelf (name TEXT)")
    real, may = sqlite3.connect, os.access

    def refuse(name: Any, **options: Any) -> sqlite3.Connection:
        if not options["uri"]:
            error = sqlite3.OperationalError("unable to open database file")
            error.sqlite_errorcode = sqlite3.SQLITE_CANTOPEN
            raise error
        opened: sqlite3.Connection = real(name, **options)
        return opened

    def access(where: Path, mode: int) -> bool:
        return mode != os.W_OK and may(where, mode)

    monkeypatch.setattr(sqlite3, "connect", refuse)
    monkeypatch.setattr(os, "access", access)
    return path


def test_a_workshop_in_a_folder_that_is_read_only_is_read(sealed: Path) -> None:
    """What lies on another's disk can be looked at, and cannot be changed."""
    with closing(connect(sealed)) as conn:
        rows = conn.execute("SELECT * FROM shelf").fetchall()
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            conn.execute("INSERT INTO shelf VALUES ('fern')")

    assert rows == []


def test_a_log_that_cannot_be_brought_in_is_told(sealed: Path) -> None:
    """A part of the record stands beside the database, and only a writer can join the two."""
    sealed.with_name("workshop.db-wal").write_bytes(b"")
    connect(sealed).close()
    sealed.with_name("workshop.db-wal").write_bytes(b"log")

    with pytest.raises(StoreTrouble, match=r"was not closed cleanly.*copy the whole folder"):
        connect(sealed)


def test_a_database_that_cannot_even_be_read_is_told(
    sealed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There is no use in trying it another way; nor where the folder may be written."""
    for answer in (lambda where, mode: False, lambda where, mode: True):
        monkeypatch.setattr(os, "access", answer)
        with pytest.raises(StoreTrouble, match="cannot be opened"):
            connect(sealed)


def test_a_log_is_emptied_whenever_it_grew_by_a_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not at each change, and the connection waits as long as before afterwards."""
    path = tmp_path / "workshop.db"
    monkeypatch.setattr(connection, "_LOG_STEP_BYTES", 50_000)
    with closing(connect(path)) as conn:
        conn.execute("CREATE TABLE shelf (name TEXT)")
        short = log_bytes(path)
        shorten_log(conn, path, before=0)
        kept = log_bytes(path)
        conn.execute("INSERT INTO shelf VALUES (?)", ("x" * 60_000,))
        grown = log_bytes(path)
        shorten_log(conn, path, before=short)
        emptied, patience = log_bytes(path), conn.execute("PRAGMA busy_timeout").fetchone()

    assert 0 < short < 50_000
    assert kept == short
    assert grown > 50_000
    assert emptied == 0
    assert patience == (10_000,)
