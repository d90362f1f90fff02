"""
The size rules, each in its strict reading.

Volumes are those of cylinders, pi/4 d2 h, worked by hand: 25 x 25 mm 12.27 cm3, 22 x 35 mm
13.30 cm3, 18 x 35.5 mm 9.03 cm3, 10 x 20 mm 1.57 cm3. Areas of M.2 modules are width by height of
their type number. The rules: Directive 2012/19/EU (WEEE), Annex VII point 1; 40 CFR 761.2(a)(4).
"""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue
from salvage.knowledge.form_factors import find_form_factor
from salvage.knowledge.size_rules import (
    CAPACITOR_CM3,
    PCB_DAY,
    judge_board,
    judge_capacitor,
    judge_pcb_date,
)

TODAY = date(2026, 11, 30)


def test_the_volume_of_a_cylinder_of_25_mm() -> None:
    """The third reading of the rule needs a figure; this is it."""
    assert pytest.approx(12.27, abs=0.005) == CAPACITOR_CM3


@pytest.mark.parametrize(
    ("height_mm", "diameter_mm", "flagged", "words"),
    [
        (35, 22, True, "13.30 cm³"),
        (35.5, 18, True, "height of 35.5 mm"),
        (10, 30, True, "diameter of 30 mm"),
        (25, 25, False, "12.27 cm³"),
        (25.1, 25, True, "12.32 cm³"),
        (20, 10, False, "1.57 cm³"),
        (None, 10, True, "height is not known: the strict case"),
        (20, None, True, "diameter is not known: the strict case"),
        (None, None, True, "strict case"),
    ],
)
def test_a_capacitor_is_flagged_on_either_dimension_or_volume(
    height_mm: float | None, diameter_mm: float | None, flagged: bool, words: str
) -> None:
    """The law can be read in several ways: the strictest one holds."""
    verdict = judge_capacitor(height_mm, diameter_mm)

    assert verdict.flagged is flagged
    assert words in "; ".join(verdict.reasons)
    assert "Annex VII" in verdict.source.text


@pytest.mark.parametrize("size", [(0, 10), (10, -1)])
def test_a_capacitor_without_size_is_refused(size: tuple[float, float]) -> None:
    """A slip of the fingers is no small capacitor."""
    with pytest.raises(BadValue):
        judge_capacitor(*size)


@pytest.mark.parametrize(
    ("code", "flagged"),
    [
        ("7926", True),  # 25 June to 1 July 1979
        ("7927", False),  # 2 to 8 July 1979: begins on the day itself
        ("7801", True),
        ("9843", False),
        ("", True),
        ("8049", True),  # a part number, so no date
        ("KE31", True),
    ],
)
def test_an_oil_capacitor_of_unknown_date_counts_as_pcb(code: str, flagged: bool) -> None:
    """What nobody can date is taken for the worst."""
    verdict = judge_pcb_date(code, today=TODAY)

    assert verdict.flagged is flagged
    assert PCB_DAY.isoformat() in verdict.reasons[0]
    assert "761.2(a)(4)" in verdict.source.text


@pytest.mark.parametrize(
    ("form", "flagged"), [("m2-2230", False), ("m2-2242", False), ("m2-2260", True)]
)
def test_boards_above_ten_square_centimetres_are_waste_parts(form: str, flagged: bool) -> None:
    """6.6 and 9.24 cm2 are below, 13.2 cm2 is above."""
    verdict = judge_board(find_form_factor(form).area_mm2, "drive-board")

    assert verdict.flagged is flagged


def test_a_phone_board_counts_at_any_size_and_so_does_an_unmeasured_one() -> None:
    """The law names phones apart; unknown takes the strict branch."""
    assert judge_board(50, "phone-board").flagged
    assert judge_board(None, "memory-module").flagged
    assert not judge_board(1000, "memory-module").flagged
