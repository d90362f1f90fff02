"""One line of plain words for every kind of event about waste and tools."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from salvage.units import format_mass

# The fields of an event are what its kind says (salvage.records.events.KINDS), so Any is safe here.
Data = Mapping[str, Any]


def _mass(mg: int | None) -> str:
    return f", {format_mass(mg / 1000)}" if mg else ""


def _opened(d: Data) -> str:
    limit = f", at most {d['limit_days']} days" if d["limit_days"] else ""
    return f"waste container opened for {d['kind']}: {d['words']}{limit}"


def _put(d: Data) -> str:
    source = f" from {d['source']}" if d["source"] else ""
    guess = " (estimated)" if d["weight_mg"] and not d["weighed"] else ""
    return f"put into the container: {d['what']}{source}{_mass(d['weight_mg'])}{guess}"


def _confirmed(d: Data) -> str:
    return f"receiver confirmed on {d['confirmed_on']}: {d['confirmation']}" + _mass(
        d["confirmed_mg"]
    )


def _why(text: str) -> str:
    return f": {text}" if text else ""


def _wording(d: Data) -> str:
    if not d["words"]:
        return f"wording of the document {d['document']}: ours again"
    return f"wording of the document {d['document']}: {len(d['words'])} words of our own"


WASTE_WORDS: Mapping[str, Callable[[Data], str]] = {
    "waste.opened": _opened,
    "waste.put": _put,
    "waste.closed": lambda d: f"waste container closed on {d['closed_on']}",
    "consignment.handed_over": lambda d: (
        f"handed over to {d['receiver']}: {d['contents']}{_mass(d['weight_mg'])}"
    ),
    "consignment.confirmed": _confirmed,
    "board.weighed": lambda d: f"weighs {format_mass(d['weight_mg'] / 1000)} now",
    "tool.described": lambda d: f"tool {d['name']} ({d['kind']}) taken on, or its limits told anew",
    "tool.used": lambda d: f"cut with the bit {d['name']}, {d['length_um'] / 1e6:.2f} m",
    "tool.ran": lambda d: f"{d['name']} ran {d['minutes']} min on {d['ran_on']}",
    "tool.changed": lambda d: f"a fresh {d['name']} put in" + _why(d["reason"]),
    "tool.retired": lambda d: f"tool {d['name']} retired" + _why(d["reason"]),
    "wording.set": _wording,
    "paper.printed": lambda d: f"document printed: {d['document']}",
    "board.copper_set": lambda d: (
        f"{d['layers']} copper layers of {d['copper_moz'] / 1000:g} oz each"
    ),
}
"""Words by event kind."""
