"""
Free of mercury, nickel-cadmium and lithium at the moment of cutting: shown by the order of events.

The rule behind it (40 CFR 261.4(a)(14)) speaks of shredded circuit boards; whether it applies to a
workshop is for its local authority to say. We only show what the record proves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from salvage.ids import Code
from salvage.knowledge.removal import FreeOf, free_of_list
from salvage.records.events import Event
from salvage.store.lookup import load_board
from salvage.work.checks_at_cut import CheckState, CutMoment, cut_moments, standing_checks
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class FreeLine:
    """
    One thing that a board must be free of, at one cut.

    Args:
        item: What it is, with the rule's source.
        words: What the record says of each of its hazards, one line each.
        missing: Slugs of those that it does not show to be off.
    """

    item: FreeOf
    words: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def proven(self) -> bool:
        """True if the record shows that the board was free of it."""
        return not self.missing


@dataclass(frozen=True, slots=True)
class FreeAtCut:
    """
    One cut with what the record shows for that moment.

    Args:
        cut: Code of the cut.
        at: When it was recorded.
        entry: Its device's letter and number in the journal.
        override: Why it was cut in spite of open hazards; empty for none.
        lines: One for each thing that the rule names.
    """

    cut: Code
    at: str
    entry: str
    override: str
    lines: tuple[FreeLine, ...]

    @property
    def proven(self) -> bool:
        """True if the record shows the board free of all of them."""
        return all(line.proven for line in self.lines)


@dataclass(frozen=True, slots=True)
class FreeOfView:
    """
    A board's cuts in order; none while it is whole.

    Args:
        board: The board's code.
        board_type: Slug of its type.
        cuts: What the record shows for each of its cuts.
        now: What it shows as things stand, before the next cut.
    """

    board: Code
    board_type: str
    cuts: tuple[FreeAtCut, ...]
    now: tuple[FreeLine, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """Hazards to be removed, or searched for, before it is shown to be free of all."""
        return tuple(slug for line in self.now for slug in line.missing)


def show_free_of(shop: Workshop, *, board: Code) -> FreeOfView:
    """
    What the record shows of mercury, nickel-cadmium and lithium at each cut of a board.

    Raises:
        NotFound: If there is no such board.
    """
    found = load_board(shop.conn, board)
    cuts = tuple(_at_cut(moment) for moment in cut_moments(shop.conn, board))
    return FreeOfView(found.code, found.type, cuts, _lines(standing_checks(shop.conn, board)))


def _at_cut(moment: CutMoment) -> FreeAtCut:
    event = moment.event
    override = str(event.data["override_reason"])
    return FreeAtCut(event.about[0], event.at, entry_number(event), override, _lines(moment.checks))


def _lines(checks: Mapping[str, CheckState]) -> tuple[FreeLine, ...]:
    lines = []
    for item in free_of_list():
        states = [(hazard.slug, checks.get(hazard.slug)) for hazard in item.hazards]
        words = tuple(_words(slug, state) for slug, state in states)
        missing = tuple(slug for slug, state in states if state is None or not state.is_off)
        lines.append(FreeLine(item, words, missing))
    return tuple(lines)


def _words(slug: str, state: CheckState | None) -> str:
    if state is None:
        return f"{slug}: was not on the board's list, so nobody said that it was absent"
    if state.event is None:
        return f"{slug}: not checked"
    how = f", {state.event.data['how']}" if state.event.data["how"] else ""
    said = "searched, none found" if state.finding == "absent" else state.outcome or state.finding
    return f"{slug}: {said}{how}; {entry_words(state.event)}"


def entry_words(event: Event) -> str:
    """Who, when and where in the journal, such as "Maren, 2026-05-04 09:12, entry C31"."""
    return f"{event.by}, {event.at[:10]} {event.at[11:16]}, entry {entry_number(event)}"


def entry_number(event: Event) -> str:
    """The device's letter and the running number on it, the same on every device."""
    return f"{event.device}{event.n}"
