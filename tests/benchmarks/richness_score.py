"""
How well a hint of trace density agrees with the true density.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.richness import CELLS_PER_MM, RichnessMap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.benchmarks.photo_raster import Array

# As in the hint itself: a place to cut from lies on the board with its whole window.
_ON_BOARD, _OF_THE_BEST = 0.9, 0.95


@dataclass(frozen=True, slots=True)
class RichnessScore:
    """
    Agreement of one map.

    Args:
        rho: Spearman's rank correlation over all cells of the board.
        percentile: Mean rank of the proposed places among all places one could cut at, 0 to 100.
        best_percentile: The same of the places that one would choose who knew the truth; on a small
            board three places that do not overlap cannot all be among the best tenth.
        yield_share: True density at the proposed places over that at the best possible ones.
    """

    rho: float
    percentile: float
    best_percentile: float
    yield_share: float


def judge_richness(found: RichnessMap, density: Array, board: Array) -> RichnessScore:
    """
    Score of a map against the truth.

    Args:
        found: The map.
        density: True density on the same grid, rows from the top.
        board: Share of board in each cell.
    """
    import cv2
    import numpy as np

    cells = np.frombuffer(found.levels, np.uint8).reshape(found.rows, found.columns)
    rows, columns = (min(a, b) for a, b in zip(cells.shape, density.shape, strict=True))
    cells, truth, share = (grid[-rows:, :columns] for grid in (cells, density, board))
    on_board = share > 0.5
    window = (round(found.window_mm * CELLS_PER_MM) | 1,) * 2
    whole = cv2.boxFilter(share.astype(np.float32), -1, window, borderType=cv2.BORDER_CONSTANT)
    could = whole >= min(_ON_BOARD, _OF_THE_BEST * float(whole.max()))
    chosen = [
        truth[
            int(np.clip(rows - 1 - int(place.y_mm * CELLS_PER_MM), 0, rows - 1)),
            int(np.clip(int(place.x_mm * CELLS_PER_MM), 0, columns - 1)),
        ]
        for place in found.places
    ]
    best = _best_apart(np.where(could, truth, -1.0), round(found.window_mm * CELLS_PER_MM))
    return RichnessScore(
        rank_correlation(cells[on_board], truth[on_board]),
        _percentile(chosen, truth[could]),
        _percentile(best, truth[could]),
        float(np.mean(chosen) / max(np.mean(best), 1e-9)) if chosen else 0.0,
    )


def _percentile(values: Sequence[float], among: Array) -> float:
    import numpy as np

    return float(np.mean([100 * (among <= value).mean() for value in values] or [0.0]))


def _best_apart(truth: Array, reach: int) -> list[float]:
    """Densities of the three best places that do not overlap."""
    import numpy as np

    left, best = truth.copy(), []
    for _ in range(3):
        row, column = np.unravel_index(int(left.argmax()), left.shape)
        if left[row, column] < 0:
            break
        best.append(float(left[row, column]))
        top, start = max(0, row - reach + 1), max(0, column - reach + 1)
        left[top : row + reach, start : column + reach] = -1
    return best


def rank_correlation(a: Array, b: Array) -> float:
    """Spearman's rho; equal values share their mean rank."""
    import numpy as np

    ranks = []
    for values in (a, b):
        _, place, count = np.unique(values, return_inverse=True, return_counts=True)
        ends = np.cumsum(count)
        ranks.append((ends - (count - 1) / 2)[place])
    first, second = (values - values.mean() for values in ranks)
    return float((first * second).sum() / max(np.sqrt((first**2).sum() * (second**2).sum()), 1e-9))
