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

from salvage.store.projection import TABLES
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
    names = [] if with_names else private_words(shop.conn)
    tables = ["event", *TABLES, *([_SEALED] if with_names else [])]
    return {f"{table}.csv": _table(shop.conn, table, names, with_names) for table in tables}


def private_words(conn: sqlite3.Connection) -> list[str]:
    """Sealed words that are kept, folded; no text of an export may hold one."""
    rows = conn.execute(f"SELECT value FROM {_SEALED}")
    return [str(value).casefold() for (value,) in rows if str(value).strip()]


def _table(conn: sqlite3.Connection, table: str, names: list[str], with_names: bool) -> bytes:
    rows = conn.execute(f"SELECT * FROM {table}")
    columns = [column[0] for column in rows.description]
    kept = [i for i, name in enumerate(columns) if with_names or name not in _PERSONAL]
    out = io.StringIO(newline="")
    writer = csv.writer(out)  # its own form is that of RFC 4180: CRLF, quotes doubled
    writer.writerow([columns[i] for i in kept])
    for row in rows:
        writer.writerow([safe_cell(row[i], names) for i in kept])
    return out.getvalue().encode()


def safe_cell(value: object, names: list[str]) -> object:
    """
    A cell that names nobody and that no spreadsheet takes for a formula.

    Args:
        value: Of any column; numbers stay as they are.
        names: From :func:`private_words`.
    """
    if not isinstance(value, str):
        return value
    folded = value.casefold()
    if any(name in folded for name in names):
        return WITHHELD
    return f"'{value}" if value.startswith(_FORMULA) else value
