"""Key presses read straight from the terminal, as fast scanners and slow fingers send them."""

from __future__ import annotations

import codecs
import os
from types import TracebackType
from typing import Any, TextIO

from salvage.errors import MissingTool

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
