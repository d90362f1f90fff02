"""A bit, filter or mask as it stands now."""

from __future__ import annotations

from salvage.frozen import dataclass

TOOL_KINDS = ("bit", "filter", "mask", "blade")
"""Kinds of tools whose life is counted."""


@dataclass(frozen=True, slots=True)
class Tool:
    """A bit, blade, filter or mask, with the limits of its own maker."""

    name: str
    kind: str
    diameter_um: int | None
    limit_um: int | None
    limit_minutes: int | None
    limit_from: str
    notes: str
    fresh_on: str
    fresh_clock: int
    retired: str
