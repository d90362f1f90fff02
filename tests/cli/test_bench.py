"""The bench line by line, and its screens as text that must not change by accident."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from salvage.cli.bench_screen import Screen, draw_screen
from salvage.work.bench_sitting import Sitting
from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock
from tests.desk import Desk, add_board, add_cleared_board, cut_piece

GOLDEN = Path(__file__).parents[1] / "golden" / "bench"


def reserved(desk: Desk) -> str:
    """A board that may be cut, with a circle reserved on it."""
    board = add_cleared_board(desk)
    desk.do(f"reserve {board} --shape circle --width 30 --at 30,40 --for 'order 12'")
    return board


def test_scans_on_the_command_line_are_played(tmp_path: Path) -> None:
    """Scripts and tests say at once what a scanner would say; --yes answers the questions."""
    desk = Desk(tmp_path)
    board = reserved(desk)
    told = desk.do(f"bench c {board} --yes")

    assert "yes or no? cut circle at 30 mm, 40 mm" in told.out
    assert f"circle cut from {board}" in told.out


def test_a_question_that_nobody_answers_is_a_refusal(tmp_path: Path) -> None:
    """Without a yes nothing is cut, and the exit code says so."""
    desk = Desk(tmp_path)
    board = reserved(desk)
    told = desk.run(f"bench c {board}")

    assert told.code == 1
    assert "nobody answered" in told.err
    assert desk.do(f"board show {board} --json").value["cut_count"] == 0


def test_a_pipe_answers_line_by_line(tmp_path: Path) -> None:
    """One JSON object for each answer, with mode and question."""
    desk = Desk(tmp_path)
    board = reserved(desk)
    told = desk.run("bench --json", typed=f"c\n{board}\nn\njunk\nq\nc\n")
    answers = [json.loads(line) for line in told.out.splitlines()]

    assert [answer["kind"] for answer in answers] == ["told", "asked", "told", "refused", "told"]
    assert answers[1]["mode"] == "cut"
    assert answers[1]["question"] == [f"cut circle at 30 mm, 40 mm, front, for order 12 on {board}"]
    assert answers[1]["code"] == board
    assert told.code == 1


def test_a_board_is_shown_with_its_map(tmp_path: Path) -> None:
    """What 'scan' shows, the bench shows: verdict, reasons, map."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    told = desk.do(f"bench {board}")

    assert f"NO-GO: {board}" in told.out
    assert "usable" in told.out
    assert "HEPA" in told.err


def test_a_live_bench_takes_no_yes(tmp_path: Path) -> None:
    """A bench that cuts whatever is scanned past it is refused."""
    desk = Desk(tmp_path, terminal=True)
    add_board(desk)
    told = desk.run("bench --yes")

    assert told.code == 2
    assert "a live bench asks" in told.err


def test_a_dry_run_changes_nothing(tmp_path: Path) -> None:
    """Practice is told to be practice."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    told = desk.do(f"bench n {piece} --dry-run")

    assert "nothing was recorded" in told.err
    assert desk.do(f"piece show {piece} --json").value["stage"] == "rough"


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 40)])
def test_the_screens_are_as_they_were_looked_at(tmp_path: Path, width: int, height: int) -> None:
    """
    Each screen of a short sitting, row by row.

    Looked at on a terminal and then kept; SALVAGE_GOLDEN=1 writes them anew, for review as code.
    """
    desk = Desk(tmp_path)
    board = reserved(desk)
    held = desk.code(f"board add {desk.do('dropoff list --plain').first} --type other --size 90x60")
    pages = []
    with open_workshop(tmp_path / "shop", clock=SteppingClock(), by="Maren") as shop:
        sitting, seen = Sitting(shop), None
        for line in (held, board, "c", held, board, "y", "junk", "?", "m", "shelf 2", board, "u"):
            answers = sitting.play(line)
            seen = answers[-1].seen or seen
            screen = Screen(sitting.bench, answers, seen, "BC0", "Maren", ["wear a mask"])
            rows = draw_screen(screen, width=width, height=height)
            assert len(rows) == height
            assert max(len(row.text) for row in rows) <= width
            pages.append("\n".join([f"--- {line}", *(row.text.rstrip() for row in rows)]))
    drawn = "\n".join(pages) + "\n"
    path = GOLDEN / f"{width}x{height}.txt"
    if os.environ.get("SALVAGE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(drawn, encoding="utf-8")

    assert drawn == path.read_text(encoding="utf-8")
