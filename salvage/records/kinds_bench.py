"""Kinds of events of the bench and its equipment, and of corrections."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

BENCH_KINDS: Mapping[str, Mapping[str, str]] = {
    "stocktake.begun": {"place": "text", "things": "text"},
    "stocktake.seen": {"codes": "list", "place": "text", "source": "text"},
    "stocktake.closed": {"seen": "int", "missing": "int"},
    "thing.lost": {"stock_take": "text", "reason": "text"},
    "thing.found": {"stock_take": "text"},
    "inbox.waiting": {
        "sha256": "text",
        "media_type": "text",
        "byte_count": "int",
        "name": "text",
        "reason": "text",
        "codes": "list",
    },
    "inbox.dropped": {"sha256": "text", "name": "text", "reason": "text"},
    "place.named": {"name": "text"},
    "stock.described": {
        "name": "text",
        "page_width_um": "int",
        "page_height_um": "int",
        "columns": "int",
        "rows": "int",
        "label_width_um": "int",
        "label_height_um": "int",
        "margin_left_um": "int",
        "margin_top_um": "int",
        "pitch_x_um": "int",
        "pitch_y_um": "int",
        "dpi": "int",
        "fold": "text",
        "tail_um": "int",
    },
    "printer.described": {"name": "text", "dpi": "int", "stock": "text"},
    "printer.checked": {
        "name": "text",
        "paper": "text",
        "left_um": "int",
        "top_um": "int",
        "width_um": "int",
        "height_um": "int",
        "shift_x_um": "int",
        "shift_y_um": "int",
        "stretch_x_ppm": "int",
        "stretch_y_ppm": "int",
    },
    "correction.undone": {"operation": "text", "events": "list", "act": "text", "why": "text"},
}
