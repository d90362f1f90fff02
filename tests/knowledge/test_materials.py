"""
Mass and dust estimates against figures worked out outside this project (computed).

Stack: 1.57 mm FR-4 at 1.85 g/cm³ with two layers of one-ounce copper, 60 % of each left.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadValue, NotFound
from salvage.knowledge.materials import (
    areal_mass_g_per_mm2,
    dust_mass_g,
    estimated_mass_g,
    find_material_fact,
    kerfs,
    kerfs_for,
    material_facts,
    standard_thicknesses_mm,
)
from salvage.records.choices import TOOLS

THICKNESS_MM = 1.57
lengths = st.floats(min_value=0, max_value=1000)


def test_one_ounce_of_copper_is_305_grams_a_square_metre() -> None:
    """An ounce spread over a square foot, both exact by definition."""
    areal = 28.349523125 / 0.09290304

    assert find_material_fact("copper-1oz").value == pytest.approx(areal, abs=0.005)


def test_bare_laminate_weighs_2_9_kilograms_a_square_metre() -> None:
    """1.57 mm at 1.85 g/cm³."""
    without_copper = areal_mass_g_per_mm2(THICKNESS_MM, copper_layers=0) * 1e6

    assert without_copper == pytest.approx(2904.5, abs=0.05)
    assert find_material_fact("fr4-areal").value == pytest.approx(without_copper, abs=0.05)


@pytest.mark.parametrize(
    ("copper_cover", "kg_per_m2"), [(None, 3.27), (0.6, 3.27), (1.0, 3.51), (0.0, 2.90)]
)
def test_copper_adds_its_share(copper_cover: float | None, kg_per_m2: float) -> None:
    """Two layers at 60 % cover, the whole, or none."""
    areal = areal_mass_g_per_mm2(THICKNESS_MM, copper_cover=copper_cover) * 1000

    assert areal == pytest.approx(kg_per_m2, abs=0.006)


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "grams"),
    [(305, 244, 243.4), (244, 244, 195), (170, 170, 95), (30, 20, 1.96)],
)
def test_estimates_of_bare_boards(width_mm: float, height_mm: float, grams: float) -> None:
    """ATX, microATX and Mini-ITX boards, and a piece of six square centimetres."""
    estimate = estimated_mass_g(width_mm * height_mm, THICKNESS_MM)

    assert estimate == pytest.approx(grams, abs=0.5 if grams == round(grams) else 0.05)


def test_dust_of_a_straight_cut() -> None:
    """100 mm with a 2 mm bit is 314 mm³, that is 0.58 g of dust."""
    assert dust_mass_g(100, 2.0, THICKNESS_MM) == pytest.approx(0.581, abs=0.0005)


def test_dust_of_a_cut_all_round() -> None:
    """A rectangle of 40 by 25 mm cut all round with 2 mm turns 272.6 mm² into 0.79 g of dust."""
    ring_mm2 = 130 * 2.0 + math.pi * 2.0**2
    dust = dust_mass_g(ring_mm2 / 2.0, 2.0, THICKNESS_MM)

    assert ring_mm2 == pytest.approx(272.57, abs=0.01)
    assert dust == pytest.approx(0.79, abs=0.005)


def test_dust_of_shears_is_none() -> None:
    """Shears take no stock away."""
    (shears,) = kerfs_for("shears")

    assert shears.usual_mm == 0
    assert dust_mass_g(500, shears.usual_mm, THICKNESS_MM) == 0


@pytest.mark.parametrize(
    ("kerf_mm", "consumed_mm2"),
    [(0.8, 1106.0), (1.0, 1133.1), (1.6, 1216.0), (2.0, 1272.6), (2.4, 1330.1), (3.175, 1444.4)],
)
def test_every_bit_of_the_kerf_table_is_in_the_list(kerf_mm: float, consumed_mm2: float) -> None:
    """What a 40 by 25 mm piece consumes, cut all round with each router bit we list."""
    bits = {kerf.usual_mm for kerf in kerfs_for("router")}

    assert kerf_mm in bits
    assert 1000 + 130 * kerf_mm + math.pi * kerf_mm**2 == pytest.approx(consumed_mm2, abs=0.05)


@given(lengths, lengths)
def test_masses_of_parts_add_up(first_mm2: float, second_mm2: float) -> None:
    """Two pieces weigh what they weighed as one."""
    together = estimated_mass_g(first_mm2 + second_mm2, THICKNESS_MM)
    apart = estimated_mass_g(first_mm2, THICKNESS_MM) + estimated_mass_g(second_mm2, THICKNESS_MM)

    assert together == pytest.approx(apart, rel=1e-12, abs=1e-12)


@given(lengths, st.floats(min_value=0, max_value=4))
def test_dust_grows_with_length(length_mm: float, kerf_mm: float) -> None:
    """Twice the cut, twice the dust."""
    once = dust_mass_g(length_mm, kerf_mm, THICKNESS_MM)

    assert dust_mass_g(2 * length_mm, kerf_mm, THICKNESS_MM) == pytest.approx(2 * once)


def test_negative_sizes_are_refused() -> None:
    """There is no piece of less than nothing, and no layer more than full."""
    with pytest.raises(BadValue):
        estimated_mass_g(-1, THICKNESS_MM)
    with pytest.raises(BadValue):
        dust_mass_g(10, -0.1, THICKNESS_MM)
    with pytest.raises(BadValue):
        areal_mass_g_per_mm2(-1)
    with pytest.raises(BadValue):
        areal_mass_g_per_mm2(1, copper_cover=1.1)


def test_the_kerf_table_serves_the_tools_that_cuts_are_recorded_with() -> None:
    """Router, shears and saw each have a kerf to start from, and its range holds it."""
    assert {kerf.tool for kerf in kerfs()} == set(TOOLS)
    assert all(kerf.least_mm <= kerf.usual_mm <= kerf.most_mm for kerf in kerfs())
    assert kerfs_for("laser") == ()


def test_the_usual_thickness_is_among_the_standard_ones() -> None:
    """0.062 in: microATX Motherboard Interface Specification 1.2, Figure 4 note."""
    thicknesses = standard_thicknesses_mm()

    assert thicknesses == tuple(sorted(thicknesses))
    assert set(thicknesses) >= {0.8, 1.57, 3.2}
    assert find_material_fact("fr4-thickness").value == pytest.approx(0.062 * 25.4, abs=0.005)


def test_lead_in_old_solder_is_740_times_the_jewellery_limit() -> None:
    """37 % against 0.05 %."""
    assert find_material_fact("sn63pb37-lead").value / 0.05 == pytest.approx(740)


def test_every_figure_has_a_unit_and_a_source() -> None:
    """A number without a unit is no fact."""
    assert all(fact.unit and fact.name and fact.source.text for fact in material_facts())


def test_an_unknown_figure_is_refused() -> None:
    """A misspelt name is answered with the nearest."""
    with pytest.raises(NotFound) as caught:
        find_material_fact("fr4-densty")

    assert caught.value.nearest[0] == "fr4-density"
