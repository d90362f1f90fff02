"""
The rim of a board to a fraction of a pixel, lifted to the height at which it is seen.

The rim found in the grid is carried to the photo. Across it, at right angles, light is sampled; a
mixture of colours is found that tells board from field whatever the shadow does; where that
mixture is half board and half field, there is the edge. Where the rim faces the camera, its side is
seen and the silhouette is the lower rim; elsewhere it is the upper rim.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import View
from salvage.photo.measure.edge import Edges, Window, find_edges, rough_edges
from salvage.photo.measure.sharpness import Blur

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SPACING_MM = 0.2
"""Distance between points of a refined rim."""

_SMOOTH_MM, _SMOOTH_SHARE = 0.5, 0.04
_REACH_MM, _LEAST_REACH_PX = 0.45, 5.0
_CALM_MM, _CALM_SHARE = 4.0, 0.06
_ROUGH_TURNS, _CLOSE_TURNS = 2, 2

# How two photos' edges are weighed: one where a side is seen is worth a tenth of one where none is.
_SIDE_TRUST, _SAME_EDGE_MM, _SAME_WAY = 0.1, 0.6, 0.9


@dataclass(frozen=True, slots=True)
class Heights:
    """
    Where a board's faces are above the mat.

    Args:
        lower_mm: Its lower face.
        upper_mm: Its upper face.
    """

    lower_mm: float
    upper_mm: float


@dataclass(frozen=True, slots=True)
class Rim:
    """
    A refined rim, still in the photo.

    Args:
        pixels: Its points, in order; board on the left where it is walked in mm with y up.
        outward: Directions away from the board in the mat frame, of length 1.
        clear: At which points the edge was told with certainty.
        sigma_px: Blur of the edge, as the standard deviation of a bell, in pixels.
    """

    pixels: Floats
    outward: Floats
    clear: NDArray[np.bool_]
    sigma_px: float


def refine_rim(
    rgb: NDArray[np.uint8],
    view: View,
    rough_mm: Floats,
    *,
    heights: Heights,
    blur: Blur,
    room_mm: float,
) -> Rim:
    """
    The rim of a body or hole, refined on the photo.

    Args:
        rgb: The photo.
        view: Where places are seen in it.
        rough_mm: Its points at height 0, closed, in order, body on the left.
        heights: Where the board's faces roughly are; only for how much of its side is seen.
        blur: How the photo softens edges.
        room_mm: How far the field reaches beyond it; for a hole, half its width.
    """
    import numpy as np

    line = _even(rough_mm, SPACING_MM)
    way = len(line) * SPACING_MM
    line = _even(
        _smooth_closed(line, min(_SMOOTH_MM, _SMOOTH_SHARE * way) / SPACING_MM), SPACING_MM
    )
    calm = int(min(_CALM_MM, _CALM_SHARE * way) / SPACING_MM)
    pixels = view.project(_at(line, 0.0))
    scale, soft = 1.0, max(1.0, blur.light_px)
    edges = Edges(np.zeros(len(line)), np.ones(len(line), bool), soft)
    for turn in range(_ROUGH_TURNS + _CLOSE_TURNS):
        across, scale = _across(view, line)
        reach = max(_REACH_MM * scale, _LEAST_REACH_PX)
        out = min(reach, max(1.5, 0.85 * room_mm * scale))
        outside = (min(0.5 * out, 2.5 * soft), out)
        if turn < _ROUGH_TURNS:
            offsets = rough_edges(rgb, pixels, across, reach=reach, outside=outside)
        else:
            sides = _seen_sides(view, line, pixels, heights)
            window = Window((-3.5 * soft, -1.75 * soft), outside, calm, most_move=2.0 * soft + 1.0)
            edges = find_edges(rgb, pixels, across, window=window, blur=blur, sides_px=sides)
            offsets = edges.offsets
        pixels = pixels + across * offsets[:, None]
        line = _smooth_closed(view.lift(pixels, 0.0), 1.0)
    return Rim(pixels, outward_of(view.lift(pixels, heights.upper_mm)), edges.clear, edges.sigma_px)


def _seen_sides(view: View, line: Floats, pixels: Floats, heights: Heights) -> Floats:
    """How many pixels wide the board's side is seen at each point; 0 where it is hidden."""
    import numpy as np

    lower = view.lift(pixels, heights.lower_mm)
    outward = outward_of(line)
    facing = ((view.centre[:2] - lower) * outward).sum(axis=1) > 0
    above = view.project(_at(lower, heights.upper_mm)) - view.project(_at(lower, heights.lower_mm))
    across, _ = _across(view, line)
    return np.where(facing, np.abs((above * across).sum(axis=1)), 0.0)


def lift_rim(rim: Rim, view: View, heights: Heights) -> Floats:
    """
    Places in mm of a rim's points, by whether the lower or the upper rim is seen there.

    Rows of x and y; the sides of a board stand upright, so both rims have the same x and y.
    """
    import numpy as np

    return np.where(
        shows_side(rim, view, heights)[:, None],
        view.lift(rim.pixels, heights.lower_mm),
        view.lift(rim.pixels, heights.upper_mm),
    )


def shows_side(rim: Rim, view: View, heights: Heights) -> NDArray[np.bool_]:
    """At which of a rim's points the camera sees the board's side, and the lower rim below it."""
    middle = view.lift(rim.pixels, (heights.upper_mm + heights.lower_mm) / 2)
    facing: NDArray[np.bool_] = ((view.centre[:2] - middle) * rim.outward).sum(axis=1) > 0
    return facing


def join_rims(rims: tuple[Rim, Rim], views: tuple[View, View], heights: Heights) -> Floats:
    """
    Places in mm of the first rim's points, bettered by a second photo from another side.

    Beside a side that is seen an edge is told less surely than where the upper rim stands before
    the field, and what shows its side in one photo mostly hides it in the other.

    Args:
        rims: The same board's rim in both photos.
        views: Where places are seen in them.
        heights: Where the board's faces are.
    """
    import numpy as np
    import shapely

    places, line = (lift_rim(rim, view, heights) for rim, view in zip(rims, views, strict=True))
    trust, others = (
        np.where(shows_side(rim, view, heights), _SIDE_TRUST, 1.0) * rim.clear
        for rim, view in zip(rims, views, strict=True)
    )
    ring = shapely.LinearRing(line)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    along = shapely.line_locate_point(ring, shapely.points(places))
    foot = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    beside = (np.searchsorted(way, along, side="right") - 1) % len(line)
    near = np.linalg.norm(foot - places, axis=1) < _SAME_EDGE_MM
    alike = (rims[0].outward * rims[1].outward[beside]).sum(axis=1) > _SAME_WAY
    other = others[beside] * (near & alike)
    share = other / np.maximum(trust + other, 1e-9)
    joined: Floats = places + share[:, None] * (foot - places)
    return joined


def outward_of(line: Floats) -> Floats:
    """Directions of length 1 to the right of a closed line, from its smoothed course."""
    import numpy as np

    course = _smooth_closed(line, 3.0)
    along = np.roll(course, -1, axis=0) - np.roll(course, 1, axis=0)
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    return np.stack([along[:, 1], -along[:, 0]], axis=1)


def _at(line: Floats, z: float) -> Floats:
    import numpy as np

    return np.concatenate([line, np.full((len(line), 1), z)], axis=1)


def _even(line: Floats, spacing: float) -> Floats:
    """Points of a closed line at even distances."""
    import numpy as np

    closed = np.concatenate([line, line[:1]])
    steps = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(12, round(way[-1] / spacing))
    marks = np.arange(count) * way[-1] / count
    return np.stack([np.interp(marks, way, closed[:, k]) for k in range(2)], axis=1)


def _smooth_closed(line: Floats, sigma: float) -> Floats:
    """A closed line, each point mixed with its neighbours by a bell of *sigma* points."""
    import numpy as np

    half = min(int(3 * sigma) + 1, (len(line) - 1) // 2)
    bell = np.exp(-0.5 * (np.arange(-half, half + 1) / sigma) ** 2)
    bell /= bell.sum()
    padded = np.concatenate([line[-half:], line, line[:half]]) if half else line
    return np.stack([np.convolve(padded[:, k], bell, "valid") for k in range(line.shape[1])], 1)


def _across(view: View, line: Floats) -> tuple[Floats, float]:
    """Directions out of the board in the photo, of length 1 pixel, and pixels per mm there."""
    import numpy as np

    outward = outward_of(line)
    here, there = view.project(_at(line, 0.0)), view.project(_at(line + 0.2 * outward, 0.0))
    # At right angles in the photo, not along the mat's direction: a slanted view shears angles.
    along = _smooth_closed(np.roll(here, -1, axis=0) - np.roll(here, 1, axis=0), 3.0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    across = np.stack([along[:, 1], -along[:, 0]], axis=1)
    step = there - here
    across *= np.sign((across * step).sum(axis=1, keepdims=True))
    return across, float(np.median(np.linalg.norm(step, axis=1))) / 0.2
