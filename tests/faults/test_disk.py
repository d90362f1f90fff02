"""A disk that is full, broken, read-only or damaged: one line is said, nothing is half written."""

from __future__ import annotations

import errno
import os
import random
import sqlite3
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import StoreTrouble
from salvage.records.things import Board
from salvage.work.check import rebuild_tables, run_checks
from salvage.work.clear import NewCheck, record_checks
from salvage.work.history import undo
from salvage.work.library import add_shape
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.recall import open_recall
from salvage.work.record import list_boards
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, cut_circle, dump, make_shop
from tests.work.snapshots import phone_jpeg

Change = Callable[[Workshop, Board], object]

GROWING: dict[str, Change] = {
    "drop-offs": lambda shop, board: add_drop_off(shop),
    "boards": lambda shop, board: add_board(shop, drop_off=board.drop_off),
    "checks": lambda shop, board: record_checks(
        shop, boards=[board.code], checks=[NewCheck("coin-cell", "cannot tell", how="dark" * 200)]
    ),
    "settings": lambda shop, board: change_settings(shop, typed={"wall-mm": "3", "name": "T" * 99}),
    "photos": lambda shop, board: add_photo(
        shop, code=board.code, new=NewPhoto(phone_jpeg(), "x.jpg", caption="front " * 100)
    ),
}
"""Changes that can be made again and again until the disk is full."""


def _assert_as_before(shop: Workshop, before: object, error: StoreTrouble, says: str) -> None:
    assert says in str(error)
    assert "\n" not in str(error)
    assert error.hint
    assert not shop.conn.in_transaction
    assert dump(shop) == before


def _refused(change: Callable[[], object]) -> StoreTrouble | None:
    """The trouble that a change meets, or None where it goes through."""
    try:
        change()
    except StoreTrouble as error:
        return error
    return None


def _until_full(shop: Workshop, change: Callable[[], object]) -> None:
    """Repeat a change until the disk is full; then all must be as before the last one."""
    for _ in range(200):
        before = dump(shop)
        error = _refused(change)
        if error:
            _assert_as_before(shop, before, error, "the disk is full")
            return
    raise AssertionError("the disk never filled")


@pytest.mark.parametrize("name", GROWING)
def test_a_full_disk_takes_nothing_half(
    empty_shop: Workshop, cleared_board: Board, name: str
) -> None:
    """Wherever within an operation the disk is full, it is as if that had not begun."""
    for spare in range(4):
        ((pages,),) = empty_shop.conn.execute("PRAGMA page_count")
        empty_shop.conn.execute(f"PRAGMA max_page_count = {pages + spare}")
        _until_full(empty_shop, lambda: GROWING[name](empty_shop, cleared_board))
    empty_shop.conn.execute("PRAGMA max_page_count = 100000")
    GROWING[name](empty_shop, cleared_board)

    assert all(line.ok for line in run_checks(empty_shop))


def test_an_undo_on_a_full_disk_takes_nothing_half(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Undo empties and fills every table: broken off half way, all of them are as before."""
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    ((pages,),) = empty_shop.conn.execute("PRAGMA page_count")
    empty_shop.conn.execute(f"PRAGMA max_page_count = {pages}")

    def undo_the_last() -> None:
        newest = "SELECT operation FROM event ORDER BY seq DESC LIMIT 1"
        ((operation,),) = empty_shop.conn.execute(newest)
        undo(empty_shop, operation=operation, why="again and again " * 20)

    _until_full(empty_shop, undo_the_last)

    assert all(line.ok for line in run_checks(empty_shop))


class _Breaking:
    """A connection whose *n*-th write reports an error of the disk, once."""

    def __init__(self, conn: sqlite3.Connection, n: int) -> None:
        self._conn = conn
        self._left = n

    def __getattr__(self, name: str) -> Any:
        return getattr(self._conn, name)

    def _count(self, sql: str) -> None:
        if sql.split(None, 1)[0] in ("INSERT", "UPDATE", "DELETE", "COMMIT", "BEGIN"):
            self._left -= 1
            if self._left == 0:
                error = sqlite3.OperationalError("disk I/O error")
                error.sqlite_errorcode = sqlite3.SQLITE_IOERR_WRITE
                raise error

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        self._count(sql)
        return self._conn.execute(sql, *args)

    def executemany(self, sql: str, *args: Any) -> sqlite3.Cursor:
        self._count(sql)
        return self._conn.executemany(sql, *args)


CHANGES: dict[str, Change] = GROWING | {
    "a cut": lambda shop, board: cut_circle(shop, board.code, 85, 40),
    "a recall": lambda shop, board: open_recall(shop, subject=board.drop_off, reason="mercury"),
    "an undo": lambda shop, board: undo(shop),
    "a rebuild": lambda shop, board: rebuild_tables(shop),
}


@pytest.mark.parametrize("name", CHANGES)
def test_an_error_at_any_write_takes_nothing_half(
    empty_shop: Workshop, cleared_board: Board, name: str
) -> None:
    """Step by step through all writes of an operation: each may fail, and nothing stays of it."""
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    whole = empty_shop.conn
    before = dump(empty_shop)
    for steps in count(1):
        empty_shop.conn = _Breaking(whole, steps)  # type: ignore[assignment]
        error = _refused(lambda: CHANGES[name](empty_shop, cleared_board))
        empty_shop.conn = whole
        if error is None:
            break
        _assert_as_before(empty_shop, before, error, "the disk reports an error")

    assert steps > 3
    assert all(line.ok for line in run_checks(empty_shop))


@pytest.mark.parametrize("call", ["fsync", "replace"])
@pytest.mark.parametrize(
    ("code", "says"),
    [(errno.ENOSPC, "the disk is full"), (errno.EIO, "cannot be written")],
)
def test_a_photo_that_cannot_be_kept_is_not_mentioned(
    empty_shop: Workshop,
    held_board: Board,
    monkeypatch: pytest.MonkeyPatch,
    call: str,
    code: int,
    says: str,
) -> None:
    """No row without its file: where the file fails there is no row, and no part of a file."""

    def fail(*args: object, **more: object) -> None:
        raise OSError(code, os.strerror(code))

    before = dump(empty_shop)
    kite = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        b'<polygon points="0,0 9,0 9,9"/></svg>'
    )
    with monkeypatch.context() as patched:
        patched.setattr(os, call, fail)
        with pytest.raises(StoreTrouble) as photo:
            add_photo(empty_shop, code=held_board.code, new=NewPhoto(phone_jpeg(), "x.jpg"))
        with pytest.raises(StoreTrouble, match=says):
            add_shape(empty_shop, name="kite-two", data=kite, file_name="k.svg")

    _assert_as_before(empty_shop, before, photo.value, says)
    files = [path for path in (empty_shop.folder / "files").rglob("*") if path.is_file()]
    assert files == []
    add_photo(empty_shop, code=held_board.code, new=NewPhoto(phone_jpeg(), "x.jpg"))


def test_a_file_in_the_folders_place_is_said(empty_shop: Workshop, held_board: Board) -> None:
    """Where the folder for photos cannot be made, one line says so."""
    (empty_shop.folder / "files").write_text("in the way")
    before = dump(empty_shop)
    with pytest.raises(StoreTrouble) as caught:
        add_photo(empty_shop, code=held_board.code, new=NewPhoto(phone_jpeg(), "x.jpg"))

    _assert_as_before(empty_shop, before, caught.value, "cannot be written")


@pytest.mark.parametrize("name", CHANGES)
def test_a_read_only_database_is_read_and_not_written(
    empty_shop: Workshop, cleared_board: Board, name: str
) -> None:
    """Looking works; each change is refused in one line."""
    before = dump(empty_shop)
    empty_shop.conn.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreTrouble) as caught:
        CHANGES[name](empty_shop, cleared_board)

    _assert_as_before(empty_shop, before, caught.value, "it cannot be written")
    assert [board.code for board in list_boards(empty_shop)] == [cleared_board.code]


def _spoil(folder: Path) -> bytes:
    """The bytes of a workshop's database, with nothing left in its log."""
    with make_shop(folder) as shop:
        add_cleared_board(shop)
        shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return (folder / "workshop.db").read_bytes()


@pytest.mark.parametrize("keep", [100, 5000, 60_000])
def test_a_database_cut_short_is_refused(tmp_path: Path, keep: int) -> None:
    """Cut off at some byte it is not opened, and one line says why."""
    whole = _spoil(tmp_path / "shop")
    (tmp_path / "shop" / "workshop.db").write_bytes(whole[:keep])

    with pytest.raises(StoreTrouble, match=r"damaged|not a database"):
        make_shop(tmp_path / "shop")


@pytest.mark.parametrize("keep", [None, 0, 1])
def test_a_database_that_is_gone_is_not_begun_anew(tmp_path: Path, keep: int | None) -> None:
    """Emptied or deleted while photos lie beside it, it is missed, not silently replaced."""
    path = tmp_path / "shop" / "workshop.db"
    with make_shop(tmp_path / "shop") as shop:
        board = add_board(shop)
        add_photo(shop, code=board.code, new=NewPhoto(phone_jpeg(), "x.jpg"))
    whole = path.read_bytes()
    path.unlink()
    if keep is not None:
        path.write_bytes(whole[:keep])
    with pytest.raises(StoreTrouble, match="empty or gone, although photos lie beside it"):
        make_shop(tmp_path / "shop")
    path.write_bytes(whole)  # the backup is restored

    with make_shop(tmp_path / "shop") as shop:
        assert all(line.ok for line in run_checks(shop))


def _told_of_damage(folder: Path) -> bool:
    """Whether opening or checking tells that something is wrong, in our own words."""
    try:
        shop = make_shop(folder)
    except StoreTrouble:
        return True
    with shop:
        return any(not line.ok for line in run_checks(shop))


def test_a_database_with_a_spoilt_page_is_never_taken_for_whole(tmp_path: Path) -> None:
    """Random bytes over any one page: opening or checking says so, and never crashes."""
    whole = _spoil(tmp_path / "shop")
    dice = random.Random(4)
    unseen = []
    for page in dice.sample(range(1, len(whole) // 4096), 12):
        spoilt = bytearray(whole)
        spoilt[page * 4096 : page * 4096 + 4096] = dice.randbytes(4096)
        (tmp_path / "shop" / "workshop.db").write_bytes(spoilt)
        if not _told_of_damage(tmp_path / "shop"):
            unseen.append(page)

    assert unseen == []
