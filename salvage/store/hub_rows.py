"""
Rows of a workshop's projection that the hub keeps beside the journal, for its answers.

Which columns go is said by the hub's own tables. The rows change in the transaction that takes in
the last events, so that who reads sees one state or the next.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.store.hub_link import Link

_OWN = ("workshop", "event", "signed_head", "projected", "sealed")


def row_tables(link: Link) -> Mapping[str, tuple[str, ...]]:
    """Tables of the hub that hold rows of a projection, each with the columns it keeps."""
    found: dict[str, tuple[str, ...]] = {}
    for table, columns in link.execute(
        "SELECT relname, array_agg(attname::text ORDER BY attnum) FROM pg_class"
        " JOIN pg_attribute ON attrelid = pg_class.oid AND attnum > 0 AND NOT attisdropped"
        " WHERE relnamespace = 'salvage'::regnamespace AND relkind = 'r' AND relname <> ALL (%s)"
        " GROUP BY relname HAVING bool_or(attname = 'ws') ORDER BY relname",
        (list(_OWN),),
    ):
        found[table] = tuple(name for name in columns if name != "ws")
    return found


def read_rows(
    conn: sqlite3.Connection, table: str, columns: Iterable[str]
) -> Iterable[tuple[object, ...]]:
    """The rows of one table of a workshop, with the columns that the hub keeps."""
    return conn.execute(f"SELECT {', '.join(columns)} FROM {table}")


def bring_rows(link: Link, ws: int, conn: sqlite3.Connection) -> int:
    """
    Bring a workshop's rows at the hub to what its projection is now; give their number.

    Rows that are as they were stay untouched, so that a day's work on top of years' costs little.

    Args:
        link: With a transaction open.
        ws: The workshop's number at the hub.
        conn: Database that holds its projection.
    """
    count = 0
    for table, columns in row_tables(link).items():
        query = f"SELECT EXISTS (SELECT FROM salvage.{table} WHERE ws = %s)"
        if link.execute(query.encode(), (ws,)).fetchone() == (False,):
            count += _copy(link, ws, f"salvage.{table}", columns, read_rows(conn, table, columns))
            continue
        fresh = f"fresh_{table}"
        link.execute(f"CREATE TEMP TABLE {fresh} (LIKE salvage.{table}) ON COMMIT DROP".encode())
        count += _copy(link, ws, fresh, columns, read_rows(conn, table, columns))
        for statement in (_GONE, _COME):
            link.execute(statement.format(table=table, fresh=fresh).encode(), (ws,))
    return count


# Whole rows are compared as texts, which hash, and in which what is missing equals what is missing.
_GONE = (
    "DELETE FROM salvage.{table} AS there WHERE ws = %s"
    " AND NOT EXISTS (SELECT FROM {fresh} AS now WHERE now::text = there::text)"
)
_COME = (
    "INSERT INTO salvage.{table} SELECT * FROM {fresh} AS now WHERE NOT EXISTS"
    " (SELECT FROM salvage.{table} AS there WHERE ws = %s AND now::text = there::text)"
)


def _copy(
    link: Link, ws: int, there: str, columns: Iterable[str], rows: Iterable[tuple[object, ...]]
) -> int:
    """Put rows into a table that the schema names; give their number."""
    count = 0
    query = f"COPY {there} (ws, {', '.join(columns)}) FROM STDIN"
    with link.cursor() as cursor, cursor.copy(query.encode()) as sent:
        for row in rows:
            sent.write_row((ws, *row))
            count += 1
    return count


def read_projected(link: Link, ws: int) -> dict[str, int]:
    """Events of each device up to which a workshop's rows at the hub stand."""
    query = "SELECT device, n FROM salvage.projected WHERE ws = %s"
    return {str(device): int(n) for device, n in link.execute(query, (ws,))}


def note_projected(link: Link, ws: int, known: Mapping[str, int]) -> None:
    """Note up to which events of each device a workshop's rows stand now."""
    link.execute("DELETE FROM salvage.projected WHERE ws = %s", (ws,))
    for device, n in sorted(known.items()):
        link.execute("INSERT INTO salvage.projected VALUES (%s, %s, %s)", (ws, device, n))


def differing_tables(link: Link, ws: int, conn: sqlite3.Connection) -> tuple[str, ...]:
    """Tables whose rows at the hub are not those of a projection, each once."""
    from psycopg import sql

    found = []
    for table, columns in row_tables(link).items():
        names = sql.SQL(", ").join(map(sql.Identifier, columns))
        query = sql.SQL("SELECT {} FROM {} WHERE ws = %s").format(
            names, sql.Identifier("salvage", table)
        )
        there = sorted(link.execute(query, (ws,)).fetchall(), key=repr)
        if there != sorted(read_rows(conn, table, columns), key=repr):
            found.append(table)
    return tuple(found)
