"""The questions, asked on a real terminal."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect

from tests.desk import Desk, add_board, add_cleared_board


@contextmanager
def terminal(folder: Path, line: str, **environment: str) -> Iterator[pexpect.spawn]:
    """The program on a terminal of 100 by 40."""
    own = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "SALVAGE_SHOP": str(folder / "shop"),
        "LC_ALL": "C.UTF-8",
        "TERM": "xterm-256color",
    }
    child = pexpect.spawn(
        f"{sys.executable} -m salvage {line}",
        cwd=str(folder),
        env=own | environment,
        encoding="utf-8",
        dimensions=(40, 100),
        timeout=120,  # a busy machine is slow to start a program
    )
    try:
        yield child
    finally:
        child.close(force=True)


def end(child: pexpect.spawn) -> int:
    """Wait for the end and give the exit code."""
    child.expect(pexpect.EOF)
    child.close()
    assert isinstance(child.exitstatus, int)
    return child.exitstatus


def test_a_delivery_is_logged_at_the_door(tmp_path: Path) -> None:
    """Eight questions with their defaults; a slip is told in a line and asked again."""
    with terminal(tmp_path, "dropoff add") as child:
        for question, answer in (
            ("Who brought it: ", "Skerry Bay Radio"),
            ("What arrived: ", "transmitter cards"),
            ("How many boards.*: ", "several"),
            ("'several' is not a count.*How many boards.*: ", "3"),
            ("Weight.*: ", "900g"),
            (r"hold data.*nobody looked\): ", "none found"),
            (r"When \[today\]: ", ""),
            (r"Kind of source.*\[other\]: ", "public"),
            (r"May cards name.*\[anonymous\]: ", "named"),
        ):
            child.expect(f"(?s){question}")
            child.sendline(answer)
        child.expect("drop-off logged: transmitter cards, 3 boards, 900 g")

        assert end(child) == 0


def test_ctrl_c_ends_with_130(tmp_path: Path) -> None:
    """An interrupt at a question leaves one line and the usual exit code."""
    with terminal(tmp_path, "dropoff add") as child:
        child.expect("Who brought it: ")
        child.sendintr()
        child.expect("salvage: interrupted")

        assert end(child) == 130
    assert Desk(tmp_path).do("dropoff list --json").value == []


def test_a_walk_through_the_hazards(tmp_path: Path) -> None:
    """Each open hazard is explained, then asked for; Ctrl-D at the first one writes nothing."""
    code = add_board(Desk(tmp_path))
    with terminal(tmp_path, f"board clear {code} --walk") as child:
        child.expect("1 of [0-9]+: ")
        child.expect("look for:")
        child.expect(r"Found .*\[skip\]: ")
        child.sendline("absent")
        child.expect("How did you look: ")
        child.sendeof()

        assert end(child) == 130
    (checklist,) = Desk(tmp_path).do(f"board clear {code} --json").value
    assert {check["finding"] for check in checklist["checks"]} == {"not checked"}


def test_a_walk_that_is_stopped_keeps_its_answers(tmp_path: Path) -> None:
    """Called to the door after two hazards, the maker need not look for those two again."""
    code = add_board(Desk(tmp_path))
    with terminal(tmp_path, f"board clear {code} --walk") as child:
        for answer in ("absent", "cannot tell"):
            child.expect(r"Found .*\[skip\]: ")
            child.sendline(answer)
            child.expect("How did you look: ")
            child.sendline("lamp")
        child.expect(r"Found .*\[skip\]: ")
        child.sendintr()
        child.expect("stopped; 2 answers kept")
        child.expect("still held: ")

        assert end(child) == 130
    (checklist,) = Desk(tmp_path).do(f"board clear {code} --json").value
    findings = [check["finding"] for check in checklist["checks"]]
    assert (findings.count("absent"), findings.count("cannot tell")) == (1, 1)


def test_a_scanner_at_the_bench(tmp_path: Path) -> None:
    """A keyboard scanner types a code and return; the verdict stands in colour at once."""
    code = add_cleared_board(Desk(tmp_path))
    with terminal(tmp_path, "scan") as child:
        child.expect("scan or type a code")
        child.sendline(code)
        child.expect_exact(f"\x1b[1;32m GO \x1b[0m \x1b[1m{code}\x1b[0m")
        child.sendline("nonsense")
        child.expect("is not one of our codes")
        child.sendeof()

        assert end(child) == 1


def test_undo_waits_for_a_yes(tmp_path: Path) -> None:
    """What is taken back is shown first; a return alone means no."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    with terminal(tmp_path, "undo", NO_COLOR="1") as child:
        child.expect("moved to shelf 9")
        child.expect(rf"Undo 'move board' \({code}\)\? \[y/N\]: ")
        child.sendline("")
        child.expect("nothing was changed")

        assert end(child) == 1
    assert desk.do(f"board show {code} --json").value["place"] == "shelf 9"
