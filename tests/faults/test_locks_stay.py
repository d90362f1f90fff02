"""Nothing in a process lets go of the locks by which others know that it is at work."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from salvage.store.keeper import Computer
from salvage.store.raw import read_raw
from salvage.work.copies import back_up
from salvage.work.devices import write_for_others
from salvage.work.export_all import export_all
from salvage.work.forget import forget_donor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM
from tests.desk import Desk

_COME_AND_GO = """
import sqlite3, sys
conn = sqlite3.connect(sys.argv[1])
print(conn.execute("SELECT count(*) FROM drop_off").fetchone()[0])
conn.close()
"""


def _seen_from_outside(shop: Workshop) -> int:
    """How many deliveries another program finds, which comes and goes again."""
    words = [sys.executable, "-c", _COME_AND_GO, str(shop.path)]
    return int(subprocess.run(words, capture_output=True, check=True, text=True).stdout)


def _log(shop: Workshop) -> None:
    log_drop_off(shop, donor=PLANETARIUM, new=NewDropOff(date(2026, 5, 2), "a box"))


def _forget(shop: Workshop) -> None:
    (donor,) = shop.conn.execute("SELECT code FROM donor").fetchone()
    forget_donor(shop, donor=donor, reason="asked by letter")


def _copy(shop: Workshop) -> None:
    for _ in range(2):
        back_up(shop, folder=shop.folder.with_name("stick"))


def _command(shop: Workshop) -> None:
    computer = Computer(shop.folder.with_name("state"), "bench")
    desk = Desk(shop.folder.parent, computer=computer)
    desk.do("board list")
    desk.do('place add "shelf 1"')
    desk.run("check")


def _look_past(shop: Workshop) -> None:
    assert read_raw(shop.path, 0, 15) == b"SQLite format 3"


def _bundle(shop: Workshop) -> None:
    write_for_others(shop, everything=True)


def _export(shop: Workshop) -> None:
    export_all(shop, folder=shop.folder.with_name("out"))


@pytest.mark.parametrize("deed", [_forget, _copy, _command, _look_past, _bundle, _export])
def test_what_is_written_after_it_is_kept(
    empty_shop: Workshop, deed: Callable[[Workshop], None]
) -> None:
    """Somebody else looks in after such a deed; what is logged then is not lost."""
    _log(empty_shop)
    deed(empty_shop)
    first = _seen_from_outside(empty_shop)
    _log(empty_shop)
    second = _seen_from_outside(empty_shop)

    assert (first, second) == (1, 2)


def test_a_file_is_read_past_sqlite_on_every_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where locks belong to the open file, it is opened and closed like any other."""
    path = tmp_path / "x"
    path.write_bytes(b"0123456789")
    here = [read_raw(path, place, 4) for place in (0, 8, 10)]
    monkeypatch.setattr("os.name", "another")
    there = [read_raw(path, place, 4) for place in (0, 8, 10)]
    monkeypatch.undo()

    assert here == there == [b"0123", b"89", b""]
