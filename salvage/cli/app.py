"""The command line's entry: ``salvage``."""

from __future__ import annotations

import sys
from contextlib import redirect_stderr, redirect_stdout
from typing import TYPE_CHECKING

from salvage.cli.failures import MISUSED, run_guarded
from salvage.cli.look_up import run_look_up
from salvage.cli.session import Session
from salvage.cli.world import World, system_world

if TYPE_CHECKING:
    from collections.abc import Sequence


def run(words: Sequence[str], world: World) -> int:
    """
    Run one command line and give its exit code.

    Args:
        words: Without the program's name.
        world: The outside.
    """
    session = Session(world, lambda more, folder: run(more, world.in_folder(folder)))

    def call() -> None:
        if run_look_up(words, session):
            return
        from salvage.cli.root import run_parsed

        run_parsed(words, session)

    # Help and completions are written by the library, which knows only the process's own streams.
    with redirect_stdout(world.stdout), redirect_stderr(world.stderr):
        return run_guarded(call, world)


def main(argv: Sequence[str] | None = None, world: World | None = None) -> None:
    """
    Run the command line and leave with its exit code.

    Args:
        argv: Words after the program's name; those of this process when None.
        world: The outside; this process's own when None.

    Raises:
        SystemExit: Always, with 0 done, 1 refused, 2 misused, 70 a bug, 130 interrupted.
    """
    own = world or system_world()
    words = list(sys.argv[1:] if argv is None else argv)
    if any("\udc80" <= character <= "\udcff" for word in words for character in word):
        own.stderr.write("salvage: a word of the command line is not UTF-8\n")
        raise SystemExit(MISUSED)
    raise SystemExit(run(words, own))
