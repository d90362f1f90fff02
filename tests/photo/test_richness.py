"""The hint where traces run densest: right where the truth is known, and honest where it is not."""

from __future__ import annotations

import math
from dataclasses import replace
from io import BytesIO

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from shapely import Point

from salvage.errors import BadFile, BadValue
from salvage.photo.richness import CELLS_PER_MM, RichnessMap, richness_map
from salvage.photo.richness_drawing import draw_richness
from salvage.records.region import Region
from tests.benchmarks.photo_layout import make_layout
from tests.benchmarks.photo_paint import paint_face, true_density
from tests.benchmarks.richness_score import judge_richness

SCALE = 10.0


def png(levels: NDArray[np.uint8]) -> bytes:
    """Levels as a file."""
    out = BytesIO()
    Image.fromarray(levels).save(out, "PNG")
    return out.getvalue()


def plain(wide_mm: float = 100, high_mm: float = 60) -> NDArray[np.uint8]:
    """A green board without anything on it."""
    shape = round(high_mm * SCALE), round(wide_mm * SCALE), 3
    return np.full(shape, (20, 80, 45), np.uint8)


def hatch(levels: NDArray[np.uint8], box_mm: tuple[float, float, float, float]) -> None:
    """Draw traces 1 mm apart, 0.4 mm wide, into a box given as left, bottom, right, top."""
    left, bottom, right, top = (round(side * SCALE) for side in box_mm)
    height = levels.shape[0]
    for y in range(bottom + 3, top, 10):
        cv2.rectangle(levels, (left, height - y - 4), (right, height - y - 1), (60, 130, 80), -1)


def test_the_densest_place_is_found() -> None:
    """Where lines run, the map is high; where none do, it is zero."""
    levels = plain()
    hatch(levels, (60, 10, 85, 35))

    found = richness_map(png(levels), px_per_mm=SCALE)

    assert math.dist((found.places[0].x_mm, found.places[0].y_mm), (72.5, 22.5)) < 4
    # Each line has two long edges to a millimetre.
    assert found.places[0].density == pytest.approx(2.0, rel=0.1)
    assert found.density_at(72, 22) == pytest.approx(2.0, rel=0.1)
    assert found.density_at(15, 45) == 0
    assert found.density_at(-1, 5) == 0


def test_a_scale_is_a_scale() -> None:
    """The same board photographed twice as finely gives the same map."""
    levels = plain()
    hatch(levels, (10, 10, 45, 50))
    finer = np.repeat(np.repeat(levels, 2, axis=0), 2, axis=1)

    once, twice = (
        richness_map(png(picture), px_per_mm=scale)
        for picture, scale in ((levels, SCALE), (finer, 2 * SCALE))
    )

    assert (once.columns, once.rows) == (twice.columns, twice.rows)
    assert (once.columns, once.rows) == (100 * CELLS_PER_MM, 60 * CELLS_PER_MM)
    assert twice.places[0].density == pytest.approx(once.places[0].density, rel=0.05)


def test_places_do_not_overlap_and_lie_on_the_board() -> None:
    """Three pieces can be cut at once from the three places that are proposed."""
    layout = make_layout(4, shape="ell", populated=False)
    outline = Region(tuple((round(1000 * x), round(1000 * y)) for x, y in layout.outer))
    face = paint_face(layout, px_per_mm=SCALE)

    found = richness_map(png(face), px_per_mm=SCALE, window_mm=15, outline=outline)

    assert len(found.places) == 3
    densities = [place.density for place in found.places]
    assert densities == sorted(densities, reverse=True)
    for k, place in enumerate(found.places):
        assert layout.polygon().contains(Point(place.x_mm, place.y_mm))
        for other in found.places[:k]:
            apart = max(abs(place.x_mm - other.x_mm), abs(place.y_mm - other.y_mm))
            assert apart >= 15


@pytest.mark.parametrize("seed", [2001, 2002, 2003, 2004])
def test_the_ranking_agrees_with_the_traces(seed: int) -> None:
    """On a bare board with known copper, rank correlation is 0.7 and more."""
    layout = make_layout(seed, shape="plain", populated=False)
    density, board = true_density(layout)

    found = richness_map(png(paint_face(layout, px_per_mm=SCALE)), px_per_mm=SCALE)

    judged = judge_richness(found, density, board)
    assert judged.rho > 0.7
    assert judged.percentile > 75


def test_a_glare_hides_but_does_not_mislead() -> None:
    """Half of a trace field is burnt out: the rest still counts, and no place lies in the glare."""
    levels = plain()
    hatch(levels, (50, 5, 95, 55))
    levels[:, 700:] = 255

    found = richness_map(png(levels), px_per_mm=SCALE)

    assert all(place.x_mm < 66 for place in found.places)
    assert found.density_at(60, 30) == pytest.approx(2.0, rel=0.25)


def test_a_square_part_is_pointed_out() -> None:
    """A big black chip hides the finest pattern, so the tool says where it stands."""
    levels = plain()
    hatch(levels, (20, 10, 90, 50))
    levels[200:420, 400:620] = (30, 30, 32)

    found = richness_map(png(levels), px_per_mm=SCALE)

    assert len(found.parts) == 1
    assert math.dist((found.parts[0].x_mm, found.parts[0].y_mm), (51, 29)) < 0.5
    assert found.parts[0].side_mm == pytest.approx(22, abs=0.6)


def test_a_long_part_is_no_processor() -> None:
    """Connectors and strips are left out of the hint."""
    levels = plain()
    levels[200:290, 300:720] = (30, 30, 32)

    assert richness_map(png(levels), px_per_mm=SCALE).parts == ()


def test_a_board_without_traces_has_no_places() -> None:
    """Nothing is proposed where nothing is seen."""
    found = richness_map(png(plain()), px_per_mm=SCALE)

    assert found.places == ()
    assert set(found.levels) == {0}


def test_the_drawing_marks_the_places() -> None:
    """The overlay has the picture's size and brightens the dense part."""
    levels = plain()
    hatch(levels, (10, 10, 40, 50))
    found = richness_map(png(levels), px_per_mm=SCALE)

    with Image.open(BytesIO(draw_richness(png(levels), found))) as drawn:
        size, picture = drawn.size, np.asarray(drawn.convert("RGB")).astype(int)

    assert size[0] == 1000
    assert size[1] > 600
    yellow = picture[:, :, 0] - picture[:, :, 2]
    assert yellow[100:500, 100:400].mean() > 3 * yellow[100:500, 600:].mean() + 5


@pytest.mark.parametrize(
    ("px_per_mm", "window_mm"), [(0.5, 20), (math.nan, 20), (101, 20), (10, 1), (10, math.inf)]
)
def test_measures_without_sense_are_refused(px_per_mm: float, window_mm: float) -> None:
    """A scale or window that no photo has is told, not used."""
    with pytest.raises(BadValue, match="out of range"):
        richness_map(png(plain()), px_per_mm=px_per_mm, window_mm=window_mm)


def test_what_is_no_picture_is_refused() -> None:
    """A receipt in place of a photo is told."""
    with pytest.raises(BadFile):
        richness_map(b"a receipt", px_per_mm=SCALE)


def test_judging_sees_a_wrong_ranking() -> None:
    """The score of the benchmark falls when the map is turned upside down."""
    layout = make_layout(2002, shape="plain", populated=False)
    density, board = true_density(layout)
    found = richness_map(png(paint_face(layout, px_per_mm=SCALE)), px_per_mm=SCALE)
    wrong: RichnessMap = replace(found, levels=bytes(255 - level for level in found.levels))

    assert judge_richness(wrong, density, board).rho < -0.7
