"""What to do next, by the state of the workshop: what the program says when it is called alone."""

from __future__ import annotations

import shlex
from dataclasses import dataclass

from salvage.work.last_copy import last_copy
from salvage.work.next_job import JOB, UPKEEP
from salvage.work.next_pressing import PRESSING
from salvage.work.next_step import LATER, NEXT, NOW, Look, NextStep, counted
from salvage.work.workshop import Workshop

__all__ = [
    "BEFORE_ALL",
    "LATER",
    "NEXT",
    "NOW",
    "NextStep",
    "WhatNext",
    "next_command",
    "what_next",
]

BEFORE_ALL = NextStep("workshop", NEXT, "no workshop is here yet; begin one", "setup")
"""What is to be done where no workshop is."""

_EVENTS_TO_LOSE = 20
# A workshop of so few events is typed again in a quarter of an hour.


@dataclass(frozen=True, slots=True)
class WhatNext:
    """
    What is to be done.

    Args:
        workshop: Its name.
        steps: The most pressing first; empty where nothing waits.
    """

    workshop: str
    steps: tuple[NextStep, ...]


def what_next(shop: Workshop) -> WhatNext:
    """
    What is to be done next, the most pressing first, each with the command that does it.

    Of boards, pieces and drop-offs only the newest thousand are looked at, so that the answer
    comes as quickly from a record of many years.

    Args:
        shop: The open workshop.
    """
    look = Look(shop.conn, shop.today.isoformat())
    found = [step for rule in (*PRESSING, *JOB) for step in rule(look)]
    found += _copy(shop)
    found += [step for rule in UPKEEP for step in rule(look)]
    found.sort(key=lambda step: (NOW, NEXT, LATER).index(step.urgency))  # keeps the order inside
    return WhatNext(shop.settings.name, tuple(found))


def next_command(shop: Workshop) -> str:
    """Words of the command line for the first thing to do; ``dropoff add`` where nothing waits."""
    steps = what_next(shop).steps
    return steps[0].command if steps else "dropoff add"


def _copy(shop: Workshop) -> list[NextStep]:
    """A copy of the whole workshop, where none was made or the last one is old."""
    last, usual = last_copy(shop), shop.settings.backup_folder
    if last is None:
        (events,) = shop.conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
        if events < _EVENTS_TO_LOSE:
            return []
        words, target = "no copy of the workshop was ever made on this computer", "FOLDER"
    elif last.is_old:
        since = counted(last.events_since, "event")
        words = f"the last copy is {counted(last.days, 'day')} old; {since} since"
        target = shlex.quote(last.folder)
    else:
        return []
    return [NextStep("copy", LATER, words, "backup" if usual else f"backup {target}")]
