"""
What the law wants taken out of electronic waste, item by item, and which of our rows cover it.

Each item is mapped to hazards, or says why it does not concern a circuit board; a test compares the
list with the law's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.knowledge.hazards import Hazard, find_hazard
from salvage.knowledge.source import Source
from salvage.knowledge.table import parse_list, read_table, source_of


@dataclass(frozen=True, slots=True)
class RemovalItem:
    """
    One item of the list.

    Args:
        slug: Its name, such as ``batteries``.
        point: Point of the annex: 1 to be removed, 2 to be treated.
        item: Place in the point, from 1.
        words: What it is, in our own words.
        hazards: Slugs of the hazards that cover it; empty where none does.
        why_not: Why it does not concern a circuit board; empty where hazards cover it.
        source: Document and edition.
    """

    slug: str
    point: int
    item: int
    words: str
    hazards: tuple[str, ...]
    why_not: str
    source: Source


@cache
def removal_list() -> tuple[RemovalItem, ...]:
    """Every item of WEEE Annex VII, in the annex's order."""
    return tuple(
        RemovalItem(
            slug=row["slug"],
            point=int(row["point"]),
            item=int(row["item"]),
            words=row["words"],
            hazards=parse_list(row["hazards"]),
            why_not=row["why_not"],
            source=source_of(row),
        )
        for row in read_table("removal_list.csv")
    )


@dataclass(frozen=True, slots=True)
class FreeOf:
    """
    One thing that a board must be free of at the moment it is cut.

    Args:
        slug: Its name, such as ``lithium``.
        words: As the rule says it.
        hazards: The hazards that are meant, each of which must be off the board.
        source: Document and section.
    """

    slug: str
    words: str
    hazards: tuple[Hazard, ...]
    source: Source


@cache
def free_of_list() -> tuple[FreeOf, ...]:
    """What 40 CFR 261.4(a)(14) names, with our hazards for each."""
    return tuple(
        FreeOf(
            row["slug"],
            row["words"],
            tuple(find_hazard(slug) for slug in parse_list(row["hazards"])),
            source_of(row),
        )
        for row in read_table("free_of.csv")
    )
