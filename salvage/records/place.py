"""A shelf, box or drawer that has a label of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

PLACE_KIND = "F"
"""Kind letter of the codes of places."""


@dataclass(frozen=True, slots=True)
class Place:
    """
    A place where boards lie, with a code to scan.

    A board's own field holds the place's name, so that places without a label go on working.
    """

    code: Code
    name: str
    label_printed: int
    named_at: str
