"""
The append-only, hash-chained journal.

Each event's body is canonical JSON (RFC 8785). Its hash is SHA-256 over the 32 bytes of the hash
before it, followed by the body's bytes, so that no event can be changed, dropped or moved without
every later hash changing too. The chain alone cannot show that its tail was cut off: the head
(count and hash) is printed on story cards and receipts for that.

Every device writes a chain of its own, so that two can work apart and be joined later. Events of
all devices have one order, by Lamport's clock: an event's clock is greater than that of every event
that its device knew (Lamport 1978, Communications of the ACM 21(7):558-565); the device's letter
settles what happened apart.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import StoreTrouble
from salvage.ids import Code
from salvage.records.events import Event

FIRST_PREV = "0" * 64
"""What stands before the first event."""

_COLUMNS = "seq, id, device, n, clock, kind, operation, at, body, prev, hash"
_IN_ORDER = "ORDER BY clock, device"
_NEWEST_FIRST = "ORDER BY clock DESC, device DESC"


@dataclass(frozen=True, slots=True)
class Head:
    """
    The newest point of a device's chain.

    Args:
        device: The device's letter.
        count: Number of its events.
        hash: Hash of the last one; zeros for an empty chain.
    """

    device: str
    count: int
    hash: str

    @property
    def short(self) -> str:
        """Device, count and first eight characters of the hash, as printed on paper."""
        return f"{self.device}{self.count}-{self.hash[:8]}"


def read_head(conn: sqlite3.Connection, device: str) -> Head:
    """The newest point of one device's chain."""
    row = conn.execute(
        "SELECT n, hash FROM event WHERE device = ? ORDER BY n DESC LIMIT 1", (device,)
    ).fetchone()
    return Head(device, int(row[0]), str(row[1])) if row else Head(device, 0, FIRST_PREV)


def count_events(conn: sqlite3.Connection) -> int:
    """Number of events of all devices."""
    (count,) = conn.execute("SELECT count(*) FROM event").fetchone()
    return int(count)


def link(prev: str, body: bytes) -> str:
    """Hash of an event from the hash before it and its canonical body."""
    return sha256_hex(bytes.fromhex(prev), body)


def append_event(conn: sqlite3.Connection, envelope: Mapping[str, Json]) -> Event:
    """
    Chain one event to the journal, inside the open transaction.

    Args:
        conn: Connection with a transaction open.
        envelope: All fields of the body except ``n`` and ``clock``, which are counted here.
    """
    head = read_head(conn, str(envelope["device"]))
    (last, clock) = conn.execute(
        "SELECT coalesce(max(seq), 0), coalesce(max(clock), 0) FROM event"
    ).fetchone()
    body = canonical_bytes({**envelope, "n": head.count + 1, "clock": clock + 1})
    row = (
        last + 1,
        envelope["id"],
        envelope["device"],
        head.count + 1,
        clock + 1,
        envelope["kind"],
        envelope["operation"],
        envelope["at"],
        body.decode("utf-8"),
        head.hash,
        link(head.hash, body),
    )
    conn.execute(f"INSERT INTO event ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    return event_of_row(row)


def event_of_row(row: tuple[object, ...]) -> Event:
    """The event in one row of the table."""
    seq, body, prev, digest = row[0], row[8], row[9], row[10]
    fields = json.loads(str(body))
    return Event(
        seq=int(str(seq)),
        id=fields["id"],
        device=fields["device"],
        n=fields["n"],
        clock=fields["clock"],
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


def read_events(conn: sqlite3.Connection, *, after: Event | None = None) -> Iterator[Event]:
    """All events, or those after one of them, in order."""
    place = (after.clock, after.device) if after else (0, "")
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE (clock, device) > (?, ?) {_IN_ORDER}", place
    )
    return (event_of_row(row) for row in rows)


def read_events_newest(conn: sqlite3.Connection, *, most: int = -1) -> Iterator[Event]:
    """Events from the newest back, at most so many (-1: all)."""
    rows = conn.execute(f"SELECT {_COLUMNS} FROM event {_NEWEST_FIRST} LIMIT ?", (most,))
    return (event_of_row(row) for row in rows)


def read_events_about(conn: sqlite3.Connection, code: str) -> tuple[Event, ...]:
    """All events that concern one code, oldest first."""
    columns = ", ".join(f"event.{name}" for name in _COLUMNS.split(", "))
    rows = conn.execute(
        f"SELECT {columns} FROM event_item JOIN event USING (seq) WHERE code = ? {_IN_ORDER}",
        (code,),
    )
    return tuple(event_of_row(row) for row in rows)


def read_events_of(
    conn: sqlite3.Connection, kinds: Sequence[str], *, code: str = "", also: Sequence[str] = ()
) -> Iterator[Event]:
    """
    Events of some kinds in order.

    Args:
        conn: Open connection.
        kinds: Which kinds.
        code: Only those that concern this code; empty for all.
        also: Kinds that are read whatever they concern.
    """
    marks, all_marks = ", ".join("?" * len(kinds)), ", ".join("?" * len(also))
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE kind IN ({all_marks}) OR (kind IN ({marks})"
        f" AND (? = '' OR seq IN (SELECT seq FROM event_item WHERE code = ?))) {_IN_ORDER}",
        (*also, *kinds, code, code),
    )
    return (event_of_row(row) for row in rows)


def event_by_id(conn: sqlite3.Connection, event_id: str) -> Event:
    """The event with an id, which must be on record."""
    row = conn.execute(f"SELECT {_COLUMNS} FROM event WHERE id = ?", (event_id,)).fetchone()
    return event_of_row(row)


def read_operation(conn: sqlite3.Connection, operation: str) -> tuple[Event, ...]:
    """All events of one operation, oldest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE operation = ? {_IN_ORDER}", (operation,)
    )
    return tuple(event_of_row(row) for row in rows)


def undone_ids(conn: sqlite3.Connection) -> dict[str, str]:
    """
    Ids of events that no longer count, with the correction that took each back.

    Corrections are read newest first, so that an undone correction has no effect.
    """
    gone: dict[str, str] = {}
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE kind = 'correction.undone' {_NEWEST_FIRST}"
    )
    for correction in map(event_of_row, rows):
        if correction.id in gone:
            continue
        targets = correction.data["events"]
        for target in targets if isinstance(targets, list) else ():
            gone[str(target)] = correction.id
    return gone


def verify_chain(conn: sqlite3.Connection) -> tuple[Head, ...]:
    """
    Recompute every hash and give the head of each device's chain, by its letter.

    Raises:
        StoreTrouble: Naming the first event whose number, link, hash, columns or body is wrong.
    """
    heads: dict[str, tuple[Head, int]] = {}
    rows = conn.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq")
    for count, row in enumerate(rows, 1):
        device, n, clock, digest = str(row[2]), row[3], row[4], row[10]
        head, before = heads.get(device, (Head(device, 0, FIRST_PREV), 0))
        wrong = _find_fault(row, count, head)
        if not wrong and clock <= before:
            wrong = "its clock does not go on from the one before"
        if wrong:
            raise StoreTrouble(
                f"event {count} of the journal is not as it was written: {wrong}",
                hint="restore the last backup and compare; do not print cards until then",
            )
        heads[device] = Head(device, n, digest), clock
    return tuple(heads[device][0] for device in sorted(heads))


def _find_fault(row: tuple[object, ...], count: int, head: Head) -> str:
    seq, event_id, device, n, clock, kind, operation, at, body, prev, digest = row
    if seq != count:
        return f"an event is missing before number {seq}"
    if prev != head.hash or n != head.count + 1:
        return "it does not follow the one before"
    text = str(body).encode("utf-8")
    if link(head.hash, text) != digest:
        return "its hash does not fit its text"
    fields = json.loads(text)
    if canonical_bytes(fields) != text:
        return "its text is not canonical"
    columns = (event_id, device, n, clock, kind, operation, at)
    names = ("id", "device", "n", "clock", "kind", "operation", "at")
    if columns != tuple(fields[name] for name in names):
        return "its columns differ from its text"
    return ""
