"""Rows in and out of tables whose columns are a record's fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import sqlite3

    from salvage.canonical import Json
    from salvage.records.event import Event

Record = TypeVar("Record")


def insert_row(
    conn: sqlite3.Connection,
    table: str,
    data: Mapping[str, Json],
    *,
    leave: Sequence[str] = (),
    **more: Json,
) -> None:
    """
    Insert one row; the columns are the keys of *data* and *more*, which must be the table's own.

    Args:
        conn: Connection with a transaction open.
        table: Table of the schema; never a name from outside.
        data: Fields of an event.
        leave: Fields of *data* that are no columns.
        more: Further columns.
    """
    row = {name: value for name, value in data.items() if name not in leave} | more
    # SQLite keeps a bool as the number that it is.
    conn.execute(_insert(table, tuple(row)), tuple(row.values()))


@cache
def _insert(table: str, names: tuple[str, ...]) -> str:
    return f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"


def correct_row(conn: sqlite3.Connection, table: str, event: Event) -> None:
    """
    Put the values that a correction states into the row of the thing that it concerns.

    Args:
        conn: Connection with a transaction open.
        table: Table of the schema; never a name from outside.
        event: Of a kind in :data:`salvage.records.events.CORRECTABLE`.
    """
    from salvage.records.events import CORRECTABLE

    now = event.data["now"]
    assert isinstance(now, Mapping)
    for column in CORRECTABLE[event.kind]:
        if column in now:
            conn.execute(
                f"UPDATE {table} SET {column} = ? WHERE code = ?", (now[column], event.about[0])
            )


@cache
def _columns(record: Any) -> str:
    return ", ".join(record.__match_args__)


def select(
    conn: sqlite3.Connection,
    record: type[Record],
    rest: str,
    parameters: Sequence[object] = (),
) -> tuple[Record, ...]:
    """
    Records from one table, whose columns are the record's fields.

    Args:
        conn: Open connection.
        record: Dataclass of :mod:`salvage.records.things`.
        rest: SQL after the columns, from ``FROM`` on; user text only through *parameters*.
        parameters: Values for the question marks.
    """
    build: Any = record  # a dataclass whose parameters are its fields, in order
    rows = conn.execute(f"SELECT {_columns(build)} {rest}", parameters)
    return tuple(build(*row) for row in rows)


def select_one(
    conn: sqlite3.Connection,
    record: type[Record],
    rest: str,
    parameters: Sequence[object] = (),
) -> Record | None:
    """The first record of :func:`select`, or None."""
    return next(iter(select(conn, record, rest, parameters)), None)
