"""Laws of money: shares add up, rounding is half up, rates come back as they were typed."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from salvage.work.amounts import (
    format_rate,
    parse_rate,
    part_of,
    share_out,
    tax_within,
    to_step,
)
from salvage.work.slips import Discount, PricedLine, SaleItem, price_lines

amounts = st.integers(0, 10**9)
weights = st.lists(st.integers(0, 10**7), min_size=1, max_size=40)


@given(amounts, weights)
def test_shares_sum_to_the_whole(total: int, parts: list[int]) -> None:
    """Whatever is shared out over pieces is given away to the last cent, and no cent twice."""
    shares = share_out(total, parts)

    assert sum(shares) == total


@given(amounts, weights)
def test_no_share_is_a_cent_off_its_fair_part(total: int, parts: list[int]) -> None:
    """Each piece carries its fair part of a discount, rounded down or up."""
    whole = sum(parts) or len(parts)
    even = parts if sum(parts) else [1] * len(parts)

    for share, part in zip(share_out(total, parts), even, strict=True):
        assert abs(share - Fraction(total * part, whole)) < 1


@given(st.lists(st.integers(0, 50_000), min_size=1, max_size=20), st.integers(0, 1_000_000))
def test_a_discount_over_pieces_sums_exactly(prices: list[int], ppm: int) -> None:
    """Ten per cent off three pieces is, over the pieces, what it is on the whole."""
    lines = [PricedLine(SaleItem(), "tern", "EUR", price, price) for price in prices]
    paid = price_lines(lines, Discount(ppm=ppm))
    off = sum(line.list_minor - line.paid_minor for line in paid)

    assert off == part_of(sum(prices), ppm)
    assert all(0 <= line.paid_minor <= line.list_minor for line in paid)


@given(amounts, st.integers(0, 1_000_000))
def test_tax_is_within_half_a_cent_of_the_true_part(gross: int, ppm: int) -> None:
    """What a price holds of tax, against exact fractions."""
    exact = Fraction(gross * ppm, 1_000_000 + ppm)

    assert abs(tax_within(gross, ppm) - exact) <= Fraction(1, 2)
    assert 2 * (tax_within(gross, ppm) - exact) != -1  # a half goes up


@given(amounts, st.integers(1, 10_000))
def test_a_suggested_price_is_the_nearest_step(minor: int, step: int) -> None:
    """Rounded to 0.50, a price is a multiple of it, and none lies nearer."""
    rounded = to_step(minor, step)

    assert rounded % step == 0
    assert 2 * abs(rounded - minor) <= step


@given(st.integers(0, 1_000_000))
def test_a_rate_reads_as_it_is_written(ppm: int) -> None:
    """What the settings show can be typed again."""
    shown = parse_rate(format_rate(ppm))

    assert shown == ppm


@given(amounts, st.integers(0, 1_000_000))
def test_rounding_is_that_of_the_decimal_library(minor: int, ppm: int) -> None:
    """Python's own decimal arithmetic, ROUND_HALF_UP, is the reference."""
    expected = (Decimal(minor) * Decimal(ppm).scaleb(-6)).to_integral_value(ROUND_HALF_UP)

    assert part_of(minor, ppm) == expected
