"""Kinds of events of a board until it is cut: what it is, its photos, its hazards."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

BOARDS_KINDS: Mapping[str, Mapping[str, str]] = {
    "board.recorded": {
        "drop_off": "text",
        "type": "text",
        "maker": "text",
        "model": "text",
        "date_code": "text",
        "colour": "text",
        "thickness_um": "int?",
        "weight_mg": "int?",
        "lead_status": "text",
        "lead_evidence": "text",
        "place": "text",
        "notes": "text",
        "outline": "list?",
        "outline_from": "text",
        "outline_um2": "int",
        "usable_um2": "int",
        "hazards": "list",
    },
    "board.outlined": {
        "outline": "list",
        "outline_from": "text",
        "outline_um2": "int",
        "usable_um2": "int",
    },
    "board.lead_set": {"lead_status": "text", "lead_evidence": "text"},
    "board.corrected": {"was": "map", "now": "map", "hazards": "list", "why": "text"},
    "board.moved": {"place": "text"},
    "board.retired": {"reason": "text"},
    "keepout.added": {"n": "int", "reason": "text", "region": "list", "usable_um2": "int"},
    "keepout.lifted": {"n": "int", "reason": "text", "usable_um2": "int"},
    "photo.added": {
        "n": "int",
        "sha256": "text",
        "media_type": "text",
        "byte_count": "int",
        "name": "text",
        "side": "text",
        "caption": "text",
        "width_px": "int",
        "height_px": "int",
        "corners": "list?",
        "taken_at": "text",
    },
    "hazard.checked": {
        "hazard": "text",
        "finding": "text",
        "outcome": "text",
        "how": "text",
        "goes_to": "text",
        "reason": "text",
    },
    "mat.printed": {"serial": "text", "paper": "text", "colour": "text", "family": "int"},
    "mat.checked": {"serial": "text", "bar_x_um": "int", "bar_y_um": "int"},
}
