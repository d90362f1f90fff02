"""Kinds of events of data-bearing parts: search, description, hand-over, sanitising, return."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

CUSTODY_KINDS: Mapping[str, Mapping[str, str]] = {
    "custody.searched": {
        "n": "int",
        "found": "text",
        "scope": "text",
        "how": "text",
        "photo": "text",
    },
    "custody.described": {
        "n": "int",
        "taken_from": "int?",
        "maker": "text",
        "model": "text",
        "serial_seal": "text?",
        "media_type": "text",
        "source_seal": "text?",
        "confidentiality": "text",
    },
    "custody.handed": {
        "n": "int",
        "step": "int",
        "on_day": "text",
        "role": "text",
        "to_seal": "text?",
        "place": "text",
        "document": "text",
        "note": "text",
        "photo": "text",
    },
    "custody.sanitised": {
        "n": "int",
        "attempt": "int",
        "method": "text",
        "technique": "text",
        "standard": "text",
        "tool": "text",
        "die": "text",
        "done_by": "text",
        "done_on": "text",
        "place": "text",
        "verification": "text",
        "verified_by": "text",
        "verified_title": "text",
        "verified_on": "text",
        "verified_place": "text",
        "contact_seal": "text?",
        "validation": "text",
        "destination": "text",
        "note": "text",
        "photo": "text",
    },
    "dropoff.closed": {"note": "text"},
}
"""
Fields by kind. Serial numbers, the device a medium came from, and people outside the workshop are
sealed like donors' names, and are erased with the donor's name.
"""
