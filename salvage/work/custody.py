"""
Custody of data-bearing parts, from the door to sanitising or return.

Each medium is one numbered part of its drop-off; of several alike, describing one takes it out as a
part of its own. A drop-off is not closed while a part is open.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.frozen import dataclass
from salvage.records.custody import (
    MEDIA_OF_PART,
    DataSearch,
    DropOffClosed,
    HandOver,
    Medium,
    Sanitising,
)
from salvage.store.lookup import read_private
from salvage.store.rows import select, select_one
from salvage.work.receive import DropOffView, view_drop_off

if TYPE_CHECKING:
    import sqlite3

    from salvage.ids import Code
    from salvage.records.things import DataPart
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Handed:
    """
    One hand-over with the name behind its seal.

    Args:
        step: The record.
        to: Who took it; empty where nobody was named, or the name was erased.
    """

    step: HandOver
    to: str


@dataclass(frozen=True, slots=True)
class MediumView:
    """
    A data-bearing part with its whole custody.

    Args:
        part: The part of the drop-off.
        medium: What is known of it; None while nobody described it.
        serial: Its serial number; empty where it is not known or was erased.
        source: The device that it came from; empty likewise.
        hand_overs: In order.
        attempts: Attempts to make it unreadable, in order.
    """

    part: DataPart
    medium: Medium | None
    serial: str
    source: str
    hand_overs: tuple[Handed, ...]
    attempts: tuple[Sanitising, ...]

    @property
    def number(self) -> str:
        """Our own number for it, such as ``DC0005X-1``."""
        return f"{self.part.drop_off}-{self.part.n}"

    @property
    def media_type(self) -> str:
        """What it keeps its data in, as described or as usual for its kind; empty if not known."""
        return self.medium.media_type if self.medium else MEDIA_OF_PART.get(self.part.part, "")

    @property
    def accepted(self) -> Sanitising | None:
        """The attempt that was accepted."""
        return next((each for each in self.attempts if each.validation == "accept"), None)


@dataclass(frozen=True, slots=True)
class CustodyView:
    """
    A drop-off with the custody of all its data-bearing parts.

    Args:
        drop_off: The drop-off.
        media: Its data-bearing parts in order, without those that record a search.
        searches: Searches with their scope, in order.
        closed: That it was closed; None while it was not.
    """

    drop_off: DropOffView
    media: tuple[MediumView, ...]
    searches: tuple[DataSearch, ...]
    closed: DropOffClosed | None

    @property
    def standing(self) -> str:
        """How the drop-off stands, in words."""
        left = len(self.drop_off.open_data_parts)
        if left:
            again = "open again" if self.closed else "open"
            return f"{again}: {left} data-bearing part{'s' if left > 1 else ''} not dealt with"
        if self.closed:
            return f"closed on {self.closed.at[:10]} by {self.closed.by}"
        if not self.drop_off.data_parts:
            return "open: nobody has looked for data-bearing parts"
        return "open: may be closed"


def view_custody(conn: sqlite3.Connection, drop_off: Code) -> CustodyView:
    """The drop-off with the custody of its parts; NotFound where there is none."""
    view = view_drop_off(conn, drop_off)
    media = tuple(_view(conn, part) for part in view.data_parts if part.part != "none found")
    searches = select(
        conn, DataSearch, "FROM data_search WHERE drop_off = ? ORDER BY n", (drop_off,)
    )
    closed = select_one(conn, DropOffClosed, "FROM drop_off_closed WHERE drop_off = ?", (drop_off,))
    return CustodyView(view, media, searches, closed)


def show_custody(shop: Workshop, *, drop_off: Code) -> CustodyView:
    """The custody of a drop-off's data-bearing parts; NotFound where there is no such drop-off."""
    return view_custody(shop.conn, drop_off)


def _view(conn: sqlite3.Connection, part: DataPart) -> MediumView:
    where = "WHERE drop_off = ? AND n = ?"
    key = (part.drop_off, part.n)
    medium = select_one(conn, Medium, f"FROM medium {where}", key)
    steps = select(conn, HandOver, f"FROM hand_over {where} ORDER BY step", key)
    return MediumView(
        part,
        medium,
        read_private(conn, medium.serial_seal) if medium else "",
        read_private(conn, medium.source_seal) if medium else "",
        tuple(Handed(step, read_private(conn, step.to_seal)) for step in steps),
        select(conn, Sanitising, f"FROM sanitising {where} ORDER BY attempt", key),
    )


def find_medium(conn: sqlite3.Connection, drop_off: Code, n: int) -> MediumView:
    """
    One data-bearing part of a drop-off.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If it has no such part; with those it has.
    """
    media = {medium.part.n: medium for medium in view_custody(conn, drop_off).media}
    if n not in media:
        known = ", ".join(f"{key} ({medium.part.part})" for key, medium in media.items()) or "none"
        raise Refused(f"{drop_off} has no data-bearing part {n}", hint=f"it has: {known}")
    return media[n]
