"""
An outline laid on another of slightly another size, as two photos of one board give it.

Each photo's scale hangs on how high the board lay, which is known only so well. Where the two
edges agree, turn, shift and size are fitted together; where a part is gone, nothing is asked.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from salvage.photo.measure.align import Fit

if TYPE_CHECKING:
    import numpy as np
    import shapely
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_SCALE = 0.02
"""Heights that are off by 4 mm change the size by 1.6 %: more is another board."""

# Nearer and nearer: first what lies within the first distance counts, at last within the last.
_WITHIN_MM = (3.0, 2.2, 1.6, 1.2, 0.9, 0.7, 0.6, 0.6, 0.6)
_STEP_MM = 0.7

# How well edges are seen, against how far sizes differ: the pull towards the same size.
_EDGE_MM, _SIZE_SD = 0.1, 0.005


def settle_size(piece: shapely.Polygon, whole: shapely.Polygon, start: Fit) -> Fit:
    """
    The place near *start* where edges of a piece lie best on those of the whole, its size too.

    Args:
        piece: The outline to be moved; parts of the whole may be missing from it.
        whole: The outline that stays.
        start: Where it lies but for a few millimetres.
    """
    import numpy as np
    import shapely

    rims = [piece.exterior, *piece.interiors]
    marks = np.concatenate(
        [
            shapely.get_coordinates(
                shapely.line_interpolate_point(rim, np.arange(0.0, rim.length, _STEP_MM))
            )
            for rim in rims
        ]
    )
    edge = whole.boundary
    shapely.prepare(edge)
    fit = start
    for within in _WITHIN_MM:
        fit = _step(marks, edge, fit, within)
    return fit


def _step(marks: Floats, edge: shapely.Geometry, fit: Fit, within_mm: float) -> Fit:
    import numpy as np
    import shapely

    laid = fit.carry(marks)
    ends = shapely.get_coordinates(shapely.shortest_line(shapely.points(laid), edge))
    foot = ends.reshape(-1, 2, 2)[:, 1]
    gap = laid - foot
    far = np.linalg.norm(gap, axis=1)
    near = (far <= within_mm) & (far > 1e-6)
    if near.sum() < 8:
        return fit
    normal = gap[near] / far[near, None]
    middle = laid[near].mean(axis=0)
    across, up = (laid[near] - middle).T
    rows = np.column_stack(
        (
            across * normal[:, 0] + up * normal[:, 1],
            across * normal[:, 1] - up * normal[:, 0],
            normal,
        )
    )
    pull = np.array([[_EDGE_MM / _SIZE_SD, 0.0, 0.0, 0.0]])
    wanted = np.append(-far[near], _EDGE_MM / _SIZE_SD * (1 - fit.scale))
    (size, turn, right, rise), *_ = np.linalg.lstsq(np.vstack((rows, pull)), wanted, rcond=None)
    return _moved(fit, middle, (1 + size, turn), (right, rise))


def _moved(
    fit: Fit, middle: Floats, linear: tuple[float, float], shift: tuple[float, float]
) -> Fit:
    """The fit followed by a small change of size and turn about a middle, and a shift."""
    growth = math.hypot(*linear)
    scale = min(1 + MOST_SCALE, max(1 - MOST_SCALE, fit.scale * growth))
    growth = scale / fit.scale
    turn = math.atan2(linear[1], linear[0])
    c, s = growth * math.cos(turn), growth * math.sin(turn)
    x, y = fit.shift_mm[0] - middle[0], fit.shift_mm[1] - middle[1]
    moved = (
        float(c * x - s * y + middle[0] + shift[0]),
        float(s * x + c * y + middle[1] + shift[1]),
    )
    return Fit(fit.turn_rad + turn, moved, fit.mean_mm, fit.most_mm, scale)
