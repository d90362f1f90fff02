"""The few kilobytes kept of a board never say less room than there is."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from salvage.errors import BadFile
from salvage.geometry.distance import UNITS_PER_MM
from salvage.geometry.ground import Ground, ground_of_regions
from salvage.geometry.outline import circle, rectangle
from salvage.geometry.placing import Placement, place
from salvage.geometry.shelf_index import MOST_BYTES, read_head, read_map, write_index
from tests.benchmarks.boards import make_board


def comb(teeth: int, width_mm: float) -> Ground:
    """A board cut into strips, a hard case for packing."""
    cuts = [
        shapely.box(10 + n * width_mm * 2, 5, 10 + n * width_mm * 2 + width_mm, 200 - n % 7)
        for n in range(teeth)
    ]
    return Ground(shapely.box(0, 0, 305, 244).difference(shapely.union_all(cuts)))


def sieve() -> Ground:
    """A board with a thousand small holes: too much for the finest map."""
    rng = np.random.default_rng(5)
    holes = shapely.buffer(shapely.points(rng.uniform(0, 244, (1200, 2))), 1.7)
    return Ground(shapely.box(0, 0, 305, 244).difference(shapely.union_all(holes)))


@pytest.mark.parametrize(
    "ground", [make_board(1).ground(), make_board(9).ground(), comb(30, 4.0), sieve()]
)
def test_the_map_in_an_index_is_never_too_small(ground: Ground) -> None:
    """At every pixel the true distance to the edge is at most what the index says."""
    index = write_index(ground)
    head = read_head(index)
    drawn = read_map(index, head) / UNITS_PER_MM
    frame = head.frame
    xs = frame.left_mm + (np.arange(frame.columns) + 0.5) * frame.step_mm
    ys = frame.bottom_mm + (np.arange(frame.rows) + 0.5) * frame.step_mm
    grid_x, grid_y = (grid.ravel()[::7] for grid in np.meshgrid(xs, ys))
    inside = shapely.contains_xy(ground.area, grid_x, grid_y)
    away = shapely.distance(ground.area.boundary, shapely.points(grid_x, grid_y))
    true = np.where(inside, away, np.maximum(-away, -4.0))
    spare = drawn.ravel()[::7] - true

    assert (spare >= -1e-6).all()
    assert len(index) <= MOST_BYTES
    assert head.area_mm2 == pytest.approx(ground.area.area)


def test_a_board_full_of_holes_is_rounded_more_coarsely() -> None:
    """The size is kept; the fineness gives way."""
    plain, holed = write_index(make_board(2).ground()), write_index(sieve())

    assert read_head(plain).grade == 0
    assert read_head(holed).grade >= 3


def test_the_parts_come_back_as_they_were() -> None:
    """Measures are kept to the last digit, as certificates rest on them."""
    ground = make_board(3).ground()

    assert read_head(write_index(ground)).parts == ground.parts


def test_many_parts_are_summed_up_in_the_last() -> None:
    """Forty discs: the last entry has the largest area of the rest and a circle that is real."""
    discs = [
        place(circle(30 - 0.5 * n), Placement(40_000 * (n % 8), 40_000 * (n // 8)))
        for n in range(40)
    ]
    ground = ground_of_regions(discs)
    parts = read_head(write_index(ground)).parts

    assert len(parts) == 32
    assert parts[31].inscribed_mm == ground.parts[31].inscribed_mm
    assert parts[31].area_mm2 == max(part.area_mm2 for part in ground.parts[31:])
    assert parts[:31] == ground.parts[:31]


def test_a_used_up_board_has_an_index_too() -> None:
    """Nothing left is an answer, not an error."""
    head = read_head(write_index(ground_of_regions([])))

    assert (head.area_mm2, head.parts) == (0.0, ())


def test_damaged_bytes_are_refused() -> None:
    """A cut or foreign index is made again, not believed."""
    index = write_index(ground_of_regions([rectangle(60, 40)]))
    with pytest.raises(BadFile, match="cannot be read"):
        read_head(b"xx" + index[2:])
    with pytest.raises(BadFile, match="cannot be read"):
        read_head(b"")
    with pytest.raises(BadFile, match="damaged"):
        read_map(index[:-9], read_head(index))
