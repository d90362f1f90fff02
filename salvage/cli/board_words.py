"""What ``board show`` tells of a board's age and of cuts by override."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.hazard_words import check_words, evidence_words
from salvage.cli.records import record_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from salvage.records.things import Board, Cut
    from salvage.work.clear import HazardLine


def reading_record(board: Board, today: date) -> dict[str, Any] | None:
    """A board's date code as it can be read, in JSON; None where it has none."""
    from salvage.knowledge.date_codes import read_date_code

    if not board.date_code:
        return None
    reading = read_date_code(board.date_code, today=today)
    return {
        "raw": reading.raw,
        "earliest": reading.earliest.isoformat() if reading.earliest else None,
        "latest": reading.latest.isoformat() if reading.latest else None,
        "note": reading.note,
    }


def date_words(board: Board, today: date) -> list[str]:
    """The same in a line, with what is doubtful about it."""
    found = reading_record(board, today)
    if found is None:
        return []
    if not found["earliest"]:
        return [f"  earliest date: not known; {found['note']}"]
    return [f"  earliest date: {found['earliest']} to {found['latest']}; {found['note']}"]


def override_lines(cuts: Sequence[Cut]) -> list[str]:
    """Cuts by override, one line each: reason, name and time."""
    return [
        f"  OVERRIDE at {cut.code}: {cut.override_reason} ({cut.by}, {cut.at[:10]})" for cut in cuts
    ]


def override_records(cuts: Sequence[Cut]) -> list[dict[str, str]]:
    """The same in JSON."""
    return [
        {"cut": cut.code, "override_reason": cut.override_reason, "by": cut.by, "at": cut.at}
        for cut in cuts
    ]


def check_records(lines: Sequence[HazardLine]) -> list[dict[str, Any]]:
    """A board's checks in JSON, each with why it is asked for and what shows it."""
    return [
        record_of(
            line.check,
            is_settled=line.check.is_settled,
            because=list(line.because),
            evidence=[record_of(one) for one in line.evidence],
        )
        for line in lines
    ]


def check_lines(lines: Sequence[HazardLine]) -> list[str]:
    """The same, one line for each check."""
    told = []
    for line in lines:
        shown = "".join(f"; evidence: {text}" for text in evidence_words(line.evidence))
        told.append(f"  hazard {line.check.hazard}: {check_words(line.check)}{shown}")
    return told


FORM = "form factor "
"""How the origin of an outline begins that is a form factor's."""


def outline_source(outline_from: str) -> str:
    """
    The source of an outline that is a form factor's, as for people; empty for a measured one.

    Args:
        outline_from: As recorded with the board.
    """
    from salvage.errors import NotFound
    from salvage.knowledge.form_factors import find_form_factor

    if not outline_from.startswith(FORM):
        return ""
    try:
        return find_form_factor(outline_from.removeprefix(FORM)).source.marked_words
    except NotFound:  # a form factor of another version of the program
        return ""
