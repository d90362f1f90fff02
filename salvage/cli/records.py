"""
Things as JSON objects: the record's own fields, and readable extras beside them.

Every whole-number field of the journal has a readable neighbour: ``_um`` a length in ``_mm``,
``_um2`` an area in ``_mm2``, ``_mg`` a mass in ``_g``, ``_mdeg`` an angle in ``_deg``, and a price
in minor units the price in words. Fields that hold geometry are lists of rings of points.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from salvage.frozen import asdict
from salvage.records.region import region_of_text
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.knowledge.source import Source
    from salvage.records.things import Board

_GEOMETRY = ("outline", "region", "corners")
_READABLE = (("_um2", "_mm2", 1e6), ("_um", "_mm", 1e3), ("_mg", "_g", 1e3), ("_mdeg", "_deg", 1e3))


def record_of(thing: Any, **extras: Any) -> dict[str, Any]:
    """
    A record of :mod:`salvage.records.things` as a JSON object.

    Args:
        thing: Any of them, so its type is Any.
        extras: Further fields.
    """
    found: dict[str, Any] = {}
    for key, value in asdict(thing).items():
        found[key] = json.loads(value) if key in _GEOMETRY and value else value
        for ending, readable, factor in _READABLE:
            if key.endswith(ending):
                neighbour = key.removesuffix(ending) + readable
                found[neighbour] = None if value is None else value / factor
    if "price_minor" in found:
        known = found["price_minor"] is not None
        found["price"] = format_money(found["price_minor"], found["currency"]) if known else None
    return found | extras


def board_record(board: Board, **extras: Any) -> dict[str, Any]:
    """A board with its title and its size in millimetres."""
    size = region_of_text(board.outline).size_mm if board.outline else (None, None)
    return record_of(board, title=board.title, width_mm=size[0], height_mm=size[1], **extras)


def source_words(source: Source) -> str:
    """
    A source with how far it may be trusted, said once.

    >>> source_words(Source("common practice, no source", "common-practice"))
    'common practice, no source'
    """
    return source.words
