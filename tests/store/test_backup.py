"""Copies of the database while others write."""

from __future__ import annotations

import errno
import os
import sqlite3
from pathlib import Path

import pytest

from salvage.errors import StoreTrouble
from salvage.store.backup import copy_database
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off


def test_a_copy_is_whole_and_stands_alone(empty_shop: Workshop, tmp_path: Path) -> None:
    """The copy has every event, in one file, without a write-ahead log."""
    add_drop_off(empty_shop)
    target = tmp_path / "copy.db"
    copy_database(empty_shop.conn, target)
    copy = sqlite3.connect(f"file:{target}?mode=ro&immutable=1", uri=True)
    (events,) = copy.execute("SELECT count(*) FROM event").fetchone()
    copy.close()

    assert events == 3
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.db", "shop"]


def test_a_target_that_cannot_be_written_is_said(empty_shop: Workshop, tmp_path: Path) -> None:
    """A copy into a folder that is not there ends in one line and leaves no part file."""
    with pytest.raises(StoreTrouble, match="cannot be opened"):
        copy_database(empty_shop.conn, tmp_path / "nowhere" / "copy.db")


def test_a_disk_that_fills_while_copying_is_said(
    empty_shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A copy that cannot be flushed is no copy: one line, and no file that looks like one."""

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreTrouble, match="the disk is full"):
        copy_database(empty_shop.conn, tmp_path / "copy.db")

    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


def test_a_copy_that_fails_its_check_is_none(empty_shop: Workshop, tmp_path: Path) -> None:
    """A row that its table forbids is found in the copy, which is then not kept."""
    empty_shop.conn.execute("PRAGMA ignore_check_constraints = ON")
    empty_shop.conn.execute("INSERT INTO file VALUES ('ab', 'image/png', 3, 'front.png')")

    with pytest.raises(StoreTrouble, match=r"copy\.db does not pass its check: CHECK .* file"):
        copy_database(empty_shop.conn, tmp_path / "copy.db")

    assert [path.name for path in tmp_path.iterdir()] == ["shop"]
