"""Cuts made in spite of open hazards: they stay on the record for ever, and are shown with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.records.things import Cut
from salvage.store.rows import select
from salvage.work.settings import NOBODY

if TYPE_CHECKING:
    import sqlite3

    from salvage.ids import Code
    from salvage.store.change import Change


def overrides_of(conn: sqlite3.Connection, board: Code) -> tuple[Cut, ...]:
    """
    Cuts of a board that were made by override, in order; each has its reason, name and time.

    Args:
        conn: Open connection.
        board: The board's code.
    """
    rest = "FROM cut WHERE board = ? AND override_reason <> '' ORDER BY clock, code"
    return select(conn, Cut, rest, (board,))


def check_override_named(change: Change, override: str) -> None:
    """
    Raise unless somebody stands for an override with a name: it stays on the record for ever.

    Raises:
        BadValue: If nobody was named.
    """
    if override.strip() and change.author.by == NOBODY:
        raise BadValue(
            "an override needs a name",
            hint="say who decides with --by NAME, or set it: salvage setup operator=NAME",
            field="--by",
        )
