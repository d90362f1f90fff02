"""Kinds of events of shapes, plans, reservations and cuts."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

CUTS_KINDS: Mapping[str, Mapping[str, str]] = {
    "shape.added": {
        "name": "text",
        "region": "list",
        "sha256": "text",
        "byte_count": "int",
        "file_name": "text",
        "finest": "flag",
    },
    "plan.made": {
        "for_whom": "text",
        "holds_until": "text",
        "tool": "text",
        "kerf_um": "int",
        "lines": "list",
        "shears": "list",
    },
    "plan.changed": {"holds_until": "text", "lines": "list", "shears": "list", "why": "text"},
    "plan.extended": {"holds_until": "text"},
    "plan.released": {"reason": "text"},
    "reservation.made": {
        "plan": "text",
        "line": "int",
        "for_whom": "text",
        "shape": "text",
        "region": "list",
        "x_um": "int",
        "y_um": "int",
        "angle_mdeg": "int",
        "mirrored": "flag",
        "usable_um2": "int",
    },
    "reservation.released": {"reason": "text", "usable_um2": "int"},
    "cut.made": {
        "outcome": "text",
        "side": "text",
        "tool": "text",
        "shape": "text",
        "shape_sha256": "text",
        "x_um": "int",
        "y_um": "int",
        "angle_mdeg": "int",
        "mirrored": "flag",
        "kerf_um": "int",
        "region": "list",
        "area_um2": "int",
        "usable_before_um2": "int",
        "usable_after_um2": "int",
        "override_reason": "text",
        "reservation": "text",
        "reason": "text",
        "custody": "text",
    },
}
