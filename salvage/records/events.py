"""
Kinds of events: what the journal may say, and which fields each kind carries.

An event kind is a promise: version 1 of each is read for ever. A new field means a new version.
Field types are ``text``, ``int``, ``flag``, ``list`` and ``map``; ``text?`` and the like may be
null. Lengths are whole micrometres, areas square micrometres, masses milligrams, money minor units,
dates ISO 8601, regions lists of rings (see :mod:`salvage.records.region`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.records.event import Event as Event
from salvage.records.kinds_articles import ARTICLES_KINDS
from salvage.records.kinds_bench import BENCH_KINDS
from salvage.records.kinds_boards import BOARDS_KINDS
from salvage.records.kinds_cards import CARDS_KINDS
from salvage.records.kinds_custody import CUSTODY_KINDS
from salvage.records.kinds_cuts import CUTS_KINDS
from salvage.records.kinds_gate import GATE_KINDS
from salvage.records.kinds_intake import INTAKE_KINDS
from salvage.records.kinds_materials import MATERIALS_KINDS
from salvage.records.kinds_papers import PAPER_KINDS
from salvage.records.kinds_pieces import PIECES_KINDS
from salvage.records.kinds_recalls import RECALLS_KINDS
from salvage.records.kinds_safety import SAFETY_KINDS
from salvage.records.kinds_season import SEASON_CORRECTABLE, SEASON_KINDS
from salvage.records.kinds_tools import TOOL_KINDS
from salvage.records.kinds_waste import WASTE_KINDS

if TYPE_CHECKING:
    from salvage.canonical import Json

# kind -> field -> type. The order of the dictionary is the order of a board's life.
KINDS: Mapping[str, Mapping[str, str]] = {
    **INTAKE_KINDS,
    **CUSTODY_KINDS,
    **BOARDS_KINDS,
    **CUTS_KINDS,
    **PIECES_KINDS,
    **MATERIALS_KINDS,
    **ARTICLES_KINDS,
    **RECALLS_KINDS,
    **GATE_KINDS,
    **BENCH_KINDS,
    **WASTE_KINDS,
    **TOOL_KINDS,
    **CARDS_KINDS,
    **SAFETY_KINDS,
    **SEASON_KINDS,
    **PAPER_KINDS,
}

CORRECTABLE: Mapping[str, Mapping[str, str]] = {
    "donor.corrected": {"source_kind": "text", "name_seal": "text?", "contact_seal": "text?"},
    "dropoff.corrected": {
        "received_on": "text",
        "contents": "text",
        "board_count": "int?",
        "weight_mg": "int?",
        "origin": "text",
        "origin_country": "text",
        "story": "text",
        "notes": "text",
    },
    "board.corrected": {
        "type": "text",
        "maker": "text",
        "model": "text",
        "date_code": "text",
        "colour": "text",
        "thickness_um": "int?",
        "weight_mg": "int?",
        "notes": "text",
    },
    **SEASON_CORRECTABLE,
}
"""
Fields that a correction may name in ``was`` and ``now``, by its kind; they are the tables' columns.
"""

VERSION = 1
"""Version that new events carry; all kinds are in their first."""

_TYPES: Mapping[str, type | tuple[type, ...]] = {
    "text": str,
    "int": int,
    "flag": bool,
    "list": (list, tuple),
    "map": Mapping,
}

_WANTED = {
    word + ending: (wanted, bool(ending)) for word, wanted in _TYPES.items() for ending in ("", "?")
}
"""Type of a field and whether it may be null, by the word for it."""


def check_event_data(kind: str, data: Mapping[str, Json]) -> None:
    """
    Raise unless *data* has exactly the fields of its kind, each of the right type.

    Raises:
        BadValue: If the kind is unknown, a field is missing, unknown, or of another type.
    """
    if kind not in KINDS:
        raise BadValue(f"'{kind}' is no kind of event", hint="a newer version may have written it")
    fields = KINDS[kind]
    if data.keys() != fields.keys():
        odd = ", ".join(sorted(data.keys() ^ fields.keys()))
        raise BadValue(f"an event of kind {kind} lacks or has too much of: {odd}")
    _check_types(kind, data, fields)
    if kind in CORRECTABLE:
        _check_correction(kind, data)


def _check_types(kind: str, data: Mapping[str, Json], fields: Mapping[str, str]) -> None:
    for name, value in data.items():
        kind_of_value, may_lack = _WANTED[fields[name]]
        if isinstance(value, kind_of_value):
            right = kind_of_value is not int or not isinstance(value, bool)
        else:
            right = may_lack and value is None
        if not right:
            raise BadValue(f"field {name} of an event of kind {kind} must be {fields[name]}")


def _check_correction(kind: str, data: Mapping[str, Json]) -> None:
    """Raise unless ``was`` and ``now`` name the same fields, all of them correctable."""
    was, now = data["was"], data["now"]
    assert isinstance(was, Mapping)
    assert isinstance(now, Mapping)
    odd = sorted((was.keys() ^ now.keys()) | (now.keys() - CORRECTABLE[kind].keys()))
    if odd or not now:
        told = ", ".join(odd) or "nothing"
        raise BadValue(f"an event of kind {kind} cannot correct: {told}")
    for values in (was, now):
        _check_types(kind, values, CORRECTABLE[kind])
