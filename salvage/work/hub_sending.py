"""One sending of a workshop's journal to the hub, batch by batch, each in a transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, nullcontext
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from salvage.store.exchange import known_counts
from salvage.store.forget import forgotten_seals
from salvage.store.hub_journals import (
    Row,
    check_no_fork,
    fetch_events,
    find_workshop,
    first_hash,
    fold,
    hub_heads,
    keep_signature,
    lock_workshop,
    name_workshop,
    put_events,
    read_all,
)
from salvage.store.hub_link import place_of
from salvage.store.hub_rows import bring_rows, note_projected, read_projected
from salvage.store.hub_schema import check_current, check_hub, hub_number, migrate_hub
from salvage.store.hub_sealed import clean_pages, erase_sealed, put_sealed
from salvage.store.journal import Head
from salvage.store.signing import Signer
from salvage.units import format_instant
from salvage.work.checkpoints import sign_heads
from salvage.work.settings import read_settings
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.store.hub_link import Link

BATCH = 5_000
"""Events that go in one transaction; what a broken line costs at most is sent anew."""

Progress = Callable[[str], None]


def be_silent(words: str) -> None:
    """Tell nobody what is being done."""
    del words


@dataclass(frozen=True, slots=True)
class Sent:
    """
    What was sent.

    Args:
        place: The hub's database and host.
        workshop: The workshop's number there; None before it is entered, in a dry run.
        events: Events that the hub lacked.
        known: Events of the workshop that it holds now.
        rows: Rows of the projection that were put there; 0 where nothing was new.
        names: Personal texts that were sent.
        erased: Personal texts that were erased there.
        is_cleaned: False where only the hub's owner may clean the file that held them.
    """

    place: str
    workshop: int | None
    events: int
    known: int
    rows: int = 0
    names: int = 0
    erased: int = 0
    is_cleaned: bool = True


@dataclass(frozen=True, slots=True)
class Wish:
    """
    How a sending is asked for.

    Args:
        names: True sends personal texts, False takes them back, None leaves what is there.
        batch: Events in one transaction.
        progress: Told what is being done.
    """

    names: bool | None = None
    batch: int = BATCH
    progress: Progress = be_silent


class Sending:
    """
    One sending, within one moment of the workshop.

    Args:
        shop: The open workshop, in a transaction that reads.
        link: Open connection to the hub.
        wish: How it is asked for.
    """

    def __init__(self, shop: Workshop, link: Link, wish: Wish) -> None:
        self._shop = shop
        self._conn = shop.conn
        self._link = link
        self._wish = wish
        self._first = first_hash(shop.conn)
        self._known = known_counts(shop.conn)

    def count(self) -> Sent:
        """What would be sent; nothing is changed."""
        ws = find_workshop(self._link, self._first) if check_hub(self._link) else None
        heads = self._heads(ws) if ws is not None else {}
        events = sum(max(0, n - _count(heads, x)) for x, n in self._known.items())
        return Sent(place_of(self._link), ws, events, self._total(heads))

    def send(self, signer: Signer) -> Sent:
        """Send batch by batch; the last one carries rows, texts and the signature."""
        if not hub_number(self._link):
            migrate_hub(self._link)
        check_current(self._link)
        settings = self._shop.settings
        rows, events = read_all(self._conn), 0
        while True:
            with self._link.transaction():
                ws = lock_workshop(
                    self._link, self._first, name=settings.name, currency=settings.currency
                )
                heads = self._heads(ws)
                new = list(islice(_missing(rows, heads), self._wish.batch))
                put_events(self._link, ws, new)
                events += len(new)
                if len(new) < self._wish.batch:
                    sent = self._finish(ws, events, signer)
                    break
            self._wish.progress(f"{events} events sent")
        return replace(sent, is_cleaned=not sent.erased or clean_pages(self._link))

    def _heads(self, ws: int) -> dict[str, Head]:
        heads = hub_heads(self._link, ws)
        check_no_fork(self._link, ws, self._conn, heads, self._shop.settings.device)
        return heads

    def _total(self, heads: Mapping[str, Head]) -> int:
        return sum(max(_count(heads, x), self._known.get(x, 0)) for x in {*heads, *self._known})

    def _finish(self, ws: int, events: int, signer: Signer) -> Sent:
        """Bring rows, texts and signature to where the events are; nothing where they are there."""
        there = {x: head.count for x, head in hub_heads(self._link, ws).items()}
        is_stale = read_projected(self._link, ws) != there
        rows = names = 0
        with self._source(ws, there, is_needed=is_stale or bool(self._wish.names)) as source:
            gone = forgotten_seals(source)
            if is_stale:
                self._wish.progress("sending the rows that answers are read from")
                settings = read_settings(source)
                name_workshop(self._link, ws, name=settings.name, currency=settings.currency)
                rows = bring_rows(self._link, ws, source)
                note_projected(self._link, ws, there)
                self._sign(ws, signer)
            erased = erase_sealed(self._link, ws, None if self._wish.names is False else gone)
            if self._wish.names:
                names = put_sealed(self._link, ws, self._conn, gone)
        known = sum(there.values())
        return Sent(place_of(self._link), ws, events, known, rows, names, erased)

    def _source(
        self, ws: int, there: Mapping[str, int], *, is_needed: bool
    ) -> closing[sqlite3.Connection] | nullcontext[sqlite3.Connection]:
        """
        A database that holds all events that the hub has: mostly the workshop's own.

        Where another device sent what this one does not know, the rows are worked out anew from the
        events of both.
        """
        if not is_needed or there == self._known:
            return nullcontext(self._conn)
        self._wish.progress("working out what two devices did together")
        more = fetch_events(self._link, ws, self._known)
        return closing(fold([read_all(self._conn), more]))

    def _sign(self, ws: int, signer: Signer) -> None:
        at = format_instant(self._shop.clock())
        made = sign_heads(self._conn, signer, device=self._shop.settings.device, at=at)
        keep_signature(
            self._link,
            ws,
            (made.signature, made.device, made.public_key, made.at, made.data.decode()),
        )


def _count(heads: Mapping[str, Head], letter: str) -> int:
    return heads[letter].count if letter in heads else 0


def _missing(rows: Iterator[Row], heads: Mapping[str, Head]) -> Iterator[Row]:
    return (row for row in rows if int(str(row[1])) > _count(heads, str(row[0])))
