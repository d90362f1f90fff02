"""
What a picture of a lineage shows: things in columns, and the traces between them.

Columns run from the donor on the left to what was made on the right. The picture is told as data
here; :mod:`salvage.paper.lineage_layout` finds the places and
:mod:`salvage.paper.lineage_drawing` draws them.
"""

from __future__ import annotations

from dataclasses import dataclass

COLUMNS = ("Donors", "Drop-offs", "Boards", "Cuts", "Pieces", "Articles")
"""Headings of the columns; an article of articles stands in a further column of its own."""

MARKS = {
    "here": "in the workshop",
    "part": "part of an article",
    "sold": "sold",
    "recalled": "recalled",
    "gone": "withdrawn, scrap or retired",
}
"""Signs for where a thing is, each a shape of its own, with its words for the key."""


@dataclass(frozen=True, slots=True)
class Node:
    """
    One thing, or several of a sort.

    Args:
        key: Tells it from others.
        column: Place in :data:`COLUMNS`, or beyond the last.
        title: Its code, or how many there are.
        kind: The word for what it is.
        lines: What it is and where it is now, two lines at most.
        mark: One of :data:`MARKS`, or empty.
        is_group: Whether it stands for several things.
    """

    key: str
    column: int
    title: str
    kind: str
    lines: tuple[str, ...] = ()
    mark: str = ""
    is_group: bool = False


@dataclass(frozen=True, slots=True)
class Lineage:
    """
    A picture's content.

    Args:
        title: Heading.
        subject: Key of the thing that was asked about.
        nodes: In order; parents come before what came of them.
        edges: Keys of parent and child.
        notes: Lines below the picture.
    """

    title: str
    subject: str
    nodes: tuple[Node, ...]
    edges: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = ()
