"""A hazard in words: where it sits, how it comes off, where it goes, and on what that rests."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.knowledge.hazards import Hazard
    from salvage.records.things import HazardCheck
    from salvage.work.evidence import CheckEvidence


def hazard_lines(hazard: Hazard) -> list[str]:
    """
    What is known about a hazard, one line for each fact, its sources last.

    Args:
        hazard: From the table of hazards.
    """
    told = {
        "where": hazard.where,
        "look for": hazard.how_to_spot,
        "comes off": hazard.how_removed,
        "goes to": hazard.goes_to,
        "protect": hazard.protection,
        "note": hazard.note,
        "source": hazard.source.marked_words,
        "practice": hazard.practice.marked_words,
    }
    return [f"  {name + ':':<11}{text}" for name, text in told.items() if text]


def check_words(check: HazardCheck) -> str:
    """
    How a check stands, with how it was made, who made it and when.

    Args:
        check: The record.
    """
    if not check.at:
        return check.finding
    found = "searched, none found" if check.finding == "absent" else check.finding
    told = ", ".join(filter(None, (found, check.outcome, check.how, check.reason)))
    unsaid = "; how it was looked for is not on record" if _is_bare(check) else ""
    return f"{told} ({check.by}, {check.at[:10]}){unsaid}"


def _is_bare(check: HazardCheck) -> bool:
    """True where somebody said "absent" and not how they looked: a weaker record."""
    return check.finding == "absent" and not check.how


def evidence_words(evidence: Sequence[CheckEvidence]) -> list[str]:
    """
    Pieces of evidence, one line each: what it is, who gave it and when.

    Args:
        evidence: Of one check.
    """
    lines = []
    for one in evidence:
        photo = "" if one.photo is None else f"photo {one.photo}"
        told = ", ".join(filter(None, (photo, one.note)))
        lines.append(f"{told} ({one.by}, {one.at[:10]})")
    return lines
