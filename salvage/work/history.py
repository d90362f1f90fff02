"""The history of a code, and taking the last thing back by an event that corrects it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import NotFound, Refused
from salvage.frozen import dataclass
from salvage.store.journal import (
    read_events,
    read_events_about,
    read_events_newest,
    read_operation,
    undone_ids,
)
from salvage.store.lookup import exists, load_board, suggest
from salvage.work.area import usable_with
from salvage.work.event_words import describe_event
from salvage.work.lineage import donors_of

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable

    from salvage.ids import Code
    from salvage.records.events import Event
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

ROUNDING_UM2 = 1_000_000
"""
Usable areas that differ by less than 1 mm² are the same: what is taken may have been added up in
another order.
"""


LEAST_ENDING = 6
"""Characters that the end of an id must have to name an operation; ids begin with the time."""

_MOST_STEPS = 20
_ERASED = ("donor.forgotten", "order.forgotten")
_SETTINGS = "workshop.set"
_STANDS = (_SETTINGS, "device.joined", "device.keyed")


def short_id(operation: str) -> str:
    """
    The end of an operation's id, which people read and type.

    The beginning is the time, so that ids of one morning begin alike; the end is random.

    >>> short_id("019df239-1340-7a58-b791-df6af1d861cd")
    'f1d861cd'
    """
    return operation[-8:]


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
        about: What each of the events changes, in the order of *words*; empty for settings and
            shapes.
        passed_over: Settings in words that are newer and stay: plain undo does not take them back.
    """

    operation: str
    act: str
    words: tuple[str, ...]
    about: tuple[tuple[Code, ...], ...] = ()
    passed_over: tuple[str, ...] = ()

    @property
    def codes(self) -> tuple[Code, ...]:
        """Everything that the correction changes, once each."""
        return tuple(dict.fromkeys(code for codes in self.about for code in codes))


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
        operation: Id of the operation, its beginning or its end; if empty, the last one that stands
            and is no change of settings.
        why: Reason for the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is nothing to undo.
        Refused: If later events rest on it, with the list of them.
    """

    def steps(change: Change) -> Undone:
        events, passed_over = _find_operation(change.conn, operation)
        roots = _roots(change.conn, events)
        _check_undoable(change.conn, events, roots)
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
        _count_again(change, {code for root in roots for code in root.about})
        return Undone(
            first.operation,
            first.act,
            tuple(map(describe_event, events)),
            tuple(map(changed_codes, events)),
            passed_over,
        )

    return shop.commit("undo", steps, dry_run=dry_run)


def _find_operation(
    conn: sqlite3.Connection, wanted: str
) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """The events of the operation that is meant, and the settings that were passed over."""
    if not wanted:
        return _find_last(conn)
    found = {event.operation for event in read_events(conn) if _is_meant(event.operation, wanted)}
    if len(found) != 1:
        raise NotFound(
            f"'{wanted}' names {len(found)} operations", hint="'salvage journal' lists their ids"
        )
    events = read_operation(conn, found.pop())
    if events[0].id in undone_ids(conn):
        raise Refused(f"'{events[0].act}' was undone already")
    return events, ()


def _is_meant(operation: str, wanted: str) -> bool:
    tidy = wanted.strip().lower()
    is_ending = len(tidy) >= LEAST_ENDING and operation.endswith(tidy)
    return is_ending or operation.startswith(tidy)


def _find_last(conn: sqlite3.Connection) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    gone = undone_ids(conn)
    settings: dict[str, None] = {}
    for event in read_events_newest(conn):
        events = read_operation(conn, event.operation)
        if any(one.kind in _STANDS for one in events):
            words = (describe_event(one) for one in events if one.kind == _SETTINGS)
            settings |= dict.fromkeys(words)
        elif not any(one.id in gone or one.kind == "correction.undone" for one in events):
            return events, tuple(settings)
    hint = "set an old value again with 'salvage setup'" if settings else ""
    raise NotFound("there is nothing to undo", hint=hint)


def _roots(conn: sqlite3.Connection, events: tuple[Event, ...]) -> tuple[Event, ...]:
    """The events themselves; in the place of a correction, those that it takes back or brings."""
    found: list[Event] = []
    for event in events:
        if event.kind == "correction.undone":
            found += _roots(conn, read_operation(conn, str(event.data["operation"])))
        else:
            found.append(event)
    return tuple(found)


def _check_undoable(
    conn: sqlite3.Connection, events: tuple[Event, ...], roots: tuple[Event, ...]
) -> None:
    first = events[0]
    if any(event.kind in _ERASED for event in events):
        raise Refused(
            f"'{first.act}' cannot be undone: what was erased is gone",
            hint="an earlier step is undone by its short id, which 'salvage journal' lists",
        )
    if any(event.kind in _STANDS for event in events):
        raise Refused(
            f"'{first.act}' cannot be undone", hint="set the old value again with 'salvage setup'"
        )
    made = {code for root in roots for code in root.made}
    missing = {code for root in roots for code in root.about if code not in made}
    missing = {code for code in missing if not exists(conn, code)}
    if missing:
        raise Refused(
            f"'{roots[0].act}' cannot be brought back: {', '.join(sorted(missing))} is undone",
            hint="bring that back first",
        )
    gone = undone_ids(conn)
    rests = _dependence(conn, roots, made)
    later = [
        event
        for event in read_events(conn, after=events[-1])
        if event.id not in gone and event.kind != "correction.undone" and rests(event)
    ]
    if later:
        raise Refused(
            f"'{first.act}' cannot be undone before the later steps that rest on it, the last one"
            f" first:\n{_steps_in_words(later)}",
            hint="undo each by its short id: salvage undo " + short_id(later[-1].operation),
        )


def _steps_in_words(later: list[Event]) -> str:
    """Operations with short id, time, codes and words, the last one first."""
    steps: dict[str, list[Event]] = {}
    for event in reversed(later):
        steps.setdefault(event.operation, []).append(event)
    lines = []
    for operation, events in steps.items():
        event = events[-1]  # the first of them, since they run backwards
        told = f"{' '.join(changed_codes(event)[:3])}  {describe_event(event)}"
        more = f" (and {len(events) - 1} more)" if len(events) > 1 else ""
        when = f"{event.at[:10]} {event.at[11:16]}"
        lines.append(f"  {short_id(operation)}  {when}  {told}{more}")
    if len(lines) > _MOST_STEPS:
        lines[_MOST_STEPS:] = [f"  … and {len(lines) - _MOST_STEPS} earlier ones"]
    return "\n".join(lines)


def changed_codes(event: Event) -> tuple[Code, ...]:
    """The codes of :func:`touches` in the event's own order."""
    changed = touches(event)
    return tuple(code for code in event.about if code in changed)


def _dependence(
    conn: sqlite3.Connection, roots: tuple[Event, ...], made: set[Code]
) -> Callable[[Event], bool]:
    """Tells of a later event whether it rests on *roots*, which made the codes *made*."""
    touched = {code for root in roots for code in touches(root)}
    wishes = {root.about[0] for root in roots if root.kind == "donor.naming_set"}

    counted = {str(root.data["outing"]) for root in roots if root.kind.startswith("sale.")}

    tools = {root.data["name"] for root in roots if root.kind == "tool.described"}

    def rests(later: Event) -> bool:
        if later.kind.startswith("tool.") and later.data["name"] in tools:
            return True
        if touched & touches(later) or made & set(later.about):
            return True
        if later.kind == "outing.closed" and later.about[0] in counted:
            return True  # its cash was counted with that sale
        # A card rests on the wish that stood when it was printed.
        return later.kind == "card.printed" and bool(_donors_of(conn, later.about[0]) & wishes)

    return rests


def _donors_of(conn: sqlite3.Connection, piece: Code) -> set[Code]:
    return {donor.code for donor in donors_of(conn, piece)}


def _count_again(change: Change, codes: set[Code]) -> None:
    """Set usable areas right where the settings have changed since the event that stated them."""
    usable: dict[str, int] = {}
    for code in sorted(code for code in codes if code[0] == "B" and exists(change.conn, code)):
        board = load_board(change.conn, code)
        if not board.retired and board.outline:
            now = usable_with(change.conn, board)
            if abs(now - board.usable_um2) > ROUNDING_UM2:
                usable[code] = now
    if usable:
        change.append("area.recounted", (), {"usable_um2": dict(usable)})


def touches(event: Event) -> set[Code]:
    """
    Codes whose state an event changes.

    Drop-offs and donors that are merely named as origin do not count, nor orders and outings that
    pieces are named for; what comes first or is made does.
    """
    return {
        code
        for place, code in enumerate(event.about)
        if place == 0 or code in event.made or code[0] not in "DGNU"
    }
