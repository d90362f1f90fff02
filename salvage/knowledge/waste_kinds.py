"""
Kinds of waste containers: what belongs in, what is written on them, how long they may stand.

Label words and days are those of the rule that a row names; elsewhere other rules hold, and the
local authority decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.errors import NotFound
from salvage.knowledge.source import Source
from salvage.knowledge.table import nearest_names, parse_list, read_table, source_of, tidy_name


@dataclass(frozen=True, slots=True)
class WasteKind:
    """
    One kind of container.

    Args:
        slug: Its name, such as ``lithium-batteries``.
        name: What goes in, for people.
        matter: ``part`` (was on a board), ``board`` (board material) or ``dust``.
        hazards: Slugs of hazards that belong here and nowhere else.
        label_words: What is written on it; empty where the workshop must say.
        limit_days: How long it may stand from its first day; None where the source gives no time.
        source: Where words and days come from.
        care: How it is kept, in sentences.
        care_source: Where the care comes from.
    """

    slug: str
    name: str
    matter: str
    hazards: tuple[str, ...]
    label_words: str
    limit_days: int | None
    source: Source
    care: str
    care_source: Source


@cache
def waste_kinds() -> tuple[WasteKind, ...]:
    """All kinds, those with the strictest rules first."""
    return tuple(
        WasteKind(
            row["slug"],
            row["name"],
            row["matter"],
            parse_list(row["hazards"]),
            row["label_words"],
            int(row["limit_days"]) if row["limit_days"] else None,
            source_of(row),
            row["care"],
            source_of(row, prefix="care_"),
        )
        for row in read_table("waste_kinds.csv")
    )


def find_waste_kind(text: str) -> WasteKind:
    """
    The kind of a slug, in any spelling of case, hyphens and blanks.

    Raises:
        NotFound: If there is none of that name; with the nearest.

    >>> find_waste_kind("Mercury parts").limit_days
    365
    """
    for kind in waste_kinds():
        if tidy_name(kind.slug) == tidy_name(text):
            return kind
    known = [kind.slug for kind in waste_kinds()]
    nearest = nearest_names(text, known)
    hint = "" if nearest else "'salvage waste kinds' lists them"
    raise NotFound(f"'{text}' is not a kind of waste container", nearest=nearest, hint=hint)


def kind_for_hazard(hazard: str) -> WasteKind | None:
    """The kind that a hazard's parts belong in; None where any will do."""
    return next((kind for kind in waste_kinds() if hazard in kind.hazards), None)
