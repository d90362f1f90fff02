"""
How many steps of SQLite's machine a command line takes.

The steps are the same on every computer and under any load, so that a command that reads all rows
to show ten is caught by counting, without a clock.
"""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from salvage.ids import Code, slips_of
from tests.benchmarks.growth_world import Grown
from tests.desk import Desk

EVERY = 100
"""Steps between two counts."""


class Meter:
    """Counts the steps of all connections that are opened while it runs."""

    def __init__(self) -> None:
        self.ticks = 0

    def tick(self) -> int:
        """Note that so many steps more were taken, and let SQLite go on."""
        self.ticks += 1
        return 0

    @property
    def steps(self) -> int:
        """Steps so far."""
        return self.ticks * EVERY


@contextmanager
def metered() -> Iterator[Meter]:
    """A meter on every connection that is opened meanwhile."""
    meter, connect = Meter(), sqlite3.connect

    def connect_metered(*words: Any, **named: Any) -> sqlite3.Connection:
        conn: sqlite3.Connection = connect(*words, **named)
        conn.set_progress_handler(meter.tick, EVERY)
        return conn

    sqlite3.connect = connect_metered  # type: ignore[assignment]
    try:
        yield meter
    finally:
        sqlite3.connect = connect


def names_of(grown: Grown) -> dict[str, str]:
    """Things in the middle of a workshop, by the names that command lines use."""
    world = grown.world
    middle: dict[str, list[Code] | list[str]] = {
        "board": world.board_codes,
        "piece": world.piece_codes,
        "article": world.articles,
        "dropoff": world.drop_offs,
        "batch": world.batches,
        "order": grown.orders,
        "outing": grown.outings,
        "slip": grown.slips,
        "container": grown.containers,
        "recall": grown.recalls,
    }
    names = {name: str(codes[len(codes) // 2]) for name, codes in middle.items()}
    pieces, donors = world.piece_codes, world.donors
    half = len(pieces) // 2
    # Every third piece of 25 at a time is sold; the second and third of them make an article.
    each = min(25, world.pieces // world.boards)
    start = half - half % each
    names |= {"sold": pieces[start], "unsold": pieces[start + 4], "donor": donors[len(donors) // 2]}
    names["mistyped"] = next(
        code
        for code in sorted(slips_of(names["board"]))
        if code[0] == "B" and code not in world.board_codes
    )
    return names


def steps_of(desk: Desk, line: str) -> tuple[int, str]:
    """
    Steps that a command line takes, and what it says if it is refused.

    Args:
        desk: Where it is typed.
        line: Without the program's name.
    """
    with metered() as meter:
        told = desk.run(line)
    return meter.steps, "" if told.code == 0 else (told.err or told.out or "refused")


def quoted(line: str, names: dict[str, str]) -> str:
    """A command line with the names of things put in."""
    return " ".join(shlex.quote(word.format(**names)) for word in shlex.split(line))


def lay_picture(folder: Path) -> None:
    """A small picture for the lines that take one."""
    from PIL import Image

    Image.new("RGB", (64, 48), "green").save(folder / "tern.png")
