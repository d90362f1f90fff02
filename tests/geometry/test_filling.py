"""How many go on a board: pieces that lie apart, and no fewer than a plain count gives."""

from __future__ import annotations

from itertools import combinations

import pytest

from salvage.geometry.filling import count_fits
from salvage.geometry.outline import circle, rectangle, region_of_mm, to_polygon
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board
from tests.benchmarks.correlation import is_clear


@pytest.mark.parametrize("name", ["two-lobed 60", "rounded tag 28", "kite 45"])
def test_pieces_keep_a_kerf_between_them(name: str) -> None:
    """On a used board: each clear of everything, every two at least a kerf apart."""
    board = make_board(8)
    spots = count_fits(SHAPES[name], board.ground(), kerf_mm=KERF_MM, clearance_mm=0.5)
    pieces = [to_polygon(spot.region) for spot in spots]
    gaps = [one.distance(other) for one, other in combinations(pieces, 2)]

    assert len(spots) >= 2
    assert min(gaps) >= KERF_MM - 0.002
    assert all(is_clear(spot, board, kerf_mm=KERF_MM, clearance_mm=0.5) for spot in spots)


def test_tiles_are_counted() -> None:
    """Tiles of 20 mm and a kerf of 2: 4 x 2 on 88 x 44 mm, with 2 mm for the kerf over."""
    spots = count_fits(rectangle(20, 20), [rectangle(90, 46)], kerf_mm=2)

    assert len(spots) == 8


def test_counting_stops_where_asked() -> None:
    """Three are enough for the order."""
    assert len(count_fits(circle(10), [rectangle(200, 100)], kerf_mm=2, most=3)) == 3


def test_a_piece_as_large_as_the_board_goes_once() -> None:
    """The last piece takes everything; an empty board takes none."""
    assert len(count_fits(rectangle(49, 29), [rectangle(50, 30)], kerf_mm=2)) == 1
    assert count_fits(rectangle(49, 29), [], kerf_mm=2) == ()
    assert count_fits(rectangle(60, 29), [rectangle(50, 30)], kerf_mm=2) == ()


def test_only_the_angles_asked_for_are_used() -> None:
    """Flags that must stand upright: fewer go on than if they may be turned."""
    ground = [rectangle(66, 31)]
    upright = count_fits(rectangle(20, 30), ground, kerf_mm=1, angles_mdeg=[0])
    lying = count_fits(rectangle(20, 30), ground, kerf_mm=1, angles_mdeg=[90_000])

    assert len(upright) == 3
    assert {spot.placement.angle_mdeg for spot in upright} == {0}
    assert len(lying) == 2
    assert count_fits(rectangle(20, 30), ground, kerf_mm=1, angles_mdeg=[]) == ()


def test_pieces_that_may_be_turned_over_interlock() -> None:
    """Right-angled brackets, none turned: a mirrored one goes where the same one does not."""
    bracket = region_of_mm([(0, 0), (40, 0), (0, 40)])
    ground = [rectangle(44, 43)]
    plain = count_fits(bracket, ground, kerf_mm=1, angles_mdeg=[0])
    both = count_fits(bracket, ground, kerf_mm=1, angles_mdeg=[0, 180_000], mirrored_allowed=True)
    mirrored = count_fits(
        bracket, [rectangle(44, 43)], kerf_mm=1, angles_mdeg=[0], mirrored_allowed=True
    )
    only_turned_over = count_fits(
        SHAPES["tern 90"], make_board(8).ground(), kerf_mm=KERF_MM, mirrored_allowed=True
    )

    assert (len(plain), len(both), len(mirrored)) == (1, 2, 1)
    assert {spot.placement.mirrored for spot in only_turned_over} == {False, True}
    assert all(
        is_clear(spot, make_board(8), kerf_mm=KERF_MM, clearance_mm=0) for spot in only_turned_over
    )
