"""A pixel counts when its centre does, and no map paints the outline on top."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from salvage.geometry.raster import Frame, draw_edge, draw_mask, frame_round

FRAME = Frame(-1.0, -1.0, 0.5, 44, 44)


def centres(frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """x and y of all pixel centres."""
    xs = frame.left_mm + (np.arange(frame.columns) + 0.5) * frame.step_mm
    ys = frame.bottom_mm + (np.arange(frame.rows) + 0.5) * frame.step_mm
    grid_x, grid_y = np.meshgrid(xs, ys)
    return grid_x, grid_y


@given(
    st.lists(
        st.tuples(st.floats(0, 20), st.floats(0, 20), st.floats(0.3, 8)), min_size=1, max_size=5
    )
)
def test_the_mask_is_what_the_geometry_library_contains(
    discs: list[tuple[float, float, float]],
) -> None:
    """Discs with discs cut out: every pixel's centre is asked of the library too."""
    area = shapely.union_all([Point(x, y).buffer(r) for x, y, r in discs]).difference(
        Point(10.1, 9.9).buffer(3)
    )
    expected = shapely.contains_xy(area, *centres(FRAME))
    wrong = draw_mask(area, FRAME).astype(bool) != expected
    # A centre on the edge itself may fall to either side.
    near = shapely.distance(area.boundary, shapely.points(*(c[wrong] for c in centres(FRAME))))

    assert (near < 1e-9).all()


def test_the_area_of_a_mask_is_the_area_of_the_board() -> None:
    """A 40 x 25 mm rectangle at half a millimetre is 4000 pixels, not 4131 with its outline."""
    frame = frame_round((0, 0, 40, 25), step_mm=0.5, margin_mm=2)

    assert int(draw_mask(box(0, 0, 40, 25), frame).sum()) == 4000


def test_what_lies_outside_the_frame_is_cut_off() -> None:
    """A region that reaches over every edge of the frame fills it."""
    frame = Frame(0, 0, 1, 6, 4)

    assert draw_mask(box(-50, -50, 50, 50), frame).tolist() == [[1] * 6] * 4
    assert int(draw_edge(box(-50, -50, 50, 50), frame).sum()) == 0


@given(st.floats(0, 360), st.floats(0.05, 12))
def test_every_point_of_an_edge_is_near_a_marked_pixel(angle: float, high: float) -> None:
    """Slivers thinner than a pixel are not lost from the edge map."""
    area = shapely.affinity.rotate(box(2, 8, 18, 8 + high), angle, origin=(10, 10))
    marked = np.argwhere(draw_edge(area, FRAME))
    pixels = shapely.multipoints(
        np.stack([FRAME.left_mm + (marked[:, 1] + 0.5) * 0.5, (marked[:, 0] + 0.5) * 0.5 - 1], 1)
    )
    inside = area.intersection(box(-1, -1, 21, 21)).boundary.intersection(area.boundary)
    walk = shapely.points(shapely.get_coordinates(shapely.segmentize(inside, 0.05)))

    assert float(shapely.distance(pixels, walk).max()) <= 1.21 * 0.5 + 1e-9


def test_a_frame_is_even_so_that_maps_of_half_the_step_match() -> None:
    """Two pixels of the finer map lie on each of the coarser one."""
    coarse = frame_round((3, 4, 30.3, 9.1), step_mm=0.5, margin_mm=6)
    fine = frame_round((3, 4, 30.3, 9.1), step_mm=0.25, margin_mm=6)

    assert (coarse.left_mm, coarse.bottom_mm) == (fine.left_mm, fine.bottom_mm)
    assert coarse.columns % 2 == 0
    assert coarse.left_mm + coarse.columns * coarse.step_mm >= 36.3
