"""Numbers of things in words, and long lists of codes made short."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_CODES = 12
"""Codes that people read one by one; of more than these they read the count and both ends."""


def count_of(count: int, one: str, many: str = "") -> str:
    """
    A number with its noun.

    Args:
        count: How many.
        one: The noun for one.
        many: The noun for all other numbers; with an s if left out.

    >>> count_of(1, "cut"), count_of(0, "cut"), count_of(2, "box", "boxes")
    ('1 cut', '0 cuts', '2 boxes')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def codes_in_words(codes: Sequence[str], *, between: str = " ") -> str:
    """
    Codes for people: all of them, or of a long list the first, the last and how many.

    Args:
        codes: In order.
        between: What stands between two.

    >>> codes_in_words(["BC0002J", "BC0003H"])
    'BC0002J BC0003H'
    >>> codes_in_words([f"code {number}" for number in range(14)])
    'code 0 to code 13, 14 in all'
    """
    if len(codes) <= MOST_CODES:
        return between.join(codes)
    return f"{codes[0]} to {codes[-1]}, {len(codes)} in all"


def lines_of_codes(told: Sequence[tuple[str, str]]) -> list[str]:
    """
    A line for each code with its words; of a long list one line for all that read alike.

    Args:
        told: Codes and what is told of each.

    >>> lines_of_codes([("PC0001D", "is sealed")])
    ['PC0001D  is sealed']
    >>> lines_of_codes([(f"code {number}", "cleared") for number in range(13)])
    ['code 0 to code 12, 13 in all  cleared']
    """
    if len(told) <= MOST_CODES:
        return [f"{code}  {words}" for code, words in told]
    alike: dict[str, list[str]] = {}
    for code, words in told:
        alike.setdefault(words, []).append(code)
    return [f"{codes_in_words(codes)}  {words}" for words, codes in alike.items()]
