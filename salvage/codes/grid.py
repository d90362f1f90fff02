"""
A symbol's grid fitted to a picture by the modules that are the same in every symbol.

Finders, timing modules and the quiet zone are known beforehand. Four corners are moved until dark
and light lie where they must; so a symbol is found though dirt or a lamp's reflection lies on a
part of it, where readers that look for a whole finder give up.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from salvage.codes.layout import Layout

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Wide = npt.NDArray[np.float64]

CELL_PX = 8  # pixels to a module in the straightened patch that is fitted
_SHIFTS = (-2.0, -1.3, -0.6, 0.0, 0.6, 1.3, 2.0)  # of the first corners, in modules
_GROWTHS = (0.8, 0.87, 0.93, 1.0, 1.07, 1.15)
_STEPS = (0.6, 0.3, 0.15, 0.08)  # of one corner, in modules
_TURNS = 4


@dataclass(frozen=True, slots=True)
class Grid:
    """
    A fitted symbol.

    Args:
        layout: Its plan.
        corners: Its four corners in the patch, from the symbol's own upper left one clockwise.
        score: How well the known modules fit; 1 is perfectly, 0 by chance.
    """

    layout: Layout
    corners: Wide
    score: float


def level_tones(patch: npt.NDArray[np.uint8]) -> Floats:
    """
    A patch with dark near -1 and light near 1 in each neighbourhood, whatever the light.

    Args:
        patch: Gray, :data:`CELL_PX` pixels to a module.
    """
    import cv2
    import numpy as np

    tones = cv2.GaussianBlur(patch, (0, 0), 0.2 * CELL_PX).astype(np.float32)
    reach = int(7 * CELL_PX) | 1
    mean = cv2.blur(tones, (reach, reach))
    spread = np.sqrt(np.maximum(cv2.blur(tones * tones, (reach, reach)) - mean * mean, 0))
    # Where a neighbourhood is nearly of one tone, noise must not be blown up into modules.
    floor = 0.35 * float(np.percentile(spread, 90)) + 1.0
    return np.asarray(np.clip((tones - mean) / np.maximum(spread, floor), -1.2, 1.2), np.float32)


def guess_grid(tones: Floats, layout: Layout, frame: tuple[float, float, float, float]) -> Grid:
    """
    The best place of a symbol near an upright frame, in whole and half modules.

    Where light and dark are exchanged the score is below 0.

    Args:
        tones: From :func:`level_tones`.
        layout: The plan of the symbol that is looked for.
        frame: Left, top, right and bottom in the patch, about where the symbol lies, in any turn.
    """
    import numpy as np

    left, top, right, bottom = frame
    places, signs = _known(layout)
    growths, shifts = np.array(_GROWTHS), np.array(_SHIFTS)
    grow, down, across = (part.ravel() for part in np.meshgrid(growths, shifts, shifts))
    width, height = (right - left) * grow, (bottom - top) * grow
    x0 = (left + right - width) / 2 + across * (right - left) / layout.side
    y0 = (top + bottom - height) / 2 + down * (bottom - top) / layout.side
    best, best_score = np.zeros((4, 2)), 0.0
    for turn in range(_TURNS):
        u, v = _turned(places, turn)
        columns = (x0[:, None] + width[:, None] * u).astype(np.intp)
        rows = (y0[:, None] + height[:, None] * v).astype(np.intp)
        scores = _tones_in(tones, columns, rows) @ signs
        at = int(np.argmax(np.abs(scores)))
        if abs(scores[at]) > abs(best_score):
            x, y, w, h = x0[at], y0[at], width[at], height[at]
            rim = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
            best, best_score = np.roll(rim, -turn, axis=0), float(scores[at])
    return Grid(layout, best, best_score)


def _turned(places: Wide, turn: int) -> tuple[Wide, Wide]:
    """Places in a frame whose upper left corner is the symbol's corner number minus *turn*."""
    u, v = places[:, 0], places[:, 1]
    return ((u, v), (1 - v, u), (1 - u, 1 - v), (v, 1 - u))[turn]


def refine_grid(tones: Floats, grid: Grid) -> Grid:
    """Corners moved one by one, in ever smaller steps, as long as the fit grows."""
    import numpy as np

    places, signs = _known(grid.layout)
    corners, score = grid.corners.copy(), grid.score
    step = float(np.linalg.norm(corners[1] - corners[0])) / grid.layout.side
    for size in _STEPS:
        for _ in range(4):
            before = score
            for corner, axis, way in np.ndindex(4, 2, 2):
                trial = corners.copy()
                trial[corner, axis] += size * step * (1 if way else -1)
                gained = float(_tones_at(tones, trial, places) @ signs)
                if gained > score:
                    corners, score = trial, gained
            if score - before < 0.002:
                break
    return Grid(grid.layout, corners, score)


def sample_grid(tones: Floats, grid: Grid) -> Floats:
    """Tone of every module, rows by columns, -1 dark and 1 light: the mean of five points in it."""
    import numpy as np

    side = grid.layout.side
    rows, columns = np.mgrid[0:side, 0:side].reshape(2, -1) + 0.5
    total = np.zeros(side * side, np.float32)
    for across, down in ((0, 0), (-0.22, -0.22), (0.22, -0.22), (-0.22, 0.22), (0.22, 0.22)):
        points = np.column_stack([columns + across, rows + down]) / side
        total += _tones_at(tones, grid.corners, points)
    return np.asarray((total / 5).reshape(side, side), np.float32)


@cache
def _known(layout_key: Layout) -> tuple[Wide, Floats]:
    """Places of known modules in shares of the side, and their tones."""
    import numpy as np

    side, quiet = layout_key.side, min(layout_key.quiet, 2)
    known = dict(layout_key.fixed)
    for ring in range(1, quiet + 1):
        for place in range(-ring, side + ring):
            for cell in ((-ring, place), (side - 1 + ring, place)):
                known[cell] = False
            for cell in ((place, -ring), (place, side - 1 + ring)):
                known[cell] = False
    cells = np.array([(column + 0.5, row + 0.5) for row, column in known], np.float64) / side
    signs = np.array([-1.0 if dark else 1.0 for dark in known.values()], np.float32)
    # Dark and light weigh the same, or a blank patch would fit well.
    signs[signs > 0] /= (signs > 0).sum()
    signs[signs < 0] /= (signs < 0).sum()
    return cells, np.asarray(signs / 2, np.float32)


def _tones_at(tones: Floats, corners: Wide, places: Wide) -> Floats:
    """Tones at places given in shares of a symbol's side; outside the patch 0."""
    import numpy as np

    matrix = _from_unit_square(corners)
    x, y = places[:, 0], places[:, 1]
    w = matrix[6] * x + matrix[7] * y + 1
    columns = ((matrix[0] * x + matrix[1] * y + matrix[2]) / w).astype(np.intp)
    rows = ((matrix[3] * x + matrix[4] * y + matrix[5]) / w).astype(np.intp)
    return _tones_in(tones, columns, rows)


def _tones_in(tones: Floats, columns: npt.NDArray[np.intp], rows: npt.NDArray[np.intp]) -> Floats:
    import numpy as np

    height, width = tones.shape
    inside = (columns >= 0) & (rows >= 0) & (columns < width) & (rows < height)
    if inside.all():
        return np.asarray(tones[rows, columns], np.float32)
    found = tones[np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)]
    return np.asarray(found * inside, np.float32)


def _from_unit_square(corners: Wide) -> tuple[float, ...]:
    """The homography that takes the unit square to four corners (Heckbert, 1989)."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners.tolist()
    dx1, dx2, sx = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
    dy1, dy2, sy = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
    under = dx1 * dy2 - dx2 * dy1 or 1e-9
    g, h = (sx * dy2 - dx2 * sy) / under, (dx1 * sy - sx * dy1) / under
    return (
        x1 - x0 + g * x1,
        x3 - x0 + h * x3,
        x0,
        y1 - y0 + g * y1,
        y3 - y0 + h * y3,
        y0,
        g,
        h,
    )
