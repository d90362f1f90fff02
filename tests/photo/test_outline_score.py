"""The benchmark's judge is fair: a perfect record scores zero, a wrong one what it is off by."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from salvage.photo.measure.result import HeightFacts, Hole, Measurement, Pictures, Placing
from salvage.records.region import Region
from tests.benchmarks.outline import mean, parse_arguments, quantile, summarize
from tests.benchmarks.outline_run import CALIBRATION_SEEDS, TEST_SEEDS, Try
from tests.benchmarks.outline_score import judge_outline
from tests.benchmarks.photo_layout import BoardLayout, make_layout
from tests.benchmarks.photo_scene import Placed

TURN_DEG = 33.0


def lying(layout: BoardLayout) -> Placed:
    """A board somewhere on the mat."""
    return Placed(layout, 110.0, 90.0, TURN_DEG, 1.0)


def measured(layout: BoardLayout, *, grown: float = 1.0, interval_mm: float = 0.1) -> Measurement:
    """A record of a board, too large by a factor, in a frame of its own."""
    board = lying(layout)
    outer = tuple((round(1000 * grown * x), round(1000 * grown * y)) for x, y in layout.outer)
    region = Region(outer, tuple(_ring(ring, grown) for ring in layout.openings))
    origin = board.on_mat([(0.0, 0.0)])[0]
    return Measurement(
        region,
        tuple(
            Hole((grown * h.x, grown * h.y), h.diameter, 0.0, "round", (h.diameter, h.diameter))
            for h in layout.holes
        ),
        region.area_mm2,
        interval_mm,
        (region.area_mm2 * 0.999, region.area_mm2 * 1.001),
        12.0,
        "mat",
        "mat 1 a4",
        Pictures(b"", 10.0, b""),
        HeightFacts(2.6, 0.1, "given"),
        # Half a degree and a millimetre wrong: where the board lies is no error of its outline.
        Placing(math.radians(TURN_DEG + 0.5), (float(origin[0]) + 1, float(origin[1]))),
    )


def _ring(ring: tuple[tuple[float, float], ...], grown: float) -> tuple[tuple[int, int], ...]:
    return tuple((round(1000 * grown * x), round(1000 * grown * y)) for x, y in reversed(ring))


@pytest.mark.parametrize("shape", ["plain", "ell", "notched", "cutaway", "strip"])
def test_a_perfect_record_scores_zero(shape: str) -> None:
    """Lying elsewhere and turned, a right outline is right, and all its holes are found."""
    layout = make_layout(8, shape=shape)

    score = judge_outline(measured(layout), lying(layout))

    assert score.max_mm < 0.01
    assert abs(score.area_error) < 1e-4
    assert (score.inside, score.area_inside, score.is_gross) == (1.0, True, False)
    assert (score.holes.found, score.holes.false) == (len(layout.holes), 0)


def test_a_wrong_scale_is_told() -> None:
    """One percent too large is two percent of area, and no move hides it."""
    layout = make_layout(8, shape="plain")
    width, height = layout.size_mm

    score = judge_outline(measured(layout, grown=1.01), lying(layout))

    assert score.area_error == pytest.approx(0.0201, abs=2e-4)
    assert score.max_mm == pytest.approx(0.005 * math.hypot(width, height), rel=0.05)
    assert not score.area_inside
    assert score.inside < 0.5


def test_holes_that_are_not_there_are_counted() -> None:
    """A spot taken for a hole is false; a hole that was missed is missed."""
    layout = make_layout(8, shape="plain")
    right = measured(layout)
    spot = Hole((layout.size_mm[0] / 2 + 1.7, 3.1), 2.5, 0.0, "round", (2.5, 2.5))
    assert all(math.dist((h.x, h.y), spot.centre_mm) > 5 for h in layout.holes)

    score = judge_outline(replace(right, holes=(*right.holes[1:], spot)), lying(layout))

    assert score.holes.found == len(layout.holes) - 1
    assert score.holes.false == 1


def test_quantiles_are_those_of_numpy() -> None:
    """The figures in a report mean what statisticians mean (numpy's linear quantile)."""
    values = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0]

    assert quantile(values, 0.95) == pytest.approx(float(np.quantile(values, 0.95)))
    assert quantile([], 0.5) == 0
    assert mean([]) == 0


def test_seeds_for_setting_and_for_telling_are_apart() -> None:
    """No number is told on photos that a factor was set on."""
    assert not set(CALIBRATION_SEEDS) & set(TEST_SEEDS)
    assert parse_arguments([]).seed in TEST_SEEDS
    assert parse_arguments(["--calibrate"]).seed in CALIBRATION_SEEDS


def test_a_report_tells_refusals_and_errors_apart() -> None:
    """A refused photo counts as refused, and not as a small error."""
    layout = make_layout(8, shape="plain")
    off = judge_outline(measured(layout, grown=1.03), lying(layout))

    told = summarize([Try("blurred"), Try("", off, seconds=1.5, interval_mm=0.1)])

    assert told["refused_good_why"] == {"blurred": 1}
    assert told["gross_errors_accepted"] == 1
    assert told["area_error_within_1_percent"] == 0
    assert json.loads(json.dumps(told)) == told
