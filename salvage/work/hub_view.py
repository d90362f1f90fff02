"""What lies at the hub: which workshops, how far, and whether it is still as it was sent."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import canonical_bytes
from salvage.errors import SalvageError
from salvage.store.exchange import known_counts
from salvage.store.hub_journals import fetch_events, find_workshop, first_hash, fold, hub_heads
from salvage.store.hub_link import open_link, place_of
from salvage.store.hub_rows import differing_tables, read_projected
from salvage.store.hub_schema import check_current
from salvage.store.hub_sealed import count_sealed
from salvage.store.signing import is_signed
from salvage.work.checkpoints import parse_checkpoint
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    import sqlite3

    from salvage.store.hub_link import Link


@dataclass(frozen=True, slots=True)
class AtHub:
    """
    A workshop as the hub has it.

    Args:
        number: Its number there, which stands for it in the answers.
        name: What it is called.
        sender: The server's role that sends for it.
        heads: How far each chain goes, as printed on paper.
        events: Number of its events.
        waiting: Events of this workshop that the hub lacks; None for the others.
        signed_at: When a device last signed what it sent.
        names: Personal texts of it that lie there.
        is_whole: False while a sending was broken off, so that answers lag behind the events.
    """

    number: int
    name: str
    sender: str
    heads: str
    events: int
    waiting: int | None
    signed_at: str
    names: int
    is_whole: bool


@dataclass(frozen=True, slots=True)
class HubView:
    """
    What lies at a hub.

    Args:
        place: Its database and host.
        workshops: In the order in which they came.
        waiting: Events of this workshop that the hub lacks.
    """

    place: str
    workshops: tuple[AtHub, ...]
    waiting: int


@dataclass(frozen=True, slots=True)
class HubVerdict:
    """
    Whether a workshop at the hub is as it was sent.

    Args:
        number: Its number there.
        name: What it is called.
        events: Events that were verified.
        signatures: Signed heads that were verified.
        faults: What does not hold; empty when all is well.
    """

    number: int
    name: str
    events: int
    signatures: int
    faults: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """True when everything holds."""
        return not self.faults


def view_hub(shop: Workshop, *, address: str) -> HubView:
    """
    Which workshops lie at the hub, how far, and what of this one is not there yet.

    Args:
        shop: The open workshop.
        address: Where the hub is.

    Raises:
        StoreTrouble: If the hub cannot be reached, or is not prepared.
    """
    with open_link(address) as link:
        check_current(link)
        own = find_workshop(link, first_hash(shop.conn))
        known = known_counts(shop.conn)
        rows = link.execute(
            "SELECT ws, name, sender, coalesce(max(at), '') FROM salvage.workshop"
            " LEFT JOIN salvage.signed_head USING (ws) GROUP BY ws ORDER BY ws"
        ).fetchall()
        found = tuple(
            _at_hub(link, (ws, name, sender, at), known if ws == own else None)
            for ws, name, sender, at in rows
        )
        mine = [one.waiting for one in found if one.waiting is not None]
        return HubView(place_of(link), found, mine[0] if mine else sum(known.values()))


def _at_hub(link: Link, row: tuple[int, str, str, str], known: dict[str, int] | None) -> AtHub:
    ws, name, sender, at = row
    heads = hub_heads(link, ws)
    there = {letter: head.count for letter, head in heads.items()}
    waiting = None
    if known is not None:
        waiting = sum(max(0, n - there.get(letter, 0)) for letter, n in known.items())
    return AtHub(
        ws,
        name,
        sender,
        " ".join(heads[letter].short for letter in sorted(heads)),
        sum(there.values()),
        waiting,
        at,
        count_sealed(link, ws),
        read_projected(link, ws) == there,
    )


def check_at_hub(shop: Workshop, *, address: str, everyone: bool = False) -> tuple[HubVerdict, ...]:
    """
    Verify what the hub holds: chains, signatures, and the rows against a replay of the events.

    Args:
        shop: The open workshop.
        address: Where the hub is.
        everyone: All workshops there; else only this one.

    Raises:
        StoreTrouble: If the hub cannot be reached, or is not prepared.
    """
    with open_link(address) as link:
        check_current(link)
        own = find_workshop(link, first_hash(shop.conn))
        rows = link.execute(
            "SELECT ws, first_hash, name FROM salvage.workshop WHERE %s OR ws = %s ORDER BY ws",
            (everyone, own),
        ).fetchall()
        return tuple(_verdict(link, ws, first, name) for ws, first, name in rows)


def _verdict(link: Link, ws: int, first: str, name: str) -> HubVerdict:
    signed = link.execute(
        "SELECT checkpoint FROM salvage.signed_head WHERE ws = %s ORDER BY at, signature", (ws,)
    ).fetchall()
    try:
        conn = fold([fetch_events(link, ws, {})])
    except SalvageError as error:
        return HubVerdict(ws, name, 0, 0, (error.message,))
    with closing(conn):
        faults = list(_faults(link, ws, first, conn))
        for (checkpoint,) in signed:
            faults += _signature_faults(conn, first, checkpoint.encode())
        return HubVerdict(ws, name, sum(known_counts(conn).values()), len(signed), tuple(faults))


def _faults(link: Link, ws: int, first: str, conn: sqlite3.Connection) -> Iterator[str]:
    if first_hash(conn) != first:
        yield "its first event is not the one that it is told by"
    if read_projected(link, ws) != known_counts(conn):
        yield "a sending was broken off: its rows lag behind its events until it is sent again"
        return
    for table in differing_tables(link, ws, conn):
        yield f"the rows of {table} do not follow from the events"


def _signature_faults(conn: sqlite3.Connection, first: str, data: bytes) -> Iterator[str]:
    found = parse_checkpoint(data, name="a signed head")
    told = f"what device {found.device} signed at {found.at}"
    if not is_signed(found.public_key, found.signature, canonical_bytes(found.signed)):
        yield f"{told} has a signature that is not good"
        return
    known = conn.execute(
        "SELECT 1 FROM event WHERE kind = 'device.keyed' AND device = ? AND instr(body, ?) > 0",
        (found.device, found.public_key),
    ).fetchone()
    if not known or found.workshop != first:
        yield f"{told} is not of this workshop's own device"
    for chain in found.chains:
        row = conn.execute(
            "SELECT hash FROM event WHERE device = ? AND n = ?", (chain.device, chain.count)
        ).fetchone()
        if row is None or row[0] != chain.hash:
            yield f"{told} is not what the chain of device {chain.device} holds"
