"""What stands in the way of a piece, and what does not."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.geometry.conflicts import NOISE_DEPTH_MM, Conflict, find_conflicts, say
from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

BOARD = Region(
    rectangle(100, 100).outer, (place(circle(10), Placement(80_000, 80_000)).outer[::-1],)
)


def at(shape: Region, x_mm: float, y_mm: float, angle_deg: float = 0) -> Region:
    """A shape with its origin at a place of the board, turned."""
    return place(shape, Placement(round(x_mm * 1000), round(y_mm * 1000), round(angle_deg * 1000)))


SERIAL_PORT = Taken("keep-out", "serial port", at(rectangle(20, 10), 0, 60))
FERN = Taken("cut", "fern leaf", at(rectangle(20, 20), 10, 10), kerf_um=2000)
ORDER = Taken("reservation", "order 12", at(rectangle(20, 20), 60, 10))
TAKEN = (SERIAL_PORT, FERN, ORDER)


def kinds(region: Region, kerf_mm: float = 2.0, **options: tuple[str, ...]) -> list[str]:
    """Kinds of the conflicts of a piece on the board with everything taken."""
    found = find_conflicts(region, kerf_mm=kerf_mm, outline=BOARD, taken=TAKEN, **options)
    return [conflict.kind for conflict in found]


def test_a_piece_on_free_ground_has_no_conflict() -> None:
    """Nothing near, nothing in the way."""
    assert kinds(at(circle(20), 50, 60)) == []


def test_a_piece_over_the_edge_tells_how_far() -> None:
    """A 40 x 30 mm tag pushed 3.1 mm over the right edge loses 3.1 x 30 mm²."""
    conflict = find_conflicts(at(rectangle(40, 30), 63.1, 40), kerf_mm=2, outline=BOARD, taken=())[
        0
    ]

    assert conflict.kind == "edge"
    assert conflict.depth_mm == pytest.approx(3.1)
    assert conflict.overlap_mm2 == pytest.approx(93)
    assert conflict.where_mm[0] > 100
    assert say(conflict) == "reaches over the edge by 3.1 mm (93 mm²)"


def test_a_piece_over_a_mounting_hole_is_off_the_board() -> None:
    """The whole hole of 10 mm lies under the piece: 5 mm from its middle to the edge."""
    conflict = find_conflicts(at(circle(30), 80, 80), kerf_mm=2, outline=BOARD, taken=())[0]

    assert conflict.kind == "edge"
    assert conflict.depth_mm == pytest.approx(5, rel=0.01)
    assert conflict.overlap_mm2 == pytest.approx(math.pi * 25, rel=1e-3)


def test_the_kerf_may_run_over_the_edge() -> None:
    """A piece flush with the board's corner needs no kerf there."""
    assert kinds(at(rectangle(15, 20), 85, 0)) == []
    assert kinds(at(rectangle(20, 15), 80, 60)) == []


def test_a_piece_may_not_lie_on_an_earlier_kerf() -> None:
    """The fern leaf ends at 30 mm, its kerf at 32 mm."""
    assert kinds(at(rectangle(20, 20), 32, 10)) == []
    assert kinds(at(rectangle(20, 20), 31.9, 10)) == ["cut"]


def test_the_kerf_may_not_touch_a_keep_out() -> None:
    """The port ends at 20 mm: a piece with 2 mm of kerf may start at 22 mm."""
    assert kinds(at(rectangle(20, 20), 22, 60)) == []
    assert kinds(at(rectangle(20, 20), 21.9, 60)) == ["keep-out"]
    assert kinds(at(rectangle(20, 20), 21.9, 60), kerf_mm=0) == []


def test_a_reservation_stands_in_the_way_unless_it_is_this_pieces_own() -> None:
    """The piece an order was reserved for may be cut there."""
    piece = at(circle(18), 70, 20)

    assert kinds(piece) == ["reservation"]
    assert kinds(piece, ignore=("order 12",)) == []


def test_an_earlier_cut_is_never_ignored() -> None:
    """There is nothing left to cut, whatever the label says."""
    assert kinds(at(circle(10), 20, 20), ignore=("fern leaf", "serial port")) == ["cut"]


def test_all_conflicts_are_told_edge_first() -> None:
    """A huge disc in the middle of the board meets everything."""
    assert kinds(at(circle(120), 50, 50)) == ["edge", "keep-out", "cut", "reservation"]


@settings(max_examples=60, deadline=None)
@given(angle_mdeg=st.integers(0, 360_000), kerf_um=st.integers(0, 3000))
def test_touching_is_no_conflict_at_any_angle(angle_mdeg: int, kerf_um: int) -> None:
    """Two tags edge to edge on a turned board, rounded to the grid, do not overlap."""
    turn = Placement(300_000, 300_000, angle_mdeg)
    first, second = rectangle(90, 40), at(rectangle(90, 40), 0, 40 + kerf_um / 1000)
    found = find_conflicts(
        place(second, turn),
        kerf_mm=kerf_um / 1000,
        outline=place(at(rectangle(90, 200), 0, -20), turn),
        taken=[
            Taken("cut", "kite", place(first, turn), kerf_um),
            Taken("keep-out", "bracket", place(first, turn)),
        ],
    )

    assert found == ()


def test_more_than_noise_is_a_conflict() -> None:
    """Five micrometres into the port are told."""
    assert kinds(at(rectangle(20, 20), 19.995, 50), kerf_mm=0) == ["keep-out"]


@settings(max_examples=150, deadline=None)
@given(
    x_um=st.integers(-20_000, 120_000),
    y_um=st.integers(-20_000, 120_000),
    angle_mdeg=st.integers(0, 360_000),
    kerf_um=st.sampled_from([0, 800, 2000]),
)
def test_conflicts_agree_with_a_plain_overlay(
    x_um: int, y_um: int, angle_mdeg: int, kerf_um: int
) -> None:
    """The geometry library, asked plainly whether things overlap, gives the same answer."""
    piece = place(built_in_shape("teardrop", width_mm=24), Placement(x_um, y_um, angle_mdeg))
    found = find_conflicts(piece, kerf_mm=kerf_um / 1000, outline=BOARD, taken=TAKEN)
    areas = {conflict.label: conflict.overlap_mm2 for conflict in found}
    polygon = to_polygon(piece)
    grown = polygon.buffer(kerf_um / 1000, quad_segs=64)
    expected = {
        "": polygon.difference(to_polygon(BOARD)).area,
        "serial port": grown.intersection(to_polygon(SERIAL_PORT.region)).area,
        "fern leaf": polygon.intersection(to_polygon(FERN.region).buffer(2, quad_segs=64)).area,
        "order 12": grown.intersection(to_polygon(ORDER.region)).area,
    }

    # Below 0.05 mm² lies what counts as noise: a graze of a few micrometres.
    assert all(areas.get(key, 0.0) == pytest.approx(expected[key], abs=0.05) for key in expected)


@settings(max_examples=100, deadline=None)
@given(x=st.floats(0, 1), y=st.floats(0, 1), angle_deg=st.floats(0, 360))
def test_what_lies_in_usable_ground_has_no_conflict(x: float, y: float, angle_deg: float) -> None:
    """The ledger never promises ground that the check before the cut refuses."""
    ledger = account(BOARD, TAKEN, Rules(tool_mm=2, wall_mm=1, least_mm=6))
    fragment = ledger.fragments[0]
    left, bottom, right, top = (edge / 1000 for edge in fragment.region.bounds_um)
    piece = at(rectangle(5, 9), left + x * (right - left), bottom + y * (top - bottom), angle_deg)
    inside = to_polygon(fragment.region).covers(to_polygon(piece))

    assert kinds(piece) == [] or not inside


@pytest.mark.parametrize(
    ("conflict", "words"),
    [
        (
            Conflict("keep-out", "serial port", 34.2, 3.0, (1.0, 2.0)),
            "overlaps keep-out 'serial port' by 34.2 mm²",
        ),
        (Conflict("edge", "", 12.0, 3.1, (1.0, 2.0)), "reaches over the edge by 3.1 mm (12 mm²)"),
        (
            Conflict("cut", "tern", 1200.04, 3.1, (1.0, 2.0)),
            "overlaps cut 'tern' or its kerf by 1200 mm²",
        ),
        (
            Conflict("reservation", "order 12", 0.01, 0.01, (1.0, 2.0)),
            "overlaps reservation 'order 12' by less than 0.1 mm²",
        ),
    ],
)
def test_a_conflict_is_told_in_words(conflict: Conflict, words: str) -> None:
    """Half a sentence, with the number that matters."""
    assert say(conflict) == words


def test_the_noise_is_as_small_as_promised() -> None:
    """Two micrometres: a change of this figure is a change of what the workshop is told."""
    assert NOISE_DEPTH_MM == 0.002
