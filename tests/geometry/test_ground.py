"""The ground is exactly where a piece meets no conflict."""

from __future__ import annotations

import random

import pytest
from shapely import Point

from salvage.geometry.conflicts import find_conflicts
from salvage.geometry.ground import as_ground, ground_of_board, ground_of_regions
from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board


@pytest.mark.parametrize("seed", range(6))
def test_ground_and_conflicts_agree(seed: int) -> None:
    """Random places: the ground covers the piece just where nothing is in its way."""
    board = make_board(seed)
    ground = board.ground()
    rng = random.Random(seed)
    answers = set()
    for _ in range(60):
        shape = rng.choice(list(SHAPES.values()))
        width, height = board.outline.size_mm
        spot = Placement(
            round(rng.uniform(0, width) * 1000),
            round(rng.uniform(0, height) * 1000),
            rng.randrange(360_000),
        )
        piece = place(shape, spot)
        found = find_conflicts(piece, kerf_mm=KERF_MM, outline=board.outline, taken=board.taken)
        covered = ground.area.covers(to_polygon(piece))
        answers.add(covered)

        assert covered == (not found)
    assert False in answers


def test_the_room_beside_an_earlier_cut_can_be_asked_for() -> None:
    """A cut of 40 mm, its kerf of 2, then 3.5 mm for the wall and the tool: 54.5 mm are left."""
    cut = Taken("cut", "P1", rectangle(40, 100), 2000)
    plain = ground_of_board(rectangle(100, 100), [cut], kerf_mm=2)
    walled = ground_of_board(rectangle(100, 100), [cut], kerf_mm=2, beside_cut_mm=3.5)

    assert plain.area.area == pytest.approx(5800, abs=0.2)
    assert walled.area.area == pytest.approx(5450, abs=0.2)


def test_a_reservation_is_open_to_the_order_it_was_made_for() -> None:
    """The ignored label does not count; an earlier cut of that name still does."""
    taken = [
        Taken("reservation", "order 12", rectangle(30, 100)),
        Taken("cut", "order 12", place(rectangle(10, 100), Placement(90_000, 0))),
    ]
    ground = ground_of_board(rectangle(100, 100), taken, kerf_mm=2, ignore=["order 12"])

    assert ground.area.area == pytest.approx(9000)


def test_the_ground_of_a_ledger_is_its_usable_layer() -> None:
    """A fresh 100 x 50 mm board is one part with a circle of 25 mm radius."""
    ledger = account(rectangle(100, 50), [], Rules(tool_mm=2, wall_mm=1, least_mm=0))
    (part,) = as_ground(ledger).parts

    assert part.area_mm2 == pytest.approx(5000)
    assert part.inscribed_mm == pytest.approx(25, abs=0.011)
    assert part.least_width_mm == pytest.approx(50)
    assert part.longest_mm == pytest.approx(111.8, abs=0.01)


def test_parts_are_listed_by_their_largest_circle() -> None:
    """A long thin strip comes after a small disc with the larger circle."""
    disc = place(circle(20), Placement(200_000, 50_000))
    parts = ground_of_regions([rectangle(150, 8), disc]).parts

    assert [round(part.inscribed_mm) for part in parts] == [10, 4]
    assert Point(parts[0].x_mm, parts[0].y_mm).distance(Point(200, 50)) < 0.2


def test_ground_that_is_ground_stays_itself() -> None:
    """Its maps are kept for the next question."""
    ground = ground_of_regions([rectangle(50, 50)])

    assert as_ground(ground) is ground
    assert ground.distance_map(0.5) is ground.distance_map(0.5)
    assert ground.sheet(0.5, reach_mm=30) is ground.sheet(0.5, reach_mm=20)
    assert ground.sheet(0.5, reach_mm=31).width > ground.distance_map(0.5)[1].columns + 62
