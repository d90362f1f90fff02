"""
Where in a picture a label lies, without reading it.

A symbol is a patch thick with edges, about as wide as it is high, or a band of bars. The patches
are found at a coarse scale, straightened, and judged by how often dark and light change along
their rows and columns. What is found here and read by nobody is told to the maker.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.codes.reading import Corners, same_place

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Pixels = npt.NDArray[np.uint8]

_COARSE_PX = 2_000_000  # of this many pixels at most; a module of three pixels still shows in it
_EDGE_TONES = 24  # of 255 between neighbours; low light with noise stays below, ink does not
_WINDOW_PX = 9
_THICK = 0.62  # share of edge pixels in a window inside a symbol
_LEAST_SIDE_PX = 16
_MOST_PLACES = 40
_CALM = 0.75  # of the rim; words beside a symbol take some of it
_VERY_CALM = 0.85
_MANY_CHANGES = 16.0  # code 128 of ours has some 50, of which half show at this coarseness
_LEAST_BARS_SHAPE = 0.12  # height to width of bars; ours have 0.18, rulers are longer
_STIRRED = 0.6  # rim of bars beside which words stand, light on dark too
_CLEAR_CHANGES = 14.0
_RIM = 5  # cells around it, of which the rim is judged
_PROBE = 48  # cells along a side of the straightened patch that is judged


@dataclass(frozen=True, slots=True)
class Patch:
    """
    A place that may hold a symbol.

    Args:
        corners_px: Around it, in pixels of the picture.
        changes: Changes between dark and light along its rows and its columns, on average.
        calm: Share of the rim around it that is of one tone, as a label's quiet zone is.
    """

    corners_px: Corners
    changes: tuple[float, float]
    calm: float = 1.0

    @property
    def is_symbol(self) -> bool:
        """Whether it looks so much like a square symbol that an unread one is told."""
        low, high = min(self.changes), max(self.changes)
        return (
            low >= 5.0
            and high <= 16.0
            and high <= 1.6 * low
            and self.is_calm
            and is_squarish(self.corners_px, least=0.4)
        )

    @property
    def is_calm(self) -> bool:
        """Whether the rim is as a quiet zone should be."""
        return self.calm >= _CALM

    @property
    def is_surely_bars(self) -> bool:
        """Whether it looks so much like bars with their quiet zone that an unread one is told."""
        return (
            self.is_bars
            and self.calm >= _VERY_CALM
            and max(self.changes) >= _MANY_CHANGES
            and is_squarish(self.corners_px, least=_LEAST_BARS_SHAPE)
        )

    @property
    def is_bars(self) -> bool:
        """Whether it looks like bars: many changes one way, few the other."""
        low, high = min(self.changes), max(self.changes)
        if high >= _CLEAR_CHANGES and low <= 0.25 * high and self.calm >= _STIRRED:
            return is_squarish(self.corners_px, least=_LEAST_BARS_SHAPE)
        return high >= 8.0 and low <= 0.35 * high and self.is_calm


def find_patches(pixels: Pixels) -> list[Patch]:
    """Places that may hold a symbol, fine ones and coarse ones, each once, the largest first."""
    import cv2
    import numpy as np

    factor = min(1.0, (_COARSE_PX / pixels.size) ** 0.5)
    found: list[Patch] = []
    seen = pixels
    if factor < 0.5:  # halving is quick, and the rest is then a quarter of the work
        half = (pixels.shape[1] // 2, pixels.shape[0] // 2)
        seen = np.asarray(cv2.resize(pixels, half, interpolation=cv2.INTER_AREA), np.uint8)
    while min(pixels.shape) * factor >= 3 * _LEAST_SIDE_PX and len(found) < _MOST_PLACES:
        size = (round(pixels.shape[1] * factor), round(pixels.shape[0] * factor))
        seen = np.asarray(cv2.resize(seen, size, interpolation=cv2.INTER_AREA), np.uint8)
        found += _find_at(seen, factor)
        factor /= 2
    found.sort(key=lambda patch: -_area(patch.corners_px))
    kept: list[Patch] = []
    for patch in found:
        if not any(_is_twin(patch.corners_px, other.corners_px) for other in kept):
            kept.append(patch)
    return kept[:_MOST_PLACES]


def _find_at(coarse: Pixels, factor: float) -> list[Patch]:
    """Patches of one scale; *factor* is its size to the picture's."""
    import cv2
    import numpy as np

    rim = cv2.morphologyEx(coarse, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    edges = (rim > _EDGE_TONES).astype(np.uint8) * 255
    thick = cv2.blur(edges, (_WINDOW_PX, _WINDOW_PX)) > _THICK * 255
    whole = cv2.morphologyEx(thick.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    whole = cv2.morphologyEx(whole, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8))
    outlines, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    patches = []
    for outline in sorted(outlines, key=cv2.contourArea, reverse=True)[: 2 * _MOST_PLACES]:
        box = cv2.minAreaRect(outline)
        if min(box[1]) < _LEAST_SIDE_PX:
            continue
        corners = np.asarray(cv2.boxPoints(box), np.float32)
        changes, calm = _judge(coarse, corners)
        if max(changes) >= 4.0:
            placed = tuple((round(x / factor), round(y / factor)) for x, y in corners.tolist())
            patches.append(Patch(placed, changes, calm))
    return patches


def _area(corners_px: Corners) -> float:
    turned = corners_px[1:] + corners_px[:1]
    pairs = zip(corners_px, turned, strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


def _is_twin(one: Corners, other: Corners) -> bool:
    """Whether two patches are the same one at two scales."""
    small, big = sorted((_area(one), _area(other)))
    return small >= 0.6 * big and same_place(one, other)


def straighten(
    pixels: Pixels, corners_px: Corners, *, margin: float = 0.25, side_px: int = 0
) -> tuple[Pixels, npt.NDArray[np.float64]]:
    """
    A patch turned upright with some surroundings, and the way back into the picture.

    Args:
        pixels: The gray picture.
        corners_px: Around the patch.
        margin: Surroundings on each side, as a share of the patch.
        side_px: Length of the longer side in the result; 0 keeps the scale.

    Returns:
        The upright pixels, and the matrix from their places to places in the picture.
    """
    import cv2
    import numpy as np

    rim = np.array(corners_px, np.float32)
    width = float(np.linalg.norm(rim[1] - rim[0]) + np.linalg.norm(rim[2] - rim[3])) / 2
    height = float(np.linalg.norm(rim[2] - rim[1]) + np.linalg.norm(rim[3] - rim[0])) / 2
    room = margin * max(width, height)
    factor = side_px / (max(width, height) + 2 * room) if side_px else 1.0
    left, right = room * factor, (room + width) * factor
    top, bottom = room * factor, (room + height) * factor
    flat = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float32)
    matrix = cv2.getPerspectiveTransform(rim, flat)
    size = (max(8, round(right + left)), max(8, round(bottom + top)))
    upright = cv2.warpPerspective(
        pixels, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(upright, np.uint8), np.asarray(np.linalg.inv(matrix), np.float64)


def end_squares(corners_px: Corners) -> list[Corners]:
    """
    The patch itself, or the squares at both ends of a long one: a symbol with words beside it.

    >>> end_squares(((0, 0), (8, 0), (8, 4), (0, 4)))[1]
    ((4, 0), (8, 0), (8, 4), (4, 4))
    """
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = corners_px
    across = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    down = ((x3 - x2) ** 2 + (y3 - y2) ** 2) ** 0.5
    if down > across:
        return end_squares(corners_px[1:] + corners_px[:1])
    if across < 1.2 * down or not down:
        return [corners_px]
    share = down / across

    def cut(start: float, stop: float) -> Corners:
        top = [(x1 + (x2 - x1) * at, y1 + (y2 - y1) * at) for at in (start, stop)]
        low = [(x4 + (x3 - x4) * at, y4 + (y3 - y4) * at) for at in (stop, start)]
        return tuple((round(x), round(y)) for x, y in top + low)

    return [cut(0, share), cut(1 - share, 1), corners_px]


def find_bars(pixels: Pixels) -> list[Corners]:
    """Places of bar symbols at any angle, found by OpenCV's locator; at most eight."""
    import cv2
    import numpy as np

    found, corners = cv2.barcode.BarcodeDetector().detect(pixels)
    if not found or corners is None:
        return []
    whole = np.asarray(corners, np.float64).reshape(-1, 4, 2)[:8]
    return [tuple((round(x), round(y)) for x, y in rim) for rim in whole.tolist()]


def place_back(corners_px: Corners, matrix: npt.NDArray[np.float64]) -> Corners:
    """Corners of an upright patch as corners in the picture."""
    placed = []
    for x, y in corners_px:
        u, v, w = matrix @ (x, y, 1.0)
        placed.append((round(u / w), round(v / w)))
    return tuple(placed)


def _judge(pixels: Pixels, corners: npt.NDArray[np.float32]) -> tuple[tuple[float, float], float]:
    """Changes between dark and light along a patch's rows and columns, and its rim's calm."""
    import cv2
    import numpy as np

    inner = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32) * (_PROBE - 1) + _RIM
    matrix = cv2.getPerspectiveTransform(np.asarray(corners, np.float32), inner)
    side = _PROBE + 2 * _RIM
    patch = cv2.warpPerspective(
        pixels, matrix, (side, side), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE
    )
    whole = patch[_RIM:-_RIM, _RIM:-_RIM]
    level, _ = cv2.threshold(np.ascontiguousarray(whole), 0, 1, cv2.THRESH_OTSU)
    light = patch > level
    part = light[_RIM:-_RIM, _RIM:-_RIM].astype(np.int8)
    across = float(np.abs(np.diff(part, axis=1)).sum()) / _PROBE
    down = float(np.abs(np.diff(part, axis=0)).sum()) / _PROBE
    rim = np.concatenate([light[1:4].ravel(), light[-4:-1].ravel()])
    rim = np.concatenate([rim, light[4:-4, 1:4].ravel(), light[4:-4, -4:-1].ravel()])
    share = float(rim.mean())
    return (across, down), max(share, 1 - share)


def is_squarish(corners_px: Corners, *, least: float) -> bool:
    """
    Whether the short side of a patch is at least such a share of the long one.

    >>> is_squarish(((0, 0), (8, 0), (8, 4), (0, 4)), least=0.6)
    False
    """
    (x1, y1), (x2, y2), (x3, y3) = corners_px[:3]
    across = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    down = ((x3 - x2) ** 2 + (y3 - y2) ** 2) ** 0.5
    return bool(min(across, down) >= least * max(across, down) > 0)
