"""Kinds of events of bits, filters and masks: how far their life has gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

TOOL_KINDS: Mapping[str, Mapping[str, str]] = {
    "tool.described": {
        "name": "text",
        "kind": "text",
        "diameter_um": "int?",
        "limit_um": "int?",
        "limit_minutes": "int?",
        "limit_from": "text",
        "notes": "text",
        "fresh_on": "text",
    },
    "tool.used": {"name": "text", "length_um": "int"},
    "tool.ran": {"name": "text", "minutes": "int", "ran_on": "text"},
    "tool.changed": {"name": "text", "fresh_on": "text", "reason": "text"},
    "tool.retired": {"name": "text", "reason": "text"},
}
"""``tool.used`` belongs to the cut that it names, and is journalled with it."""
