"""Personal texts at the hub: sent and taken back only when asked, erased with their donor."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.store.hub_link import Link


def put_sealed(link: Link, ws: int, conn: sqlite3.Connection, gone: Collection[str]) -> int:
    """
    Send a workshop's personal texts that the hub lacks; give their number.

    Args:
        link: With a transaction open.
        ws: The workshop's number at the hub.
        conn: The workshop's database.
        gone: Seals of the forgotten, which are left out.
    """
    there = {seal for (seal,) in _seals(link, ws)}
    rows = conn.execute("SELECT seal, salt, value FROM private_field ORDER BY seal")
    new = [row for row in rows if row[0] not in there and row[0] not in gone]
    with link.cursor() as cursor, cursor.copy("COPY salvage.sealed FROM STDIN") as sent:
        for row in new:
            sent.write_row((ws, *row))
    return len(new)


def _seals(link: Link, ws: int) -> list[tuple[str]]:
    rows = link.execute("SELECT seal FROM salvage.sealed WHERE ws = %s", (ws,))
    return [(str(seal),) for (seal,) in rows]


def erase_sealed(link: Link, ws: int, seals: Collection[str] | None) -> int:
    """
    Delete personal texts of a workshop from the hub; give their number.

    Args:
        link: With a transaction open.
        ws: The workshop's number at the hub.
        seals: Which; None for all.
    """
    if seals is None:
        return link.execute("DELETE FROM salvage.sealed WHERE ws = %s", (ws,)).rowcount
    query = "DELETE FROM salvage.sealed WHERE ws = %s AND seal = ANY (%s)"
    return link.execute(query, (ws, sorted(seals))).rowcount


def count_sealed(link: Link, ws: int) -> int:
    """Number of personal texts of a workshop at the hub."""
    return len(_seals(link, ws))


def clean_pages(link: Link) -> bool:
    """
    Write the table of personal texts anew, so that its file holds nothing of what was erased.

    PostgreSQL's own log and backups keep it until they are recycled.

    Returns:
        False if only the hub's owner may.
    """
    row = link.execute(
        "SELECT pg_has_role(relowner, 'USAGE') FROM pg_class WHERE oid = 'salvage.sealed'::regclass"
    ).fetchone()
    if not row or not row[0]:
        return False
    link.execute("VACUUM (FULL) salvage.sealed")
    return True
