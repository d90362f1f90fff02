"""Amounts in their units: read as reports give them, converted without rounding."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.knowledge.amounts import AMOUNT_UNITS, Amount, parse_amount


@pytest.mark.parametrize(
    ("text", "exact"),
    [
        # REACH Annex XVII entry 63: 0.05 % by weight is 500 mg/kg, as the customs laboratory of
        # Finland (tulli.fi) and test houses quote both.
        ("0.05 %", Fraction(500)),
        ("0.05% w/w", Fraction(500)),
        ("500 mg/kg", Fraction(500)),
        ("500 ppm", Fraction(500)),
        # Entry 23 (10): 0.01 % by weight of cadmium is 100 mg/kg.
        ("0,01 %", Fraction(100)),
        # CPSIA section 101 (15 USC 1278a): 100 parts per million; 16 CFR 1303: 0.009 % is 90 ppm.
        ("100 ug/g", Fraction(100)),
        ("0.009 %", Fraction(90)),
        ("0.1 g/kg", Fraction(100)),
        ("90000 µg/kg", Fraction(90)),
        # ASTM F2999-19, section 5, as summarised at qima.com: 6.0 % and 1.5 %.
        ("6.0 %", Fraction(60_000)),
    ],
)
def test_shares_by_mass(text: str, exact: Fraction) -> None:
    """One limit written in two documents in two units is one limit."""
    assert parse_amount(text).exact == exact


@pytest.mark.parametrize(
    ("text", "quantity", "exact"),
    [
        ("0.5 µg/cm²/week", "release", Fraction(1, 2)),  # entry 27, 1(b)
        ("0.2 ug/cm2/wk", "release", Fraction(1, 5)),  # entry 27, 1(a)
        ("5 mg/m2/week", "release", Fraction(1, 2)),  # 1 m2 is 10 000 cm2
        ("0.05 ug/cm2/h", "release", Fraction(42, 5)),  # entry 63 (8); 168 hours
        ("1 ug/cm2/day", "release", Fraction(7)),
        ("10 ug/ft2", "wipe", Fraction(1000) / Fraction(9290304, 10_000)),  # foot 0.3048 m
        ("10 ug/dm2", "wipe", Fraction(10)),
    ],
)
def test_releases_and_wipes(text: str, quantity: str, exact: Fraction) -> None:
    """What comes off in a week, and what rubs off a surface, by their definitions."""
    amount = parse_amount(text)

    assert (amount.quantity, amount.exact) == (quantity, exact)


def test_solder_against_the_limits() -> None:
    """Sn63Pb37 holds 37 % lead: 740 times the jewellery limit, 3 700 times the children's."""
    solder = parse_amount("37 %").exact

    assert solder / parse_amount("0.05 %").exact == 740
    assert solder / parse_amount("100 ppm").exact == 3700


@given(st.decimals(0, 10**6, places=4), st.sampled_from(AMOUNT_UNITS))
def test_what_is_written_is_read_back(figure: object, unit: str) -> None:
    """Any figure in any unit comes back as it was."""
    amount = Amount(str(figure), unit)

    assert parse_amount(str(amount.figure) + " " + unit) == amount


def test_below_stays_below() -> None:
    """'Less than' is not the same as the figure."""
    assert parse_amount("<10 ppm").is_below
    assert not parse_amount("10 ppm").is_below
    assert str(parse_amount("< 10 ppm")) == "below 10 ppm"


@pytest.mark.parametrize("text", ["", "12", "ppm", "-3 ppm", "1e3 ppm", "12 stones", "1..2 ppm"])
def test_what_is_no_amount_is_refused(text: str) -> None:
    """A figure without a unit is no result."""
    with pytest.raises(BadValue, match="no amount that we can read"):
        parse_amount(text, field="--value")
