"""A hazard in words: where it sits, how it comes off, where it goes, and on what that rests."""

from __future__ import annotations

from salvage.knowledge.hazards import Hazard


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
