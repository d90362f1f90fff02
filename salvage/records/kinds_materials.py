"""Kinds of events of materials: batches of sealants, findings and the like, and their use."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

MATERIALS_KINDS: Mapping[str, Mapping[str, str]] = {
    "batch.received": {
        "material": "text",
        "name": "text",
        "maker": "text",
        "lot": "text",
        "received_on": "text",
        "pack_milli": "int?",
        "unit": "text",
        "cost_minor": "int?",
        "currency": "text",
        "notes": "text",
    },
    "batch.paper_added": {
        "n": "int",
        "sha256": "text",
        "media_type": "text",
        "byte_count": "int",
        "name": "text",
        "title": "text",
    },
    "batch.used": {"n": "int", "stage": "text", "each_milli": "int?", "note": "text"},
    "batch.use_voided": {"n": "int", "why": "text"},
}
