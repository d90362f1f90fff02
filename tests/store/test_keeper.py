"""Who writes in a folder, where clocks, disks and folders are not as they should be."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest

from salvage.store.connection import DATABASE_NAME
from salvage.store.folder_notes import Marker, names_beside, read_note, write_note
from salvage.store.keeper import MARKER, Computer, Keeper
from salvage.store.migrations import NEWEST
from salvage.work.workshop import Workshop
from tests.bench import SteppingClock, add_drop_off, seeded_entropy


def keeper_of(shop: Workshop, state: Path, *, clock: SteppingClock | None = None) -> Keeper:
    """The keeper of a workshop's folder for a computer."""
    return Keeper(
        Computer(state, state.name, lambda: ""),
        shop.folder,
        clock=clock or SteppingClock(),
        entropy=seeded_entropy(3),
    )


def test_a_clock_that_is_behind_the_record_is_told_once(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """Before something is written; the same is not told again, and a right clock is no news."""
    add_drop_off(empty_shop)
    newest = empty_shop.clock()
    late = SteppingClock(newest - timedelta(days=2))
    keeper = keeper_of(empty_shop, tmp_path / "laptop", clock=late)
    looking = keeper.hints(empty_shop.conn, changing=False)
    first = keeper.hints(empty_shop.conn, changing=True)
    second = keeper.hints(empty_shop.conn, changing=True)
    right = keeper_of(empty_shop, tmp_path / "tablet", clock=SteppingClock(newest))

    assert looking == ()
    assert len(first) == 1
    assert "the newest event was recorded at 2026-05-04" in first[0]
    assert second == ()
    assert right.hints(empty_shop.conn, changing=True) == ()


def test_another_computers_folder_may_be_looked_at_if_nothing_is_written_by_it(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """A newer schema, or a database that cannot be read, is for the opening itself to refuse."""
    note = Marker("another", "the laptop", "2026-05-04T09:00:00.000Z", "ab")
    write_note(empty_shop.folder / MARKER, note)
    add_drop_off(empty_shop)
    empty_shop.close()
    keeper = keeper_of(empty_shop, tmp_path / "tablet")
    database = empty_shop.folder / DATABASE_NAME
    keeper.check_may_open(newest=NEWEST)
    keeper.check_may_open(newest=NEWEST - 1)
    database.unlink()
    keeper.check_may_open(newest=NEWEST)

    assert keeper.marker == note


def test_a_note_that_cannot_be_put_in_its_place_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever asked is told, and no part of it lies about."""
    note = Marker("one", "the laptop", "2026-05-04T09:00:00.000Z", "ab")

    def fails(source: Path, target: Path) -> None:
        raise OSError(5, "Input/output error")

    kept = write_note(tmp_path / "note", note)
    monkeypatch.setattr(os, "replace", fails)
    lost = write_note(tmp_path / "other", note)

    assert kept
    assert not lost
    assert read_note(tmp_path / "note", Marker) == note
    assert [path.name for path in tmp_path.iterdir()] == ["note"]


def test_a_folder_that_is_not_there_has_nothing_beside(tmp_path: Path) -> None:
    """Names beside the database are those of second copies alone."""
    for name in ("workshop.db", "workshop.db-wal", "workshop (2).db", "workshop (2).db-wal"):
        (tmp_path / name).write_text("x")

    assert names_beside(tmp_path / "nowhere") == []
    assert names_beside(tmp_path) == ["workshop (2).db"]
