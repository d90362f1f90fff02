"""Taking in what another device wrote: checked event by event before a row is written."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

from salvage.canonical import Json, canonical_bytes
from salvage.errors import BadFile, BadValue, Refused, SalvageError
from salvage.ids import LETTERS, parse_code
from salvage.records.events import VERSION, check_event_data
from salvage.store.change import seal_of
from salvage.store.exchange import Line, Sealed
from salvage.store.journal import FIRST_PREV, devices_on_record, link

_ENVELOPE: Mapping[str, type] = {
    "about": list,
    "act": str,
    "at": str,
    "by": str,
    "clock": int,
    "data": dict,
    "device": str,
    "id": str,
    "kind": str,
    "made": list,
    "n": int,
    "operation": str,
    "version": int,
}


@dataclass(slots=True)
class _Chain:
    """Where one device's chain stands."""

    n: int = 0
    hash: str = FIRST_PREV
    clock: int = 0


def take_lines(conn: sqlite3.Connection, lines: Iterable[Line]) -> int:
    """
    Append the events that this database lacks to their devices' chains; give their number.

    The tables are not touched: rebuild them afterwards, in the same transaction.

    Args:
        conn: Connection with a transaction open.
        lines: Events of any devices, each chain in order.

    Raises:
        BadFile: If a line is damaged, forged or malformed, or events before it are missing.
        Refused: If a device's event differs from the one on record: it wrote two histories.
    """
    chains = _read_chains(conn)
    (seq,) = conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
    taken = 0
    for number, line in enumerate(lines, 1):
        fields = _parse(line.body, number)
        device, n = str(fields["device"]), int(str(fields["n"]))
        chain = chains.setdefault(device, _Chain())
        if n <= chain.n:
            _check_same(conn, device, n, line.hash)
            continue
        _check_next(fields, line, chain, number)
        taken += 1
        _insert(conn, seq + taken, fields, line, chain.hash)
        chains[device] = _Chain(n, line.hash, int(str(fields["clock"])))
    return taken


def _read_chains(conn: sqlite3.Connection) -> dict[str, _Chain]:
    chains = {}
    for device in devices_on_record(conn):
        newest = "SELECT n, hash, clock FROM event WHERE device = ? ORDER BY n DESC LIMIT 1"
        chains[device] = _Chain(*conn.execute(newest, (device,)).fetchone())
    return chains


def _parse(body: str, number: int) -> dict[str, Json]:
    try:
        fields = json.loads(body)
        canonical = canonical_bytes(fields) if isinstance(fields, dict) else b""
    except (ValueError, TypeError, RecursionError, BadValue) as error:
        raise _bad(number, "it is no JSON") from error
    if canonical != body.encode("utf-8", "surrogatepass"):
        raise _bad(number, "its text is not canonical")
    wrong = [name for name, kind in _ENVELOPE.items() if type(fields.get(name)) is not kind]
    if wrong or fields.keys() != _ENVELOPE.keys():
        raise _bad(number, f"its fields are not an event's ({', '.join(wrong) or 'too many'})")
    if fields["device"] not in LETTERS or len(fields["device"]) != 1:
        raise _bad(number, "it names no device")
    if fields["n"] < 1:
        raise _bad(number, "its number is none that a device gives")
    if fields["version"] != VERSION:
        raise _bad(number, "a newer version wrote it")
    try:
        check_event_data(fields["kind"], fields["data"])
        for code in (*fields["about"], *fields["made"]):
            parse_code(str(code))
    except BadValue as error:
        raise _bad(number, error.message) from error
    return dict(fields)


def _bad(number: int, what: str) -> BadFile:
    return BadFile(
        f"event {number} of the bundle cannot be taken in: {what}",
        hint="write the bundle anew over there; nothing of it was taken",
    )


def _check_same(conn: sqlite3.Connection, device: str, n: int, digest: str) -> None:
    (ours,) = conn.execute(
        "SELECT hash FROM event WHERE device = ? AND n = ?", (device, n)
    ).fetchone()
    if ours != digest:
        raise Refused(
            f"device {device} wrote two histories: its event {n} is another one here",
            hint="two computers work with one copy of the workshop; give the second one a letter of"
            " its own with 'salvage device add'",
        )


def _check_next(fields: Mapping[str, Json], line: Line, chain: _Chain, number: int) -> None:
    device, n = fields["device"], int(str(fields["n"]))
    if n != chain.n + 1:
        raise BadFile(
            f"the bundle begins at event {n} of device {device}, but only {chain.n} are known here",
            hint="ask for everything: salvage device export --all",
        )
    if link(chain.hash, line.body.encode("utf-8")) != line.hash:
        raise _bad(number, "its hash does not fit its text and the one before it")
    if int(str(fields["clock"])) <= chain.clock:
        raise _bad(number, "its clock does not go on from the one before")


def _insert(
    conn: sqlite3.Connection, seq: int, fields: Mapping[str, Json], line: Line, prev: str
) -> None:
    names = ("id", "device", "n", "clock", "kind", "operation", "at")
    row = (seq, *(fields[name] for name in names), line.body, prev, line.hash)
    try:
        conn.execute(
            "INSERT INTO event (seq, id, device, n, clock, kind, operation, at, body, prev, hash)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            row,
        )
    except sqlite3.IntegrityError as error:
        raise _bad(seq, "it is on record as another device's") from error


# What a rule of the tables raises on fields that no device writes, by trial.
_MEANINGLESS = (
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
    sqlite3.Error,
)


@contextmanager
def plain_event_errors() -> Iterator[None]:
    """
    Refuse events whose fields have the right types and names, and mean nothing.

    A chain of hashes tells that events were not altered on the way; it does not tell that a device
    of the workshop wrote them.

    Raises:
        BadFile: In the place of what the tables' rules raise.
    """
    try:
        yield
    except SalvageError:
        raise
    except _MEANINGLESS as error:
        raise BadFile(
            f"an event of the bundle cannot be applied ({type(error).__name__}: {error})"[:300],
            hint="write the bundle anew over there; nothing of it was taken",
        ) from error


def take_sealed(conn: sqlite3.Connection, texts: Iterable[Sealed]) -> None:
    """
    Keep the personal texts that this database lacks.

    Args:
        conn: Connection with a transaction open.
        texts: As they travelled.

    Raises:
        BadFile: If a text is not the one that its seal commits to.
    """
    for text in texts:
        try:
            seal = seal_of(bytes.fromhex(text.salt), text.value)
        except ValueError as error:
            raise BadFile("a sealed text of the bundle is malformed") from error
        if seal != text.seal or len(text.salt) != 64:
            raise BadFile(
                "a sealed text of the bundle is not what its seal says",
                hint="write the bundle anew over there; nothing of it was taken",
            )
        conn.execute(
            "INSERT INTO private_field (seal, salt, value) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            (text.seal, text.salt.lower(), text.value),
        )
