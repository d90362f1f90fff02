"""Kinds of events of recalls from any cause; ``recall.opened`` and ``recall.closed`` are older."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

RECALLS_KINDS: Mapping[str, Mapping[str, str]] = {
    "recall.begun": {
        "cause": "map",
        "subject": "text",
        "reason": "text",
        "learned_on": "text",
        "to_do": "text",
        "hold": "flag",
        "items": "list",
        "unknown": "int",
    },
    "recall.hold_set": {"hold": "flag"},
    "recall.joined": {"items": "list", "why": "text"},
    "recall.settled": {"outcome": "text", "note": "text"},
    "recall.left_open": {"items": "list", "unknown": "int", "why": "text"},
}
