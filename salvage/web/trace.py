"""Where a thing is from and what became of it, as a tree."""

from __future__ import annotations

from salvage.errors import NotFound
from salvage.web.discreet import seen_by
from salvage.web.doors import Way, address_of
from salvage.web.visit import Answer, Bytes, Sheet, Visit
from salvage.work.history import read_history
from salvage.work.trace import trace, without_names
from salvage.work.trace_picture import draw_trace


def show_trace(visit: Visit) -> Answer:
    """A thing's line back to its donor and its tree forward, with its history."""
    code = visit.code("")
    found = trace(visit.shop, code)
    if not visit.guest.is_owner:
        found = without_names(visit.shop, found)
    try:
        lines = read_history(visit.shop, code)
    except NotFound:
        lines = ()
    history = seen_by(visit.guest, lines)
    facts = {"found": found, "history": history, "address_of": address_of}
    return Sheet("trace.html", f"Trace {code}", facts)


def show_picture(visit: Visit) -> Answer:
    """The lineage as a picture, with donors as they agreed to appear."""
    return Bytes(draw_trace(visit.shop, code=visit.code("")), "image/svg+xml")


WAYS = (
    Way("/trace/{code}", show_trace),
    Way("/trace/{code}/picture.svg", show_picture),
)
