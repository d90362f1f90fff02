"""The live bench on a real terminal: scans as key presses, screens, windows that are closed."""

from __future__ import annotations

import io
import os
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect
import pytest

from salvage.records.actions import ACTIONS
from salvage.work.check import run_checks
from salvage.work.workshop import open_workshop
from tests.desk import Desk, add_board, add_cleared_board

CARD = {action.name: action.code for action in ACTIONS}


@contextmanager
def bench(
    folder: Path, *options: str, rows: int = 24, columns: int = 80
) -> Iterator[pexpect.spawn]:
    """The live bench on a terminal, once its first screen is there."""
    own = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "SALVAGE_SHOP": str(folder / "shop"),
        "SALVAGE_BY": "Maren",
        "LC_ALL": "C.UTF-8",
        "TERM": "xterm-256color",
        "NO_COLOR": "1",
    }
    words = " ".join(("bench", *options))
    child = pexpect.spawn(
        f"{sys.executable} -m salvage {words}",
        cwd=str(folder),
        env=own,
        encoding="utf-8",
        dimensions=(rows, columns),
        timeout=120,
    )
    try:
        child.expect("scan or type: _")
        yield child
    finally:
        child.close(force=True)


def reserved_board(folder: Path) -> tuple[Desk, str]:
    """A board of 120 x 80 mm that may be cut, with a circle reserved on it."""
    desk = Desk(folder)
    board = add_cleared_board(desk)
    desk.do(f"reserve {board} --shape circle --width 30 --at 30,40 --for 'order 12'")
    return desk, board


def cuts(desk: Desk) -> int:
    """Cuts in the record."""
    return len(
        [line for line in desk.do("journal --most 50 --json").value if line["kind"] == "cut.made"]
    )


def test_a_board_is_cut_by_scans_alone(tmp_path: Path) -> None:
    """Card, board, card: the mode stands on the screen, the question, then the piece's code."""
    desk, board = reserved_board(tmp_path)
    with bench(tmp_path) as child:
        child.send(f"{CARD['cut']}\r")
        child.expect("C U T")
        child.send(f"]C1{board.lower()}\r\n")
        child.expect(r"YES OR NO\? cut circle at 30 mm, 40 mm")
        child.send(f"{CARD['confirm']}\t")
        child.expect("DONE: P[A-Z0-9]+ circle cut from")
        child.send("q\r")
        child.expect("1 done and in the record")
        child.expect(pexpect.EOF)

    assert cuts(desk) == 1


def test_a_slow_scanner_and_a_missing_enter(tmp_path: Path) -> None:
    """A code in two halves is one code; one without its Enter is told after two seconds."""
    desk, board = reserved_board(tmp_path)
    with bench(tmp_path) as child:
        child.send(board[:3])
        time.sleep(0.4)
        child.send(f"{board[3:]}\r")
        child.expect(f"GO {board}")
        child.send(board)
        child.expect("waits for its Enter")
        child.send("\r")
        child.expect(f"GO {board}")
    assert cuts(desk) == 0


def test_what_was_typed_ahead_is_no_yes(tmp_path: Path) -> None:
    """Card, board and Yes in one burst: the question was not seen yet, so it stands."""
    desk, board = reserved_board(tmp_path)
    with bench(tmp_path) as child:
        child.send(f"{CARD['cut']}\r{board}\r{CARD['confirm']}\ry\r")
        child.expect("YES OR NO")
        child.expect("is dropped")
        time.sleep(1.1)  # sooner, it would be the same trigger held too long
        child.send(f"{board}\r")
        child.expect("not done")
        child.send("n\r")
        child.expect("not done")

    assert cuts(desk) == 0


@pytest.mark.parametrize("options", [(), ("--no-bell",)])
def test_a_refusal_rings_unless_it_is_told_not_to(tmp_path: Path, options: tuple[str, ...]) -> None:
    """A refused scan has its own word, and a bell for hands that look at the saw."""
    held = add_board(Desk(tmp_path))
    log = io.StringIO()
    with bench(tmp_path, *options) as child:
        child.logfile_read = log
        child.send(f"c\r{held}\r")
        child.expect("REFUSED: ")
        child.send("q\r")
        child.expect(pexpect.EOF)
    rung = "\a" in log.getvalue()

    assert rung is (not options)


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGHUP, signal.SIGTERM])
def test_a_closed_window_loses_nothing(tmp_path: Path, end: signal.Signals) -> None:
    """What was done is in the record when the window is torn away; the next bench shows it."""
    desk, board = reserved_board(tmp_path)
    with bench(tmp_path) as child:
        child.send(f"c\r{board}\r")
        child.expect("YES OR NO")
        child.send("y\r")
        child.expect("DONE: ")
        child.kill(end)
        child.expect(pexpect.EOF)
    assert cuts(desk) == 1
    with bench(tmp_path) as child:
        assert "open again" in (child.before or "")
        child.send("u\r")
        child.expect("undo: P.*from before this bench was opened")
        child.send("y\r")
        child.expect("DONE: undone: cut piece")
    with open_workshop(tmp_path / "shop") as shop:
        assert all(check.ok for check in run_checks(shop))


def test_a_question_is_lost_with_the_window_and_nothing_else(tmp_path: Path) -> None:
    """A window closed at a question has cut nothing."""
    desk, board = reserved_board(tmp_path)
    with bench(tmp_path) as child:
        child.send(f"c\r{board}\r")
        child.expect("YES OR NO")
        child.kill(signal.SIGKILL)
        child.expect(pexpect.EOF)

    assert cuts(desk) == 0


def test_no_question_is_answered_before_it_is_asked(tmp_path: Path) -> None:
    """A yes that was typed before the question of any command stood there is dropped."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    child = pexpect.spawn(
        f"{sys.executable} -m salvage undo",
        env={"PATH": os.environ["PATH"], "SALVAGE_SHOP": str(tmp_path / "shop"), "NO_COLOR": "1"},
        encoding="utf-8",
        timeout=120,
    )
    try:
        child.sendline("y")
        child.expect(r"\[y/N\]: ")
        child.sendline("")
        child.expect("nothing was changed")
    finally:
        child.close(force=True)

    assert desk.do(f"board show {code} --json").value["place"] == "shelf 9"
