"""A program that stands still while it writes: others read on, and are told when they write."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.error
from collections.abc import Iterator
from pathlib import Path

import pytest

from salvage.ids import Code
from salvage.work.workshop import open_workshop
from tests.crowd import Visitor
from tests.faults.children import Child, children_of, faults_of
from tests.faults.writer import stand_still_inside
from tests.screen import running_page, seed

PATIENCE = {"SALVAGE_BUSY_MS": "300"}


class Held:
    """
    A workshop in which a writer stands still.

    Args:
        folder: The workshop's.
        board: One of its boards.
        writer: Who stands still.
    """

    def __init__(self, folder: Path, board: Code, writer: Child) -> None:
        self.folder, self.board, self.writer = folder, board, writer

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A command line of its own."""
        command = [sys.executable, "-m", "salvage", "--shop", str(self.folder), *words]
        return subprocess.run(
            command, capture_output=True, text=True, check=False, env={**os.environ, **PATIENCE}
        )


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Held]:
    """A small workshop with a writer that stands still inside its transaction."""
    folder = tmp_path_factory.mktemp("held") / "shop"
    cleared, _, _ = seed(folder)
    with children_of(Child(stand_still_inside, folder, 1)) as (writer,):
        assert writer.listen(least=1)
        yield Held(folder, cleared, writer)


def test_who_reads_is_not_kept_waiting(held: Held) -> None:
    """Boards are listed and copied while somebody else stands in the way of writing."""
    listed = held.run("board", "list", "--plain")
    copied = held.run("backup", str(held.folder.with_name("stick")))

    assert (listed.returncode, copied.returncode) == (0, 0), listed.stderr + copied.stderr
    assert held.board in listed.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("dropoff", "add", "--donor", "Ilva", "--contents", "a box"),
        ("board", "move", "{board}", "shelf 1"),
        ("undo", "--yes"),
        ("rebuild",),
    ],
)
def test_who_writes_is_told_in_one_line(held: Held, words: tuple[str, ...]) -> None:
    """After its patience the command says who is in the way and the mend, and ends with 1."""
    ran = held.run(*(word.format(board=held.board) for word in words))
    line, mend = ran.stderr.splitlines()

    assert ran.returncode == 1
    assert ran.stdout == ""
    assert line.startswith("salvage: ")
    assert line.endswith("another program is writing to it and has not finished")
    assert mend.strip().startswith("let it finish or close it, then try again")


def test_the_page_tells_it_as_well(held: Held, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page shows what it has, and the form comes back filled in with what is in the way."""
    monkeypatch.setenv(*next(iter(PATIENCE.items())))
    with running_page(held.folder) as told:
        visitor = Visitor(told["address"].partition("/open/")[0], held.folder, "Maren")
        shelf = visitor.get("/")
        with pytest.raises(urllib.error.HTTPError) as refused:
            visitor.post(
                "/dropoff/add",
                {"donor": "Ilva", "contents": "a crate of fans"},
                accept="text/html",
            )
        page = refused.value.read().decode()

    assert held.board in shelf
    assert refused.value.code == 503
    assert "another program is writing to it and has not finished" in page
    assert "let it finish or close it, then try again" in re.sub(r"\s+", " ", page)
    assert "a crate of fans" in page
    assert "Traceback" not in page


def test_it_goes_on_and_nothing_is_lost(held: Held) -> None:
    """Woken, the one in the way finishes; then the others' turn comes."""
    assert held.writer.process.pid is not None
    os.kill(held.writer.process.pid, signal.SIGCONT)
    held.writer.hear_out()
    moved = held.run("board", "move", held.board, "shelf 1")

    assert held.writer.process.exitcode == 0
    assert moved.returncode == 0, moved.stderr
    assert faults_of(held.folder, held.writer.told) == []
    with open_workshop(held.folder) as shop:
        names = [word for (word,) in shop.conn.execute("SELECT contents FROM drop_off")]
    assert "a crate of fans" not in names
