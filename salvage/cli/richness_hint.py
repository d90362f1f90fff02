"""The richest free place of a board on one line, for the board's own screens."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.workshop import Workshop


def richness_line(shop: Workshop, board: Code) -> str:
    """The best free place on one line, for the board's own screen; empty where no photo tells."""
    from salvage.errors import BadOutline, NotFound
    from salvage.work.richness import look_for_richness

    try:
        places = look_for_richness(shop, board=board).richness.places
    except (NotFound, BadOutline):
        return ""
    if not places:
        return ""
    return f"  densest traces round {places[0].x_mm:g}, {places[0].y_mm:g} mm, as a hint"
