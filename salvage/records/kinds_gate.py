"""Kinds of events of assays, and of what stands between a piece and its sale."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

GATE_KINDS: Mapping[str, Mapping[str, str]] = {
    "assay.recorded": {
        "n": "int",
        "part": "text",
        "analyte": "text",
        "measure": "text",
        "method": "text",
        "figure": "text",
        "unit": "text",
        "is_below": "flag",
        "detection_limit": "text",
        "uncertainty": "text",
        "instrument": "text",
        "lab": "text",
        "tested_on": "text",
        "document": "text",
        "note": "text",
    },
    "assay.voided": {"n": "int", "why": "text"},
    "piece.product_set": {
        "product": "text",
        "solder": "text",
        "component": "text",
        "metal": "text",
        "finding": "text",
        "coating": "text",
    },
    "piece.audience_set": {"audience": "text", "reason": "text", "rests_on": "list"},
    "gate.accepted": {"n": "int", "point": "text", "reason": "text"},
}
"""Fields by kind; figures are decimal text exactly as reported, with their unit beside them."""
