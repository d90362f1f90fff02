"""
Journals at the hub: which workshop one is of, how far its chains go there, and events in and out.

A workshop is told by the hash of its first event, since its letters and codes are others' as well.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING

from salvage.errors import Refused, StoreTrouble
from salvage.store.journal import FIRST_PREV, Head, verify_chain
from salvage.store.migrations import schema_files, split_statements
from salvage.store.projection import rebuild

if TYPE_CHECKING:
    from salvage.store.hub_link import Link

_COLUMNS = ("device", "n", "clock", "id", "kind", "operation", "at", "body", "prev", "hash")
_NAMES = ", ".join(_COLUMNS)

Row = tuple[object, ...]


def first_hash(conn: sqlite3.Connection) -> str:
    """Hash of a workshop's first event, by which it is told from others."""
    row = conn.execute("SELECT hash FROM event ORDER BY clock, device LIMIT 1").fetchone()
    return str(row[0]) if row else FIRST_PREV


def find_workshop(link: Link, first: str) -> int | None:
    """The hub's number of a workshop, or None where it is not there."""
    row = link.execute("SELECT ws FROM salvage.workshop WHERE first_hash = %s", (first,)).fetchone()
    return int(row[0]) if row else None


def lock_workshop(link: Link, first: str, *, name: str, currency: str) -> int:
    """
    The hub's number of a workshop, which is entered if it is new.

    It is held until the transaction ends, so that two that send for one workshop take turns.

    Args:
        link: With a transaction open.
        first: Of :func:`first_hash`.
        name: What the workshop is called, if it is new.
        currency: Its currency, if it is new.
    """
    if find_workshop(link, first) is None:
        link.execute(
            "INSERT INTO salvage.workshop (first_hash, name, currency) VALUES (%s, %s, %s)"
            " ON CONFLICT (first_hash) DO NOTHING",
            (first, name, currency),
        )
    row = link.execute(
        "SELECT ws FROM salvage.workshop WHERE first_hash = %s FOR UPDATE", (first,)
    ).fetchone()
    assert row is not None  # it was entered just now, or before
    return int(row[0])


def name_workshop(link: Link, ws: int, *, name: str, currency: str) -> None:
    """Let a workshop be called as its newest settings say, where they changed."""
    link.execute(
        "UPDATE salvage.workshop SET name = %(name)s, currency = %(currency)s WHERE ws = %(ws)s"
        " AND (name, currency) <> (%(name)s, %(currency)s)",
        {"name": name, "currency": currency, "ws": ws},
    )


def keep_signature(link: Link, ws: int, row: tuple[str, str, str, str, str]) -> None:
    """Keep a signed head: signature, device, public key, instant, and the whole checkpoint."""
    link.execute("INSERT INTO salvage.signed_head VALUES (%s, %s, %s, %s, %s, %s)", (ws, *row))


def hub_heads(link: Link, ws: int) -> dict[str, Head]:
    """The newest point of each chain of a workshop at the hub."""
    rows = link.execute(
        "SELECT DISTINCT ON (device) device, n, hash FROM salvage.event WHERE ws = %s"
        " ORDER BY device, n DESC",
        (ws,),
    )
    return {device: Head(device, n, digest) for device, n, digest in rows}


def check_no_fork(
    link: Link, ws: int, conn: sqlite3.Connection, heads: Mapping[str, Head], own: str
) -> None:
    """
    Raise unless each chain here and at the hub are one history.

    Args:
        link: Open connection to the hub.
        ws: The workshop's number there.
        conn: The workshop's database.
        heads: Of :func:`hub_heads`.
        own: Letter of the device that sends.

    Raises:
        Refused: If a device wrote two histories, or this one lost events that the hub has.
    """
    known = dict(conn.execute("SELECT device, max(n) FROM event GROUP BY device"))
    for device, head in heads.items():
        last = min(head.count, known.get(device, 0))
        if last and _hash_here(conn, device, last) != _hash_there(link, ws, head, last):
            raise Refused(
                f"device {device} wrote two histories: its event {last} is another one at the hub",
                hint="'salvage check' tells whether this one was tampered with; if two computers"
                " work with one copy of the workshop, give one a letter with 'salvage device add'",
            )
        if device == own and head.count > last:
            raise Refused(
                f"the hub has {head.count} events of this device, and here are only {last}",
                hint="this is an older copy of the workshop: work on with the newer one",
            )


def _hash_here(conn: sqlite3.Connection, device: str, n: int) -> str:
    row = conn.execute("SELECT hash FROM event WHERE device = ? AND n = ?", (device, n)).fetchone()
    return str(row[0])


def _hash_there(link: Link, ws: int, head: Head, n: int) -> str:
    if n == head.count:
        return head.hash
    row = link.execute(
        "SELECT hash FROM salvage.event WHERE ws = %s AND device = %s AND n = %s",
        (ws, head.device, n),
    ).fetchone()
    return str(row[0]) if row else ""


def read_all(conn: sqlite3.Connection) -> Iterator[Row]:
    """All events of a workshop, each chain in order, as the hub keeps them."""
    return conn.execute(f"SELECT {_NAMES} FROM event ORDER BY clock, device")


def put_events(link: Link, ws: int, rows: Iterable[Row]) -> None:
    """Append events to a workshop's chains at the hub, which checks hash and link of each."""
    query = f"COPY salvage.event (ws, {_NAMES}) FROM STDIN"
    with link.cursor() as cursor, cursor.copy(query) as sent:
        for row in rows:
            sent.write_row((ws, *row))


def fetch_events(link: Link, ws: int, known: Mapping[str, int]) -> Iterator[Row]:
    """Events of a workshop at the hub that a reader who knows so many of each chain lacks."""
    from psycopg.types.json import Json

    with link.cursor() as cursor:
        yield from cursor.stream(
            f"SELECT {_NAMES} FROM salvage.event WHERE ws = %s"
            " AND n > coalesce((%s::json ->> device)::integer, 0) ORDER BY clock, device",
            (ws, Json(dict(known))),
        )


def fold(sources: Sequence[Iterable[Row]]) -> sqlite3.Connection:
    """
    A database in memory with events and what is projected from them.

    Args:
        sources: Events, each chain in order over all sources.

    Raises:
        StoreTrouble: If a chain does not verify, or its events cannot be replayed.
    """
    conn = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for file in schema_files():
            for statement in split_statements(file.text):
                conn.execute(statement)
        conn.execute("PRAGMA foreign_keys = ON")
        conn.execute("BEGIN")
        _load(conn, chain.from_iterable(sources))
        verify_chain(conn)
        rebuild(conn)
        conn.execute("COMMIT")
    except sqlite3.IntegrityError as error:
        conn.close()
        raise StoreTrouble(
            "the events at the hub cannot be replayed: some are missing or not its own",
            hint="the hub's owner restores its last backup; then send again",
        ) from error
    except BaseException:
        conn.close()
        raise
    return conn


def _load(conn: sqlite3.Connection, rows: Iterable[Row]) -> None:
    marks = ", ".join("?" * len(_COLUMNS))
    numbered = ((seq, *row) for seq, row in enumerate(rows, 1))
    conn.executemany(f"INSERT INTO event (seq, {_NAMES}) VALUES (?, {marks})", numbered)
