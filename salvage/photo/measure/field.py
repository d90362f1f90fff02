"""
The coloured field seen squarely, and what on it is not field.

Colour is compared without brightness: shadows and fall-off of light change how bright the field is,
not its hue. The hue of the empty field is learnt from the photo's own ring of field, with a smooth
change over the mat, so that any saturated print or card will do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import View, px_per_mm
from salvage.photo.measure.mat import BoxMm
from salvage.photo.measure.pixels import linear_levels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

GRID_PX_PER_MM = 5.0
"""Pixels per mm of the squared-up field: finding a board needs no more, edges are refined later."""

INSET_MM = 0.8
"""The rim of the field is left out: blur mixes it with the white beside it."""

_RING_MM = (1.0, 7.0)
_STEP = 8
_FLOOR = 0.006
_SMOOTH_PX = 0.8
_FIRST_LIMIT = 0.6
_LIMITS = (0.3, 0.9)
_NOISES = 6.0
_MOST_GRID = 4_000_000
_GLINT_STEP, _MOST_GLINT = 7.0, 0.25


@dataclass(frozen=True, slots=True)
class Field:
    """
    The field as a grid of cells, upper row first.

    Args:
        box: What the grid covers, in mm.
        px_per_mm: Cells per mm.
        distance: How far each cell's hue is from the field's.
        seen: Which cells the photo shows.
        limit: Distance from which on a cell is not field.
        noise: Standard deviation of the distance over empty field.
        level: Light of the empty field's brightest colour, 0 to 1.
        saturation: How colourful the empty field is; 0 for grey.
    """

    box: BoxMm
    px_per_mm: float
    distance: NDArray[np.float32]
    seen: NDArray[np.bool_]
    limit: float
    noise: float
    level: float
    saturation: float

    def to_mm(self, cells: Floats) -> Floats:
        """Places in mm of cells, given as rows of column and row."""
        import numpy as np

        left, _, _, top = self.box
        return np.stack(
            [
                left + (cells[..., 0] + 0.5) / self.px_per_mm,
                top - (cells[..., 1] + 0.5) / self.px_per_mm,
            ],
            axis=-1,
        )


def see_field(
    rgb: NDArray[np.uint8], view: View, box: BoxMm, *, with_brightness: bool = False
) -> Field:
    """
    The field of a photo, compared with its own empty rim.

    Args:
        rgb: The photo.
        view: Where places are seen in it.
        box: The field in mm.
        with_brightness: Compare brightness too, for plain paper and scanners, where there is no
            hue to go by; shadows then count as board.
    """
    import numpy as np

    left, bottom, right, top = box
    inner = (left + INSET_MM, bottom + INSET_MM, right - INSET_MM, top - INSET_MM)
    scale = _grid_scale(view, inner)
    light, seen = square_field(rgb, view, inner, scale=scale)
    hue = _hue(light, with_brightness=with_brightness)
    ring = _ring(seen, scale)
    if not ring.any():
        ring = seen
    model = _learn(hue, ring & seen, seen)
    distance = np.sqrt(((hue - model) ** 2).sum(axis=2)).astype(np.float32)
    distance[~seen] = 0.0
    limit = _limit(distance, seen, noise_of(distance, ring))
    if not with_brightness:
        distance = _without_glints(distance, limit, light)
    noise = noise_of(distance, ring)
    middle = np.median(hue[ring], axis=0) if ring.any() else np.zeros(3)
    level = float(np.median(light[ring].max(axis=1))) if ring.any() else 0.0
    return Field(
        inner,
        scale,
        distance,
        seen,
        limit,
        noise,
        level,
        float(np.linalg.norm(middle - middle.mean())),
    )


def noise_of(distance: NDArray[np.float32], ring: NDArray[np.bool_]) -> float:
    """Standard deviation of the distance over the empty ring of field."""
    import numpy as np

    near = distance[ring & (distance < _FIRST_LIMIT)]
    return float(np.sqrt(np.mean(near**2))) if near.size else 1.0


def _without_glints(
    distance: NDArray[np.float32], limit: float, light: NDArray[np.float32]
) -> NDArray[np.float32]:
    """
    The distance without glints on the field, which are pale like a board but fade out softly.

    What is not field, is reached from the field without crossing an edge, and is no large part of
    all that is not field, is a glint.
    """
    import cv2
    import numpy as np

    body = distance > limit
    coded = cv2.sqrt(np.clip(light, 0, 1)) * 255
    step = np.zeros(body.shape, np.float32)
    for colour in cv2.split(coded):
        for order in ((1, 0), (0, 1)):
            slope = cv2.Sobel(colour, cv2.CV_32F, *order, ksize=3, scale=0.125)
            np.maximum(step, np.abs(slope), out=step)
    flat = cv2.erode((step < _GLINT_STEP).astype(np.uint8), np.ones((3, 3), np.uint8))
    count, pieces = cv2.connectedComponents(flat * body, connectivity=4)
    beside = cv2.dilate(flat * (~body).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    reached = np.unique(pieces[beside & (pieces > 0)])
    if count <= 1 or not reached.size:
        return distance
    glint = np.isin(pieces, reached).astype(np.uint8)
    if glint.sum() > _MOST_GLINT * body.sum():
        return distance
    # The steep ends of the glint's slope, too thin to be a board, go with it.
    # Where its slope meets the board's edge, blur kept two cells of it.
    glint = cv2.dilate(glint, np.ones((5, 5), np.uint8)) & body.astype(np.uint8)
    rest = cv2.morphologyEx(
        body.astype(np.uint8) - glint, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)
    )
    near = cv2.dilate(glint, np.ones((9, 9), np.uint8)) > 0
    gone = (glint > 0) | (body & near & (rest == 0))
    return np.where(gone, np.float32(0.0), distance)


def _grid_scale(view: View, box: BoxMm) -> float:
    left, bottom, right, top = box
    native = px_per_mm(view, ((left + right) / 2, (bottom + top) / 2), 0.0)
    most = math.sqrt(_MOST_GRID / ((right - left) * (top - bottom)))
    return max(1.0, min(GRID_PX_PER_MM, native, most))


def square_field(
    rgb: NDArray[np.uint8], view: View, box: BoxMm, *, scale: float, z: float = 0.0
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """
    Linear light of a rectangle at height *z*, seen squarely, and which cells the photo shows.

    The photo is first shrunk in whole steps where it is finer than the grid, so that nothing
    aliases.
    """
    import cv2
    import numpy as np

    coded, seen = square_codes(rgb, view, box, scale=scale, z=z)
    light = cv2.LUT(coded, linear_levels())
    if _SMOOTH_PX:
        light = cv2.GaussianBlur(light, (0, 0), _SMOOTH_PX)
    return np.asarray(light, np.float32), seen


def square_codes(
    rgb: NDArray[np.uint8], view: View, box: BoxMm, *, scale: float, z: float = 0.0
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The same as coded 8-bit sRGB, unsmoothed."""
    import cv2
    import numpy as np

    left, bottom, right, top = box
    columns, rows = round((right - left) * scale), round((top - bottom) * scale)
    # The lens bends softly: places between every eighth cell are interpolated.
    cells_x = np.linspace(-0.5, columns - 0.5, columns // _STEP + 2)
    cells_y = np.linspace(-0.5, rows - 0.5, rows // _STEP + 2)
    x, y = np.meshgrid(left + (cells_x + 0.5) / scale, top - (cells_y + 0.5) / scale)
    pixels = view.project(np.stack([x, y, np.full_like(x, z)], axis=-1))
    native = px_per_mm(view, ((left + right) / 2, (bottom + top) / 2), z)
    shrink = max(1, round(native / scale))
    if shrink > 1:
        height, width = rgb.shape[:2]
        size = (width // shrink, height // shrink)
        rgb = cv2.resize(
            rgb[: size[1] * shrink, : size[0] * shrink], size, interpolation=cv2.INTER_AREA
        ).astype("uint8", copy=False)
        pixels = (pixels + 0.5) / shrink - 0.5
    fine = [
        _spread_map(pixels[..., k].astype(np.float32), cells_x, cells_y, (columns, rows))
        for k in range(2)
    ]
    height, width = rgb.shape[:2]
    seen = (fine[0] >= 0) & (fine[0] <= width - 1) & (fine[1] >= 0) & (fine[1] <= height - 1)
    coded = cv2.remap(rgb, fine[0], fine[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return coded.astype("uint8", copy=False), seen


def _spread_map(
    coarse: NDArray[np.float32], cells_x: Floats, cells_y: Floats, size: tuple[int, int]
) -> NDArray[np.float32]:
    """Values at every cell, linear between the coarse ones."""
    import cv2
    import numpy as np

    steps_x, steps_y = cells_x[1] - cells_x[0], cells_y[1] - cells_y[0]
    at_x = ((np.arange(size[0]) - cells_x[0]) / steps_x).astype(np.float32)
    at_y = ((np.arange(size[1]) - cells_y[0]) / steps_y).astype(np.float32)
    grid_x, grid_y = np.meshgrid(at_x, at_y)
    return np.asarray(cv2.remap(coarse, grid_x, grid_y, cv2.INTER_LINEAR), np.float32)


def _hue(light: NDArray[np.float32], *, with_brightness: bool) -> NDArray[np.float32]:
    """Logarithms of the three colours, without their mean unless brightness counts."""
    import cv2
    import numpy as np

    floor = np.float32(_FLOOR * max(0.2, float(np.percentile(light[::8, ::8], 95))))
    logs = np.asarray(cv2.log(light + floor), np.float32)
    if with_brightness:
        return logs
    return np.asarray(logs - logs.mean(axis=2, keepdims=True), np.float32)


def _ring(seen: NDArray[np.bool_], scale: float) -> NDArray[np.bool_]:
    import numpy as np

    ring = np.zeros_like(seen)
    a, b = (round(mm * scale) for mm in _RING_MM)
    ring[a:-a, a:-a] = True
    ring[b:-b, b:-b] = False
    return ring & seen


def _learn(
    hue: NDArray[np.float32], ring: NDArray[np.bool_], seen: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """The empty field's hue everywhere: a smooth surface through what is surely field."""
    import cv2
    import numpy as np

    rows, columns = hue.shape[:2]
    middle = np.median(hue[ring], axis=0)
    small = np.s_[2::5, 2::5]
    y, x = np.mgrid[0:rows, 0:columns][(slice(None), *small)] / max(rows, columns) - 0.5
    values, usable = hue[small], seen[small]
    powers = [x**i * y**j for i in range(4) for j in range(4 - i)]
    terms = np.stack(powers, axis=-1).astype(np.float64)
    model = np.broadcast_to(middle, values.shape).astype(np.float64)
    for limit in (_FIRST_LIMIT, _FIRST_LIMIT / 2, _FIRST_LIMIT / 3):
        near = usable & (((values - model) ** 2).sum(axis=2) < limit**2)
        if near.sum() < 20 * len(powers):
            break
        normal = terms[near].T @ terms[near] + 1e-3 * np.eye(len(powers))
        model = terms @ np.linalg.solve(normal, terms[near].T @ (values[near] - middle)) + middle
    whole = cv2.resize(model.astype(np.float32), (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole, np.float32)


def _limit(distance: NDArray[np.float32], seen: NDArray[np.bool_], noise: float) -> float:
    """Otsu's threshold between field and the rest, kept within sensible bounds."""
    import cv2
    import numpy as np

    scaled = np.clip(distance[seen] * 80, 0, 255).astype(np.uint8)
    if not scaled.size:
        return _LIMITS[1]
    otsu, _ = cv2.threshold(scaled, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return max(_LIMITS[0], min(_LIMITS[1], otsu / 80), min(1.2, _NOISES * noise))


@dataclass(frozen=True, slots=True)
class Body:
    """
    One thing on the field.

    Args:
        outer: Its rim as cells, rows of column and row.
        holes: Rims of the holes in it.
        area_mm2: Its area, holes filled.
        touches: Which edges of the field it touches: ``left``, ``top``, ``right``, ``bottom``.
        touches_unseen: Whether it reaches what the photo does not show.
    """

    outer: Floats
    holes: tuple[Floats, ...]
    area_mm2: float
    touches: frozenset[str]
    touches_unseen: bool


_SMALLEST_BODY_MM2 = 20.0
SMALLEST_HOLE_MM2 = 0.12
"""Rims of holes in the grid smaller than this are noise."""


def find_bodies(field: Field) -> list[Body]:
    """Everything on the field above 20 mm², largest first."""
    import cv2
    import numpy as np

    mask = ((field.distance > field.limit) & field.seen).astype(np.uint8)
    rims, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if not rims:
        return []
    cell = 1 / field.px_per_mm**2
    bodies = []
    for k, (rim, (_, _, child, parent)) in enumerate(zip(rims, tree[0], strict=True)):
        # The rim runs through cell centres; half a cell more belongs to the body all round.
        area = (cv2.contourArea(rim) + len(rim) / 2 + 1) * cell
        if parent >= 0 or area < _SMALLEST_BODY_MM2:
            continue
        holes = []
        while child >= 0:
            hole = rims[child]
            if (cv2.contourArea(hole) - len(hole) / 2 + 1) * cell >= SMALLEST_HOLE_MM2:
                holes.append(hole[:, 0, :].astype(float))
            child = tree[0][child][0]
        outer = rims[k][:, 0, :].astype(float)
        bodies.append(Body(outer, tuple(holes), area, *_touches(outer, field)))
    return sorted(bodies, key=lambda body: -body.area_mm2)


def _touches(outer: Floats, field: Field) -> tuple[frozenset[str], bool]:
    import cv2
    import numpy as np

    rows, columns = field.distance.shape
    sides = {
        "left": outer[:, 0].min() <= 1,
        "right": outer[:, 0].max() >= columns - 2,
        "top": outer[:, 1].min() <= 1,
        "bottom": outer[:, 1].max() >= rows - 2,
    }
    edge = cv2.dilate((~field.seen).astype(np.uint8), np.ones((5, 5), np.uint8))
    x, y = outer[:, 0].astype(int), outer[:, 1].astype(int)
    unseen = bool((edge[y, x] > 0).any())
    return frozenset(side for side, touched in sides.items() if touched), unseen
