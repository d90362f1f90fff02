"""
Upright solids in a picture of linear light: a board, a part, a sheet of paper, a hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.benchmarks.photo_raster import cover, window_round

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from tests.benchmarks.photo_camera import Camera
    from tests.benchmarks.photo_raster import Array, Window

# Straight edges are followed in steps this long, because the lens bends them.
_STEP_MM = 4.0


@dataclass(frozen=True, slots=True)
class Solid:
    """
    A prism standing on the mat or above it.

    Args:
        ring: Its outline, counter-clockwise, in mm on the mat.
        low_mm: Height of its lower face.
        high_mm: Height of its upper face.
        side: Colour of its sides, as linear light.
        top: Colour of its upper face, as linear light.
    """

    ring: tuple[tuple[float, float], ...]
    low_mm: float
    high_mm: float
    side: tuple[float, float, float]
    top: tuple[float, float, float]


def followed(ring: Sequence[tuple[float, float]]) -> Array:
    """A ring with points put in so that none is far from the next (N x 2)."""
    import numpy as np

    start = np.asarray(ring, float)
    end = np.roll(start, -1, axis=0)
    counts = np.maximum(1, np.ceil(np.hypot(*(end - start).T) / _STEP_MM)).astype(int)
    owner = np.repeat(np.arange(len(start)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    points: Array = start[owner] + (step / counts[owner])[:, None] * (end - start)[owner]
    return points


def lifted(ring: Array, z_mm: float) -> Array:
    """Points on the mat, raised (N x 3)."""
    import numpy as np

    return np.column_stack((ring, np.full(len(ring), z_mm)))


def silhouette(camera: Camera, ring: Array, low_mm: float, high_mm: float) -> list[Array]:
    """Rings in pixels of what a prism hides: its two faces and its sides together."""
    import numpy as np
    import shapely

    low, high = (camera.project(lifted(ring, z)) for z in (low_mm, high_mm))
    quads = np.stack((low, np.roll(low, -1, axis=0), np.roll(high, -1, axis=0), high), axis=1)
    sides = shapely.convex_hull(shapely.multipoints(quads))
    faces = [shapely.Polygon(low).buffer(0), shapely.Polygon(high).buffer(0)]
    return rings_of(shapely.union_all([shapely.union_all(sides), *faces]))


def seen_through(camera: Camera, ring: Array, low_mm: float, high_mm: float) -> list[Array]:
    """Rings in pixels of what can be seen through a convex hole with upright walls."""
    from shapely import Polygon

    low, high = (Polygon(camera.project(lifted(ring, z))) for z in (low_mm, high_mm))
    return rings_of(low.intersection(high))


def rings_of(shape: BaseGeometry) -> list[Array]:
    """Outer rings one way round, inner ones the other."""
    import numpy as np
    from shapely import get_parts
    from shapely.geometry.polygon import orient

    rings = []
    for part in get_parts(shape):
        if part.geom_type == "Polygon" and not part.is_empty:
            turned = orient(part)
            rings += [np.asarray(ring.coords)[:-1] for ring in (turned.exterior, *turned.interiors)]
    return rings


def lay_faced(
    picture: Array, window: Window, shares: tuple[Array, Array], colours: tuple[Array, Array]
) -> None:
    """
    Mix a solid into part of a picture: its sides, and the upper face before them.

    Where rim of face and rim of solid are one, a pixel is covered once, not twice: two layers over
    one another would make every solid a sixth of a pixel fat there.

    Args:
        picture: Linear light, changed in place.
        window: The part.
        shares: How much of each pixel the whole solid covers, and how much its face does.
        colours: Of its sides, and of its face; each one colour, or one for each pixel.
    """
    import numpy as np

    left, top, width, height = window
    there = picture[top : top + height, left : left + width]
    whole, face = shares
    sides = np.maximum(whole - face, 0)[:, :, None]
    there *= 1 - np.maximum(whole, face)[:, :, None]
    there += sides * colours[0] + face[:, :, None] * colours[1]


def lay_solid(picture: Array, camera: Camera, solid: Solid) -> None:
    """Put a solid into a picture; what is behind it is hidden."""
    import numpy as np

    ring = followed(solid.ring)
    size = picture.shape[1], picture.shape[0]
    outline = silhouette(camera, ring, solid.low_mm, solid.high_mm)
    if not outline:
        return
    window = window_round(np.concatenate(outline), size)
    if window is None:
        return
    top = camera.project(lifted(ring, solid.high_mm))
    shares = cover(outline, window), cover([top], window)
    lay_faced(
        picture,
        window,
        shares,
        (np.array(solid.side, np.float32), np.array(solid.top, np.float32)),
    )


def box_ring(
    x: float, y: float, wide: float, deep: float, *, is_round: bool = False
) -> tuple[tuple[float, float], ...]:
    """A rectangle, or a can's rim, round a place."""
    import math

    if is_round:
        turns = [i * math.pi / 12 for i in range(24)]
        return tuple((x + wide / 2 * math.cos(t), y + deep / 2 * math.sin(t)) for t in turns)
    a, b, c, d = x - wide / 2, y - deep / 2, x + wide / 2, y + deep / 2
    return ((a, b), (c, b), (c, d), (a, d))
