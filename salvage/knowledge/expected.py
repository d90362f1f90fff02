"""Which hazards are to be looked for on a board, and why: by its type, its age, the local rows."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.knowledge.date_codes import read_date_code
from salvage.knowledge.hazards import Hazard, find_hazard, hazards_expected
from salvage.knowledge.table import parse_list, read_table, source_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.knowledge.source import Source


@dataclass(frozen=True, slots=True)
class AgeRule:
    """
    Hazards that an old date adds.

    Args:
        slug: Its name.
        before: A board that can have been made before this day counts.
        board_types: Types it is for; ``all`` for every type.
        hazards: Slugs that it adds.
        why: In words.
        source: What it rests on.
    """

    slug: str
    before: date
    board_types: tuple[str, ...]
    hazards: tuple[str, ...]
    why: str
    source: Source

    def concerns(self, board_type: str) -> bool:
        """True if it is for boards of this type."""
        return "all" in self.board_types or board_type in self.board_types


@dataclass(frozen=True, slots=True)
class Expected:
    """
    One hazard to look for on a board.

    Args:
        hazard: What is known about it.
        because: Why it is expected, in words.
        source: What that reason rests on; None where the hazard's own source says it.
    """

    hazard: Hazard
    because: str
    source: Source | None = None


@cache
def age_rules() -> tuple[AgeRule, ...]:
    """All age rules."""
    return tuple(
        AgeRule(
            row["slug"],
            date.fromisoformat(row["before"]),
            parse_list(row["board_types"]),
            parse_list(row["hazards"]),
            row["why"],
            source_of(row),
        )
        for row in read_table("age_rules.csv")
    )


def expect_hazards(
    board_type: str, *, date_code: str, today: date, own: Sequence[Hazard] = ()
) -> tuple[Expected, ...]:
    """
    The hazards that hold a board until each is settled, with the reason for each.

    The type's list is the list for a board of unknown age. A date code only adds: it is a lower
    bound, and parts lie in stock, so a young one takes no check away.

    Args:
        board_type: Slug of its type.
        date_code: As printed on the board; may be empty or no date.
        today: The workshop's date now.
        own: The workshop's own hazards.

    >>> [one.hazard.slug for one in expect_hazards("memory-module", date_code="7810",
    ...                                            today=date(2026, 11, 30))]
    ['data-bearing-part', 'pcb-oil-capacitor']
    """
    found = {
        hazard.slug: Expected(hazard, f"boards of type {board_type} may carry it")
        for hazard in hazards_expected(board_type, own=own)
    }
    reading = read_date_code(date_code, today=today)
    for rule in age_rules():
        if reading.earliest is None or reading.earliest >= rule.before:
            continue
        if rule.concerns(board_type):
            words = f"date code {date_code} can mean a week before {rule.before}: {rule.why}"
            for slug in rule.hazards:
                found.setdefault(slug, Expected(find_hazard(slug), words, rule.source))
    return tuple(found.values())
