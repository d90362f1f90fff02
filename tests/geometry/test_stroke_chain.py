"""Loose lines become closed rings, whatever their order and direction."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadFile
from salvage.geometry.dxf_lines import Stroke
from salvage.geometry.rings import tidy_ring
from salvage.geometry.stroke_chain import chain_strokes


@given(st.integers(3, 12), st.randoms(use_true_random=False))
def test_shuffled_and_turned_sides_make_the_same_ring(sides: int, chance: object) -> None:
    """A polygon whose sides were drawn in any order, each in any direction."""
    assert hasattr(chance, "shuffle")
    assert hasattr(chance, "random")
    corners = [
        (round(30 * math.cos(i * math.tau / sides)), round(30 * math.sin(i * math.tau / sides)))
        for i in range(sides)
    ]
    strokes = []
    for index in range(sides):
        ends = [corners[index - 1], corners[index]]
        if chance.random() < 0.5:
            ends.reverse()
        strokes.append(Stroke(tuple(ends), False))
    chance.shuffle(strokes)

    rings = chain_strokes(strokes)

    assert len(rings) == 1
    assert tidy_ring(tuple((int(x), int(y)) for x, y in rings[0])) == tidy_ring(tuple(corners))


def test_two_arcs_make_one_ring_and_a_closed_stroke_stays() -> None:
    """A ring of two halves, and beside it one that is closed already."""
    halves = [Stroke(((0, 0), (5, 5), (10, 0)), False), Stroke(((0, 0), (5, -5), (10, 0)), False)]
    whole = Stroke(((50, 0), (60, 0), (60, 9)), True)

    rings = chain_strokes([halves[0], whole, halves[1]])

    assert sorted(map(len, rings)) == [3, 4]


def test_a_gap_wider_than_a_hundredth_stays_open() -> None:
    """Nobody guesses where the missing piece of line would run."""
    strokes = [Stroke(((0, 0), (9, 0), (9, 9)), False), Stroke(((9, 9), (0, 0.02)), False)]

    with pytest.raises(BadFile, match="open line that ends at x 0 mm, y 0 mm"):
        chain_strokes(strokes)
    assert len(chain_strokes(strokes, join_mm=0.05)) == 1
