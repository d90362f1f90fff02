"""
The append-only, hash-chained journal.

Each event's body is canonical JSON (RFC 8785). Its hash is SHA-256 over the 32 bytes of the hash
before it, followed by the body's bytes, so that no event can be changed, dropped or moved without
every later hash changing too. The chain alone cannot show that its tail was cut off: the head
(count and hash) is printed on story cards and receipts for that.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import StoreTrouble
from salvage.ids import Code
from salvage.records.events import Event

FIRST_PREV = "0" * 64
"""What stands before the first event."""

_COLUMNS = "seq, id, device, n, kind, operation, at, body, prev, hash"


@dataclass(frozen=True, slots=True)
class Head:
    """
    The newest point of the chain.

    Args:
        count: Number of events.
        hash: Hash of the last one; zeros for an empty journal.
    """

    count: int
    hash: str

    @property
    def short(self) -> str:
        """Count and first eight characters of the hash, as printed on paper."""
        return f"{self.count}-{self.hash[:8]}"


def read_head(conn: sqlite3.Connection) -> Head:
    """The chain's newest point."""
    row = conn.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    return Head(int(row[0]), str(row[1])) if row else Head(0, FIRST_PREV)


def link(prev: str, body: bytes) -> str:
    """Hash of an event from the hash before it and its canonical body."""
    return sha256_hex(bytes.fromhex(prev), body)


def append_event(conn: sqlite3.Connection, envelope: Mapping[str, Json]) -> Event:
    """
    Chain one event to the journal, inside the open transaction.

    Args:
        conn: Connection with a transaction open.
        envelope: All fields of the body except ``n``, which is counted here.
    """
    head = read_head(conn)
    (last,) = conn.execute(
        "SELECT coalesce(max(n), 0) FROM event WHERE device = ?", (envelope["device"],)
    ).fetchone()
    body = canonical_bytes({**envelope, "n": last + 1})
    row = (
        head.count + 1,
        envelope["id"],
        envelope["device"],
        last + 1,
        envelope["kind"],
        envelope["operation"],
        envelope["at"],
        body.decode("utf-8"),
        head.hash,
        link(head.hash, body),
    )
    conn.execute(f"INSERT INTO event ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    return event_of_row(row)


def event_of_row(row: tuple[object, ...]) -> Event:
    """The event in one row of the table."""
    seq, body, prev, digest = row[0], row[7], row[8], row[9]
    fields = json.loads(str(body))
    return Event(
        seq=int(str(seq)),
        id=fields["id"],
        device=fields["device"],
        n=fields["n"],
        at=fields["at"],
        by=fields["by"],
        kind=fields["kind"],
        act=fields["act"],
        operation=fields["operation"],
        about=tuple(Code(code) for code in fields["about"]),
        made=tuple(Code(code) for code in fields["made"]),
        data=fields["data"],
        prev=str(prev),
        hash=str(digest),
    )


def read_events(conn: sqlite3.Connection, *, after: int = 0) -> Iterator[Event]:
    """All events after number *after*, in order."""
    rows = conn.execute(f"SELECT {_COLUMNS} FROM event WHERE seq > ? ORDER BY seq", (after,))
    return (event_of_row(row) for row in rows)


def read_events_newest(conn: sqlite3.Connection, *, most: int = -1) -> Iterator[Event]:
    """Events from the newest back, at most so many (-1: all)."""
    rows = conn.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq DESC LIMIT ?", (most,))
    return (event_of_row(row) for row in rows)


def read_events_about(conn: sqlite3.Connection, code: str) -> tuple[Event, ...]:
    """All events that concern one code, oldest first."""
    columns = ", ".join(f"event.{name}" for name in _COLUMNS.split(", "))
    rows = conn.execute(
        f"SELECT {columns} FROM event_item JOIN event USING (seq) WHERE code = ? ORDER BY seq",
        (code,),
    )
    return tuple(event_of_row(row) for row in rows)


def read_operation(conn: sqlite3.Connection, operation: str) -> tuple[Event, ...]:
    """All events of one operation, oldest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE operation = ? ORDER BY seq", (operation,)
    )
    return tuple(event_of_row(row) for row in rows)


def undone_ids(conn: sqlite3.Connection) -> dict[str, str]:
    """
    Ids of events that no longer count, with the correction that took each back.

    Corrections are read newest first, so that an undone correction has no effect.
    """
    gone: dict[str, str] = {}
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE kind = 'correction.undone' ORDER BY seq DESC"
    )
    for correction in map(event_of_row, rows):
        if correction.id in gone:
            continue
        targets = correction.data["events"]
        for target in targets if isinstance(targets, list) else ():
            gone[str(target)] = correction.id
    return gone


def verify_chain(conn: sqlite3.Connection) -> Head:
    """
    Recompute every hash and give the head.

    Raises:
        StoreTrouble: Naming the first event whose number, link, hash, columns or body is wrong.
    """
    prev, count = FIRST_PREV, 0
    for row in conn.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq"):
        count += 1
        wrong = _find_fault(row, count, prev)
        if wrong:
            raise StoreTrouble(
                f"event {count} of the journal is not as it was written: {wrong}",
                hint="restore the last backup and compare; do not print cards until then",
            )
        prev = row[9]
    return Head(count, prev)


def _find_fault(row: tuple[object, ...], count: int, prev: str) -> str:
    seq, event_id, device, n, kind, operation, at, body, row_prev, digest = row
    if seq != count:
        return f"an event is missing before number {seq}"
    if row_prev != prev:
        return "it does not follow the one before"
    text = str(body).encode("utf-8")
    if link(prev, text) != digest:
        return "its hash does not fit its text"
    fields = json.loads(text)
    if canonical_bytes(fields) != text:
        return "its text is not canonical"
    columns = (event_id, device, n, kind, operation, at)
    names = ("id", "device", "n", "kind", "operation", "at")
    if columns != tuple(fields[name] for name in names):
        return "its columns differ from its text"
    return ""
