"""Words for the events of assays and of the gate before a sale."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Data = Mapping[str, Any]


def _assay(d: Data) -> str:
    below = "below " if d["is_below"] else ""
    lab = f", laboratory {d['lab']}" if d["lab"] else ", own test"
    return (
        f"assay {d['n']}: {d['analyte']} ({d['measure']}) in {d['part']} {below}{d['figure']}"
        f" {d['unit']} by {d['method']} on {d['tested_on']}{lab}"
    )


def _product(d: Data) -> str:
    seen = ", ".join(f"{part} {d[part]}" for part in _PARTS)
    return f"is to be: {d['product']}; {seen}"


_PARTS = ("solder", "component", "metal", "finding", "coating")

GATE_WORDS: Mapping[str, Callable[[Data], str]] = {
    "assay.recorded": _assay,
    "assay.voided": lambda d: f"assay {d['n']} voided: {d['why']}",
    "piece.product_set": _product,
    "piece.audience_set": lambda d: (
        f"marked for {'children' if d['audience'] == 'child' else 'adults'}: {d['reason']}"
    ),
    "gate.accepted": lambda d: f"ACCEPTED open point {d['point']}: {d['reason']}",
}
"""One line of plain words for every kind."""
