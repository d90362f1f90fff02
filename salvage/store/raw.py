"""Bytes of a database file that SQLite may hold open in this very process."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path


def read_raw(path: Path, place: int, size: int) -> bytes:
    """
    A stretch of a database file, past SQLite.

    What is opened for it is never closed: POSIX lets go of all locks that a process has on a file
    as soon as it closes the file once. SQLite's would be among them, and the next program would
    take the log of this one for a dead one's, and throw it away (SQLite's own page "How To Corrupt
    An SQLite Database File", on POSIX locks; from memory).

    Args:
        path: The file.
        place: Where the stretch begins.
        size: How many bytes; fewer come at the end.

    Raises:
        OSError: If it cannot be read.
    """
    if os.name == "posix":
        return os.pread(_kept_open(path, path.stat().st_ino), size, place)
    with path.open("rb") as file:  # here locks belong to the open file
        file.seek(place)
        return file.read(size)


@cache
def _kept_open(path: Path, inode: int) -> int:
    """A file opened once, for as long as the process lives; one that was replaced is another."""
    return os.open(path, os.O_RDONLY)
