"""Errors of the command line: one clear line, an exit code, and never a traceback unasked."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any

from salvage.errors import ManyMistakes, SalvageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from salvage.cli.world import World

DONE, REFUSED, MISUSED, BUG, INTERRUPTED = 0, 1, 2, 70, 130
"""Exit codes: 70 is EX_SOFTWARE of sysexits.h, 130 is 128 and the signal's number."""


class Misuse(Exception):
    """
    Something is missing from the command line, or does not belong there.

    Args:
        message: What, and the mend.
        ctx: The parser's context, from which the command's name is taken.
    """

    def __init__(self, message: str, ctx: Any = None) -> None:
        super().__init__(message)
        self.message = message
        self.ctx = ctx


def run_guarded(call: Callable[[], object], world: World) -> int:
    """
    Run *call* and give the exit code; whatever it raises becomes one clear line.

    Args:
        call: The command.
        world: Where messages go.
    """
    try:
        code = _run(call, world)
        world.stdout.flush()
        world.stderr.flush()
        return code
    except BrokenPipeError:  # the reader, such as head, has seen enough
        _drop_output(world)
        return DONE


def _run(call: Callable[[], object], world: World) -> int:
    try:
        call()
        return DONE
    except (KeyboardInterrupt, EOFError):
        return _tell_interruption(world)
    except SalvageError as error:
        _say(world, describe(error))
        return REFUSED
    except BrokenPipeError:
        raise
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _say(world, f"salvage: {where}{error.strerror or error}")
        return REFUSED
    except Exception as error:  # noqa: BLE001 - the one place where a bug is caught
        return _tell_other(error, world)


def _tell_other(error: Exception, world: World) -> int:
    """Tell a misuse, what the parser's library raises, or a bug."""
    if isinstance(error, Misuse):
        return _tell_misuse(error, world)
    if "sqlite3" in sys.modules:  # help does without it
        import sqlite3

        if isinstance(error, sqlite3.Error):
            told = " ".join(str(error).split())
            mend = "run 'salvage check'; look at 'salvage journal' before you do it again"
            _say(world, f"salvage: the database says: {told}\n  {mend}")
            return REFUSED
    if "typer" in sys.modules:  # else nothing of its kind can have been raised
        import typer

        # The library keeps its own error tree under a private name; its two bases are reached
        # through the one leaf that it offers.
        usage_error, click_error = typer.BadParameter.__mro__[1:3]
        if isinstance(error, typer.Exit):
            return error.exit_code
        if isinstance(error, typer.Abort):
            return _tell_interruption(world)
        if isinstance(error, click_error):
            code = _tell_misuse(error, world)
            return code if isinstance(error, usage_error) else REFUSED
    return _tell_bug(error, world)


def _tell_interruption(world: World) -> int:
    _say(world, "\nsalvage: interrupted")
    return INTERRUPTED


def describe(error: SalvageError) -> str:
    """
    What a user reads of an error: what is wrong, and below it the mend.

    >>> from salvage.errors import BadValue
    >>> print(describe(BadValue("'x' is not a date", hint="write 2026-05-04", field="--date")))
    salvage: --date: 'x' is not a date
      write 2026-05-04
    """
    if isinstance(error, ManyMistakes):
        if len(error.mistakes) == 1 and not error.hint:
            return describe(error.mistakes[0])
        return f"salvage: {error}"
    where = f"{error.field}: " if error.field else ""
    mend = f"\n  {error.hint}" if error.hint else ""
    return f"salvage: {where}{error.message}{mend}"


def _tell_misuse(error: Exception, world: World) -> int:
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "salvage"
    message = str(getattr(error, "message", error)) or str(error)
    told = error.format_message() if hasattr(error, "format_message") else message
    _say(world, f"salvage: {_in_our_words(error, told)}\n  see '{path} --help'")
    return MISUSED


def _in_our_words(error: Exception, told: str) -> str:
    """What the library says of a misspelt option or command, with the nearest one alone."""
    option = getattr(error, "option_name", "")
    known = getattr(error, "possibilities", None)
    if option and type(error).__name__ == "NoSuchOption":
        import difflib

        near = difflib.get_close_matches(option, known or (), n=1, cutoff=0.5)
        return f"there is no option '{option}'{f'; nearest: {near[0]}' if near else ''}"
    return told


def _tell_bug(error: Exception, world: World) -> int:
    if world.variable("SALVAGE_TRACE"):
        import traceback

        _say(world, "".join(traceback.format_exception(error)).rstrip())
    what = " ".join(f"{type(error).__name__}: {error}".split())[:300]
    _say(
        world,
        f"salvage: this is a bug, not your mistake ({what})\n"
        "  set SALVAGE_TRACE=1 and run it again to see where, and report it",
    )
    return BUG


def _say(world: World, text: str) -> None:
    world.stdout.flush()
    told = _printable(text)
    if world.stderr_is_terminal and max(map(len, told.split("\n"))) > world.width:
        told = "\n".join(_broken(line, world.width) for line in told.split("\n"))
    world.stderr.write(told + "\n")


def _broken(line: str, width: int) -> str:
    """A line broken between words, so that no terminal breaks one in the middle."""
    import textwrap

    lead = " " * (len(line) - len(line.lstrip()))
    lines = textwrap.wrap(
        line.strip(),
        max(40, width),
        initial_indent=lead,
        subsequent_indent=f"{lead}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines)


def _printable(text: str) -> str:
    """Text in which nothing but line ends steers the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "�" for c in text)


def _drop_output(world: World) -> None:
    """Let the interpreter's last flush go nowhere instead of complaining."""
    if world.stdout is sys.stdout:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (sys.stdout, sys.stderr):
            os.dup2(nowhere, stream.fileno())
