"""
How each hazard of a board stood at the moment of each cut, from the order of events alone.

That a board was free of batteries and mercury when it was cut is shown by what came first in the
journal; the tables only know how things stand today.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from salvage.records.alerts import Alert, BoardFacts, concerns
from salvage.records.events import Event
from salvage.store.journal import read_events_of, undone_ids


@dataclass(frozen=True, slots=True)
class CheckState:
    """
    How a hazard stood.

    Args:
        finding: One of :data:`salvage.records.choices.FINDINGS`.
        outcome: ``removed``, ``accepted`` or empty.
        event: The event that said so; None while nobody had looked.
    """

    finding: str
    outcome: str
    event: Event | None

    @property
    def is_settled(self) -> bool:
        """True where it no longer held the board."""
        return self.finding == "absent" or bool(self.outcome)

    @property
    def is_off(self) -> bool:
        """True where nothing of it was on the board: searched and none found, or removed."""
        return self.finding == "absent" or self.outcome == "removed"


_OPEN = CheckState("not checked", "", None)


@dataclass(frozen=True, slots=True)
class CutMoment:
    """
    One cut, and how the hazards of its board stood then.

    Args:
        event: The cut.
        board: Code of its board.
        checks: State by hazard, of all hazards that were asked for till then.
    """

    event: Event
    board: str
    checks: Mapping[str, CheckState]


class _Boards:
    """Boards as the events tell them, one after the other."""

    def __init__(self) -> None:
        self.facts: dict[str, BoardFacts] = {}
        self.checks: dict[str, dict[str, CheckState]] = {}
        self.alerts: dict[str, Alert] = {}

    def take(self, event: Event) -> None:
        """Let one event count."""
        take = {
            "board.recorded": self._record,
            "board.corrected": self._correct,
            "hazard.checked": self._check,
            "alert.raised": self._alert,
            "alert.lifted": self._lift,
        }.get(event.kind)
        if take:
            take(event)

    def _record(self, event: Event) -> None:
        board, data = event.about[0], event.data
        names = ("type", "maker", "model", "date_code", "drop_off")
        self.facts[board] = BoardFacts(*(str(data[name]) for name in names))
        self.checks[board] = {}
        self._expect(event)
        self._heed(board, None)

    def _expect(self, event: Event) -> None:
        hazards = event.data["hazards"]
        assert isinstance(hazards, list)
        for hazard in hazards:
            self.checks[event.about[0]].setdefault(str(hazard), _OPEN)

    def _correct(self, event: Event) -> None:
        board, now = event.about[0], event.data["now"]
        assert isinstance(now, Mapping)
        before = self.facts[board]
        told = {name: str(now[name]) for name in BoardFacts.__slots__ if name in now}
        self.facts[board] = replace(before, **told)
        self._expect(event)
        self._heed(board, before)

    def _heed(self, board: str, before: BoardFacts | None) -> None:
        for alert in self.alerts.values():
            if concerns(alert, self.facts[board]) and not (before and concerns(alert, before)):
                self._reopen(board, alert.hazard)

    def _reopen(self, board: str, hazard: str) -> None:
        state = self.checks[board].get(hazard, _OPEN)
        if state.outcome != "removed" and state.finding != "present":
            self.checks[board][hazard] = _OPEN

    def _check(self, event: Event) -> None:
        data = event.data
        state = CheckState(str(data["finding"]), str(data["outcome"]), event)
        self.checks[event.about[0]][str(data["hazard"])] = state

    def _alert(self, event: Event) -> None:
        told = {name: str(value) for name, value in event.data.items()}
        alert = Alert(event.id, **told, by=event.by, at=event.at, lifted="")
        self.alerts[event.id] = alert
        for board, facts in self.facts.items():
            if concerns(alert, facts):
                self._reopen(board, alert.hazard)

    def _lift(self, event: Event) -> None:
        self.alerts.pop(str(event.data["alert"]), None)


def cut_moments(conn: sqlite3.Connection, board: str = "") -> Iterator[CutMoment]:
    """
    Every cut that stands, in order, with how the hazards of its board stood then.

    Args:
        conn: Open connection.
        board: Only cuts of this board; empty for all.
    """
    boards = _Boards()
    for event in _counting(conn, board):
        boards.take(event)
        if event.kind == "cut.made":
            cut_from = event.about[1]
            yield CutMoment(event, cut_from, MappingProxyType(dict(boards.checks[cut_from])))


def standing_checks(conn: sqlite3.Connection, board: str) -> Mapping[str, CheckState]:
    """
    How the hazards of a board stand after all events.

    Args:
        conn: Open connection.
        board: The board's code.
    """
    boards = _Boards()
    for event in _counting(conn, board):
        boards.take(event)
    return MappingProxyType(boards.checks[board])


_OF_BOARDS = ("board.recorded", "board.corrected", "hazard.checked", "cut.made")
_OF_ALL = ("alert.raised", "alert.lifted")


def _counting(conn: sqlite3.Connection, board: str) -> Iterator[Event]:
    """Events of boards and alerts that were neither undone nor clash with another device's."""
    gone = undone_ids(conn).keys() | {id_ for (id_,) in conn.execute("SELECT event_id FROM clash")}
    events = read_events_of(conn, _OF_BOARDS, code=board, also=_OF_ALL)
    return (event for event in events if event.id not in gone)
