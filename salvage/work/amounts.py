"""
Exact sums of money: shares that add up, rates in parts per million, rounding half up.

Amounts are whole minor units; a rate is a whole number of millionths. Nothing here is a float. Half
a minor unit rounds away from zero, and what is shared out over several pieces sums to what was
shared, to the last cent.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

from salvage.errors import BadValue

if TYPE_CHECKING:
    from collections.abc import Sequence

ONE = 1_000_000
"""Parts per million in the whole."""

_RATE = re.compile(r"([0-9]{1,4}(?:[.,][0-9]{1,4})?)\s*(%|percent|‰|per ?mille)?")


def half_up(amount: Decimal) -> int:
    """
    The nearest whole number; a half goes away from zero.

    >>> half_up(Decimal("2.5")), half_up(Decimal("-2.5"))
    (3, -3)
    """
    return int(amount.quantize(Decimal(1), ROUND_HALF_UP))


def share_out(total: int, weights: Sequence[int]) -> list[int]:
    """
    Whole shares of a total by weight, which sum to it exactly.

    By largest remainder; of equal remainders the first is rounded up.

    Args:
        total: 0 or more.
        weights: Each 0 or more; where all are 0, the shares are equal.

    >>> share_out(100, [1, 1, 1])
    [34, 33, 33]
    """
    even = list(weights) if sum(weights) else [1] * len(weights)
    whole = sum(even)
    shares = [total * weight // whole for weight in even]
    rests = sorted(range(len(even)), key=lambda i: (-(total * even[i] % whole), i))
    for i in rests[: total - sum(shares)]:
        shares[i] += 1
    return shares


def part_of(minor: int, ppm: int) -> int:
    """
    A rate's part of an amount, rounded half up.

    >>> part_of(1850, 16_900)
    31
    """
    return half_up(Decimal(minor) * ppm / ONE)


def tax_within(gross_minor: int, ppm: int) -> int:
    """
    The tax that an amount holds which includes it, rounded half up.

    >>> tax_within(11_900, 190_000)
    1900
    """
    return half_up(Decimal(gross_minor) * ppm / (ONE + ppm))


def to_step(minor: int, step: int) -> int:
    """
    The nearest multiple of a step; half a step goes up.

    >>> to_step(1825, 50), to_step(1824, 50)
    (1850, 1800)
    """
    return half_up(Decimal(minor) / step) * step


def parse_rate(text: str, *, field: str = "", most_percent: int = 100) -> int:
    """
    A rate in parts per million from typed text; a bare number is a percentage.

    Raises:
        BadValue: If it is no rate, or above the bound.

    >>> parse_rate("8.875 %"), parse_rate("16,9 ‰")
    (88750, 16900)
    """
    match = _RATE.fullmatch(text.strip().lower())
    if not match:
        raise BadValue(f"'{text}' is no rate", hint="write such as 19 % or 16.9 ‰", field=field)
    per_mille = (match[2] or "").startswith(("‰", "per m", "perm"))
    ppm = Decimal(match[1].replace(",", ".")) * (1000 if per_mille else 10_000)
    if ppm != ppm.to_integral_value():
        raise BadValue(f"'{text}' has too many decimals", hint="four of a percent", field=field)
    if ppm > most_percent * 10_000:
        raise BadValue(f"'{text}' is out of range", hint=f"at most {most_percent} %", field=field)
    return int(ppm)


def format_rate(ppm: int) -> str:
    """
    A rate as people read it.

    >>> format_rate(88_750)
    '8.875 %'
    """
    text = f"{Decimal(ppm) / 10_000:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + " %"
