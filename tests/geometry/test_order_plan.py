"""An order is spread over few boards, no more fresh ones than by first fit, all of it sound."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.geometry.order_plan import OrderLine, OrderPlan, ShelfBoard, plan_order
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

GAP_MM = 2.0
DISC = OrderLine("disc", circle(40), 4)
TAG = OrderLine("tag", built_in_shape("rounded-tag", width_mm=18), 6)


def rounds(count: int) -> Patience:
    """A clock that stands still: the search ends after so many rounds, the same every time."""
    return Patience(1, lambda: 0.0, rounds=count)


AT_ONCE = Patience(0, lambda: 0.0)


def _region(corners_mm: list[tuple[int, int]]) -> Region:
    return Region(tuple((x * 1000, y * 1000) for x, y in corners_mm))


def board(code: str, width: float, height: float, *, fresh: bool = False) -> ShelfBoard:
    """A board that is all ground."""
    return ShelfBoard(code, (rectangle(width, height),), fresh)


SHELF = [
    board("R1", 45, 45),
    board("R2", 90, 45),
    board("R3", 120, 90),
    board("F1", 200, 150, fresh=True),
    board("F2", 200, 150, fresh=True),
]


def check_sound(plan: OrderPlan, shelf: list[ShelfBoard], lines: list[OrderLine]) -> None:
    """By the library alone: on the ground, apart, and every piece placed or told as missing."""
    grounds = {b.code: shapely.union_all([to_polygon(r) for r in b.area]) for b in shelf}
    placed: Counter[str] = Counter()
    for layout in plan.layouts:
        for piece in layout.pieces:
            placed[piece.name] += 1
            assert grounds[layout.code].covers(to_polygon(piece.region))
        for one, other in combinations(layout.pieces, 2):
            assert to_polygon(one.region).distance(to_polygon(other.region)) >= GAP_MM - 1e-6
    missing = {gone.name: gone.quantity for gone in plan.unmet}
    assert {n.name: placed[n.name] + missing.get(n.name, 0) for n in lines} == {
        n.name: n.quantity for n in lines
    }


def test_first_fit_takes_the_smallest_cut_board_first() -> None:
    """One disc on each small remnant before the larger, and no fresh board."""
    plan = plan_order([DISC], SHELF, gap_mm=GAP_MM, patience=AT_ONCE)

    assert [(layout.code, len(layout.pieces)) for layout in plan.layouts] == [
        ("R1", 1),
        ("R2", 2),
        ("R3", 1),
    ]
    assert plan.is_first
    assert plan.fresh_boards == 0
    assert plan.boards_touched == 3


def test_a_better_plan_takes_fewer_boards() -> None:
    """All four discs come from the one board that holds them, and the small ones stay whole."""
    plan = plan_order([DISC], SHELF, gap_mm=GAP_MM, patience=rounds(20))

    assert [(layout.code, len(layout.pieces)) for layout in plan.layouts] == [("R3", 4)]
    assert not plan.is_first
    check_sound(plan, SHELF, [DISC])


@settings(max_examples=10, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(40, 150), st.floats(40, 150), st.booleans()), min_size=1, max_size=5
    ),
    st.lists(st.tuples(st.floats(15, 50), st.integers(1, 5)), min_size=1, max_size=3),
    st.integers(0, 99),
)
def test_a_search_never_makes_a_plan_worse(
    sizes: list[tuple[float, float, bool]], wanted: list[tuple[float, int]], seed: int
) -> None:
    """Never more left out; with as much placed, never more fresh boards, nor more boards."""
    shelf = [board(f"B{n}", w, h, fresh=fresh) for n, (w, h, fresh) in enumerate(sizes)]
    lines = [
        OrderLine(f"oval {n}", built_in_shape("oval", width_mm=w), c)
        for n, (w, c) in enumerate(wanted)
    ]

    first = plan_order(lines, shelf, gap_mm=GAP_MM, patience=AT_ONCE)
    better = plan_order(lines, shelf, gap_mm=GAP_MM, patience=rounds(6), seed=seed)

    def missing(plan: OrderPlan) -> float:
        areas = {line.name: line.shape.area_mm2 for line in lines}
        return round(sum(gone.quantity * areas[gone.name] for gone in plan.unmet), 3)

    check_sound(first, shelf, lines)
    check_sound(better, shelf, lines)
    assert missing(better) <= missing(first)
    if missing(better) == missing(first):
        assert better.fresh_boards <= first.fresh_boards
        assert (better.fresh_boards, better.boards_touched) <= (
            first.fresh_boards,
            first.boards_touched,
        )


def test_a_fresh_board_that_is_needed_anyway_saves_cut_ones() -> None:
    """A coaster needs the fresh board; the discs that go on it as well leave the remnants whole."""
    coaster = OrderLine("coaster", circle(100), 1)

    plan = plan_order([coaster, DISC], SHELF, gap_mm=GAP_MM, patience=rounds(20))

    assert [layout.code for layout in plan.layouts] in (["F1"], ["F2"])
    assert plan.unmet == ()


def test_a_line_keeps_to_its_boards() -> None:
    """A donor's own boards for one shape; another donor's never."""
    own = OrderLine("disc", circle(30), 2, only=frozenset({"R2", "F2"}))
    other = OrderLine("tag", TAG.shape, 3, never=frozenset({"R1", "R2", "R3"}))

    plan = plan_order([own, other], SHELF, gap_mm=GAP_MM, patience=rounds(10))

    where = {(piece.name, layout.code) for layout in plan.layouts for piece in layout.pieces}
    assert {code for name, code in where if name == "disc"} <= {"R2", "F2"}
    assert {code for name, code in where if name == "tag"} <= {"F1", "F2"}
    assert plan.unmet == ()


def test_what_cannot_be_met_says_why() -> None:
    """Too large for any board; only from a board that is excluded; boards full."""
    lines = [
        OrderLine("plate", circle(160), 1),
        OrderLine("keepsake", circle(20), 1, only=frozenset({"R1"})),
        OrderLine("coaster", circle(80), 9),
    ]

    plan = plan_order(
        lines,
        [*SHELF[:3], board("R4", 85, 85)],
        gap_mm=GAP_MM,
        patience=AT_ONCE,
        excluded={"R1": "held"},
    )

    reasons = {gone.name: (gone.quantity, gone.reason) for gone in plan.unmet}
    assert reasons["plate"] == (1, "it fits on none of 3 boards, even empty, at right angles")
    assert reasons["keepsake"] == (1, "R1 is excluded (held)")
    assert reasons["coaster"] == (7, "the boards it may come from are full")
    assert "R1" not in {layout.code for layout in plan.layouts}


@pytest.mark.parametrize("tries", [0, 8])
def test_a_locked_layout_stays_and_counts(tries: int) -> None:
    """What was promised on a board stays there; only the rest is planned anew."""
    before = plan_order([DISC], SHELF, gap_mm=GAP_MM, patience=AT_ONCE)
    locked = before.layouts[:2]

    plan = plan_order([DISC, TAG], SHELF, gap_mm=GAP_MM, patience=rounds(tries), locked=locked)

    assert plan.layouts[:2] == locked
    assert {layout.code for layout in plan.layouts[2:]} & {"R1", "R2"} == set()
    assert sum(p.name == "disc" for layout in plan.layouts for p in layout.pieces) == 4
    assert plan.unmet == ()


def test_what_is_left_of_a_board_is_measured() -> None:
    """A disc of 40 mm from the middle of nowhere: the rest lies a gap away from it."""
    one = OrderLine("disc", circle(40), 1)

    plan = plan_order([one], [board("R3", 120, 90)], gap_mm=GAP_MM, patience=AT_ONCE)

    assert plan.remnants[0].code == "R3"
    assert plan.remnants[0].area_mm2 > 120 * 90 - 3.1416 * 22**2 - 5
    assert 60 < plan.remnants[0].inscribed_mm < 90


# A hook whose mirror image is another shape, and ground that takes just one of the two.
HOOK = _region([(0, 0), (40, 0), (40, 12), (12, 12), (12, 60), (0, 60)])
HOOK_GROUND = place(
    _region([(-1, -1), (41, -1), (41, 13), (13, 13), (13, 61), (-1, 61)]),
    Placement(50_000, 5_000, 0, mirrored=True),
)


def test_a_piece_is_turned_over_only_where_it_may_be() -> None:
    """What is left takes the mirror image alone: with either face it is cut, else it is missing."""
    shelf = [ShelfBoard("R1", (HOOK_GROUND,), False)]
    both = OrderLine("hook", HOOK, 1, mirrored_allowed=True)

    plans = [
        plan_order([line], shelf, gap_mm=GAP_MM, patience=rounds(8))
        for line in (both, replace(both, mirrored_allowed=False))
    ]

    piece = plans[0].layouts[0].pieces[0]
    assert piece.placement.mirrored
    assert to_polygon(HOOK_GROUND).covers(to_polygon(place(HOOK, piece.placement)))
    assert plans[1].layouts == ()
    check_sound(plans[0], shelf, [both])


def test_a_piece_is_turned_only_by_angles_it_may_have() -> None:
    """A strip left at 45 degrees takes the bar if it may be turned so; else the reason says so."""
    bar = rectangle(60, 10)
    strip = place(rectangle(70, 14), Placement(20_000, 5_000, 45_000))
    shelf = [ShelfBoard("R1", (strip,), False)]
    line = OrderLine("bar", bar, 1, angles_mdeg=tuple(range(0, 360_000, 15_000)))
    other = OrderLine("bar", bar, 1, angles_mdeg=(0, 60_000))

    found = plan_order([line], shelf, gap_mm=GAP_MM, patience=rounds(1))
    square = plan_order([OrderLine("bar", bar, 1)], shelf, gap_mm=GAP_MM, patience=rounds(1))
    few = plan_order([other], shelf, gap_mm=GAP_MM, patience=rounds(8))
    at_once = plan_order([line], shelf, gap_mm=GAP_MM, patience=AT_ONCE)

    assert found.layouts[0].pieces[0].placement.angle_mdeg % 180_000 == 45_000
    assert square.unmet[0].reason.endswith("even empty, at right angles")
    assert few.unmet[0].reason.endswith("even empty, at 0, 60 degrees")
    assert at_once.unmet[0].reason.endswith("at the few angles that a first look takes")
    check_sound(found, shelf, [line])


@settings(max_examples=8, deadline=None)
@given(
    st.lists(st.integers(0, 359), min_size=1, max_size=6, unique=True),
    st.booleans(),
    st.integers(0, 9),
)
def test_turned_and_turned_over_pieces_lie_apart(
    degrees: list[int], mirrored: bool, seed: int
) -> None:
    """Whatever angles are allowed: on the ground, apart, at one of those angles or as good."""
    angles = tuple(degree * 1000 for degree in degrees)
    lines = [
        OrderLine("hook", HOOK, 6, angles_mdeg=angles, mirrored_allowed=mirrored),
        OrderLine("drop", built_in_shape("teardrop", width_mm=20), 8, angles_mdeg=angles),
    ]

    plan = plan_order(lines, SHELF[2:4], gap_mm=GAP_MM, patience=rounds(8), seed=seed)

    pieces = [piece for layout in plan.layouts for piece in layout.pieces]
    check_sound(plan, SHELF[2:4], lines)
    assert {piece.placement.angle_mdeg for piece in pieces} <= set(angles)
    assert mirrored or not any(piece.placement.mirrored for piece in pieces)
    assert not any(piece.placement.mirrored for piece in pieces if piece.name == "drop")


def test_progress_starts_with_the_first_plan() -> None:
    """The maker sees at once how many pieces are placed, then each better plan."""
    told: list[int] = []
    patience = replace(rounds(20), progress=lambda placed, seconds: told.append(placed))

    plan_order([DISC], SHELF, gap_mm=GAP_MM, patience=patience)

    assert len(told) >= 2
    assert told[0] == 4


def test_the_same_seed_and_rounds_give_the_same_plan() -> None:
    """A plan can be made again."""
    plans = [
        plan_order([DISC, TAG], SHELF, gap_mm=GAP_MM, patience=rounds(6), seed=5) for _ in range(2)
    ]

    assert plans[0] == plans[1]


def test_slips_of_the_pen_are_refused() -> None:
    """Names that come twice, no quantity, a gap below zero."""
    with pytest.raises(BadValue, match="'disc' comes 2 times"):
        plan_order([DISC, DISC], SHELF, gap_mm=GAP_MM, patience=AT_ONCE)
    with pytest.raises(BadValue, match="'R1' comes 2 times"):
        plan_order([DISC], [SHELF[0], SHELF[0]], gap_mm=GAP_MM, patience=AT_ONCE)
    with pytest.raises(BadValue, match="0 of 'none'"):
        plan_order([OrderLine("none", circle(9), 0)], SHELF, gap_mm=GAP_MM, patience=AT_ONCE)
    with pytest.raises(BadValue, match="gap of -1 mm"):
        plan_order([DISC], SHELF, gap_mm=-1, patience=AT_ONCE)


def test_an_empty_shelf_or_order_gives_an_empty_plan() -> None:
    """Nothing to cut from, or nothing to cut."""
    bare = plan_order([DISC], [], gap_mm=GAP_MM, patience=rounds(3))

    assert bare.layouts == ()
    assert bare.unmet[0].reason == "no board is left that it may come from"
    assert plan_order([], SHELF, gap_mm=GAP_MM, patience=rounds(3)).layouts == ()
