"""Kinds of events of what the workshop knows itself: own rows, alerts, evidence of checks."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

SAFETY_KINDS: Mapping[str, Mapping[str, str]] = {
    "fact.added": {"kind": "text", "slug": "text", "fields": "map"},
    "fact.withdrawn": {"kind": "text", "slug": "text", "reason": "text"},
    "alert.raised": {
        "hazard": "text",
        "type": "text",
        "maker": "text",
        "model": "text",
        "drop_off": "text",
        "made_from": "text",
        "made_to": "text",
        "reason": "text",
        "source": "text",
    },
    "alert.lifted": {"alert": "text", "reason": "text"},
    "hazard.evidence": {"n": "int", "hazard": "text", "photo": "int?", "note": "text"},
}
