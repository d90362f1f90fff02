"""
The second reader: pyzbar in a process of its own, so that its faults cost nothing.

It sees QR codes and Code 128, and finds some dirty or glared ones that the first reader misses. It
needs a system library and can abort on some pictures. It is started when it is first wanted; if it
dies or takes too long it is started again, and after a few such falls it is left alone. Everything
works without it.
"""

from __future__ import annotations

import atexit
import json
import subprocess
import sys
from threading import Lock, Timer
from typing import TYPE_CHECKING, Any

from salvage.codes.reading import Reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    import numpy.typing as npt

NAME = "pyzbar"
# -P: a folder named salvage where the maker stands must not be taken for ours.
_PROGRAM = (sys.executable, "-P", "-m", "salvage.codes.zbar_child")
_MOST_FALLS = 3
_PATIENCE_S = 20.0  # a 12-megapixel photo takes a quarter of a second; a busy machine much longer


class SecondReader:
    """
    A child process that reads pictures with zbar.

    Args:
        program: What to start.
        patience_s: Longest wait for one answer, in seconds; then the child is stopped.
    """

    def __init__(
        self, program: Sequence[str] = _PROGRAM, *, patience_s: float = _PATIENCE_S
    ) -> None:
        self._program = tuple(program)
        self._patience_s = patience_s
        self._child: subprocess.Popen[bytes] | None = None
        self._lock = Lock()
        self._falls = 0
        self.spent_ms = 0.0
        """Processor time that the child spent reading."""

    @property
    def runs(self) -> bool:
        """Whether it is there; starts it."""
        with self._lock:
            return self._ready() is not None

    def see(self, pixels: npt.NDArray[np.uint8], *, step: str = "as it is") -> list[Reading]:
        """
        What zbar reads in a gray picture; nothing where it is missing or fell.

        Args:
            pixels: Rows by columns.
            step: Name of the step, kept in the readings.
        """
        with self._lock:
            answer = self._ask(pixels)
        return [
            Reading(
                found["text"],
                found["symbology"],
                tuple((x, y) for x, y in found["corners"]),
                NAME,
                step,
            )
            for found in answer
            if found["text"]
        ]

    def close(self) -> None:
        """Stop the child."""
        child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.communicate()

    def _ready(self) -> subprocess.Popen[bytes] | None:
        if self._child is None and self._falls < _MOST_FALLS:
            try:
                self._child = subprocess.Popen(
                    self._program,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                )
            except OSError:  # no program to start, as in some frozen Pythons
                self._falls = _MOST_FALLS
                return None
            if self._line(self._child) != b"ready\n":
                self.close()
                self._falls = _MOST_FALLS  # the library is missing; trying again won't mend that
        return self._child

    def _ask(self, pixels: npt.NDArray[np.uint8]) -> list[dict[str, Any]]:
        child = self._ready()
        if child is None:
            return []
        height, width = pixels.shape
        assert child.stdin is not None  # it was asked for
        try:
            child.stdin.write(f"{width} {height}\n".encode() + pixels.tobytes())
            child.stdin.flush()
            answer = json.loads(self._line(child))
        except (OSError, ValueError):  # it died while it was written to, or before it answered
            self.close()
            self._falls += 1
            return []
        self.spent_ms += answer["cpu_ms"]
        found: list[dict[str, Any]] = answer["found"]
        return found

    def _line(self, child: subprocess.Popen[bytes]) -> bytes:
        """One line of the child; empty where it died or had to be stopped."""
        assert child.stdout is not None  # it was asked for
        watch = Timer(self._patience_s, child.kill)
        watch.start()
        try:
            return child.stdout.readline()
        finally:
            watch.cancel()


_shared: list[SecondReader] = []


def second_reader() -> SecondReader:
    """The one that all of this program shares."""
    if not _shared:
        _shared.append(SecondReader())
        atexit.register(_shared[0].close)
    return _shared[0]
