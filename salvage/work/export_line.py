"""What an export is about: the events of one line of descent, and the addresses of its things."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.ids import Code
from salvage.records.events import Event
from salvage.store.journal import read_events, undone_ids
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


def gather_line(shop: Workshop, *, about: Code | None = None) -> Line:
    """
    The events about a thing, its origins and what came of it; all of them when *about* is None.

    Raises:
        NotFound: If there is nothing with this code.
    """
    codes = _codes(shop, about) if about else None
    every = tuple(read_events(shop.conn))
    gone = undone_ids(shop.conn)
    at = {event.id: event.at for event in every}
    kept = tuple(event for event in every if _belongs(event, codes))
    undone = {name: at[by] for name, by in gone.items()}
    return Line(kept, undone, codes, _base(shop))


def _base(shop: Workshop) -> str:
    address = shop.settings.web_address
    return f"{address.rstrip('/')}/" if address else "urn:salvage:"


def _codes(shop: Workshop, about: Code) -> frozenset[str]:
    found = trace(shop, about)
    codes = {found.subject.code, *(link.code for link in found.back)}
    waiting: list[Branch] = [found.forward]
    while waiting:
        branch = waiting.pop()
        codes.add(branch.link.code)
        waiting.extend(branch.branches)
    return frozenset(codes)


def _belongs(event: Event, codes: frozenset[str] | None) -> bool:
    if codes is None:
        return True
    if event.made:
        return not codes.isdisjoint(event.made)
    return not codes.isdisjoint(event.about)
