"""What is to be done in the workshop: one step, and the words it is told in."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from salvage.ids import Code

NOW, NEXT, LATER = "now", "next", "later"
"""How a step presses: people or a day wait for it; it is the job; it can wait for the evening."""

WINDOW = 1000
"""Of each kind of thing so many are looked at, the newest, however many there are."""

NAMED = 5
"""So many codes are named in a step; the count says how many there are."""


@dataclass(frozen=True, slots=True)
class NextStep:
    """
    One thing to do.

    Args:
        topic: What it is about, in one word that stays the same.
        urgency: ``now``, ``next`` or ``later``.
        words: What stands open, as people read it.
        command: Words of the command line after ``salvage``; capitals stand for what only the
            person knows.
        codes: Things that it concerns, a few of them at most.
        count: How many things it concerns.
    """

    topic: str
    urgency: str
    words: str
    command: str
    codes: tuple[Code, ...] = ()
    count: int = 1


@dataclass(frozen=True, slots=True)
class Look:
    """
    What the rules look at.

    Args:
        conn: Open connection.
        today: The workshop's day, as ISO text.
    """

    conn: sqlite3.Connection
    today: str

    def codes(self, query: str, *values: object) -> list[Code]:
        """The codes that a query gives in its first column."""
        return [Code(code) for code, *_ in self.conn.execute(query, values)]


def newest(table: str, columns: str) -> str:
    """
    A subquery over the newest rows of a table, so that a look costs the same on a large record.

    Args:
        table: Table of the schema; never a name from outside.
        columns: Its columns, as SQL.
    """
    return f"(SELECT {columns} FROM {table} ORDER BY rowid DESC LIMIT {WINDOW})"


def few(codes: Sequence[Code]) -> tuple[Code, ...]:
    """The first of many codes."""
    return tuple(codes[:NAMED])


def counted(number: int, one: str, many: str = "") -> str:
    """
    A number with its noun.

    >>> counted(1, "board"), counted(3, "board"), counted(2, "box", "boxes")
    ('1 board', '3 boards', '2 boxes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"
