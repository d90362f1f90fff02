"""
The journal as a GS1 EPCIS 2.0 document in JSON-LD.

Words for business steps and dispositions are those of the Core Business Vocabulary 2.0. Donors
appear by their code alone, and who did the work does not appear.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from salvage.ids import Code
from salvage.records.events import KINDS, Event
from salvage.units import format_instant
from salvage.work.export_line import Export, Line, gather_line
from salvage.work.workshop import Workshop

_CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"

# kind -> business step, disposition: things that are seen and go on existing.
OBSERVED = {
    "board.outlined": ("inspecting", "in_progress"),
    "photo.added": ("inspecting", "in_progress"),
    "board.moved": ("storing", "in_progress"),
    "reservation.made": ("reserving", "reserved"),
    "reservation.released": ("stocking", "available"),
    "piece.weighed": ("inspecting", "in_progress"),
    "piece.sold": ("retail_selling", "retail_sold"),
    "piece.returned": ("receiving", "returned"),
    "label.printed": ("encoding", "encoded"),
    "consignment.sent": ("shipping", "in_transit"),
    "recall.opened": ("holding", "recalled"),
    "recall.begun": ("holding", "recalled"),
    "recall.joined": ("holding", "recalled"),
    "stocktake.seen": ("stock_taking", "in_progress"),
    "thing.lost": ("stock_taking", "unknown"),
    "thing.found": ("stock_taking", "in_progress"),
}
"""Kinds that become an ObjectEvent with the action OBSERVE."""

_STAGES = {
    "assembled": ("assembling", "in_progress"),
    "ready": ("stocking", "sellable_accessible"),
    "withdrawn": ("holding", "non_sellable_other"),
}

_PHYSICAL = "DBPCK"  # drop-offs, boards, pieces, consignments, scrap: what can be held in the hand

Words = dict[str, Any]


def _things(event: Event, line: Line) -> list[str]:
    named: list[str] = [*event.about, *event.made]
    extra = event.data.get("codes")
    if isinstance(extra, list | tuple):
        named += [str(code) for code in extra]
    wanted = (code for code in named if code[0] in _PHYSICAL and line.tells(code))
    return [line.address(code) for code in dict.fromkeys(wanted)]


def _object(things: list[str], action: str, step: str, disposition: str) -> Words:
    return {
        "type": "ObjectEvent",
        "action": action,
        "epcList": things,
        "bizStep": step,
        "disposition": disposition,
    }


def _observe(event: Event, line: Line) -> Words:
    return _object(_things(event, line), "OBSERVE", *OBSERVED[event.kind])


def _receive(event: Event, line: Line) -> Words:
    made = _object([line.address(event.made[0])], "OBSERVE", "receiving", "in_progress")
    donor = line.address(str(event.data["donor"]))
    return {**made, "sourceList": [{"type": "possessing_party", "source": donor}]}


def _commission(event: Event, line: Line) -> Words:
    return _object([line.address(event.made[0])], "ADD", "commissioning", "active")


def _check(event: Event, line: Line) -> Words:
    board = line.address(event.about[0])
    if event.data["outcome"] == "removed":
        return {
            "type": "AssociationEvent",
            "action": "DELETE",
            "parentID": board,
            "childEPCs": [f"{board}/hazard/{event.data['hazard']}".replace(" ", "-")],
            "bizStep": "removing",
        }
    good = event.data["finding"] == "absent" or event.data["outcome"] == "accepted"
    disposition = "conformant" if good else "non_conformant"
    return _object([board], "OBSERVE", "inspecting", disposition)


def _cut(event: Event, line: Line) -> Words:
    board = next(code for code in event.about if code[0] == "B")
    piece = [code for code in event.made if code[0] == "P"]
    out = piece or [code for code in event.made if code[0] == "K"]
    return {
        "type": "TransformationEvent",
        "inputEPCList": [line.address(board)],
        "outputEPCList": [line.address(code) for code in [*out, board]],
        "bizStep": "disassembling",
        "disposition": "in_progress",
    }


def _retire(event: Event, line: Line) -> Words:
    return _object(_things(event, line), "DELETE", "decommissioning", "inactive")


def _stage(event: Event, line: Line) -> Words:
    words = _STAGES.get(str(event.data["stage"]), ("other", "in_progress"))
    return _object(_things(event, line), "OBSERVE", *words)


def _aggregate(event: Event, line: Line) -> Words:
    """An article and its parts; which were in it when it is taken apart, the event names."""
    is_made = event.kind == "article.assembled"
    article, parts = event.about[0], event.about[1:]
    return {
        "type": "AggregationEvent",
        "action": "ADD" if is_made else "DELETE",
        "parentID": line.address(article),
        "childEPCs": [line.address(code) for code in parts if line.tells(code)],
        "bizStep": "assembling" if is_made else "disassembling",
        "disposition": "in_progress",
    }


_RULES: dict[str, Callable[[Event, Line], Words]] = {
    **dict.fromkeys(OBSERVED, _observe),
    "dropoff.logged": _receive,
    "board.recorded": _commission,
    "hazard.checked": _check,
    "cut.made": _cut,
    "board.retired": _retire,
    "piece.staged": _stage,
    "article.assembled": _aggregate,
    "article.taken_apart": _aggregate,
}

MAPPED = frozenset(_RULES)
"""Kinds that have an event in EPCIS."""


def why_unmapped(kind: str) -> str:
    """Why a kind has no event in EPCIS; empty where it has one."""
    if kind in MAPPED:
        return ""
    if kind == "correction.undone":
        return "told as errorDeclaration of the events that it takes back"
    if kind.split(".")[0] in ("board", "dropoff", "piece", "keepout", "recall", "stocktake"):
        return "changes what is known of a thing, not where or in which state it is"
    return "concerns the workshop's papers, not a thing that can be held"


def export_epcis(shop: Workshop, *, about: Code | None = None) -> Export:
    """
    An EPCIS 2.0 document about one thing's line, or about everything when *about* is None.

    Raises:
        NotFound: If there is nothing with this code.
    """
    line = gather_line(shop, about=about)
    told = [made for event in line.events if (made := _event(event, line))]
    document = {
        "@context": [_CONTEXT],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": format_instant(shop.clock()),
        "epcisBody": {"eventList": told},
    }
    left = {kind: why for kind in KINDS if (why := why_unmapped(kind))}
    data = json.dumps(document, ensure_ascii=False, indent=1).encode() + b"\n"
    return Export(data, len(told), left)


def _event(event: Event, line: Line) -> Words | None:
    rule = _RULES.get(event.kind)
    made = rule(event, line) if rule else None
    if made is None or made.get("epcList") == []:
        return None
    whole = {
        "eventID": f"urn:uuid:{event.id}",
        "eventTime": event.at,
        "eventTimeZoneOffset": "+00:00",
        **made,
    }
    if event.id in line.undone:
        when = line.undone[event.id]
        whole["errorDeclaration"] = {"declarationTime": when, "reason": "incorrect_data"}
    return whole
