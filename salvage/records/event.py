"""One entry of the journal; what each kind says stands in :mod:`salvage.records.events`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from salvage.canonical import Json
    from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class Event:
    """
    One entry of the journal, as read back.

    Args:
        seq: Place in this database; order of arrival.
        id: UUID version 7.
        device: Letter of the device that wrote it.
        n: Running number on that device, from 1 without gaps.
        clock: Greater than that of every event its device knew; orders the events of all devices.
        at: Instant in UTC.
        by: Who did it.
        kind: Key of :data:`salvage.records.events.KINDS`.
        act: The operation's name.
        operation: Id shared by all events of one operation.
        about: Codes that it concerns, the main one first.
        made: Codes that it brings into being.
        data: The kind's own fields.
        prev: Hash of its device's event before it.
        hash: SHA-256 over *prev* and the canonical body.
    """

    seq: int
    id: str
    device: str
    n: int
    clock: int
    at: str
    by: str
    kind: str
    act: str
    operation: str
    about: tuple[Code, ...]
    made: tuple[Code, ...]
    data: Mapping[str, Json]
    prev: str
    hash: str
