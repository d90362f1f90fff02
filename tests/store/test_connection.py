"""SQLite's troubles in plain words, and waiting for one another."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from salvage.errors import StoreTrouble
from salvage.store.connection import begin_writing, connect, plain_errors


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[tuple[sqlite3.Connection, sqlite3.Connection]]:
    """Two connections to one new database, the second of which waits 200 ms."""
    path = tmp_path / "workshop.db"
    with closing(connect(path)) as one, closing(connect(path, busy_ms=200)) as other:
        yield one, other


@pytest.mark.parametrize(
    "code", [sqlite3.SQLITE_BUSY, sqlite3.SQLITE_BUSY_SNAPSHOT, sqlite3.SQLITE_PROTOCOL]
)
def test_every_kind_of_lock_is_told_alike(code: int) -> None:
    """Whatever SQLite calls it, the maker reads that somebody else is writing, and the mend."""
    error = sqlite3.OperationalError("locking protocol")
    error.sqlite_errorcode = code
    with pytest.raises(StoreTrouble, match="another program is writing") as told, plain_errors("x"):
        raise error

    assert "try again" in told.value.hint


def test_a_writer_waits_for_another(tmp_path: Path) -> None:
    """It begins as soon as the other is done."""
    path = tmp_path / "workshop.db"
    begun = threading.Event()

    def write_for_a_while() -> None:
        with closing(connect(path)) as one:
            begin_writing(one)
            begun.set()
            time.sleep(0.1)
            one.execute("COMMIT")

    other_one = threading.Thread(target=write_for_a_while)
    other_one.start()
    begun.wait(10)
    with closing(connect(path)) as other:
        begin_writing(other)
        other_one.join()

        assert other.in_transaction


def test_a_writer_gives_up_in_the_end(
    pair: tuple[sqlite3.Connection, sqlite3.Connection],
) -> None:
    """After its patience it is told, and the connection waits as long as before the next time."""
    one, other = pair
    begin_writing(one)
    begun = time.monotonic()
    with pytest.raises(sqlite3.OperationalError, match="locked"):
        begin_writing(other)
    waited_s = time.monotonic() - begun

    assert waited_s > 0.15
    assert other.execute("PRAGMA busy_timeout").fetchone() == (200,)
    assert not other.in_transaction
