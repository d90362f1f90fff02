"""
Lengths, masses, money and dates: from what people type to what the program keeps.

Inside: millimetres and grams as floats for computing; whole micrometres, milligrams and minor money
units wherever a value is written to the journal, so that the record is exact.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from salvage.errors import BadValue

if TYPE_CHECKING:
    from collections.abc import Callable

UM_PER_MM = 1000
MG_PER_G = 1000

# The inch is exactly 25.4 mm and the avoirdupois pound exactly 453.59237 g
# (international yard and pound agreement, 1959; from memory).
_MM_PER = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": Decimal("25.4"),
    '"': Decimal("25.4"),
    "mil": Decimal("0.0254"),
    "thou": Decimal("0.0254"),
}
_GRAMS_PER = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "lb": Decimal("453.59237"),
    "oz": Decimal("28.349523125"),
}

# Currencies without two decimals, of those a small workshop is likely to meet (ISO 4217, from
# memory): everything else has two.
_MINOR_DIGITS = {"JPY": 0, "KRW": 0, "ISK": 0, "CLP": 0, "VND": 0, "BHD": 3, "KWD": 3, "TND": 3}

_NUMBER = re.compile(r"^\s*([+-]?[0-9]+(?:[.,][0-9]+)?|[+-]?[.,][0-9]+)\s*([a-zA-Z\"]*)\s*$")
_AMOUNT = re.compile(r"[+-]?(?:[0-9]{1,12}(?:[.,][0-9]{1,6})?|[.,][0-9]{1,6})")

# A comma before exactly three digits marks thousands in some countries and decimals in others; only
# after a lone 0 is it clear.
_TWO_WAYS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")


def _parse_quantity(
    text: str, factors: dict[str, Decimal], *, field: str, usual: str, bare: str = ""
) -> Decimal:
    """A typed number times its unit's factor; *bare* is the unit of a number that has none."""
    match = _NUMBER.match(text)
    units = ", ".join(factors)
    if not match:
        raise BadValue(
            f"'{text}' is not a number with a unit", hint=f"write such as 12.5 {usual}", field=field
        )
    unit = match[2].lower() or bare
    if not unit:
        told = " or ".join(f"'{match[1]} {name}'" for name in list(factors)[:2])
        raise BadValue(f"'{text}' has no unit", hint=f"write {told}", field=field)
    if unit not in factors:
        raise BadValue(f"'{match[2]}' is not a unit known here", hint=f"use {units}", field=field)
    return _decimal(match[1], text=text, field=field) * factors[unit]


def _decimal(number: str, *, text: str, field: str) -> Decimal:
    """The number that typed digits with a point or comma mean, if they mean only one."""
    if _TWO_WAYS.fullmatch(number):
        raise BadValue(
            f"'{text}' can be read two ways",
            hint="leave out the thousands mark and write decimals after a point",
            field=field,
        )
    return Decimal(number.replace(",", "."))


def parse_length_mm(
    text: str, *, field: str = "", least_mm: float = 0.0, most_mm: float = 2000.0
) -> float:
    """
    Length in millimetres from typed text; a bare number is millimetres.

    Args:
        text: Such as ``12.5``, ``1,6 mm``, ``0.062 in``.
        field: Label for the error.
        least_mm: The value must be greater than this.
        most_mm: The value must not be greater than this.

    Raises:
        BadValue: If the text is no length or lies outside the bounds.

    >>> parse_length_mm("0.5 in")
    12.7
    """
    value = float(_parse_quantity(text, _MM_PER, field=field, usual="mm", bare="mm"))
    if not least_mm < value <= most_mm or (least_mm >= 0 and to_um(value) == 0):
        raise BadValue(
            f"{text} is out of range", hint=f"above {least_mm:g} up to {most_mm:g} mm", field=field
        )
    return value


def parse_from_zero_mm(text: str, *, field: str = "", most_mm: float) -> float:
    """
    A length that may be nothing, such as the kerf of shears, in millimetres.

    Args:
        text: As for :func:`parse_length_mm`.
        field: Label for the error.
        most_mm: The value must not be greater than this.

    Raises:
        BadValue: If the text is no length, is negative, or lies above the bound.

    >>> parse_from_zero_mm("0", field="--kerf", most_mm=50)
    0.0
    """
    value = parse_length_mm(text, field=field, least_mm=-math.inf, most_mm=math.inf)
    if not 0 <= value <= most_mm:
        hint = f"0 or more, up to {most_mm:g} mm"
        raise BadValue(f"{text} is out of range", hint=hint, field=field)
    return value


def parse_mass_g(text: str, *, field: str = "") -> float:
    """
    Mass in grams from typed text.

    A bare number is refused: donors' boxes are weighed in kilograms and pieces in grams, and a slip
    by a factor of a thousand would go unseen.

    Raises:
        BadValue: If the text is no mass, has no unit, is zero, negative or above ten tonnes.

    >>> parse_mass_g("1.2 kg")
    1200.0
    """
    value = float(_parse_quantity(text, _GRAMS_PER, field=field, usual="g"))
    if not 0 < value <= 1e7 or to_mg(value) == 0:
        raise BadValue(f"{text} is out of range", hint="above 0 g up to 10 000 kg", field=field)
    return value


def to_um(mm: float) -> int:
    """
    Whole micrometres nearest to *mm*.

    >>> to_um(1.57)
    1570
    """
    return round(mm * UM_PER_MM)


def from_um(um: int) -> float:
    """Millimetres of a whole number of micrometres."""
    return um / UM_PER_MM


def to_mg(grams: float) -> int:
    """Whole milligrams nearest to *grams*."""
    return round(grams * MG_PER_G)


def format_mm(mm: float) -> str:
    """
    A length as people read it.

    >>> format_mm(12.5)
    '12.5 mm'
    """
    return f"{mm:.2f}".rstrip("0").rstrip(".") + " mm"


def format_area(mm2: float) -> str:
    """
    An area as people read it, in whole square millimetres.

    >>> format_area(74420.4)
    '74 420 mm²'
    """
    return f"{mm2:,.0f}".replace(",", " ") + " mm²"


def format_mass(grams: float) -> str:
    """
    A mass as people read it.

    >>> format_mass(12400)
    '12.4 kg'
    """
    if grams >= 1000:
        return f"{grams / 1000:.2f}".rstrip("0").rstrip(".") + " kg"
    return f"{grams:.1f}".rstrip("0").rstrip(".") + " g"


def minor_digits(currency: str) -> int:
    """Decimal places of a currency."""
    return _MINOR_DIGITS.get(currency, 2)


def parse_currency(text: str, *, field: str = "") -> str:
    """
    A currency code of three letters, in capitals.

    Raises:
        BadValue: If the text is anything else.
    """
    tidy = text.strip().upper()
    if not re.fullmatch(r"[A-Z]{3}", tidy):
        raise BadValue(
            f"'{text}' is not a currency code", hint="three letters such as EUR", field=field
        )
    return tidy


def parse_country(text: str, *, field: str = "") -> str:
    """
    A country's code of two letters, in capitals (ISO 3166-1 alpha-2; its form, not its list).

    Raises:
        BadValue: If the text is anything else.

    >>> parse_country("ie")
    'IE'
    """
    tidy = text.strip().upper()
    if not re.fullmatch(r"[A-Z]{2}", tidy):
        raise BadValue(
            f"'{text}' is not a country code", hint="two letters such as IE", field=field
        )
    return tidy


def parse_money(text: str, *, currency: str, field: str = "") -> int:
    """
    Minor units (cents) of an amount in *currency*.

    Args:
        text: Such as ``18``, ``18.50`` or ``18,50``; a currency code may stand before or after.
        currency: The workshop's currency.
        field: Label for the error.

    Raises:
        BadValue: If the text is no amount, has too many decimals, is negative, or names another
            currency.

    >>> parse_money("18,50", currency="EUR")
    1850
    """
    tidy = text.strip().upper()
    bare = tidy.removeprefix(currency).removesuffix(currency).strip()
    if not _AMOUNT.fullmatch(bare):
        raise BadValue(
            f"'{text}' is not an amount in {currency}", hint="write such as 18.50", field=field
        )
    minor = _decimal(bare, text=text, field=field).scaleb(minor_digits(currency))
    if minor != minor.to_integral_value():
        raise BadValue(f"'{text}' has too many decimals for {currency}", field=field)
    if not 0 <= minor <= 10**12:
        most = format_money(10**12, currency)
        raise BadValue(f"'{text}' is out of range", hint=f"0 or more, up to {most}", field=field)
    return int(minor)


def format_money(minor: int, currency: str) -> str:
    """
    An amount as people read it.

    >>> format_money(1850, "EUR")
    '18.50 EUR'
    """
    digits = minor_digits(currency)
    return f"{Decimal(minor).scaleb(-digits):.{digits}f} {currency}"


def parse_thousandths(text: str, *, field: str = "") -> tuple[int, str]:
    """
    An amount in whole thousandths, and its unit as typed; zero and nothing for an empty text.

    Args:
        text: Such as ``250ml``, ``0.5 g`` or ``100``.
        field: Label for the error.

    Raises:
        BadValue: If it is no amount above zero, or finer than thousandths.

    >>> parse_thousandths("0.25 ml")
    (250, 'ml')
    """
    if not text.strip():
        return 0, ""
    match = _NUMBER.match(text)
    if not match:
        raise BadValue(f"'{text}' is not an amount", hint="write such as 250ml", field=field)
    thousandths = _decimal(match[1], text=text, field=field) * 1000
    if thousandths <= 0 or thousandths != int(thousandths) or thousandths > 10**12:
        hint = "write such as 250ml or 0.5, at most three decimals"
        raise BadValue(f"'{text}' is not an amount above zero", hint=hint, field=field)
    return int(thousandths), match[2]


def format_thousandths(thousandths: int) -> str:
    """
    An amount as people read it.

    >>> format_thousandths(1500)
    '1.5'
    """
    return f"{Decimal(thousandths) / 1000:f}"


class ClockDay(date):
    """The day that the computer's clock tells, which may have been set back."""

    newest: Callable[[], date] | None = None
    """Gives the newest day on record, where there is a record."""


def has_come(day: date, today: date) -> bool:
    """
    Whether a day is not in the future: by the clock, or because the record has come as far.

    Args:
        day: Any.
        today: The workshop's date now.

    >>> has_come(date(2026, 5, 5), date(2026, 5, 4))
    False
    """
    newest = today.newest if isinstance(today, ClockDay) else None
    return day <= today or (newest is not None and day <= newest())


def parse_date(text: str, *, today: date, field: str = "") -> date:
    """
    A calendar date, not in the future.

    Args:
        text: ``2026-05-04`` (ISO 8601) or ``today``.
        today: The workshop's date now.
        field: Label for the error.

    Raises:
        BadValue: If the text is no date, lies before 1950, or has not come.
    """
    tidy = text.strip()
    if tidy.lower() == "today":
        return today
    try:
        value = date.fromisoformat(tidy)
    except ValueError:
        raise BadValue(
            f"'{text}' is not a date", hint="write year-month-day, such as 2026-05-04", field=field
        ) from None
    if not has_come(value, today):
        raise BadValue(
            f"{value} is in the future", hint=f"today is {today}; give the real day", field=field
        )
    if value.year < 1950:
        raise BadValue(f"{value} is too long ago", hint="from 1950 on", field=field)
    return value


def format_instant(moment: datetime) -> str:
    """An instant as UTC text in ISO 8601 with milliseconds, as the journal keeps it."""
    utc = moment.astimezone(UTC)
    return f"{utc:%Y-%m-%dT%H:%M:%S}.{utc.microsecond // 1000:03d}Z"
