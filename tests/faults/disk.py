"""
The disk that fails when it is told to: ``disk.c`` built, preloaded and steered.

A process that is started with :func:`run_on_it` finds the library loaded and steers it through
:class:`Disk`. Only files below the one folder that is named are touched.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from contextlib import closing
from enum import IntEnum
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

SOURCE = Path(__file__).with_name("disk.c")

BLOCK = 4096
"""Bytes in which the disk gives out room."""


class Mode(IntEnum):
    """What the disk does from now on; the numbers are those of disk.c."""

    REST = 0
    COUNT = 1
    ONCE = 2
    """An I/O error at the Nth operation, and never again."""
    FOREVER = 3
    """An I/O error at the Nth operation and at each one after it."""
    FULL = 4
    """No room from the Nth operation on that needs some."""
    BUDGET = 5
    """No room when so many bytes are used up."""


READ, CHANGE = 1, 2
"""Kinds of operations, to be added up."""


def build(folder: Path) -> Path:
    """
    Compile the library into *folder*.

    Raises:
        RuntimeError: If there is no C compiler, or it does not like the source.
    """
    compiler = shutil.which("cc")
    if compiler is None:
        raise RuntimeError("a C compiler is needed: apt-get install gcc libc6-dev")
    made = folder / "disk.so"
    words = ["-O2", "-Wall", "-Wextra", "-Werror", "-shared", "-fPIC", "-o", str(made)]
    ran = subprocess.run(
        [compiler, *words, str(SOURCE), "-ldl", "-lpthread"], capture_output=True, text=True
    )
    if ran.returncode:
        raise RuntimeError(ran.stderr)
    return made


def run_on_it(
    library: Path, module: str, words: Sequence[str], *, listen: bool = True
) -> subprocess.CompletedProcess[str]:
    """
    Run a module of ours in a process with the library loaded.

    Args:
        library: As :func:`build` gives it.
        module: Name of the module.
        words: Its arguments.
        listen: Keep what it prints, instead of letting it through.
    """
    # Fixed, so that sets and dicts, and with them the order of operations, are the same each time.
    own = {"LD_PRELOAD": str(library), "PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8"}
    kept = {key: os.environ[key] for key in ("PATH", "HOME", "TMPDIR") if key in os.environ}
    return subprocess.run(
        [sys.executable, "-m", module, *words],
        cwd=ROOT,
        env=kept | own,
        stdout=subprocess.PIPE if listen else None,
        stderr=subprocess.PIPE if listen else None,
        text=True,
    )


class Disk:
    """
    The library in this process.

    Raises:
        RuntimeError: If it is not loaded, or SQLite's files do not go through it.
    """

    def __init__(self) -> None:
        self._library = ctypes.CDLL(None)
        if not hasattr(self._library, "disk_arm"):
            raise RuntimeError("start this with tests.faults.disk.run_on_it: disk.c is not loaded")
        self._library.disk_arm.argtypes = [
            ctypes.c_char_p,
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_long,
            ctypes.c_longlong,
        ]
        self._library.disk_record.argtypes = [ctypes.c_char_p, ctypes.c_char_p]
        self._library.disk_mark.argtypes = [ctypes.c_char_p]
        self._library.disk_counted.restype = ctypes.c_long
        self._library.disk_changed.restype = ctypes.c_long
        self._library.disk_grown.restype = ctypes.c_long
        self._library.disk_refused.restype = ctypes.c_long
        self._library.disk_used.restype = ctypes.c_longlong
        self._library.disk_hit.restype = ctypes.c_char_p
        self._see_sqlite()

    def _see_sqlite(self) -> None:
        """Raise where this interpreter's SQLite has calls of the system of its own."""
        with tempfile.TemporaryDirectory() as folder:
            self.arm(Path(folder), Mode.COUNT, kinds=CHANGE)
            with closing(sqlite3.connect(Path(folder) / "x.db", isolation_level=None)) as conn:
                conn.execute("CREATE TABLE t (x)")
            seen = self.counted
            self.rest()
        if seen < 5:
            raise RuntimeError(
                f"SQLite {sqlite3.sqlite_version} of {sys.executable} does not write through libc's"
                " symbols, so its disk cannot be made to fail; try the system's own Python"
            )

    def arm(
        self, folder: Path, mode: Mode, *, kinds: int = READ | CHANGE, nth: int = 0, room: int = 0
    ) -> None:
        """
        Begin.

        Args:
            folder: Below which the disk is ours.
            mode: What it does.
            kinds: Which operations count for I/O errors.
            nth: At which one it fails, from 1.
            room: Bytes that are free.
        """
        self._library.disk_arm(os.fsencode(folder), mode, kinds, nth, room)

    def record(self, folder: Path, log: Path) -> None:
        """Write down every change below a folder from now on."""
        if self._library.disk_record(os.fsencode(folder), os.fsencode(log)):
            raise RuntimeError(f"{log} cannot be written")

    def mark(self, words: str) -> None:
        """Write a note among the changes."""
        self._library.disk_mark(words.encode())

    def rest(self) -> None:
        """Let everything through again."""
        self._library.disk_rest()

    @property
    def counted(self) -> int:
        """Operations so far of the kinds that count."""
        return int(self._library.disk_counted())

    @property
    def changed(self) -> int:
        """Operations so far that change something."""
        return int(self._library.disk_changed())

    @property
    def grown(self) -> int:
        """Operations so far that needed room."""
        return int(self._library.disk_grown())

    @property
    def refused(self) -> int:
        """How many were refused."""
        return int(self._library.disk_refused())

    @property
    def used(self) -> int:
        """Most bytes that were taken up at any moment, in whole blocks."""
        return int(self._library.disk_used())

    @property
    def hit(self) -> str:
        """The first operation that was refused, and its file."""
        return os.fsdecode(self._library.disk_hit())
