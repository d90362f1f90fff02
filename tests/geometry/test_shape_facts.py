"""Before a shape is cut, the maker knows what the bit will make of it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.geometry.outline import circle, rectangle, region_of_mm
from salvage.geometry.placing import Placement, place
from salvage.geometry.shape_facts import say, shape_facts
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region


def comb(slot_mm: float) -> Region:
    """Two arms 5 mm wide and a slot 15 mm deep between them."""
    inner, outer = 5 + slot_mm, 10 + slot_mm
    return region_of_mm(
        [(0, 0), (outer, 0), (outer, 20), (inner, 20), (inner, 5), (5, 5), (5, 20), (0, 20)]
    )


def dumbbell(neck_mm: float) -> Region:
    """Two squares of 10 mm joined by a neck 5 mm long."""
    low, high = 5 - neck_mm / 2, 5 + neck_mm / 2
    right = [(10, 0), (10, low), (15, low), (15, 0), (25, 0), (25, 10), (15, 10), (15, high)]
    return region_of_mm([(0, 0), *right, (10, high), (10, 10), (0, 10)])


@settings(max_examples=8, deadline=None)
@given(st.floats(1.0, 8.0), st.integers(0, 359_999))
def test_the_narrowest_gap_is_the_slot(slot_mm: float, mdeg: int) -> None:
    """At any angle on the board, to two hundredths of a millimetre."""
    facts = shape_facts(place(comb(slot_mm), Placement(9, 9, mdeg)), tool_mm=2)

    assert facts.least_gap_mm == pytest.approx(slot_mm, abs=0.025)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.5, 4.0), st.integers(0, 359_999))
def test_the_narrowest_material_is_the_neck(neck_mm: float, mdeg: int) -> None:
    """At any angle on the board, to three hundredths of a millimetre."""
    facts = shape_facts(place(dumbbell(neck_mm), Placement(9, 9, mdeg)), tool_mm=2)

    assert facts.least_width_mm == pytest.approx(neck_mm, abs=0.03)


def test_a_slot_narrower_than_the_bit_cannot_be_cut() -> None:
    """It is named, with its place and depth; a bit as wide as the slot is not too wide."""
    facts = shape_facts(comb(1.5), tool_mm=2)

    loss = facts.what_is_lost[0]
    assert not facts.cuttable
    assert loss.kind == "slot"
    assert 5 < loss.where_mm[0] < 6.5
    assert loss.depth_mm == pytest.approx(15, abs=0.5)
    assert loss.region.area_mm2 == pytest.approx(1.5 * 14.7, abs=1.0)
    assert say(loss).startswith("slot near x 5.8 mm, y 12.")
    assert shape_facts(comb(2.0), tool_mm=2).cuttable


def test_a_hole_smaller_than_the_bit_cannot_be_cut() -> None:
    """A hanging hole of 2.5 mm wants a bit no wider."""
    tag = built_in_shape("rounded-tag", width_mm=28)

    assert shape_facts(tag, tool_mm=2).cuttable
    assert shape_facts(tag, tool_mm=2.4).what_is_lost == ()
    assert [loss.kind for loss in shape_facts(tag, tool_mm=3.175).what_is_lost] == ["slot"]
    assert shape_facts(tag, tool_mm=2).least_gap_mm == pytest.approx(2.5, abs=0.02)


def test_a_right_angled_inner_corner_stays_rounded() -> None:
    """By the square root of 2 less 1 of the bit's radius; that is told, and it can be cut."""
    facts = shape_facts(comb(8), tool_mm=3)

    assert facts.cuttable
    assert [loss.kind for loss in facts.what_is_lost] == ["inner corner", "inner corner"]
    assert facts.what_is_lost[0].depth_mm == pytest.approx(1.5 * (math.sqrt(2) - 1), abs=0.02)
    assert sum(loss.region.area_mm2 for loss in facts.what_is_lost) == pytest.approx(
        2 * (1 - math.pi / 4) * 1.5**2, rel=0.06
    )


def test_a_neck_thinner_than_the_wall_may_break() -> None:
    """It is named; a bit wider is not."""
    thin = shape_facts(dumbbell(0.8), tool_mm=2)

    assert not thin.cuttable
    assert [loss.kind for loss in thin.what_is_lost if loss.kind != "inner corner"] == ["thin part"]
    assert shape_facts(dumbbell(1.1), tool_mm=2).cuttable
    assert not shape_facts(dumbbell(1.1), tool_mm=2, least_wall_mm=2).cuttable


def test_a_sharp_tip_is_named_and_a_needle_refused() -> None:
    """A kite's tip may be blunted; a needle 12 mm long and 0.9 mm wide breaks."""
    kite = region_of_mm([(0, 0), (20, 40), (0, 60), (-20, 40)])
    needle = region_of_mm([(0, 0), (20, 0), (20, 20), (0.9, 20), (0.9, 32), (0, 32)])

    assert [loss.kind for loss in shape_facts(kite, tool_mm=2).what_is_lost] == ["point"]
    assert shape_facts(kite, tool_mm=2).cuttable
    assert "thin part" in {loss.kind for loss in shape_facts(needle, tool_mm=2).what_is_lost}


@pytest.mark.parametrize(
    "shape", [rectangle(40, 25), circle(25), built_in_shape("ring", width_mm=50)]
)
def test_a_plain_shape_loses_nothing(shape: Region) -> None:
    """Its narrowest material is 25 mm for the first two, and 12.5 mm for the ring."""
    facts = shape_facts(shape, tool_mm=3)

    assert facts.what_is_lost == ()
    assert facts.cuttable
    assert facts.least_width_mm == pytest.approx(12.5 if shape.holes else 25, abs=0.04)
    assert facts.area_mm2 == shape.area_mm2
    assert facts.size_mm == shape.size_mm


def test_shears_leave_nothing_standing() -> None:
    """With no tool width only thin material is told."""
    assert shape_facts(comb(0.5), tool_mm=0).what_is_lost == ()
