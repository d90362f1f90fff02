"""The map of a piece's place on its board."""

from __future__ import annotations

import re

import pytest

from salvage.paper.place_map import draw_place_map
from salvage.records.region import Region

EDGE = Region(
    ((0, 0), (80000, 0), (80000, 40000), (0, 40000)),
    (((2000, 2000), (5000, 2000), (5000, 5000)),),
)
HERE = Region(((10000, 10000), (20000, 10000), (20000, 20000)))
THERE = Region(((50000, 20000), (60000, 20000), (60000, 35000)))


def test_a_map_shows_the_board_its_cuts_and_the_place() -> None:
    """Board, another cut and the place are three areas; a photo adds a veil with a window."""
    plain = draw_place_map(EDGE, [THERE], HERE)
    over = draw_place_map(EDGE, [THERE], HERE, photo=b"jpeg")

    assert plain.svg.count('fill="#a4551f"') == 1
    assert "M50.00 20.00L60.00 20.00L60.00 5.00Z" in plain.svg
    assert 'fill-opacity="0.5"' in over.svg
    assert 'fill-opacity="0.5"' not in plain.svg
    assert over.photo == b"jpeg"


def test_a_map_is_upright_and_in_proportion() -> None:
    """Board coordinates run upwards, pictures downwards; the picture is twice as wide as high."""
    drawn = draw_place_map(EDGE, [], HERE)
    box = [float(n) for n in re.findall(r"[-0-9.]+", drawn.svg.split('viewBox="')[1])[:4]]

    assert drawn.ratio == pytest.approx(2, abs=0.02)
    assert box[2] == pytest.approx(80, abs=0.6)
    assert "M10.00 30.00L20.00 30.00L20.00 20.00Z" in drawn.svg
