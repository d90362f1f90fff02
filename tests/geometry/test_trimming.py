"""One more cut is booked without measuring the whole board again."""

from __future__ import annotations

import random

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import rectangle, to_polygon
from salvage.geometry.overlay import unite
from salvage.geometry.placing import Placement, place
from salvage.geometry.trimming import Remaining, claim_of, start, trim
from tests.benchmarks.boards import kite, star, tide_bell, two_lobed

BOARD = rectangle(160, 100)
RULES = Rules(tool_mm=2, wall_mm=1, least_mm=8)


def cuts(seed: int, count: int) -> list[Taken]:
    """Cuts anywhere on the board, also over its edge and over one another."""
    rng = random.Random(seed)
    spots = [
        Placement(rng.randrange(160_000), rng.randrange(100_000), rng.randrange(360_000))
        for _ in range(count)
    ]
    shapes = [rng.choice((two_lobed, star, tide_bell, kite))(rng.uniform(4, 25)) for _ in spots]
    return [
        Taken("cut", f"piece {n}", place(shape, spot), 2000)
        for n, (shape, spot) in enumerate(zip(shapes, spots, strict=True))
    ]


def trimmed(items: list[Taken], rules: Rules = RULES) -> Remaining:
    """The board with the items booked one by one."""
    board = start(BOARD, [], rules)
    for item in items:
        board = trim(board, item)
    return board


@given(st.integers(0, 10_000), st.integers(1, 12), st.sampled_from([0.0, 3.0, 8.0, 20.0]))
def test_trimming_never_promises_more_than_a_full_account(
    seed: int, count: int, least_mm: float
) -> None:
    """The usable area is at most the ledger's, and short of it by next to nothing."""
    rules = Rules(tool_mm=2, wall_mm=1, least_mm=least_mm)
    items = cuts(seed, count)
    board, ledger = trimmed(items, rules), account(BOARD, items, rules)
    over_mm2 = board.usable_mm2 - ledger.usable_mm2

    assert over_mm2 <= 0.0005 * ledger.outline_mm2
    assert over_mm2 >= -0.004 * ledger.outline_mm2
    assert abs(board.imbalance_mm2) < 1e-6


def test_the_order_of_cuts_hardly_matters() -> None:
    """Forwards and backwards, and with everything known from the start."""
    items = cuts(3, 15)
    areas = [
        trimmed(items).usable_mm2,
        trimmed(items[::-1]).usable_mm2,
        start(BOARD, items, RULES).usable_mm2,
    ]

    assert max(areas) - min(areas) < 2.0


def test_a_thousand_cuts_still_add_up() -> None:
    """Outline less all that was taken and what is free: within a millionth of a mm²."""
    rng = random.Random(11)
    board = start(BOARD, [], RULES)
    for _ in range(1000):
        spot = Placement(rng.randrange(160_000), rng.randrange(100_000), rng.randrange(360_000))
        board = trim(board, Taken("cut", "P", place(kite(3), spot), 500))

    assert abs(board.imbalance_mm2) <= 1e-6


def test_nothing_usable_lies_on_a_cut_or_its_kerf() -> None:
    """The trimmed area keeps the kerf, the wall and the tool's width from every cut."""
    items = cuts(5, 12)
    board = trimmed(items)
    gone = unite(to_polygon(item.region) for item in items)

    assert board.area().distance(gone) >= 5.0 - 1e-6
    assert shapely.is_valid(board.area())


def test_a_keep_out_and_a_reservation_ask_for_the_tool_only() -> None:
    """Two millimetres beside 40 x 100: 42 mm of the board's width are claimed."""
    for kind in ("keep-out", "reservation"):
        item = Taken(kind, "port", rectangle(40, 100), 9000)
        board = trim(start(BOARD, [], Rules(2, 1, 0)), item)

        assert board.usable_mm2 == pytest.approx(118 * 100, abs=4)


def test_a_neck_too_narrow_is_lost_on_both_sides() -> None:
    """Two cuts with 7 mm between their claims leave nothing there for an 8 mm shape."""
    left = Taken("cut", "A", place(rectangle(60, 100), Placement(0, 0)), 0)
    right = Taken("cut", "B", place(rectangle(60, 100), Placement(73_000, 0)), 0)
    rules = Rules(tool_mm=3, wall_mm=0, least_mm=8)
    board = trimmed([left, right], rules)

    assert board.usable_mm2 == pytest.approx((160 - 136) * 100, rel=0.01)
    assert board.free_mm2 == pytest.approx((160 - 129) * 100, rel=0.01)


def test_the_claim_holds_the_whole_cut() -> None:
    """Leaving out corners never leaves out ground."""
    item = cuts(8, 1)[0]
    exact = to_polygon(item.region).buffer(5, quad_segs=64)

    assert claim_of(item, RULES).buffer(1e-3).covers(exact)
    assert claim_of(item, RULES).area < exact.area * 1.02
    assert claim_of(item, Rules(0, 0, 0)).buffer(1e-9).covers(to_polygon(item.region))
