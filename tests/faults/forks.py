"""
Processes that are forked from this one, warmed up as it is, and tell line by line what they do.

They cost two milliseconds instead of a new interpreter's hundred. The process that forks must have
one thread only and no database open: tests start a command that forks, and never fork themselves.
"""

from __future__ import annotations

import os
import select
import signal
import time
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress

Tell = Callable[..., None]
"""Tells one line of words, each word told as text without spaces."""

Line = tuple[str, ...]


class Forked:
    """
    One process that was forked, and all that it has told.

    Args:
        work: Does the work in the new process, and is handed the means to tell.
    """

    def __init__(self, work: Callable[[Tell], None]) -> None:
        self.ear, mouth = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            os.close(self.ear)
            _run(work, mouth)
        os.close(mouth)  # or its end would not be heard
        self.told: list[Line] = []
        self.code: int | None = None
        self._rest = b""

    def kill(self) -> None:
        """End it as a power cut would, at once, and hear what it had told before."""
        if self.code is None:
            os.kill(self.pid, signal.SIGKILL)
        self.hear_out()

    def stop(self) -> None:
        """Let it stand still, wherever it is; it is standing when this returns, or has ended."""
        if self.code is None:
            os.kill(self.pid, signal.SIGSTOP)
            _, status = os.waitpid(self.pid, os.WUNTRACED)
            if not os.WIFSTOPPED(status):
                self.code = os.waitstatus_to_exitcode(status)
        self.hear()

    def go_on(self) -> None:
        """Let it go on."""
        if self.code is None:
            os.kill(self.pid, signal.SIGCONT)

    def hear(self, *, seconds: float = 0) -> list[Line]:
        """The lines that were told since, waiting for the first of them at most so long."""
        before = len(self.told)
        while select.select([self.ear], [], [], seconds)[0] and self.take():
            seconds = 0
        return self.told[before:]

    def wait_for(self, word: str, *, seconds: float) -> bool:
        """Hear until a line begins with this word; False where none does within the time."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0 and self.code is None:
            if any(line[0] == word for line in self.hear(seconds=left)):
                return True
        return False

    def hear_out(self) -> None:
        """Everything until its end, and the code it ended with; below zero is a signal."""
        while self.take():
            pass
        os.close(self.ear)
        if self.code is None:
            _, status = os.waitpid(self.pid, 0)
            self.code = os.waitstatus_to_exitcode(status)

    def take(self) -> bool:
        """Hear what is there, waiting for something; False at its end."""
        data = os.read(self.ear, 65_536)
        *whole, self._rest = (self._rest + data).split(b"\n")
        self.told += [tuple(line.decode().split(" ")) for line in whole]
        return bool(data)


def _run(work: Callable[[Tell], None], mouth: int) -> None:
    """The whole life of the new process."""

    def tell(*words: object) -> None:
        # One write of less than PIPE_BUF: told wholly or not at all.
        os.write(mouth, " ".join(map(str, words)).encode() + b"\n")

    code = 70
    try:
        work(tell)
        code = 0
    except BaseException:
        traceback.print_exc()
        raise
    finally:
        os._exit(code)  # nothing of the process that forked may run here


def hear_all(children: Sequence[Forked]) -> None:
    """Hear several to their ends at once, so that none waits for a listener."""
    open_ = {child.ear: child for child in children}
    while open_:
        for ear in select.select(list(open_), [], [])[0]:
            child = open_[ear]
            if not child.take():
                del open_[ear]
                child.hear_out()


def end_all(children: Sequence[Forked]) -> None:
    """Kill whichever still lives."""
    for child in children:
        if child.code is None:
            with suppress(ProcessLookupError):
                child.kill()
