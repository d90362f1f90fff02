"""Every square millimetre of a board is accounted for, and none is promised twice."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from salvage.errors import BadValue
from salvage.geometry.ledger import LAYERS, Rules, Taken, TakenKind, account, usable_area_mm2
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.records.region import Region

BOARD = rectangle(100, 100)
PLAIN = Rules(tool_mm=0, wall_mm=0, least_mm=0)


def at(shape: Region, x_mm: float, y_mm: float) -> Region:
    """A shape moved so that its origin lies at a place of the board."""
    return place(shape, Placement(round(x_mm * 1000), round(y_mm * 1000)))


def taken(kind: TakenKind, shape: Region, x_mm: float, y_mm: float, kerf_um: int = 0) -> Taken:
    """Something taken, its shape's origin at a place of the board."""
    return Taken(kind, "tide bell", at(shape, x_mm, y_mm), kerf_um)


def test_a_fresh_micro_atx_board_is_all_usable() -> None:
    """244 x 244 mm: microATX Motherboard Interface Specification 1.2, Table 3."""
    ledger = account(rectangle(244, 244), [], PLAIN)

    assert ledger.outline_mm2 == 59_536.0
    assert ledger.usable_mm2 == 59_536.0
    assert ledger.usable_percent == 100.0
    assert ledger.imbalance_mm2 == 0.0
    assert tuple(ledger.layers) == LAYERS
    assert len(ledger.layers) == len(LAYERS)


def test_a_cut_costs_its_area_and_its_kerf() -> None:
    """
    A 40 x 25 mm piece taken out all round with a 2.0 mm router uses up 1272.6 mm².

    1000 + perimeter 130 x 2 + the four quarter discs at the corners, pi x 2 x 2; computed.
    """
    cut = taken("cut", rectangle(40, 25), 30, 30, kerf_um=2000)
    ledger = account(BOARD, [cut], PLAIN)
    used = ledger.area_mm2("cut") + ledger.area_mm2("kerf")

    assert ledger.area_mm2("cut") == pytest.approx(1000)
    assert used == pytest.approx(1000 + 130 * 2 + math.pi * 4, abs=0.15)
    assert used >= 1000 + 130 * 2 + math.pi * 4
    assert ledger.usable_mm2 == pytest.approx(10_000 - used)


def test_kerf_over_the_edge_does_not_count() -> None:
    """A piece in the corner of the board takes kerf on two sides only."""
    ledger = account(BOARD, [taken("cut", rectangle(40, 25), 0, 0, kerf_um=2000)], PLAIN)

    assert ledger.area_mm2("kerf") == pytest.approx(65 * 2 + math.pi, abs=0.1)


def test_a_piece_with_a_hole_takes_kerf_inside_too() -> None:
    """A ring of 40 and 20 mm: the tool runs round it and round the inside of its hole."""
    ring = Region(circle(40).outer, (circle(20).outer[::-1],))
    ledger = account(BOARD, [taken("cut", ring, 50, 50, kerf_um=1000)], PLAIN)
    outside, inside = math.pi * (21**2 - 20**2), math.pi * (10**2 - 9**2)

    assert ledger.area_mm2("kerf") == pytest.approx(outside + inside, rel=2e-3)
    assert len(ledger.fragments) == 2


def test_the_next_piece_leaves_the_wall_and_room_for_the_tool() -> None:
    """Beside a kerf: 1.5 mm of wall, then 2 mm for the cutter that takes the next piece out."""
    cut = Taken("cut", "P1", rectangle(40, 100), kerf_um=2000)
    ledger = account(BOARD, [cut], Rules(tool_mm=2, wall_mm=1.5, least_mm=0))

    assert ledger.area_mm2("kerf") == pytest.approx(200, abs=0.2)
    assert ledger.area_mm2("wall") == pytest.approx(350, abs=1.1)
    assert ledger.layers["usable"][0].bounds_um[0] == pytest.approx(45_500, abs=10)


def test_beside_a_keep_out_only_the_tool_needs_room() -> None:
    """No web need stand between a piece and a connector."""
    ledger = account(
        BOARD,
        [Taken("keep-out", "serial port", rectangle(40, 100))],
        Rules(tool_mm=2, wall_mm=1.5, least_mm=0),
    )

    assert ledger.area_mm2("keep-out") == pytest.approx(4000)
    assert ledger.area_mm2("wall") == pytest.approx(200, abs=1.1)


def test_beside_a_reservation_only_the_tool_needs_room() -> None:
    """The reserved ground itself stays whole; the room is outside it."""
    ledger = account(
        BOARD,
        [Taken("reservation", "order 12", rectangle(40, 100), kerf_um=9000)],
        Rules(tool_mm=2, wall_mm=1.5, least_mm=0),
    )

    assert ledger.area_mm2("reserved") == pytest.approx(4000)
    assert ledger.area_mm2("wall") == pytest.approx(200, abs=1.1)


def test_the_edge_of_the_board_needs_no_wall() -> None:
    """A piece may use the board's own edge, and the edge of a mounting hole."""
    board = Region(BOARD.outer, (at(circle(10), 50, 50).outer[::-1],))
    ledger = account(board, [], Rules(tool_mm=3, wall_mm=2, least_mm=0))

    assert ledger.usable_mm2 == pytest.approx(10_000 - math.pi * 25, abs=0.01)


def test_what_comes_first_counts_first() -> None:
    """A cut over a keep-out over a reservation: each square millimetre has one owner."""
    everything = [
        Taken("reservation", "order 12", rectangle(30, 100)),
        Taken("keep-out", "bracket", rectangle(20, 100)),
        Taken("cut", "P1", rectangle(10, 100)),
    ]
    ledger = account(BOARD, everything, PLAIN)

    assert [round(ledger.area_mm2(layer), 6) for layer in LAYERS] == [
        1000,
        0,
        1000,
        0,
        1000,
        7000,
        0,
    ]
    assert ledger == account(BOARD, everything[::-1], PLAIN)


def test_necks_and_corners_too_narrow_are_unusable() -> None:
    """A 10 mm strip beside a keep-out is lost to a workshop whose smallest shape is 12 mm."""
    bracket = Taken("keep-out", "bracket", at(rectangle(10, 100), 10, 0))
    ledger = account(BOARD, [bracket], Rules(tool_mm=0, wall_mm=0, least_mm=12))
    corners = (4 - math.pi) * 36

    assert ledger.area_mm2("unusable") == pytest.approx(1000 + corners, abs=0.5)
    assert len(ledger.fragments) == 1


def test_a_fragment_tells_the_largest_circle_in_it() -> None:
    """A 30 x 100 mm stretch holds a circle of 30 mm; the larger stretch comes first."""
    bracket = Taken("keep-out", "bracket", at(rectangle(10, 100), 30, 0))
    large, small = account(BOARD, [bracket], PLAIN).fragments

    assert (large.area_mm2, small.area_mm2) == pytest.approx((6000, 3000))
    assert (small.width_mm, small.height_mm) == pytest.approx((30, 100))
    assert small.inscribed_mm == pytest.approx(30, abs=0.03)
    assert small.inscribed_mm <= 30
    assert small.inscribed_at_mm[0] == pytest.approx(15, abs=0.02)
    assert small.region == rectangle(30, 100)


def test_the_circle_told_really_fits() -> None:
    """A circle of the diameter told, at the centre told, lies in the fragment."""
    cuts = [taken("cut", circle(20), x, y, 1500) for x, y in ((20, 30), (55, 60), (80, 20))]
    for fragment in account(BOARD, cuts, Rules(tool_mm=1.5, wall_mm=1, least_mm=5)).fragments:
        disc = Point(fragment.inscribed_at_mm).buffer(fragment.inscribed_mm / 2)

        assert to_polygon(fragment.region).buffer(0.001).covers(disc)


def test_a_fragment_lost_on_the_grid_is_no_fragment() -> None:
    """A crack a ten-thousandth of a millimetre wide cannot be used, yet still adds up."""
    board = shapely.Polygon([(0, 0), (10, 0), (10, 10)])
    triangle = Region(((0, 0), (10_000, 0), (10_000, 10_000)))
    nearly = Region(((0, 0), (10_000, 0), (10_000, 9_999)))
    ledger = account(triangle, [Taken("cut", "P1", nearly)], PLAIN)

    assert ledger.outline_mm2 == board.area
    assert ledger.usable_mm2 == pytest.approx(0.005)
    assert ledger.imbalance_mm2 == pytest.approx(0, abs=1e-9)
    assert len(ledger.fragments) <= 1


def test_a_cut_with_a_negative_kerf_is_taken_as_a_cut_without() -> None:
    """A damaged record makes no band of negative width."""
    ledger = account(BOARD, [taken("cut", circle(20), 50, 50, kerf_um=-500)], PLAIN)

    assert ledger.area_mm2("kerf") == 0


def test_a_thousand_near_touching_cuts_still_add_up() -> None:
    """A board filled with discs a micrometre apart keeps its balance to a millionth of a mm²."""
    disc = circle(3)
    cuts = [
        taken("cut", disc, 2 + column * 3.001, 2 + row * 3.001, kerf_um=300)
        for column in range(32)
        for row in range(32)
    ]
    ledger = account(BOARD, cuts, Rules(tool_mm=0.3, wall_mm=0.5, least_mm=1))

    assert abs(ledger.imbalance_mm2) <= 1e-6
    assert ledger.area_mm2("cut") == pytest.approx(1024 * disc.area_mm2)


def test_no_layer_overlaps_another() -> None:
    """Pairwise, the layers share less than the grid can hold."""
    things = [
        taken("cut", circle(30), 30, 30, kerf_um=2000),
        taken("keep-out", rectangle(30, 20), 40, 40),
        taken("reservation", circle(25), 75, 70),
    ]
    ledger = account(BOARD, things, Rules(tool_mm=2, wall_mm=1, least_mm=8))
    areas = [shapely.union_all([to_polygon(r) for r in ledger.layers[layer]]) for layer in LAYERS]
    shared = sum(
        one.intersection(other).area for i, one in enumerate(areas) for other in areas[i + 1 :]
    )

    assert all(not area.is_empty for area in areas)
    assert shared < 0.5  # a micrometre along all edges
    assert shapely.union_all(areas).symmetric_difference(box(0, 0, 100, 100)).area < 0.5


@pytest.mark.parametrize("name", ["tool_mm", "wall_mm", "least_mm"])
@pytest.mark.parametrize("value", [-0.1, math.inf, math.nan])
def test_rules_must_be_lengths(name: str, value: float) -> None:
    """A cutter of negative width is a typing mistake."""
    sizes = {"tool_mm": 2.0, "wall_mm": 1.0, "least_mm": 8.0, name: value}

    with pytest.raises(BadValue) as refusal:
        Rules(**sizes)

    assert refusal.value.field == name


@given(st.integers(0, 10_000), st.integers(0, 12), st.sampled_from([0.0, 3.0, 8.0, 20.0]))
def test_the_usable_area_alone_is_the_ledgers(seed: int, count: int, least_mm: float) -> None:
    """What is recorded after a cut is what the whole ledger says, to a thousandth of a mm²."""
    rng = random.Random(seed)
    rules = Rules(tool_mm=2, wall_mm=1, least_mm=least_mm)
    kinds: tuple[TakenKind, ...] = ("cut", "keep-out", "reservation")
    things = [
        Taken(rng.choice(kinds), f"{n}", place(rectangle(rng.uniform(3, 40), 12), spot), 1500)
        for n in range(count)
        for spot in [
            Placement(rng.randrange(100_000), rng.randrange(60_000), rng.randrange(360_000))
        ]
    ]
    whole = account(BOARD, things, rules)

    assert usable_area_mm2(BOARD, things, rules) == pytest.approx(whole.usable_mm2, abs=1e-3)
