"""
Hazards that may sit on a board: what to look for before it is cut, and how it is made safe.

The rows inform and certify nothing: local codes and licensed practice come first. Two sources stand
with each: why the hazard matters (mostly law), and the practice of finding and removing it (mostly
trade knowledge).
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from salvage.errors import NotFound
from salvage.frozen import dataclass
from salvage.knowledge.board_types import UNKNOWN_TYPE, is_board_type
from salvage.knowledge.source import Source, weakest
from salvage.knowledge.table import nearest_names, parse_list, read_table, source_of, tidy_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_EVERY_TYPE = "all"


@dataclass(frozen=True, slots=True)
class Hazard:
    """
    One thing that must be off the board, or known about, before it is cut.

    Args:
        slug: Its name in records, such as ``coin-cell``.
        name: Its name for people.
        where: Where on a board it sits.
        how_to_spot: What to look for.
        how_removed: How it comes off, or that it is refused.
        goes_to: Where it goes afterwards.
        protection: What the person does to stay safe.
        source: Why it matters.
        practice: Source of *where*, *how_to_spot*, *how_removed* and *protection*.
        board_types: Slugs of the types on which it is looked for; ``all`` for every type.
        blocks_cutting: True if the board is held until it is dealt with; False for a notice.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    name: str
    where: str
    how_to_spot: str
    how_removed: str
    goes_to: str
    protection: str
    source: Source
    practice: Source
    board_types: tuple[str, ...]
    blocks_cutting: bool
    note: str

    @property
    def weakest_source(self) -> Source:
        """The weaker of its two sources: what the whole row may claim."""
        return weakest((self.source, self.practice))

    def concerns(self, board_type: str) -> bool:
        """True if it is looked for on *board_type*; an unknown type concerns every hazard."""
        if board_type == UNKNOWN_TYPE or not is_board_type(board_type):
            return True
        return _EVERY_TYPE in self.board_types or board_type in self.board_types


@cache
def all_hazards() -> tuple[Hazard, ...]:
    """Every hazard and notice, in the order in which they are checked."""
    return tuple(_hazard(row) for row in read_table("hazards.csv"))


def _hazard(row: dict[str, str]) -> Hazard:
    return hazard_of_row(row, source_of(row), source_of(row, prefix="practice_"))


def hazard_of_row(row: Mapping[str, str], source: Source, practice: Source) -> Hazard:
    """
    A hazard from the columns of a row, ours or the workshop's own.

    Args:
        row: Columns as in ``hazards.csv``.
        source: Why it matters.
        practice: Where it sits and how it comes off.
    """
    return Hazard(
        slug=row["slug"],
        name=row["name"],
        where=row["where"],
        how_to_spot=row["how_to_spot"],
        how_removed=row["how_removed"],
        goes_to=row["goes_to"],
        protection=row["protection"],
        source=source,
        practice=practice,
        board_types=parse_list(row["board_types"]),
        blocks_cutting=row["blocks_cutting"] != "no",
        note=row["note"],
    )


def hazards_expected(board_type: str, *, own: Sequence[Hazard] = ()) -> tuple[Hazard, ...]:
    """
    Hazards that hold a board of this type until each is removed, absent or accepted.

    Args:
        board_type: Slug of a board type; ``other`` and any unknown word get every hazard.
        own: The workshop's own hazards, after ours.

    >>> [hazard.slug for hazard in hazards_expected("memory-module")]
    ['data-bearing-part']
    """
    every = (*all_hazards(), *own)
    return tuple(h for h in every if h.blocks_cutting and h.concerns(board_type))


def notices_for(board_type: str, *, own: Sequence[Hazard] = ()) -> tuple[Hazard, ...]:
    """What to know about a board of this type that does not hold it, such as leaded solder."""
    every = (*all_hazards(), *own)
    return tuple(h for h in every if not h.blocks_cutting and h.concerns(board_type))


def find_hazard(slug: str, *, field: str = "", own: Sequence[Hazard] = ()) -> Hazard:
    """
    The hazard or notice of a slug or name; any case, spaces and hyphens.

    Args:
        slug: As typed.
        field: Where it was typed.
        own: The workshop's own hazards, besides ours.

    Raises:
        NotFound: If there is none of that name; with the nearest.

    >>> find_hazard("coin cell").slug
    'coin-cell'
    """
    tidy = tidy_name(slug)
    every = (*all_hazards(), *own)
    for hazard in every:
        if tidy in (tidy_name(hazard.slug), tidy_name(hazard.name)):
            return hazard
    known = [hazard.slug for hazard in every]
    near = nearest_names(slug, known)
    hint = "" if near else "'salvage hazards' lists them"
    error = NotFound(f"'{slug}' is not a hazard in our list", nearest=near, hint=hint)
    error.field = field
    raise error
