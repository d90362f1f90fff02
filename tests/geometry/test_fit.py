"""A yes is a place where the piece can be cut; a no is a proof; anything else says so."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from salvage.geometry.conflicts import find_conflicts
from salvage.geometry.fit import FitAnswer, fit
from salvage.geometry.ground import Ground, ground_of_regions
from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import circle, rectangle, scale_to, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.records.region import Region
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board, tern, two_lobed

BOARD = rectangle(100, 60)


def check_spots(answer: FitAnswer, ground: Ground, shape: Region, clearance_mm: float) -> None:
    """Each spot's region is the placed shape, on the ground, as far from its edge as asked."""
    for spot in answer.spots:
        piece = to_polygon(spot.region)

        assert spot.region == place(shape, spot.placement)
        assert ground.area.contains_properly(piece) or clearance_mm == 0
        assert ground.area.covers(piece)
        assert ground.area.boundary.distance(piece) >= clearance_mm - 1e-6 or clearance_mm == 0


def nudged_into_the_open(shape: Region, angle_mdeg: int, extra_mm: float) -> Region:
    """A slot that holds the shape at one slanted angle with so much to spare."""
    laid = to_polygon(place(shape, Placement(50_000, 40_000, angle_mdeg)))
    ring = laid.buffer(extra_mm, quad_segs=32).exterior.coords
    return Region(tuple((round(x * 1000), round(y * 1000)) for x, y in list(ring)[:-1]))


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("seed", [1, 3, 4])
def test_a_fit_meets_no_conflict(seed: int, name: str) -> None:
    """Half-used boards: where the answer is yes, the piece can be cut there."""
    board = make_board(seed)
    ground = board.ground()
    answer = fit(SHAPES[name], ground, clearance_mm=0.5)
    check_spots(answer, ground, SHAPES[name], 0.5)
    conflicts = [
        conflict
        for spot in answer.spots
        for conflict in find_conflicts(
            spot.region, kerf_mm=KERF_MM, outline=board.outline, taken=board.taken
        )
    ]

    assert conflicts == []
    assert (answer.verdict == "fit") == bool(answer.spots)


@pytest.mark.parametrize("name", [name for name in SHAPES if "round 75" not in name])
@pytest.mark.parametrize("spare_mm", [0.5, 0.7])
def test_a_slot_made_for_the_shape_is_found(name: str, spare_mm: float) -> None:
    """Half a millimetre of air all round, at an angle nobody would try: never missed."""
    angle_mdeg = random.Random(name).randrange(360_000)
    slot = nudged_into_the_open(SHAPES[name], angle_mdeg, spare_mm)
    answer = fit(SHAPES[name], [slot])

    assert answer.verdict == "fit"
    check_spots(answer, ground_of_regions([slot]), SHAPES[name], 0.0)


@pytest.mark.parametrize("name", ["two-lobed 60", "star 70", "kite 45", "tide bell 60", "oval 55"])
def test_a_slot_that_is_too_small_is_refused(name: str) -> None:
    """One and a half millimetres too little all round: no, at every angle."""
    slot = nudged_into_the_open(SHAPES[name], 33_333, -1.5)

    assert fit(SHAPES[name], [slot]).verdict == "no"


@given(st.integers(0, 359_999), st.floats(0.0, 0.5), st.sampled_from(sorted(SHAPES)))
def test_what_is_known_to_fit_is_never_refused(angle: int, spare: float, name: str) -> None:
    """The hole that a shape left fits the shape: perhaps tight, but never no."""
    slot = nudged_into_the_open(SHAPES[name], angle, spare + 0.003)

    assert fit(SHAPES[name], [slot]).verdict != "no"


@pytest.mark.parametrize(("width_mm", "verdict"), [(59.9, "fit"), (60.1, "no")])
def test_a_disc_is_decided_by_the_largest_circle(width_mm: float, verdict: str) -> None:
    """A board 60 mm high takes a disc of 59.9 mm and not one of 60.1."""
    answer = fit(circle(width_mm), [BOARD])

    assert answer.verdict == verdict
    assert "circle" in answer.reason


def test_a_disc_as_large_as_the_circle_is_tight() -> None:
    """Within a hundredth of a millimetre the largest circle is not known; we say so."""
    answer = fit(circle(60.0), [BOARD])

    assert (answer.verdict, answer.spots) == ("tight", ())


def test_a_square_fits_askew_where_it_does_not_fit_straight() -> None:
    """A square of 30 mm stands on its corner in a diamond of 44 mm, at 45 degrees only."""
    half = 22_000
    diamond = Region(((-half, 0), (0, -half), (half, 0), (0, half)))
    free = fit(rectangle(30, 30), [diamond])

    assert free.verdict == "fit"
    assert free.spots[0].placement.angle_mdeg % 90_000 == pytest.approx(45_000, abs=2_000)
    assert fit(rectangle(30, 30), [diamond], angles_mdeg=[0, 90_000, 10_000]).verdict == "no"
    assert fit(rectangle(30, 30), [diamond], angles_mdeg=[10_000, 45_000]).verdict == "fit"
    assert fit(rectangle(30, 30), [diamond], angles_mdeg=[135_000]).verdict == "fit"


def test_a_clearance_is_kept_and_counts() -> None:
    """A tile of 48 mm in a slot of 50: 0.9 mm of room all round, not 1.1."""
    tile, slot = rectangle(48, 48), rectangle(50, 50)
    answer = fit(tile, [slot], clearance_mm=0.9)
    check_spots(answer, ground_of_regions([slot]), tile, 0.9)

    assert answer.verdict == "fit"
    assert fit(tile, [slot], clearance_mm=1.8).verdict == "no"


def test_turning_over_is_tried_when_allowed() -> None:
    """A tern's slot, seen from behind, takes the tern only turned over."""
    slot = nudged_into_the_open(place(tern(90), Placement(0, 0, 0, True)), 20_000, 0.6)

    assert fit(tern(90), [slot]).verdict == "no"
    answer = fit(tern(90), [slot], mirrored_allowed=True)
    assert answer.verdict == "fit"
    assert answer.spots[0].placement.mirrored


def test_a_piece_does_not_lie_over_a_hole_or_in_two_parts() -> None:
    """Two halves of a board do not hold what needs the whole."""
    halves = [rectangle(49, 60), place(rectangle(49, 60), Placement(51_000, 0))]
    holed = Region(BOARD.outer, (place(circle(8), Placement(50_000, 30_000)).outer[::-1],))

    assert fit(rectangle(80, 20), halves).verdict == "no"
    assert fit(rectangle(48, 59), halves).verdict == "fit"
    assert fit(rectangle(95, 40), [holed]).verdict == "no"
    assert fit(rectangle(95, 24), [holed]).verdict == "fit"


def test_a_frame_may_lie_round_a_hole() -> None:
    """A ring goes round a mounting hole where a disc does not."""
    ring = Region(circle(50).outer, (circle(30).outer[::-1],))
    holed = Region(
        rectangle(52, 52).outer, (place(circle(20), Placement(26_000, 26_000)).outer[::-1],)
    )

    assert fit(ring, [holed]).verdict == "fit"
    assert fit(circle(50), [holed]).verdict == "no"


@pytest.mark.parametrize("factor", [0.5, 0.8, 1.0, 1.3])
def test_a_smaller_shape_fits_where_a_larger_one_does(factor: float) -> None:
    """No answer turns from no to yes as the shape grows."""
    ground = make_board(7).ground()
    small = two_lobed(50 * factor)
    large = scale_to(small, width_mm=50 * factor + 4)
    order = {"fit": 0, "tight": 1, "no": 2}
    answers = [order[fit(shape, ground).verdict] for shape in (small, large)]

    assert answers == sorted(answers)


def test_a_ledger_can_be_asked() -> None:
    """The usable layer of a board with one cut: no room where the cut was."""
    taken = [Taken("cut", "P1", rectangle(60, 60), 2000)]
    ledger = account(BOARD, taken, Rules(tool_mm=2, wall_mm=0, least_mm=0))

    assert fit(rectangle(34, 58), ledger).verdict == "fit"
    assert fit(rectangle(58, 58), ledger).verdict == "no"


def test_no_ground_holds_nothing() -> None:
    """A board that is used up."""
    assert fit(circle(5), []).verdict == "no"


def test_the_area_alone_can_refuse() -> None:
    """A ring of 28 mm² of ground does not hold a bar with a smaller circle but more area."""
    strip = rectangle(60, 3)
    frame = shapely.Point(0, 0).buffer(12).difference(shapely.Point(0, 0).buffer(8.9))

    assert math.isclose(frame.area, math.pi * (144 - 79.21), rel_tol=0.02)
    assert fit(rectangle(90, 2.9), Ground(frame)).verdict == "no"
    assert fit(strip, Ground(frame)).verdict == "no"
