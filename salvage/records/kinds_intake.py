"""Kinds of events of the workshop, its devices, donors and drop-offs."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

INTAKE_KINDS: Mapping[str, Mapping[str, str]] = {
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
}
