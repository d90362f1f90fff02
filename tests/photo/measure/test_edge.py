"""An edge lies where board and field meet, whatever shadow falls beside it."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.photo.measure.edge import Window, find_edges
from salvage.photo.measure.pixels import code_light
from salvage.photo.measure.sharpness import Blur
from salvage.photo.measure.side import falling

FIELD = np.array([0.57, 0.022, 0.32])
WINDOW = Window((-3.5, -1.75), (2.5, 6.5), 20, 3.0)
TRUE_PX, SOFT_PX = 60.3, 1.0


def seen_offset(
    board: tuple[float, float, float], *, shade: float, window: Window = WINDOW
) -> float:
    """How far from the true edge it is found, in pixels outwards, in a strip drawn for the test."""
    steps = np.arange(120, dtype=np.float64) - TRUE_PX
    covered = falling(np.asarray(steps / SOFT_PX, float))[:, None]
    # At the foot of the board the field is darker, and brighter again three pixels farther out.
    lit = 1 - shade * falling(np.asarray((steps - 0.5) / 3, float))[:, None]
    row = covered * np.array(board) + (1 - covered) * lit * FIELD
    levels = np.round(255 * code_light(np.tile(row, (80, 1, 1)))).astype(np.uint8)
    pixels = np.column_stack((np.full(60, round(TRUE_PX)), np.arange(10, 70))).astype(float)
    across = np.tile([1.0, 0.0], (60, 1))
    edges = find_edges(levels, pixels, across, window=window, blur=Blur(SOFT_PX, 0.0))
    assert edges.clear.all()
    return float(np.median(edges.offsets)) + round(TRUE_PX) - TRUE_PX


@pytest.mark.parametrize(
    "board", [(0.02, 0.08, 0.03), (0.02, 0.04, 0.18), (0.02, 0.02, 0.02), (0.6, 0.62, 0.6)]
)
def test_an_edge_without_shadow_is_found(board: tuple[float, float, float]) -> None:
    """Green, blue, black or white: the edge is found to a tenth of a pixel."""
    assert seen_offset(board, shade=0.0) == pytest.approx(0, abs=0.1)


def test_the_shadow_at_a_boards_foot_is_no_board() -> None:
    """A black board in its own soft shadow is not measured a third of a pixel too large."""
    assert seen_offset((0.02, 0.02, 0.02), shade=0.3) == pytest.approx(0, abs=0.12)


def test_a_sliver_of_field_is_enough() -> None:
    """Where hardly any field is seen beside the edge, its shadow is left out of the reckoning."""
    narrow = Window((-3.5, -1.75), (2.5, 2.6), 20, 3.0)

    assert seen_offset((0.02, 0.08, 0.03), shade=0.0, window=narrow) == pytest.approx(0, abs=0.3)
