"""When the workshop was last copied, as this computer remembers it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from salvage.canonical import Json
from salvage.store.durable import make_folder, put_file
from salvage.store.files import plain_os_errors
from salvage.work.workshop import Workshop

OLD_DAYS = 14
"""A copy older than this is told as old (common practice, no source: weekly or fortnightly)."""

_NOTE = Path("backups") / "last-copy.json"


@dataclass(frozen=True, slots=True)
class LastCopy:
    """
    When the workshop was last copied.

    Args:
        made_at: Instant in UTC.
        folder: Where it went.
        events: Number of events in it.
        days: Whole days since then.
        events_since: Events that are not in it.
    """

    made_at: str
    folder: str
    events: int
    days: int
    events_since: int

    @property
    def is_old(self) -> bool:
        """Whether it is time for another one."""
        return self.days > OLD_DAYS and self.events_since > 0


def remember_copy(shop: Workshop, *, folder: Path, made_at: str, events: int) -> None:
    """
    Note that a copy was made.

    Args:
        shop: The open workshop.
        folder: Where it went.
        made_at: Instant in UTC.
        events: Number of events in it.

    Raises:
        StoreTrouble: If the note cannot be written.
    """
    note: dict[str, Json] = {
        "made_at": made_at,
        "folder": str(folder.resolve()),
        "events": events,
    }
    path = shop.folder / _NOTE
    with plain_os_errors(path):
        make_folder(path.parent)
        put_file(path, json.dumps(note).encode())


def last_copy(shop: Workshop) -> LastCopy | None:
    """The last copy made on this computer; None if none is remembered."""
    try:
        note = json.loads((shop.folder / _NOTE).read_text("utf-8"))
        made_at, folder, events = str(note["made_at"]), str(note["folder"]), int(note["events"])
        days = (shop.clock() - datetime.fromisoformat(made_at)).days
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return None
    # Events are never deleted and their numbers leave no gap: the last number is the count.
    (now,) = shop.conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
    return LastCopy(made_at, folder, events, max(0, days), max(0, int(now) - events))
