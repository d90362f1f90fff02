"""The photos that the benchmark draws are what they say: same seed, true camera, exact edges."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely import Point, Polygon

from tests.benchmarks.photo_bad import BAD_KINDS, MUST_REFUSE, make_bad
from tests.benchmarks.photo_camera import Camera
from tests.benchmarks.photo_layout import MASKS, SHAPES, make_layout
from tests.benchmarks.photo_paint import true_density
from tests.benchmarks.photo_raster import cover
from tests.benchmarks.photo_scene import Shot, gather_light, render
from tests.benchmarks.photo_shots import make_case
from tests.benchmarks.photo_solid import Solid, followed, lay_solid

CAMERA = Camera(
    (2000, 1500),
    1500.0,
    (1010.0, 735.0),
    (0.03, -0.01, 5e-4, -3e-4),
    (120.0, 80.0),
    260.0,
    25.0,
    70.0,
)


def test_a_seed_makes_the_same_photo() -> None:
    """A number in a report can be looked into years later: the photo comes back bit for bit."""
    case = make_case(3, megapixels=3)

    again = make_case(3, megapixels=3)

    assert again == case
    assert render(again.scene, again.first) == render(case.scene, case.first)
    assert render(case.scene, case.second) != render(case.scene, case.first)


def test_the_lens_bends_as_the_reference_says() -> None:
    """Points land where OpenCV's own camera model puts them."""
    points = np.array([(0, 0, 0), (244, 0, 2.1), (30, 166, 0), (122, 83, 10)], float)
    turn, _ = cv2.Rodrigues(CAMERA.axes)
    shift = -CAMERA.axes @ CAMERA.place
    matrix = np.array([(1500, 0, 1010), (0, 1500, 735), (0, 0, 1)], float)

    expected, _ = cv2.projectPoints(points, turn, shift, matrix, np.array(CAMERA.lens))

    assert CAMERA.project(points) == pytest.approx(expected[:, 0], abs=1e-6)


def test_a_pixel_sees_the_place_that_lands_on_it() -> None:
    """Seeing and projecting are each other's reverse, above the mat too, within 0.02 pixel."""
    met = CAMERA.meet_map((300, 200, 900, 700), 2.4)

    pixels = CAMERA.project(np.dstack((met, np.full(met.shape[:2], 2.4))).reshape(-1, 3))

    x, y = np.meshgrid(np.arange(300, 1200), np.arange(200, 900))
    assert np.abs(pixels - np.stack((x, y), axis=-1).reshape(-1, 2)).max() < 0.02


def test_a_polygon_covers_exactly_its_area() -> None:
    """The truth is not half a pixel fat: the cover adds up to the area that shapely finds."""
    outer = np.array([(10.25, 10.5), (50.75, 12), (45, 60.3), (5, 40)])
    hole = np.array([(20, 20), (20.5, 30), (30, 31.25), (29, 19)])
    exact = Polygon(outer, [hole])

    shares = cover([outer, hole], (0, 0, 70, 70))
    part = cover([outer, hole], (15, 12, 20, 30))

    assert float(shares.sum()) == pytest.approx(exact.area, rel=1e-5)
    assert part == pytest.approx(shares[12:42, 15:35], abs=1e-5)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_layout_is_a_board_that_could_be_made(shape: str) -> None:
    """Every shape is one piece from the origin on, and its holes stay apart and off the rim."""
    for seed in range(4):
        layout = make_layout(seed, shape=shape)
        face = Polygon(layout.outer)
        rims = [Polygon(ring) for ring in layout.openings]

        assert face.is_valid
        assert face.exterior.is_ccw
        assert face.bounds[:2] == pytest.approx((0, 0), abs=1e-9)
        assert all(bool(face.buffer(-1.4).contains(rim)) for rim in rims)
        assert sum(rim.area for rim in rims) == pytest.approx(face.area - layout.polygon().area)
        assert layout.back().polygon().area == pytest.approx(layout.polygon().area)


def test_seeds_bring_every_kind_of_board() -> None:
    """Bare and populated boards of all colours come up, with holes in most of them."""
    layouts = [make_layout(seed) for seed in range(60)]

    assert {layout.mask for layout in layouts} == set(MASKS)
    assert {bool(layout.parts) for layout in layouts} == {True, False}
    assert sum(bool(layout.holes) for layout in layouts) > 50


def test_true_density_is_the_length_of_edges() -> None:
    """A bus of known pitch has two edges to a pitch; nothing else counts."""
    layout = make_layout(1, shape="plain", populated=False)
    lines = tuple((((0.0, y * 0.5), (200.0, y * 0.5)), 0.2) for y in range(400))
    comb = replace(layout, artwork=replace(layout.artwork, traces=lines, pads=()))

    density, board = true_density(comb)

    middle = density[density.shape[0] // 2, density.shape[1] // 2]
    assert board.max() == pytest.approx(1)
    assert middle == pytest.approx(4.0, rel=0.03)


def test_the_board_is_drawn_where_the_truth_says() -> None:
    """Pixels inside the top face differ from the bare mat; those well outside do not."""
    case = make_case(11, megapixels=3, tilt_deg=10)
    shot = Shot(case.first.camera, replace(case.first.light, cast=0, glares=0))
    with_board = gather_light(case.scene, shot)
    bare = gather_light(replace(case.scene, boards=()), shot)

    changed = np.abs(with_board - bare).max(axis=2) > 0.02

    ring = case.board.on_mat(case.board.layout.outer)
    top = np.column_stack((ring, np.full(len(ring), case.board.top_mm)))
    face = Polygon(shot.camera.project(top))
    rows, columns = np.nonzero(changed)
    places = [Point(x, y) for x, y in zip(columns[::997], rows[::997], strict=True)]
    assert changed.sum() > 0.9 * face.area
    assert all(bool(face.buffer(40).contains(place)) for place in places)


def test_there_are_enough_ways_to_go_wrong() -> None:
    """Thirty and more kinds of bad photo, each with what is asked of it."""
    assert len(BAD_KINDS) >= 30
    assert sum(wanted == MUST_REFUSE for wanted in BAD_KINDS.values()) >= 25


@pytest.mark.parametrize("kind", ["mirrored", "two-boards", "pushed-between", "cut-short"])
def test_a_bad_photo_is_made_anew_from_its_seed(kind: str) -> None:
    """A photo that was wrongly taken for good can be made again and looked at."""
    bad = make_bad(kind, 2, megapixels=3)

    again = make_bad(kind, 2, megapixels=3)

    assert again == bad
    assert (bad.second is not None) == (kind == "pushed-between")


def test_a_solid_is_as_large_as_its_outline() -> None:
    """Light and dark pixels along the rim add up to the true outline: no board is drawn fat."""
    ring = ((70.3, 60.1), (150.2, 64.9), (146.7, 110.4), (66.6, 104.8))
    solid = Solid(ring, 0.0, 0.001, (1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
    picture = np.zeros((1500, 2000, 3), np.float32)

    lay_solid(picture, CAMERA, solid)

    face = Polygon(CAMERA.project(np.column_stack((followed(ring), np.zeros(len(followed(ring)))))))
    assert float(picture[:, :, 0].sum()) == pytest.approx(face.area, abs=0.01 * face.length)
