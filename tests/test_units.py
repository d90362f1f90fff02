"""
Lengths, masses, money and dates as people type and read them.

Exact factors: inch, mil, pound and ounce of the international yard and pound agreement of 1959, as
tabulated in NIST SP 811 appendix B.8 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.units import (
    format_area,
    format_instant,
    format_mass,
    format_mm,
    format_money,
    from_um,
    minor_digits,
    parse_currency,
    parse_date,
    parse_length_mm,
    parse_mass_g,
    parse_money,
    to_mg,
    to_um,
)

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1 in", 25.4),
        ('1"', 25.4),
        ("0.062 in", 1.5748),
        ("62 mil", 1.5748),
        ("62 thou", 1.5748),
        ("12.5", 12.5),
        ("1,6 mm", 1.6),
        (" 2.54CM ", 25.4),
        ("1.2 m", 1200.0),
        (".5", 0.5),
        ("0,062", 0.062),
        ("+3", 3.0),
    ],
)
def test_lengths_are_read_as_they_are_typed(text: str, mm: float) -> None:
    """A maker may type inches, thou, centimetres or bare millimetres, point or comma."""
    assert parse_length_mm(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "wide", "12.5 ells", "1.2.3", "--3", "5 mm 3", "1e3", "nan", "inf", "٣"]
)
def test_what_is_no_length_is_refused(text: str) -> None:
    """A word in the width field is refused with an example."""
    with pytest.raises(BadValue) as caught:
        parse_length_mm(text, field="width")

    assert caught.value.field == "width"
    assert caught.value.hint


@pytest.mark.parametrize("text", ["1,234 mm", "12,000", "-1,500 g", "999,999"])
def test_a_comma_before_three_digits_is_asked_about(text: str) -> None:
    """1,234 is a little over one millimetre to some and over a metre to others."""
    with pytest.raises(BadValue, match="two ways"):
        parse_mass_g(text) if text.endswith("g") else parse_length_mm(text)


@pytest.mark.parametrize("text", ["0", "-1", "2000.1", "9" * 400])
def test_a_length_outside_the_bounds_is_refused(text: str) -> None:
    """A board is wider than nothing and narrower than two metres."""
    with pytest.raises(BadValue, match="out of range"):
        parse_length_mm(text)


def test_the_upper_bound_belongs_to_the_range() -> None:
    """A value at the upper bound is taken, one at the lower bound is not."""
    assert parse_length_mm("2000") == 2000.0
    with pytest.raises(BadValue):
        parse_length_mm("5", least_mm=5)


@pytest.mark.parametrize(
    ("text", "grams"),
    [("1.2 kg", 1200.0), ("500g", 500.0), ("1 lb", 453.59237), ("1 oz", 28.349523125)],
)
def test_masses_are_read_as_they_are_typed(text: str, grams: float) -> None:
    """A drop-off is weighed on whatever scale stands in the hall."""
    assert parse_mass_g(text) == pytest.approx(grams, abs=1e-9)


@pytest.mark.parametrize("text", ["4", "6,2", "-3", "0"])
def test_a_mass_without_its_unit_is_asked_about(text: str) -> None:
    """A box of 4 and a piece of 4 are not the same: a factor of a thousand is not guessed."""
    with pytest.raises(BadValue, match="has no unit") as caught:
        parse_mass_g(text, field="--weight")

    assert caught.value.hint == f"write '{text} g' or '{text} kg'"


@pytest.mark.parametrize("text", ["0 g", "-3 g", "10000.1 kg", "heavy", "3 stone"])
def test_what_is_no_mass_is_refused(text: str) -> None:
    """Nothing weighs nothing, and no drop-off weighs ten tonnes."""
    with pytest.raises(BadValue):
        parse_mass_g(text)


@given(st.integers(min_value=-(10**9), max_value=10**9))
def test_whole_micrometres_survive_the_way_through_millimetres(um: int) -> None:
    """What the journal keeps in micrometres comes back as the same number."""
    assert to_um(from_um(um)) == um


@given(st.integers(min_value=1, max_value=200_000))
def test_a_printed_length_is_read_back(hundredths: int) -> None:
    """A length copied from a screen into a form is the same length."""
    mm = hundredths / 100

    assert parse_length_mm(format_mm(mm)) == pytest.approx(mm, abs=1e-9)


def test_milligrams_are_whole() -> None:
    """A mass is journalled in whole milligrams."""
    assert to_mg(1.9624) == 1962


@pytest.mark.parametrize(
    ("mm", "text"), [(12.5, "12.5 mm"), (100.0, "100 mm"), (1.574, "1.57 mm"), (0.0, "0 mm")]
)
def test_lengths_are_printed_short(mm: float, text: str) -> None:
    """A label shows no zeros that say nothing."""
    assert format_mm(mm) == text


def test_areas_and_masses_are_printed_for_people() -> None:
    """Thousands stand apart, and heavy things are told in kilograms."""
    assert format_area(74420.4) == "74 420 mm²"
    assert format_mass(12400) == "12.4 kg"
    assert format_mass(1.96) == "2 g"
    assert format_mass(243.4) == "243.4 g"


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("18", "EUR", 1800),
        ("18.50", "EUR", 1850),
        ("18,5", "EUR", 1850),
        ("EUR 18.50", "EUR", 1850),
        ("18.50 eur", "EUR", 1850),
        ("0", "EUR", 0),
        (".50", "EUR", 50),
        ("1200", "JPY", 1200),
        ("1.250", "KWD", 1250),
    ],
)
def test_amounts_become_whole_minor_units(text: str, currency: str, minor: int) -> None:
    """A price is kept in cents, yen or fils: never as a fraction (ISO 4217, from memory)."""
    assert parse_money(text, currency=currency) == minor


@pytest.mark.parametrize(
    "text",
    [
        "",
        "free",
        "18 USD",
        "18.505",
        "1.5.0",
        "-1",
        "+-5",
        "1e3",
        "1_000",
        "nan",
        "sNaN",
        "Infinity",
        "1e999999",
        "1EUR8",
        "１８",
        "1,234",
        "99999999999999",
    ],
)
def test_what_is_no_amount_is_refused(text: str) -> None:
    """Another currency, a third decimal or a computer's number is not taken for a price."""
    with pytest.raises(BadValue) as caught:
        parse_money(text, currency="EUR", field="price")

    assert caught.value.field == "price"


def test_dinars_with_a_comma_are_asked_about() -> None:
    """1,250 KWD is one dinar and a quarter, or twelve hundred and fifty."""
    with pytest.raises(BadValue, match="two ways"):
        parse_money("1,250", currency="KWD")


@given(st.integers(min_value=0, max_value=10**9), st.sampled_from(["EUR", "USD", "JPY", "KWD"]))
def test_a_printed_amount_is_read_back(minor: int, currency: str) -> None:
    """An amount copied from a report into a form is the same amount."""
    assert parse_money(format_money(minor, currency), currency=currency) == minor


def test_a_currency_is_three_letters() -> None:
    """A workshop names its currency by its code."""
    assert parse_currency(" eur ") == "EUR"
    assert minor_digits("EUR") == 2
    assert minor_digits("ISK") == 0
    with pytest.raises(BadValue):
        parse_currency("euro")


def test_dates_are_read_in_iso_form() -> None:
    """A drop-off is dated year, month, day, or simply today (ISO 8601)."""
    assert parse_date("2026-05-04", today=TODAY) == date(2026, 5, 4)
    assert parse_date(" Today ", today=TODAY) == TODAY
    assert parse_date("2026-11-25", today=TODAY) == TODAY


@pytest.mark.parametrize("text", ["2026-11-26", "1949-12-31", "04.05.2026", "2026-02-30", ""])
def test_dates_that_cannot_be_are_refused(text: str) -> None:
    """Nothing arrived tomorrow, before 1950, or on a thirtieth of February."""
    with pytest.raises(BadValue):
        parse_date(text, today=TODAY)


def test_instants_are_utc_with_milliseconds() -> None:
    """The journal keeps one clock, whatever the workshop's wall shows."""
    wall = datetime(2026, 5, 4, 14, 30, 5, 678_912, tzinfo=timezone(timedelta(hours=2)))

    assert format_instant(wall) == "2026-05-04T12:30:05.678Z"
    assert format_instant(datetime(2026, 1, 1, tzinfo=UTC)) == "2026-01-01T00:00:00.000Z"


@pytest.mark.parametrize(
    ("parse", "text"), [(parse_length_mm, "0.0001"), (parse_mass_g, "0.0001 g")]
)
def test_what_the_record_would_round_to_nothing_is_refused(
    parse: Callable[[str], float], text: str
) -> None:
    """Less than half a micrometre or half a milligram is a slip, not a measure."""
    with pytest.raises(BadValue, match="out of range"):
        parse(text)
