"""Regions of boards on the micrometre grid."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.records.region import Region, Ring, region_of_rings, region_of_text, twice_area

SQUARE: Ring = ((0, 0), (10_000, 0), (10_000, 10_000), (0, 10_000))
HOLE: Ring = ((2_000, 2_000), (2_000, 4_000), (4_000, 4_000), (4_000, 2_000))

points = st.tuples(st.integers(-(10**7), 10**7), st.integers(-(10**7), 10**7))
rings = st.lists(points, min_size=3, max_size=12).map(tuple)


def test_the_area_of_a_board_leaves_out_its_holes() -> None:
    """A board of one square centimetre with a hole of two by two has 96 mm² left."""
    region = Region(SQUARE, (HOLE,))

    assert region.area_mm2 == 96.0
    assert region.area_um2 == 96_000_000


def test_the_area_of_an_atx_board() -> None:
    """305 by 244 mm is 74 420 mm² (microATX Motherboard Interface Specification 1.2, Table 3)."""
    board = Region(((0, 0), (305_000, 0), (305_000, 244_000), (0, 244_000)))

    assert board.area_mm2 == 74_420.0
    assert board.size_mm == (305.0, 244.0)


def test_the_smallest_triangle_is_half_a_square_micrometre() -> None:
    """Nothing is lost where an area ends in a half."""
    region = Region(((0, 0), (1, 0), (0, 1)))

    assert region.area_mm2 == 0.5e-6
    assert region.area_um2 == 0


def test_halves_of_board_and_hole_cancel() -> None:
    """A half in the outline and a half in the hole make no error together."""
    outer = ((0, 0), (101, 0), (0, 101))
    hole = ((10, 10), (10, 11), (11, 10))

    assert Region(outer, (hole,)).area_um2 == 5100


def test_bounds_and_size_come_from_the_outer_ring() -> None:
    """A shape away from the corner knows where it lies."""
    region = Region(((1_000, -500), (4_500, -500), (4_500, 2_000)))

    assert region.bounds_um == (1_000, -500, 4_500, 2_000)
    assert region.size_mm == (3.5, 2.5)


def test_counter_clockwise_is_positive() -> None:
    """The sign of the shoelace formula tells an outline from a hole."""
    assert twice_area(SQUARE) == 200_000_000
    assert twice_area(HOLE) == -8_000_000


@given(rings)
def test_turning_a_ring_round_turns_the_sign(ring: Ring) -> None:
    """Reading an outline backwards gives the same area with the other sign."""
    assert twice_area(ring[::-1]) == -twice_area(ring)


@given(rings, points)
def test_moving_a_ring_leaves_its_area(ring: Ring, step: tuple[int, int]) -> None:
    """A shape has the same area wherever on the board it is laid."""
    moved = tuple((x + step[0], y + step[1]) for x, y in ring)

    assert twice_area(moved) == twice_area(ring)


@given(rings, st.lists(rings, max_size=3).map(tuple))
def test_a_region_survives_the_journal(outer: Ring, holes: tuple[Ring, ...]) -> None:
    """What is written to the journal and the tables is read back as the same region."""
    region = Region(outer, holes)

    assert region_of_rings(region.to_rings()) == region
    assert region_of_text(region.to_text()) == region


def test_the_text_is_compact() -> None:
    """Tables hold no spaces."""
    text = Region(((0, 0), (1, 0), (0, 1))).to_text()

    assert text == "[[[0,0],[1,0],[0,1]]]"


def test_a_region_cannot_be_changed() -> None:
    """A recorded cut stays as it was recorded."""
    region = Region(SQUARE)

    with pytest.raises(AttributeError):
        region.outer = HOLE  # type: ignore[misc]
