"""Recalls: what they may start from, how an item is settled, and the record of both."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

MARKS = ("found", "accepted", "overridden")
"""What may once have been so about a hazard: found on a board, accepted, or a cut made despite."""

OUTCOMES = ("returned", "repaired", "not affected", "destroyed", "buyer told", "not found")
"""How an item of a recall is settled."""

ENDS = ("repaired", "not affected", "destroyed", "buyer told", "not found")
"""Outcomes after which nothing is left to do; a returned piece still waits for one of them."""

FREEING = ("repaired", "not affected")
"""Outcomes that let an item go at once; the others leave it held, after the recall too."""

FREED_AT_THE_END = ("", "returned", *FREEING)
"""Outcomes whose items are free when the recall is closed: nobody said that they are bad."""


@dataclass(frozen=True, slots=True)
class Recall:
    """What is called back, and why; ``cause`` is JSON, ``learned_on`` a day or an instant."""

    code: Code
    subject: str
    reason: str
    learned_on: str
    state: str
    outcome: str
    cause: str
    hold: int
    to_do: str

    @property
    def cause_map(self) -> dict[str, Any]:
        """The cause as fields, which differ by its kind."""
        fields: dict[str, Any] = json.loads(self.cause)
        return fields


@dataclass(frozen=True, slots=True)
class RecallItem:
    """
    One board, piece or batch of a recall.

    ``where_at`` is where it was when it joined, ``joined_at`` empty if it was there from the start.
    """

    recall: Code
    code: Code
    where_at: str
    joined_at: str
    holds: int
    outcome: str
    note: str
    settled_by: str
    settled_at: str

    @property
    def is_settled(self) -> bool:
        """True when nothing is left to do about it."""
        return self.outcome in ENDS


# A date code of the twentieth century has a year from 70 on: see salvage.knowledge.date_codes.
_FIRST_YEAR = 70


def _digits(text: str) -> str:
    return text.replace(" ", "").replace("-", "")


def week_number(text: str) -> int | None:
    """
    Year and week of a four-digit date code as one number that sorts, or None if it names none.

    The journal's recalls rest on this reading, so it stays as it is.

    Args:
        text: Such as ``9843``; blanks and hyphens are ignored.

    >>> week_number("98-43"), week_number("0601"), week_number("A12")
    (199843, 200601, None)
    """
    digits = _digits(text)
    if not re.fullmatch(r"[0-9]{4}", digits) or not 1 <= int(digits[2:]) <= 53:
        return None
    year = int(digits[:2])
    return (1900 + year if year >= _FIRST_YEAR else 2000 + year) * 100 + int(digits[2:])


def swapped_week(text: str) -> int | None:
    """
    The same of a code that was written with the week first, or None.

    >>> swapped_week("4398")
    199843
    """
    digits = _digits(text)
    return week_number(digits[2:] + digits[:2]) if len(digits) == 4 else None
