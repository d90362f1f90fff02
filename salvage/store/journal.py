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
from typing import TYPE_CHECKING, Any

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import StoreTrouble
from salvage.frozen import dataclass
from salvage.ids import LETTERS, Code
from salvage.records.event import Event

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

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


def devices_on_record(conn: sqlite3.Connection) -> tuple[str, ...]:
    """Letters of the devices that wrote to this journal, found without walking through it."""
    asked = "SELECT 1 FROM event WHERE device = ? LIMIT 1"
    return tuple(letter for letter in LETTERS if conn.execute(asked, (letter,)).fetchone())


def link(prev: str, body: bytes) -> str:
    """Hash of an event from the hash before it and its canonical body."""
    return sha256_hex(bytes.fromhex(prev), body)


@dataclass(frozen=True, slots=True)
class Tip:
    """
    Where the next event goes: the end of the journal and of this device's chain.

    Args:
        seq: Number of the last event in this database.
        clock: Greatest clock of any event.
        head: Newest point of the device's chain.
    """

    seq: int
    clock: int
    head: Head


def read_tip(conn: sqlite3.Connection, device: str) -> Tip:
    """Where the next event of a device goes; true until another writes."""
    # Each greatest value by itself: asked for both at once, SQLite walks through the whole table.
    (seq,) = conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
    (clock,) = conn.execute("SELECT coalesce(max(clock), 0) FROM event").fetchone()
    return Tip(int(seq), int(clock), read_head(conn, device))


def append_event(
    conn: sqlite3.Connection, envelope: Mapping[str, Json], tip: Tip
) -> tuple[Event, Tip]:
    """
    Chain one event to the journal, inside the open transaction; gives it and the new tip.

    Args:
        conn: Connection with a transaction open.
        envelope: All fields of the body except ``n`` and ``clock``, which are counted here.
        tip: Of :func:`read_tip` in the same transaction, or of the event before.
    """
    head, n, clock = tip.head, tip.head.count + 1, tip.clock + 1
    body = canonical_bytes({**envelope, "n": n, "clock": clock})
    row = (
        tip.seq + 1,
        envelope["id"],
        envelope["device"],
        n,
        clock,
        envelope["kind"],
        envelope["operation"],
        envelope["at"],
        body.decode("utf-8"),
        head.hash,
        link(head.hash, body),
    )
    conn.execute(f"INSERT INTO event ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    return _event_of(envelope, row), Tip(tip.seq + 1, clock, Head(head.device, n, row[-1]))


def _event_of(envelope: Mapping[str, Json], row: tuple[Any, ...]) -> Event:
    """The event of a new row, as it would be read back, without reading its text again."""
    if _holds_tuples(envelope["data"]):
        return event_of_row(row)
    fields: Any = envelope  # the fields of :class:`Event`, as the change filled them in
    return Event(
        seq=row[0],
        id=fields["id"],
        device=fields["device"],
        n=row[3],
        clock=row[4],
        at=fields["at"],
        by=fields["by"],
        kind=fields["kind"],
        act=fields["act"],
        operation=fields["operation"],
        about=tuple(fields["about"]),
        made=tuple(fields["made"]),
        data=fields["data"],
        prev=row[9],
        hash=row[10],
    )


_LEAVES = frozenset({str, int, bool, type(None)})


def _holds_tuples(value: Json) -> bool:
    """Whether something in a value would come back from its text as another type."""
    if isinstance(value, dict):
        inside: Iterable[Json] = value.values()
    elif isinstance(value, list):
        inside = value
    else:
        return type(value) not in _LEAVES
    return any(type(inner) not in _LEAVES and _holds_tuples(inner) for inner in inside)


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
    if code:  # few events concern one thing: they are found first, and their kinds looked at
        wanted = (
            f"seq IN (SELECT seq FROM event WHERE kind IN ({all_marks}) UNION ALL SELECT seq"
            f" FROM event_item CROSS JOIN event USING (seq) WHERE code = ? AND +kind IN ({marks}))"
        )
        values = (*also, code, *kinds)
    else:
        wanted, values = f"kind IN ({all_marks}{', ' * bool(also)}{marks})", (*also, *kinds)
    rows = conn.execute(f"SELECT {_COLUMNS} FROM event WHERE {wanted} {_IN_ORDER}", values)
    return (event_of_row(row) for row in rows)


def read_events_about_any(conn: sqlite3.Connection, codes: Collection[str]) -> tuple[Event, ...]:
    """All events that concern at least one of some codes, oldest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM event WHERE seq IN (SELECT seq FROM json_each(?) AS asked"
        f" CROSS JOIN event_item ON event_item.code = asked.value) {_IN_ORDER}",
        (json.dumps(sorted(codes)),),
    )
    return tuple(event_of_row(row) for row in rows)


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

    Whether each text is canonical is not asked here, since its hash fits: see :func:`check_form`.

    Raises:
        StoreTrouble: Naming the first event whose number, link, hash or columns are wrong.
    """
    heads: dict[str, _Link] = {}
    current, last, tip, before, tip_bytes = "", 0, FIRST_PREV, 0, b""
    from hashlib import sha256 as digest_of

    rows = conn.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq")
    for count, row in enumerate(rows, 1):
        seq, event_id, device, n, clock, kind, operation, at, body, prev, digest = row
        if device != current:
            heads[current] = (last, tip, before, tip_bytes)
            current = device
            last, tip, before, tip_bytes = heads.get(device, _NO_LINK)
        found = digest_of(tip_bytes + body.encode())
        # The columns as the body must hold them. Quotes within texts are escaped, and keys stand in
        # order: the first "at" and "clock" and the last "device" are the event's own.
        if not (
            seq == count
            and n == last + 1
            and prev == tip
            and clock > before
            and found.hexdigest() == digest
            and body.endswith(f',"n":{n},"operation":"{operation}","version":1}}')
            and body.startswith(
                f'"device":"{device}","id":"{event_id}","kind":"{kind}","made":[',
                body.rfind('"device":"'),
            )
            and body.startswith(f'"at":"{at}","by":', body.find('"at":"'))
            and body.startswith(f'"clock":{clock},"data":', body.find('"clock":'))
        ):
            fault = _find_fault(row, count, Head(device, last, tip), before)
            if fault:
                raise StoreTrouble(
                    f"event {count} of the journal is not as it was written: {fault}",
                    hint="restore the last backup and compare; do not print cards until then",
                )
        last, tip, before, tip_bytes = n, digest, clock, found.digest()
    heads[current] = (last, tip, before, tip_bytes)
    return tuple(Head(name, *heads[name][:2]) for name in sorted(heads) if name)


_Link = tuple[int, str, int, bytes]
_NO_LINK: _Link = (0, FIRST_PREV, 0, bytes(32))


def _find_fault(row: tuple[object, ...], count: int, head: Head, before: int) -> str:
    """What is wrong with a row, in words, looked at slowly; empty where it is as it was written."""
    seq, event_id, device, n, clock, kind, operation, at, body, prev, digest = row
    if seq != count:
        return f"an event is missing before number {seq}"
    if prev != head.hash or n != head.count + 1:
        return "it does not follow the one before"
    text = str(body).encode("utf-8")
    if link(head.hash, text) != digest:
        return "its hash does not fit its text"
    fields = json.loads(text)
    columns = (event_id, device, n, clock, kind, operation, at)
    names = ("id", "device", "n", "clock", "kind", "operation", "at")
    if not isinstance(fields, dict) or columns != tuple(fields.get(name) for name in names):
        return "its columns differ from its text"
    if int(str(clock)) <= before:
        return "its clock does not go on from the one before"
    return "" if canonical_bytes(fields) == text else "its text is not canonical"


def check_form(conn: sqlite3.Connection) -> None:
    """
    Read every text and write it again: that must give the same bytes.

    Raises:
        StoreTrouble: Naming the first event whose text is not canonical JSON.
    """
    for seq, body in conn.execute("SELECT seq, body FROM event ORDER BY seq"):
        if canonical_bytes(json.loads(body)) != body.encode("utf-8"):
            raise StoreTrouble(
                f"event {seq} of the journal is not as it was written: its text is not canonical",
                hint="restore the last backup and compare; do not print cards until then",
            )
