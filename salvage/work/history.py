"""The history of a code, and taking the last thing back by an event that corrects it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from salvage.errors import NotFound, Refused
from salvage.ids import Code
from salvage.records.events import Event
from salvage.store.change import Change
from salvage.store.journal import (
    read_events,
    read_events_about,
    read_events_newest,
    read_operation,
    undone_ids,
)
from salvage.store.lookup import suggest
from salvage.work.event_words import describe_event
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """
    One event in words.

    Args:
        event: The event.
        words: What happened.
        undone: True when a later correction took it back.
    """

    event: Event
    words: str
    undone: bool


@dataclass(frozen=True, slots=True)
class Undone:
    """
    What a correction took back.

    Args:
        operation: Id of the operation.
        act: Its name.
        words: Its events in words.
    """

    operation: str
    act: str
    words: tuple[str, ...]


def read_history(shop: Workshop, code: Code) -> tuple[HistoryLine, ...]:
    """
    Everything that happened to one thing, oldest first, undone events too.

    Raises:
        NotFound: If the journal never mentioned the code.
    """
    events = read_events_about(shop.conn, code)
    if not events:
        raise NotFound(
            f"there is nothing with the code {code} in this workshop",
            nearest=suggest(shop.conn, code),
        )
    return _lines(shop.conn, events)


def read_journal(shop: Workshop, *, most: int = 20) -> tuple[HistoryLine, ...]:
    """The newest events of the whole workshop, newest last."""
    newest = tuple(reversed(tuple(read_events_newest(shop.conn, most=most))))
    return _lines(shop.conn, newest)


def _lines(conn: sqlite3.Connection, events: Iterable[Event]) -> tuple[HistoryLine, ...]:
    gone = undone_ids(conn)
    return tuple(HistoryLine(event, describe_event(event), event.id in gone) for event in events)


def undo(shop: Workshop, *, operation: str = "", why: str = "", dry_run: bool = False) -> Undone:
    """
    Take an operation back by a correcting event; both stay in the history.

    Args:
        shop: The open workshop.
        operation: Id of the operation, or its beginning; the last one that stands if empty.
        why: Reason for the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is nothing to undo.
        Refused: If later events rest on it, with the list of them.
    """

    def steps(change: Change) -> Undone:
        events = _find_operation(change.conn, operation)
        _check_undoable(change.conn, events)
        touched = dict.fromkeys(code for event in events for code in event.about)
        first = events[0]
        change.append(
            "correction.undone",
            tuple(touched),
            {
                "operation": first.operation,
                "events": [event.id for event in events],
                "act": first.act,
                "why": why,
            },
        )
        return Undone(first.operation, first.act, tuple(map(describe_event, events)))

    return shop.commit("undo", steps, dry_run=dry_run)


def _find_operation(conn: sqlite3.Connection, wanted: str) -> tuple[Event, ...]:
    gone = undone_ids(conn)
    if not wanted:
        for event in read_events_newest(conn):
            if event.id not in gone and event.kind != "correction.undone":
                return read_operation(conn, event.operation)
        raise NotFound("there is nothing to undo")
    found = {event.operation for event in read_events(conn) if event.operation.startswith(wanted)}
    if len(found) != 1:
        raise NotFound(
            f"'{wanted}' names {len(found)} operations", hint="'salvage journal' lists their ids"
        )
    events = read_operation(conn, found.pop())
    if events[0].id in gone:
        raise Refused(f"'{events[0].act}' was undone already")
    return events


def _check_undoable(conn: sqlite3.Connection, events: tuple[Event, ...]) -> None:
    first = events[0]
    if any(event.kind == "workshop.set" for event in events):
        raise Refused(
            f"'{first.act}' cannot be undone", hint="set the old value again with 'salvage setup'"
        )
    touched = {code for event in events for code in touches(event)}
    gone = undone_ids(conn)
    later = [
        event
        for event in read_events(conn, after=events[-1].seq)
        if event.id not in gone and event.kind != "correction.undone" and touched & touches(event)
    ]
    if later:
        lines = "\n".join(f"  {event.at[:16]} {describe_event(event)}" for event in later[:20])
        raise Refused(
            f"'{first.act}' cannot be undone before the later steps that rest on it, the last one"
            f" first:\n{lines}"
        )


def touches(event: Event) -> set[Code]:
    """
    Codes whose state an event changes.

    Drop-offs and donors that are merely named as origin do not count; what comes first or is made
    does.
    """
    return {
        code
        for place, code in enumerate(event.about)
        if place == 0 or code in event.made or code[0] not in "DG"
    }
