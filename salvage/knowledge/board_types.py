"""The board types of the trade, and the words that people type for them."""

from __future__ import annotations

from functools import cache

from salvage.errors import NotFound
from salvage.frozen import dataclass
from salvage.knowledge.table import nearest_names, parse_list, read_table, tidy_name

UNKNOWN_TYPE = "other"
"""The type of a board that nobody could name; it takes the strict branch everywhere."""


@dataclass(frozen=True, slots=True)
class BoardType:
    """
    One kind of board.

    Args:
        slug: Its name in records, such as ``power-supply``.
        words: Its name for people.
        synonyms: Other words that people type for it.
        what: One line that tells what it is.
    """

    slug: str
    words: str
    synonyms: tuple[str, ...]
    what: str


@cache
def board_types() -> tuple[BoardType, ...]:
    """All board types, ``other`` last."""
    return tuple(
        BoardType(row["slug"], row["words"], parse_list(row["synonyms"]), row["what"])
        for row in read_table("board_types.csv")
    )


@cache
def _slugs_by_name() -> dict[str, str]:
    return {
        tidy_name(name) or name: kind.slug
        for kind in board_types()
        for name in (kind.slug, kind.words, *kind.synonyms)
    }


def is_board_type(slug: str) -> bool:
    """True if *slug* is a board type in our records' spelling."""
    return any(kind.slug == slug for kind in board_types())


def parse_board_type(text: str, *, field: str = "") -> str:
    """
    The slug of the board type that *text* means; any case, spaces and hyphens.

    Raises:
        NotFound: If no type has that name; with the nearest types.

    >>> parse_board_type("PSU")
    'power-supply'
    """
    names = _slugs_by_name()
    tidy = tidy_name(text)
    slug = names.get(tidy) or names.get(tidy.removesuffix("s")) or names.get(text.strip())
    if slug:
        return slug
    nearest = list(dict.fromkeys(names[tidy_name(n) or n] for n in nearest_names(text, names)))
    hint = "" if nearest else f"use one of: {', '.join(kind.slug for kind in board_types())}"
    error = NotFound(f"'{text}' is not a board type", nearest=nearest, hint=hint)
    error.field = field
    raise error


def find_board_type(slug: str) -> BoardType:
    """
    The board type of a slug or synonym.

    Raises:
        NotFound: If there is none of that name.
    """
    wanted = parse_board_type(slug)
    return next(kind for kind in board_types() if kind.slug == wanted)
