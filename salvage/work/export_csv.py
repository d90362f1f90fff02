"""
Every table as CSV, one file a table (RFC 4180, UTF-8).

Personal columns and the sealed words stay out unless asked for, and a donor's name or contact that
somebody typed into another text is withheld there. A cell that a spreadsheet would take for a
formula gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
import sqlite3
from typing import TextIO

from salvage.store.projection import TABLES
from salvage.store.table_shape import Column, TableShape, read_in_order, table_shape
from salvage.work.sealed_words import NO_WORDS, SealedWords, private_words
from salvage.work.workshop import Workshop

_PERSONAL = frozenset(
    {
        "by",
        "received_by",
        "settled_by",
        "for_whom",
        "receiver",
        "customer",
        "taken_by",
        "value",
        "salt",
        "body",
    }
)
_SEALED = "private_field"
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
WITHHELD = "(withheld)"
"""What stands for a text that holds a donor's name."""


def export_csv(shop: Workshop, *, with_names: bool = False) -> dict[str, bytes]:
    """
    File names with their bytes, one for each table.

    Args:
        shop: The workshop.
        with_names: Personal columns and sealed words too.
    """
    names = NO_WORDS if with_names else private_words(shop.conn)
    return {
        f"{shape.name}.csv": _table(shop.conn, shape, names, with_names)
        for shape in (table_shape(shop.conn, name) for name in told_tables(with_names=with_names))
    }


def told_tables(*, with_names: bool) -> tuple[str, ...]:
    """
    Names of the tables that are told.

    Args:
        with_names: The sealed words too.
    """
    return ("event", *TABLES, *([_SEALED] if with_names else []))


def _table(
    conn: sqlite3.Connection, shape: TableShape, names: SealedWords, with_names: bool
) -> bytes:
    out = io.StringIO(newline="")
    write_table(conn, shape, out, names=names, with_names=with_names)
    return out.getvalue().encode()


def told_columns(shape: TableShape, *, with_names: bool) -> tuple[Column, ...]:
    """
    The columns of a table that are told.

    Args:
        shape: The table.
        with_names: Personal columns too.
    """
    return tuple(column for column in shape.columns if with_names or column.name not in _PERSONAL)


def write_table(
    conn: sqlite3.Connection,
    shape: TableShape,
    out: TextIO,
    *,
    names: SealedWords,
    with_names: bool,
) -> None:
    """
    Write a table as CSV in the order of its key, row by row.

    Args:
        conn: Open connection.
        shape: The table.
        out: Opened so that line ends stay as they are written.
        names: The sealed words.
        with_names: Personal columns too.
    """
    told = {column.name for column in told_columns(shape, with_names=with_names)}
    kept = [i for i, column in enumerate(shape.columns) if column.name in told]
    writer = csv.writer(out)  # its own form is that of RFC 4180: CRLF, quotes doubled
    writer.writerow([shape.columns[i].name for i in kept])
    for row in read_in_order(conn, shape):
        writer.writerow([safe_cell(row[i], names) for i in kept])


def safe_cell(value: object, names: SealedWords) -> object:
    """
    A cell that names nobody and that no spreadsheet takes for a formula.

    Args:
        value: Of any column; numbers stay as they are.
        names: The sealed words.
    """
    if not isinstance(value, str):
        return value
    if names.are_in(value):
        return WITHHELD
    return f"'{value}" if value.startswith(_FORMULA) else value
