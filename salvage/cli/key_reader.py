"""Key presses read straight from the terminal, as fast scanners and slow fingers send them."""

from __future__ import annotations

import codecs
import os
from collections.abc import Iterator
from types import TracebackType
from typing import Any, TextIO

from salvage.cli.session import Session
from salvage.cli.show import clean, note
from salvage.errors import MissingTool
from salvage.work.clock import stopwatch

_MOST_BYTES = 4096


class KeyReader:
    """
    Key presses without echo and without a line editor in between, which would swallow some.

    A line editor takes the control characters of scanners for commands. Ctrl-C still interrupts.

    Args:
        stream: Standard input, which must be a terminal.
    """

    def __init__(self, stream: TextIO) -> None:
        self._fd = stream.fileno()
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._before: list[Any] = []  # as the system gives it, flags and characters

    def __enter__(self) -> KeyReader:
        try:
            import termios
        except ImportError as error:
            raise MissingTool(
                "this system's terminal gives no single key presses",
                hint="scan without the live screen: salvage bench --no-input",
            ) from error
        self._before = termios.tcgetattr(self._fd)
        now = termios.tcgetattr(self._fd)
        now[3] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
        termios.tcsetattr(self._fd, termios.TCSADRAIN, now)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        import contextlib
        import termios

        with contextlib.suppress(termios.error):  # the terminal may be gone
            termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)

    def read(self, *, within_s: float) -> str | None:
        """
        What was pressed, nothing when nothing was within the time, None when the terminal is gone.

        Args:
            within_s: How long to wait.
        """
        import select

        if not select.select([self._fd], [], [], within_s)[0]:
            return ""
        try:
            data = os.read(self._fd, _MOST_BYTES)
        except OSError:  # the window was closed
            return None
        return self._decoder.decode(data) if data else None

    def forget(self) -> None:
        """Drop what was pressed and not read yet."""
        import termios

        termios.tcflush(self._fd, termios.TCIFLUSH)
        self._decoder.reset()


def scanned_lines(session: Session) -> Iterator[str]:
    """
    Lines as a scanner or fingers send them, until the input ends; a held trigger counts once.

    On a terminal the keys are read one by one, so that a Tab ends a scan as well as an Enter, and
    text that waits for its Enter is told; from a pipe lines are taken as they are.

    Args:
        session: The run.
    """
    from salvage.codes.key_presses import KeyPresses, Repeats

    if not session.may_ask:
        yield from (line for line in iter(session.world.stdin.readline, "") if line.strip())
        return
    keys, repeats = KeyPresses(), Repeats()
    with KeyReader(session.world.stdin) as reader:
        while not keys.has_ended:
            text = reader.read(within_s=_TICK_S)
            if text is None:
                return
            for line in keys.feed(text, at_s=stopwatch()):
                if repeats.is_repeat(line, at_s=stopwatch()):
                    note(session, f"{clean(line)}  came twice within a second and counts once")
                else:
                    yield line
            if keys.is_stuck(at_s=stopwatch()):
                note(session, f"'{clean(keys.pending)}' waits for its Enter; {NO_ENTER}")


NO_ENTER = "press Enter; if a scanner sent it, set the scanner to end each code with Enter"
"""What to do about a scan that does not end."""

_TICK_S = 0.25


def forget_typed_ahead(stream: TextIO) -> None:
    """Drop what was typed before a question stood on the screen; a pipe keeps its lines."""
    try:
        import termios
    except ImportError:
        return
    import contextlib

    with contextlib.suppress(OSError, termios.error):  # it may be no terminal after all
        termios.tcflush(stream.fileno(), termios.TCIFLUSH)
