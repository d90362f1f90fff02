"""
The tables as the schema describes them: columns, keys and references, and rows in their order.

What is said here of a table is read from the database itself, so that no second description of the
schema can differ from it.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from salvage.canonical import canonical_bytes


@dataclass(frozen=True, slots=True)
class Column:
    """
    A column of a table.

    Args:
        name: As in the schema.
        is_whole: Whether it holds whole numbers; else it holds text.
        may_be_null: Whether it may hold nothing at all.
    """

    name: str
    is_whole: bool
    may_be_null: bool


@dataclass(frozen=True, slots=True)
class Reference:
    """
    Columns whose values stand in another table.

    Args:
        columns: In this table.
        table: The other table.
        there: Its columns, in the same order.
    """

    columns: tuple[str, ...]
    table: str
    there: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TableShape:
    """
    A table without its rows.

    Args:
        name: As in the schema.
        columns: In the schema's order.
        key: Columns of the primary key.
        references: To other tables.
    """

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    references: tuple[Reference, ...]


def table_shape(conn: sqlite3.Connection, table: str) -> TableShape:
    """
    The shape of a table of the schema.

    Args:
        conn: Open connection.
        table: A name from the program, never from outside.
    """
    rows = conn.execute(f"PRAGMA table_info({table})").fetchall()
    key = sorted((place, name) for _, name, _, _, _, place in rows if place)
    columns = tuple(
        Column(name, kind == "INTEGER", not (needed or place))
        for _, name, kind, needed, _, place in rows
    )
    return TableShape(
        table, columns, tuple(name for _, name in key), tuple(_references(conn, table))
    )


def _references(conn: sqlite3.Connection, table: str) -> Iterator[Reference]:
    found: dict[int, list[tuple[str, str, str]]] = {}
    query = f"PRAGMA foreign_key_list({table})"
    for number, _, other, here, there, *_ in conn.execute(query):
        found.setdefault(number, []).append((here, other, there))
    for pairs in found.values():
        yield Reference(
            tuple(here for here, _, _ in pairs), pairs[0][1], tuple(there for _, _, there in pairs)
        )


def read_in_order(conn: sqlite3.Connection, shape: TableShape) -> Iterator[tuple[object, ...]]:
    """All rows of a table in the order of its key, one at a time."""
    names = ", ".join(f'"{column.name}"' for column in shape.columns)
    order = ", ".join(f'"{name}"' for name in shape.key) or names
    return iter(conn.execute(f"SELECT {names} FROM {shape.name} ORDER BY {order}"))


@dataclass(frozen=True, slots=True)
class TableDigest:
    """
    What two tables with the same rows have in common.

    Args:
        rows: Their number.
        sha256: Over every row in the order of the key, each as a JSON list (RFC 8785) and a line
            end.
    """

    rows: int
    sha256: str


def digest_table(conn: sqlite3.Connection, shape: TableShape) -> TableDigest:
    """The digest of a table's rows as they stand."""
    digest = hashlib.sha256()
    count = 0
    for row in read_in_order(conn, shape):
        digest.update(canonical_bytes(row) + b"\n")  # type: ignore[arg-type]  # text, int, None
        count += 1
    return TableDigest(count, digest.hexdigest())
