"""Page, command line, folder watcher and a script on one workshop in the same minute."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from salvage.ids import Code
from salvage.store.connection import log_bytes
from salvage.work.check import run_checks
from salvage.work.record import move_board
from salvage.work.workshop import open_workshop
from tests.crowd import Visitor
from tests.faults.deeds import picture
from tests.screen import running_page, seed

EACH = 5
"""How often each browser and the command line move the board, and how many photos come."""

SCRIPTED = 400
"""How often a script moves it meanwhile."""


@contextmanager
def _watching(shop: Path, folder: Path) -> Iterator[None]:
    """The folder watcher as a process of its own."""
    command = [sys.executable, "-m", "salvage", "--shop", str(shop), "watch", str(folder)]
    with subprocess.Popen(
        [*command, "--every", "0.1"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as running:
        try:
            yield
        finally:
            running.send_signal(signal.SIGINT)


def _browse(visitor: Visitor, board: Code, name: str) -> list[str]:
    """Move the board and look at it, again and again; gives where it was put."""
    places = [f"{name} {number}" for number in range(EACH)]
    for place in places:
        visitor.post(f"/board/{board}/move", {"place": place})
        visitor.get(f"/board/{board}")
        visitor.get("/")
    return places


def _type(shop: Path, board: Code) -> list[str]:
    """Move it from the command line, each time in a process of its own."""
    places = [f"desk {number}" for number in range(EACH)]
    for place in places:
        command = [sys.executable, "-m", "salvage", "--shop", str(shop)]
        ran = subprocess.run(
            [*command, "board", "move", board, place], capture_output=True, text=True, check=False
        )
        assert ran.returncode == 0, ran.stderr
    return places


def _script(shop: Path, board: Code) -> tuple[list[str], int]:
    """Move it without a pause; gives where it was put, and the longest that SQLite's log was."""
    longest, places = 0, [f"script {number}" for number in range(SCRIPTED)]
    with open_workshop(shop, by="script") as opened:
        for place in places:
            move_board(opened, board=board, place=place)
            longest = max(longest, log_bytes(opened.path))
    return places, longest


def _drop(folder: Path, board: Code) -> None:
    """Let photos arrive as from a phone, whose names say the board."""
    dice = random.Random(5)
    for number in range(EACH):
        part = folder / f".{number}"
        part.write_bytes(picture(dice))
        part.rename(folder / f"{board} other {number}.png")
        time.sleep(0.2)
    until = time.monotonic() + 60
    while list(folder.glob("*.png")) and time.monotonic() < until:
        time.sleep(0.1)


def test_every_face_at_once_loses_nothing(tmp_path: Path) -> None:
    """Each move of the board is in its history, each photo is filed, and nobody meets a lock."""
    shop, phone = tmp_path / "shop", tmp_path / "phone"
    phone.mkdir()
    board, _, _ = seed(shop)
    with running_page(shop) as told, _watching(shop, phone):
        origin = told["address"].partition("/open/")[0]
        visitors = [Visitor(origin, shop, f"V{number}") for number in range(3)]
        with ThreadPoolExecutor(6) as pool:
            works = [
                pool.submit(_browse, visitor, board, f"page {number}")
                for number, visitor in enumerate(visitors)
            ]
            works.append(pool.submit(_type, shop, board))
            script = pool.submit(_script, shop, board)
            photos = pool.submit(_drop, phone, board)
            places = [place for work in works for place in work.result()]
            scripted, longest_log = script.result()
            photos.result()
    with open_workshop(shop) as opened:
        query = "SELECT json_extract(body, '$.data.place') FROM event WHERE kind = 'board.moved'"
        moved = [place for (place,) in opened.conn.execute(query)]
        where = "SELECT count(*) FROM photo WHERE code = ? AND side = 'other'"
        (filed,) = opened.conn.execute(where, (board,)).fetchone()
        red = [line.name for line in run_checks(opened) if line.faults]

    assert sorted(moved) == sorted([*places, *scripted])
    assert filed == EACH
    assert red == []
    assert longest_log < 16_000_000
