"""What a helper does not see: history lines that tell money, and who bought or ordered."""

from __future__ import annotations

from salvage.records.events import Event
from salvage.web.notebook import Guest
from salvage.work.history import HistoryLine

_MONEY = ("sale.", "order.", "outing.")


def tells_money(event: Event) -> bool:
    """Whether an event's words may hold an amount or a customer."""
    if event.kind.startswith(_MONEY):
        return True
    return any(name == "currency" or name.endswith("_minor") for name in event.data)


def seen_by(guest: Guest, lines: tuple[HistoryLine, ...]) -> list[tuple[HistoryLine, bool]]:
    """Each line, with whether the guest may see its words."""
    return [(line, guest.is_owner or not tells_money(line.event)) for line in lines]
