"""What the command line takes from outside: streams, environment, time, randomness, folders."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from salvage.frozen import dataclass
from salvage.work.clock import system_clock, system_entropy

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

    from salvage.store.keeper import Computer

MOST_WIDTH = 200
"""Columns used of a very wide terminal; longer lines are hard to read."""

_PIPE_WIDTH = 100


def _no_computer() -> None:
    """Nothing is remembered: tests begin with that."""


@dataclass(frozen=True)
class World:
    """
    Everything that a command may ask of the computer; tests hand in their own.

    Args:
        clock: Gives the instant now, in UTC.
        entropy: Gives random bytes.
        environment: Environment variables.
        folder: Where relative file names start.
        stdin, stdout, stderr: Streams of text.
        stdin_is_terminal: Whether somebody can be asked.
        stdout_is_terminal: Whether somebody reads the answer at once.
        stderr_is_terminal: Whether somebody reads the messages at once.
        width: Columns of the terminal.
        height: Lines of the terminal; 0 where there is none.
        computer: Gives this computer, which remembers the workshops that it writes; or None.
    """

    clock: Callable[[], datetime]
    entropy: Callable[[int], bytes]
    environment: Mapping[str, str]
    folder: Path
    stdin: TextIO
    stdout: TextIO
    stderr: TextIO
    stdin_is_terminal: bool = False
    stdout_is_terminal: bool = False
    stderr_is_terminal: bool = False
    width: int = _PIPE_WIDTH
    height: int = 0
    computer: Callable[[], Computer | None] = _no_computer

    def variable(self, name: str) -> str:
        """An environment variable; empty where it is not set."""
        return self.environment.get(name, "")

    def in_folder(self, folder: Path) -> World:
        """The same world, in which relative file names start in another folder."""
        from dataclasses import replace

        return replace(self, folder=folder)

    @property
    def has_blocks(self) -> bool:
        """Whether standard output can show block characters."""
        try:
            "█▀·²".encode(self.stdout.encoding or "utf-8")
        except UnicodeEncodeError:
            return False
        return True


def system_world() -> World:
    """The world as this process finds it."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:  # a character that the terminal lacks becomes a question mark
            reconfigure(errors="replace")
    width, height = _terminal_size()
    return World(
        clock=system_clock,
        entropy=system_entropy,
        environment=os.environ,
        folder=Path.cwd(),
        stdin=sys.stdin,
        stdout=sys.stdout,
        stderr=sys.stderr,
        stdin_is_terminal=sys.stdin.isatty(),
        stdout_is_terminal=sys.stdout.isatty(),
        stderr_is_terminal=sys.stderr.isatty(),
        width=min(MOST_WIDTH, width),
        height=height if sys.stdout.isatty() else 0,
        computer=_this_computer,
    )


def _this_computer() -> Computer:
    """This computer; its user's state lies where the XDG base directories say, or the system."""
    from salvage.store.keeper import Computer

    named = os.environ.get("SALVAGE_STATE", "")
    if named:
        state = Path(named).expanduser().absolute()
    elif sys.platform.startswith("linux"):  # as platformdirs says, which takes longer to load
        own = os.environ.get("XDG_STATE_HOME", "")
        state = (Path(own) if own else Path.home() / ".local" / "state") / "salvage"
    else:
        from platformdirs import user_state_path

        state = user_state_path("salvage", appauthor=False)
    name = os.uname().nodename if hasattr(os, "uname") else os.environ.get("COMPUTERNAME", "")
    return Computer(state, name)


def _terminal_size() -> tuple[int, int]:
    """Columns and lines, as shutil finds them, whose module loads three packers beside."""
    given = [os.environ.get(name, "") for name in ("COLUMNS", "LINES")]
    columns, lines = (int(text) if text.isdecimal() else 0 for text in given)
    if not (columns and lines):
        try:
            shown = os.get_terminal_size(sys.__stdout__.fileno() if sys.__stdout__ else -1)
        except (AttributeError, ValueError, OSError):  # no terminal, or a stream without a number
            shown = os.terminal_size((_PIPE_WIDTH, 24))
        columns, lines = columns or shown.columns, lines or shown.lines
    return columns or _PIPE_WIDTH, lines or 24
