"""
Other databases that lie beside the workshop's own and hold events which it lacks.

A program that keeps a folder alike on several computers leaves two files where both were written
to, the second under a name of its own. A mere copy holds nothing new and is passed over.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from salvage.frozen import dataclass
from salvage.store.folder_notes import names_beside


@dataclass(frozen=True, slots=True)
class Rival:
    """
    A second database of the same workshop.

    Args:
        name: Of its file.
        events: Number of its events that the workshop lacks.
        device: Letter of the device that wrote them.
    """

    name: str
    events: int
    device: str


def find_rivals(folder: Path, conn: sqlite3.Connection) -> Iterator[Rival]:
    """
    Databases beside the workshop's own that went another way.

    Args:
        folder: The workshop's.
        conn: Its open connection.
    """
    for name in names_beside(folder):
        try:
            with closing(_open(folder / name)) as other:
                yield from _compare(name, conn, other)
        except sqlite3.DatabaseError:
            continue  # something else of that name


def _open(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)


def _compare(name: str, conn: sqlite3.Connection, other: sqlite3.Connection) -> Iterator[Rival]:
    first = "SELECT id FROM event WHERE n = 1"
    if not {*conn.execute(first)} & {*other.execute(first)}:
        return  # another workshop's
    newest = "SELECT device, n, hash FROM event WHERE (device, n) IN ({}) ORDER BY device"
    heads = other.execute(newest.format("SELECT device, max(n) FROM event GROUP BY device"))
    for device, count, digest in heads:
        row = conn.execute(
            "SELECT hash FROM event WHERE device = ? AND n = ?", (device, count)
        ).fetchone()
        if row is None or row[0] != digest:
            yield Rival(name, count - _alike(conn, other, device, count), device)
            return


def _alike(conn: sqlite3.Connection, other: sqlite3.Connection, device: str, count: int) -> int:
    """How many events of a device both have, from the first on: sought by halves."""
    query = "SELECT hash FROM event WHERE device = ? AND n = ?"
    low, high = 0, count
    while low < high:
        middle = (low + high + 1) // 2
        ours, theirs = (one.execute(query, (device, middle)).fetchone() for one in (conn, other))
        if ours is not None and ours == theirs:
            low = middle
        else:
            high = middle - 1
    return low
