"""A desk with a command line on it: run a line in this process, and read what it tells."""

from __future__ import annotations

import io
import json
import shlex
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from salvage.cli.app import main
from salvage.cli.world import World
from salvage.store.keeper import Computer
from tests.bench import SteppingClock, seeded_entropy


@dataclass(frozen=True)
class Told:
    """
    What a command line told.

    Args:
        code: Exit code.
        out: Standard output.
        err: Standard error.
    """

    code: int
    out: str
    err: str

    @property
    def value(self) -> Any:
        """Standard output as JSON, whatever it is."""
        return json.loads(self.out)

    @property
    def first(self) -> str:
        """First cell of the first line: a code, in the plain form."""
        return self.out.splitlines()[0].split("\t")[0]


class Desk:
    """
    Runs command lines on one workshop.

    Args:
        folder: Holds the workshop's folder ``shop`` and is the current folder.
        clock: Gives the instant now.
        environment: Variables besides the workshop's own.
        terminal: Whether somebody sits there.
        width: Columns.
        height: Lines; 0 where there is no terminal.
        computer: The computer that it stands on, where that matters.
    """

    def __init__(
        self,
        folder: Path,
        *,
        clock: Callable[[], datetime] | None = None,
        environment: Mapping[str, str] | None = None,
        terminal: bool = False,
        width: int = 100,
        height: int = 0,
        computer: Computer | None = None,
    ) -> None:
        self.folder = folder
        self.shop = folder / "shop"
        self.clock = clock or SteppingClock()
        self.entropy = seeded_entropy()
        own = {"SALVAGE_SHOP": str(self.shop), "SALVAGE_BY": "Maren"}
        self.environment = own | dict(environment or {})
        self.terminal = terminal
        self.width = width
        self.height = height
        self.computer = computer

    def run(self, line: str, *, typed: str = "") -> Told:
        """
        Run one command line.

        Args:
            line: Without the program's name, quoted as in a shell.
            typed: What comes in on standard input.
        """
        out, err = io.StringIO(), io.StringIO()
        world = World(
            clock=self.clock,
            entropy=self.entropy,
            environment=self.environment,
            folder=self.folder,
            stdin=io.StringIO(typed),
            stdout=out,
            stderr=err,
            stdin_is_terminal=self.terminal,
            stdout_is_terminal=self.terminal,
            stderr_is_terminal=self.terminal,
            width=self.width,
            height=self.height,
            computer=lambda: self.computer,
        )
        with pytest.raises(SystemExit) as left:
            main(shlex.split(line), world)
        code = left.value.code
        assert isinstance(code, int)
        return Told(code, out.getvalue(), err.getvalue())

    def do(self, line: str, *, typed: str = "") -> Told:
        """Run one command line that must succeed."""
        told = self.run(line, typed=typed)
        assert told.code == 0, told.out + told.err
        return told

    def code(self, line: str) -> str:
        """The code that a change gives in its plain form."""
        return self.do(f"{line} --plain").first


def add_drop_off(desk: Desk) -> str:
    """Log the planetarium's delivery and give its code."""
    return desk.code(
        'dropoff add --donor "Kelpie Point Planetarium" --contents "dome boards" --boards 14'
        ' --weight 6.2kg --source "public body" --naming described'
        ' --described-as "a planetarium" --data "hard disk:2" --date 2026-05-02'
    )


def add_board(desk: Desk, *, more: str = "") -> str:
    """Record a held board of 120 x 80 mm and give its code."""
    return desk.code(f"board add {add_drop_off(desk)} --type expansion-card --size 120x80 {more}")


def add_cleared_board(desk: Desk) -> str:
    """Record a board of 120 x 80 mm that may be cut, and give its code."""
    code = add_board(desk)
    desk.do(f"board clear {code} --absent all-open --how 'lamp and mirror'")
    return code


def cut_piece(desk: Desk) -> str:
    """Cut a circle of 30 mm out of a cleared board and give the piece's code."""
    return desk.code(f"cut {add_cleared_board(desk)} --shape circle --width 30 --at 30,40")
