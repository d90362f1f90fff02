"""
Boards that were cut, for photos of what is left.
"""

from __future__ import annotations

from dataclasses import replace

from tests.benchmarks.photo_layout import BoardLayout


def without_corner(layout: BoardLayout, wide: float, high: float) -> BoardLayout:
    """
    The board after its lower left corner was cut off.

    Args:
        layout: The board before.
        wide: Width of the corner in mm.
        high: Its height.
    """
    import shapely
    from shapely.geometry.polygon import orient

    cut = layout.polygon().difference(shapely.box(-1, -1, wide, high))
    rest = max(
        (part for part in shapely.get_parts(cut) if isinstance(part, shapely.Polygon)),
        key=lambda part: part.area,
    )
    ring = tuple((x, y) for x, y in shapely.get_coordinates(orient(rest).exterior))
    kept = tuple(h for h in layout.holes if h.x > wide + 3 or h.y > high + 3)
    drills = tuple(h for h in layout.drills if h.x > wide + 1 or h.y > high + 1)
    return replace(layout, outer=ring[:-1], holes=kept, drills=drills, slots=())
