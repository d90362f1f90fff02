"""
Nominal outlines and holes against published figures.

Outlines: microATX Motherboard Interface Specification 1.2, Table 3; Mini-ITX Addendum 1.1, Table 1;
ISO/IEC 7810 for the ID-1 card. How each was obtained stands in tests/vectors/SOURCES.md.
"""

from __future__ import annotations

import math

import pytest

from salvage.errors import NotFound
from salvage.knowledge.form_factors import (
    FORM_FACTOR_KINDS,
    Hole,
    find_form_factor,
    form_factors,
)

WITH_HOLES = [form.slug for form in form_factors() if form.holes]


def pitch_mm(left: Hole, right: Hole) -> float:
    """Distance between the centres of two holes."""
    return math.hypot(right.x_mm - left.x_mm, right.y_mm - left.y_mm)


@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm", "confidence"),
    [
        ("ATX", 305, 244, "read-primary"),
        ("microATX", 244, 244, "read-primary"),
        ("Mini-ITX", 170, 170, "read-primary"),
        ("ID-1", 85.60, 53.98, "read-secondary"),
        ("A4", 210, 297, "read-secondary"),
    ],
)
def test_published_outlines(name: str, width_mm: float, height_mm: float, confidence: str) -> None:
    """The nominal sizes are those of the published tables."""
    form = find_form_factor(name)

    assert (form.width_mm, form.height_mm) == (width_mm, height_mm)
    assert form.source.confidence == confidence


def test_the_corner_of_a_card_lies_in_the_published_range() -> None:
    """ISO/IEC 7810 allows 2.88 to 3.48 mm at the corners of an ID-1 card."""
    radius_mm = find_form_factor("ID-1").corner_radius_mm

    assert radius_mm is not None
    assert 2.88 <= radius_mm <= 3.48
    assert find_form_factor("ATX").corner_radius_mm is None


@pytest.mark.parametrize(
    ("name", "cm2"),
    [
        ("M.2 2230", 6.6),
        ("M.2 2242", 9.24),
        ("M.2 2260", 13.2),
        ("M.2 2280", 17.6),
        ("ATX", 744.2),
    ],
)
def test_areas(name: str, cm2: float) -> None:
    """Areas of one face, computed outside this project; 10 cm² divides waste boards in the EU."""
    assert find_form_factor(name).area_mm2 / 100 == pytest.approx(cm2, abs=1e-9)


@pytest.mark.parametrize("slug", ["atx", "microatx", "mini-itx"])
def test_the_pitch_of_holes_h_and_j(slug: str) -> None:
    """H and J are 157.48 mm (6.2 in) apart on every board of the family: a scale for photos."""
    form = find_form_factor(slug)

    assert pitch_mm(form.hole("H"), form.hole("J")) == pytest.approx(157.48, abs=1e-9)
    assert pitch_mm(form.hole("H"), form.hole("J")) == pytest.approx(6.2 * 25.4, abs=1e-9)


def test_the_holes_of_smaller_boards_are_those_of_the_larger() -> None:
    """C, F, H and J keep their pattern from ATX to Mini-ITX, so one case takes all."""
    atx, itx = find_form_factor("atx"), find_form_factor("mini-itx")
    for label in "FHJ":
        assert pitch_mm(itx.hole("C"), itx.hole(label)) == pytest.approx(
            pitch_mm(atx.hole("C"), atx.hole(label)), abs=1e-6
        )


def test_holes_stand_in_board_coordinates() -> None:
    """Hole C lies 10.16 mm below the rear edge, so near the top of an upright board."""
    hole = find_form_factor("mini-itx").hole("C")

    assert (hole.x_mm, hole.y_mm) == (6.35, 159.84)


@pytest.mark.parametrize("slug", WITH_HOLES)
def test_every_hole_lies_inside_its_board(slug: str) -> None:
    """No hole reaches over the edge, and each says how it is known."""
    form = find_form_factor(slug)

    assert form.holes_source is not None
    assert form.holes_source.confidence == "read-code"
    for hole in form.holes:
        assert hole.diameter_mm / 2 < hole.x_mm < form.width_mm - hole.diameter_mm / 2
        assert hole.diameter_mm / 2 < hole.y_mm < form.height_mm - hole.diameter_mm / 2


def test_only_the_motherboards_have_holes() -> None:
    """Holes are known for three boards and guessed for none."""
    assert WITH_HOLES == ["atx", "microatx", "mini-itx"]
    assert find_form_factor("A6").holes_source is None


def test_every_outline_is_definite() -> None:
    """A size that is only a range is left out."""
    for form in form_factors():
        assert form.width_mm > 0
        assert form.height_mm > 0
        assert form.kind in FORM_FACTOR_KINDS
        assert form.source.text


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("Micro ATX", "microatx"),
        ("mATX", "microatx"),
        ("mini itx", "mini-itx"),
        ("credit card", "id-1"),
        ("a4", "a4"),
        ("m.2 2280", "m2-2280"),
        ("M2-2280", "m2-2280"),
    ],
)
def test_form_factors_are_found_by_what_people_type(text: str, slug: str) -> None:
    """Any case, with or without hyphens, or a common short name."""
    assert find_form_factor(text).slug == slug


def test_a_mistyped_form_factor_is_answered_with_the_nearest() -> None:
    """A slip gets a suggestion, and the field is named."""
    with pytest.raises(NotFound) as caught:
        find_form_factor("mini-itz", field="form factor")

    assert caught.value.nearest[0] == "mini-itx"
    assert caught.value.field == "form factor"


def test_a_hole_that_is_not_there_is_refused() -> None:
    """Mini-ITX has no hole A."""
    with pytest.raises(NotFound, match="no hole A"):
        find_form_factor("mini-itx").hole("A")
