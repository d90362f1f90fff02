"""What an export is about: the events of one line of descent, and the addresses of its things."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from salvage.ids import Code
from salvage.records.events import Event
from salvage.store.journal import (
    event_by_id,
    read_events,
    read_events_about_any,
    read_events_of,
    undone_ids,
)
from salvage.work.trace import Branch, trace
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Line:
    """
    The events that an export tells.

    Args:
        events: Oldest first, the undone among them.
        undone: Ids of undone events, with when each was taken back.
        codes: What the export may name; None for everything.
        base: What stands before a code to make it an address.
    """

    events: tuple[Event, ...]
    undone: dict[str, str]
    codes: frozenset[str] | None
    base: str

    def tells(self, code: str) -> bool:
        """Whether the export may name this code."""
        return self.codes is None or code in self.codes

    def address(self, code: str) -> str:
        """The address of a thing: the workshop's own, or a name under ``urn:salvage``."""
        return f"{self.base}{code}"


@dataclass(frozen=True, slots=True)
class Export:
    """
    A written export.

    Args:
        data: The file.
        events: Number of the journal's events that it tells.
        left_out: Kinds of events that have no word in this form, with the reason.
    """

    data: bytes
    events: int
    left_out: dict[str, str]


# Kinds by which a thing of its own (first of its codes) concerns others: a recall what it holds, a
# reservation its board, a batch the pieces that it went into.
_CONCERNING = ("recall.opened", "recall.begun", "recall.joined", "reservation.made", "batch.used")


def gather_line(shop: Workshop, *, about: Code | None = None) -> Line:
    """
    The events about a thing, its origins and what came of it; all of them when *about* is None.

    Recalls that reached it, places that were held on it (let go since or not) with their plans, and
    batches of material that went into it belong to it.

    Raises:
        NotFound: If there is nothing with this code.
    """
    if about:
        codes = _with_concerning(shop.conn, *_codes(shop, about))
        every: Iterable[Event] = read_events_about_any(shop.conn, codes)
    else:
        codes, every = None, read_events(shop.conn)
    gone = undone_ids(shop.conn)
    kept = tuple(event for event in every if _belongs(event, codes))
    at = {by: event_by_id(shop.conn, by).at for by in set(gone.values())}
    undone = {name: at[by] for name, by in gone.items()}
    return Line(kept, undone, codes, _base(shop))


def _base(shop: Workshop) -> str:
    address = shop.settings.web_address
    return f"{address.rstrip('/')}/" if address else "urn:salvage:"


def _codes(shop: Workshop, about: Code) -> tuple[frozenset[str], frozenset[str]]:
    """The thing with its origins, and the thing with what came of it."""
    found = trace(shop, about)
    back = {found.subject.code, *(link.code for link in found.back)}
    forward: set[str] = set()
    waiting: list[Branch] = [found.forward]
    while waiting:
        branch = waiting.pop()
        forward.add(branch.link.code)
        waiting.extend(branch.branches)
    return frozenset(back), frozenset(forward)


def _with_concerning(
    conn: sqlite3.Connection, back: frozenset[str], forward: frozenset[str]
) -> frozenset[str]:
    """All of them, and the recalls, reservations, plans and batches that concern these."""
    more: set[str] = set()
    has_plans = any(code.startswith("J") for code in forward)
    held = read_events_of(conn, ["reservation.made"]) if has_plans else ()
    for event in (*read_events_about_any(conn, forward), *held):
        if event.kind not in _CONCERNING:
            continue
        plan = str(event.data.get("plan", ""))
        if not forward.isdisjoint(event.about) or plan in forward:
            more |= {event.about[0], plan} - {""}
    return back | forward | more


def _belongs(event: Event, codes: frozenset[str] | None) -> bool:
    if codes is None:
        return True
    if event.made:
        return not codes.isdisjoint(event.made)
    return not codes.isdisjoint(event.about)
