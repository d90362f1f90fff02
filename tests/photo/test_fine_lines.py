"""Faint fields of fine traces are seen; grain, plain colour and slow light are not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from salvage.photo.fine_lines import fine_edges

SCALE = 10.0


def grainy(seed: int = 1) -> NDArray[np.float64]:
    """A plain board of 60 x 40 mm with grain, and light that falls off to one side."""
    dice = np.random.default_rng(seed)
    level = np.linspace(90, 60, 600)[None, :].repeat(400, axis=0)
    picture: NDArray[np.float64] = level + dice.normal(0, 2.0, level.shape)
    return picture


def edges(picture: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Edges of lines in it; all of it is board."""
    levels = np.clip(picture, 0, 255).astype(np.uint8)
    found: NDArray[np.bool_] = fine_edges(levels, np.ones(levels.shape, bool), px_per_mm=SCALE)
    return found


@pytest.mark.parametrize("slant", [(0, 1), (1, 0), (1, 1), (1, -1)])
def test_a_hatch_below_the_grain_is_seen(slant: tuple[int, int]) -> None:
    """Traces 0.4 mm apart, as faint as the grain itself: many edges there, hardly any beside it."""
    picture = grainy()
    y, x = np.mgrid[0:400, 0:600]
    phase = (x * slant[0] + y * slant[1]) / np.hypot(*slant)
    picture[:, 300:] += 2.0 * np.sin(2 * np.pi * phase / 4)[:, 300:]
    found = edges(picture)
    plain, hatched = found[20:-20, 20:270].mean(), found[20:-20, 330:-20].mean()

    assert hatched > 0.2
    assert plain < 0.35 * hatched


def test_without_a_board_nothing_is_seen() -> None:
    """A picture of nothing has no edges."""
    levels = grainy().astype(np.uint8)

    assert not fine_edges(levels, np.zeros(levels.shape, bool), px_per_mm=SCALE).any()


def test_one_line_has_two_edges() -> None:
    """Along a trace of 1 mm there is an edge at each side, a pixel wide."""
    picture = np.full((400, 600), 60.0)
    picture[195:205] += 30
    found = edges(picture)

    assert found[:, 300].sum() == pytest.approx(2, abs=2)
    assert {190, 209}.isdisjoint(np.flatnonzero(found[185:215, 300]) + 185)
