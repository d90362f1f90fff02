"""A balance of mass as lines with words, bounds, notes and sources, for screens and papers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.ids import Code
from salvage.store.lookup import load_board, load_drop_off
from salvage.work.balance import Amount, BoardMass
from salvage.work.drop_off_mass import DropOffMass, balance_board, balance_drop_off
from salvage.work.workshop import Workshop
from salvage.work.year_mass import YearMass, balance_year

if TYPE_CHECKING:
    from salvage.knowledge.source import Source


@dataclass(frozen=True, slots=True)
class MassLine:
    """
    One line of a balance.

    Args:
        name: For programs, such as ``pieces``.
        words: For people.
        amount: How much, with bounds.
    """

    name: str
    words: str
    amount: Amount


@dataclass(frozen=True, slots=True)
class MassReport:
    """
    A balance.

    Args:
        subject: What it is of.
        lines: What came first, then what it became.
        unexplained_mg: What is found nowhere; below zero where more is found than came.
        notes: What makes it less sure, one sentence each.
        sources: What the estimates rest on; empty where everything was weighed.
    """

    subject: str
    lines: tuple[MassLine, ...]
    unexplained_mg: int
    notes: tuple[str, ...]
    sources: tuple[tuple[str, Source], ...]


_SHELF = {
    "weighed": "left on the shelf, weighed again",
    "by difference": "left on the shelf, by difference",
    "gone": "left on the shelf: nothing, it is retired or lost",
}


def report_board(shop: Workshop, *, code: Code) -> MassReport:
    """
    The balance of a board.

    Raises:
        NotFound: If there is no such board.
    """
    found = balance_board(shop.conn, code)
    lines = (
        MassLine("came", "came in", found.came),
        MassLine("pieces", "became pieces", found.pieces),
        MassLine("dust", "became dust", found.dust),
        MassLine("parts", "parts taken off", found.parts),
        MassLine("waste", "board material put away or sent", found.waste),
        MassLine("shelf", _SHELF[found.shelf_how], found.shelf),
    )
    subject = f"{code}  {load_board(shop.conn, code).title}"
    return MassReport(subject, lines, found.unexplained_mg, _board_notes(found), _sources(lines))


def _board_notes(found: BoardMass) -> tuple[str, ...]:
    notes = []
    if found.came.estimated:
        notes.append(
            "the board was not weighed as it came: bare laminate and copper by its area, and the"
            " parts that were taken off; parts still on it are not in the estimate"
        )
    if found.shelf_how == "by difference":
        notes.append(
            "what is left was not weighed, so nothing can be missing here: salvage board weigh"
        )
    return (*notes, *_unweighed(found.unweighed))


def _unweighed(count: int) -> tuple[str, ...]:
    if not count:
        return ()
    what = "1 thing" if count == 1 else f"{count} things"
    return (f"{what} went into containers without a weight; the rest holds it",)


def report_drop_off(shop: Workshop, *, code: Code) -> MassReport:
    """
    The balance of a drop-off.

    Raises:
        NotFound: If there is no such drop-off.
    """
    found = balance_drop_off(shop.conn, code)
    contents = load_drop_off(shop.conn, code).contents
    lines = drop_off_lines(found)
    return MassReport(
        f"{code}  {contents}", lines, found.unexplained_mg, drop_off_notes(found), _sources(lines)
    )


_CONFIRMED = "  (of what was handed over, confirmed by receivers)"


def drop_off_lines(found: DropOffMass) -> tuple[MassLine, ...]:
    """The lines of a drop-off's balance."""
    return (
        MassLine("came", "came in", found.came),
        MassLine("pieces", "became pieces", found.pieces),
        MassLine("dust", "became dust", found.dust),
        MassLine("recycled", "handed to recyclers", found.recycled),
        MassLine("waiting", "in waste containers here", found.waiting),
        MassLine("shelf", "boards left on the shelf", found.shelf),
        MassLine("confirmed", _CONFIRMED, found.confirmed),
    )


def drop_off_notes(found: DropOffMass) -> tuple[str, ...]:
    """What makes a drop-off's balance less sure."""
    notes = []
    if found.came.estimated:
        notes.append("it was not weighed at the door: what its boards and parts add up to")
    if found.not_recorded:
        notes.append(f"boards counted at the door and not recorded yet: {found.not_recorded}")
    return (*notes, *_unweighed(found.unweighed))


def report_year(shop: Workshop, *, year: int) -> MassReport:
    """The balance of one year of the whole workshop."""
    found = balance_year(shop, year=year)
    lines = year_lines(found)
    notes = []
    if found.unweighed:
        notes.append(f"drop-offs of the year without a weight: {found.unweighed}")
    return MassReport(f"{year}", lines, found.unexplained_mg, tuple(notes), _sources(lines))


def year_lines(found: YearMass) -> tuple[MassLine, ...]:
    """The lines of a year's balance."""
    return (
        MassLine("opening", "on the shelf and in containers as it began", found.opening),
        MassLine("came", "came in, weighed", found.came),
        MassLine("pieces", "became pieces", found.pieces),
        MassLine("dust", "became dust that was not collected", found.dust),
        MassLine("recycled", "handed to recyclers", found.recycled),
        MassLine("closing", "on the shelf and in containers as it ended", found.closing),
    )


def _sources(lines: tuple[MassLine, ...]) -> tuple[tuple[str, Source], ...]:
    """Sources of the estimates, where a line holds one."""
    from salvage.knowledge.areal_mass import areal_sources

    return areal_sources() if any(line.amount.estimated for line in lines) else ()
