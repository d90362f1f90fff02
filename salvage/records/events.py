"""
Kinds of events: what the journal may say, and which fields each kind carries.

An event kind is a promise: version 1 of each is read for ever. A new field means a new version.
Field types are ``text``, ``int``, ``flag``, ``list`` and ``map``; ``text?`` and the like may be
null. Lengths are whole micrometres, areas square micrometres, masses milligrams, money minor units,
dates ISO 8601, regions lists of rings (see :mod:`salvage.records.region`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from salvage.canonical import Json
from salvage.errors import BadValue
from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class Event:
    """
    One entry of the journal, as read back.

    Args:
        seq: Place in this database; order of arrival.
        id: UUID version 7.
        device: Letter of the device that wrote it.
        n: Running number on that device, from 1 without gaps.
        clock: Greater than that of every event its device knew; orders the events of all devices.
        at: Instant in UTC.
        by: Who did it.
        kind: Key of :data:`KINDS`.
        act: The operation's name.
        operation: Id shared by all events of one operation.
        about: Codes that it concerns, the main one first.
        made: Codes that it brings into being.
        data: The kind's own fields.
        prev: Hash of its device's event before it.
        hash: SHA-256 over *prev* and the canonical body.
    """

    seq: int
    id: str
    device: str
    n: int
    clock: int
    at: str
    by: str
    kind: str
    act: str
    operation: str
    about: tuple[Code, ...]
    made: tuple[Code, ...]
    data: Mapping[str, Json]
    prev: str
    hash: str


# kind -> field -> type. The order of the dictionary is the order of a board's life.
KINDS: Mapping[str, Mapping[str, str]] = {
    "device.joined": {"letter": "text", "name": "text"},
    "device.keyed": {"public_key": "text"},
    "clash.settled": {"clash": "text", "how": "text"},
    "workshop.set": {"settings": "map"},
    "area.recounted": {"usable_um2": "map"},
    "donor.added": {
        "source_kind": "text",
        "described_as": "text",
        "naming": "text",
        "naming_how": "text",
        "name_seal": "text?",
        "contact_seal": "text?",
    },
    "donor.naming_set": {"naming": "text", "naming_how": "text", "described_as": "text"},
    "donor.corrected": {"was": "map", "now": "map", "why": "text"},
    "donor.forgotten": {"seals": "list", "reason": "text"},
    "dropoff.logged": {
        "donor": "text",
        "received_on": "text",
        "channel": "text",
        "contents": "text",
        "board_count": "int?",
        "weight_mg": "int?",
        "origin": "text",
        "origin_country": "text",
        "story": "text",
        "notes": "text",
        "data_parts": "list",
    },
    "dropoff.data_found": {"data_parts": "list"},
    "dropoff.data_settled": {"n": "int", "state": "text", "how": "text"},
    "dropoff.corrected": {"was": "map", "now": "map", "why": "text"},
    "board.recorded": {
        "drop_off": "text",
        "type": "text",
        "maker": "text",
        "model": "text",
        "date_code": "text",
        "colour": "text",
        "thickness_um": "int?",
        "weight_mg": "int?",
        "lead_status": "text",
        "lead_evidence": "text",
        "place": "text",
        "notes": "text",
        "outline": "list?",
        "outline_from": "text",
        "outline_um2": "int",
        "usable_um2": "int",
        "hazards": "list",
    },
    "board.outlined": {
        "outline": "list",
        "outline_from": "text",
        "outline_um2": "int",
        "usable_um2": "int",
    },
    "board.lead_set": {"lead_status": "text", "lead_evidence": "text"},
    "board.corrected": {"was": "map", "now": "map", "hazards": "list", "why": "text"},
    "board.moved": {"place": "text"},
    "board.retired": {"reason": "text"},
    "keepout.added": {"n": "int", "reason": "text", "region": "list", "usable_um2": "int"},
    "keepout.lifted": {"n": "int", "reason": "text", "usable_um2": "int"},
    "photo.added": {
        "n": "int",
        "sha256": "text",
        "media_type": "text",
        "byte_count": "int",
        "name": "text",
        "side": "text",
        "caption": "text",
        "width_px": "int",
        "height_px": "int",
        "corners": "list?",
        "taken_at": "text",
    },
    "hazard.checked": {
        "hazard": "text",
        "finding": "text",
        "outcome": "text",
        "how": "text",
        "goes_to": "text",
        "reason": "text",
    },
    "mat.printed": {"serial": "text", "paper": "text", "colour": "text", "family": "int"},
    "mat.checked": {"serial": "text", "bar_x_um": "int", "bar_y_um": "int"},
    "shape.added": {
        "name": "text",
        "region": "list",
        "sha256": "text",
        "byte_count": "int",
        "file_name": "text",
        "finest": "flag",
    },
    "plan.made": {
        "for_whom": "text",
        "holds_until": "text",
        "tool": "text",
        "kerf_um": "int",
        "lines": "list",
        "shears": "list",
    },
    "plan.changed": {"holds_until": "text", "lines": "list", "shears": "list", "why": "text"},
    "plan.extended": {"holds_until": "text"},
    "plan.released": {"reason": "text"},
    "reservation.made": {
        "plan": "text",
        "line": "int",
        "for_whom": "text",
        "shape": "text",
        "region": "list",
        "x_um": "int",
        "y_um": "int",
        "angle_mdeg": "int",
        "mirrored": "flag",
        "usable_um2": "int",
    },
    "reservation.released": {"reason": "text", "usable_um2": "int"},
    "cut.made": {
        "outcome": "text",
        "side": "text",
        "tool": "text",
        "shape": "text",
        "shape_sha256": "text",
        "x_um": "int",
        "y_um": "int",
        "angle_mdeg": "int",
        "mirrored": "flag",
        "kerf_um": "int",
        "region": "list",
        "area_um2": "int",
        "usable_before_um2": "int",
        "usable_after_um2": "int",
        "override_reason": "text",
        "reservation": "text",
        "reason": "text",
        "custody": "text",
    },
    "piece.staged": {"stage": "text", "note": "text"},
    "piece.priced": {"price_minor": "int", "currency": "text"},
    "piece.weighed": {"weight_mg": "int"},
    "piece.sold": {
        "n": "int",
        "price_minor": "int",
        "currency": "text",
        "venue": "text",
        "sold_on": "text",
    },
    "piece.returned": {"n": "int", "returned_on": "text", "reason": "text"},
    "card.printed": {"text_sha256": "text", "naming": "text"},
    "label.printed": {"stock": "text"},
    "consignment.sent": {
        "receiver": "text",
        "contents": "text",
        "weight_mg": "int",
        "sent_on": "text",
        "document": "text",
        "drop_off": "text?",
    },
    "recall.opened": {"subject": "text", "reason": "text", "learned_on": "text", "items": "list"},
    "recall.closed": {"outcome": "text"},
    "stocktake.begun": {"place": "text", "things": "text"},
    "stocktake.seen": {"codes": "list", "place": "text", "source": "text"},
    "stocktake.closed": {"seen": "int", "missing": "int"},
    "thing.lost": {"stock_take": "text", "reason": "text"},
    "thing.found": {"stock_take": "text"},
    "inbox.waiting": {
        "sha256": "text",
        "media_type": "text",
        "byte_count": "int",
        "name": "text",
        "reason": "text",
        "codes": "list",
    },
    "inbox.dropped": {"sha256": "text", "name": "text", "reason": "text"},
    "place.named": {"name": "text"},
    "stock.described": {
        "name": "text",
        "page_width_um": "int",
        "page_height_um": "int",
        "columns": "int",
        "rows": "int",
        "label_width_um": "int",
        "label_height_um": "int",
        "margin_left_um": "int",
        "margin_top_um": "int",
        "pitch_x_um": "int",
        "pitch_y_um": "int",
        "dpi": "int",
        "fold": "text",
        "tail_um": "int",
    },
    "printer.described": {"name": "text", "dpi": "int", "stock": "text"},
    "printer.checked": {
        "name": "text",
        "paper": "text",
        "left_um": "int",
        "top_um": "int",
        "width_um": "int",
        "height_um": "int",
        "shift_x_um": "int",
        "shift_y_um": "int",
        "stretch_x_ppm": "int",
        "stretch_y_ppm": "int",
    },
    "correction.undone": {"operation": "text", "events": "list", "act": "text", "why": "text"},
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
        wanted = fields[name]
        if value is None and wanted.endswith("?"):
            continue
        right = isinstance(value, _TYPES[wanted.rstrip("?")])
        if not right or (wanted.startswith("int") and isinstance(value, bool)):
            raise BadValue(f"field {name} of an event of kind {kind} must be {wanted}")


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
