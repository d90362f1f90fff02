"""
Amounts that a test of a material gives, converted exactly: no figure is ever rounded.

A share by mass is one thing in many units; a release from a surface in a time, and a wipe of a
surface, are other things, and none is compared with another.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from salvage.errors import BadValue
from salvage.frozen import dataclass

_WEEK_HOURS = 168
_FOOT_CM = Fraction(3048, 100)  # the international foot of 1959 is 0.3048 m exactly

# Unit -> what it measures, and how many of the base unit one is. Bases: parts in a million by mass;
# micrograms a square centimetre and week; micrograms on 100 square centimetres.
_UNITS: dict[str, tuple[str, Fraction]] = {
    "ppm": ("share", Fraction(1)),
    "mg/kg": ("share", Fraction(1)),
    "ug/g": ("share", Fraction(1)),
    "%": ("share", Fraction(10_000)),
    "% w/w": ("share", Fraction(10_000)),
    "g/kg": ("share", Fraction(1000)),
    "ppb": ("share", Fraction(1, 1000)),
    "ug/kg": ("share", Fraction(1, 1000)),
    "ug/cm2/week": ("release", Fraction(1)),
    "ng/cm2/week": ("release", Fraction(1, 1000)),
    "mg/m2/week": ("release", Fraction(1, 10)),
    "ug/cm2/day": ("release", Fraction(7)),
    "ug/cm2/h": ("release", Fraction(_WEEK_HOURS)),
    "ug/100cm2": ("wipe", Fraction(1)),
    "ug/dm2": ("wipe", Fraction(1)),
    "ug/cm2": ("wipe", Fraction(100)),
    "mg/m2": ("wipe", Fraction(10)),
    "ug/ft2": ("wipe", 100 / _FOOT_CM**2),
}

AMOUNT_UNITS = tuple(_UNITS)
"""Units that are read."""

_SPELLINGS = {"µ": "u", "μ": "u", "²": "2", "wk": "week", "hour": "h", "d": "day"}
_AMOUNT = re.compile(r"(<)?\s*([0-9]+(?:[.,][0-9]+)?)\s*(\D.*)")


@dataclass(frozen=True, slots=True)
class Amount:
    """
    A figure with its unit, as it was reported.

    Args:
        figure: The number as text, with a point.
        unit: One of :data:`AMOUNT_UNITS`.
        is_below: True where the report says less than this, which is then the detection limit.
    """

    figure: str
    unit: str
    is_below: bool = False

    @property
    def quantity(self) -> str:
        """What it measures: ``share``, ``release`` or ``wipe``."""
        return _UNITS[self.unit][0]

    @property
    def exact(self) -> Fraction:
        """
        The figure in the base unit of its quantity, exactly.

        >>> Amount("0.05", "% w/w").exact
        Fraction(500, 1)
        >>> Amount("0.05", "ug/cm2/h").exact
        Fraction(42, 5)
        """
        return Fraction(Decimal(self.figure)) * _UNITS[self.unit][1]

    def __str__(self) -> str:
        return f"{'below ' if self.is_below else ''}{self.figure} {self.unit}"


def parse_amount(text: str, *, field: str = "") -> Amount:
    """
    An amount as a report gives it, such as ``120 ppm``, ``<10 mg/kg`` or ``0.02 %``.

    Raises:
        BadValue: If it is no figure with a unit that we know.

    >>> parse_amount("< 0,02 µg/cm²/week")
    Amount(figure='0.02', unit='ug/cm2/week', is_below=True)
    """
    match = _AMOUNT.fullmatch(text.strip())
    unit = _tidy_unit(match[3]) if match else ""
    if not match or unit not in _UNITS:
        raise BadValue(
            f"'{text}' is no amount that we can read",
            hint=f"a figure and one of: {', '.join(AMOUNT_UNITS)}",
            field=field,
        )
    return Amount(match[2].replace(",", "."), unit, bool(match[1]))


def _tidy_unit(text: str) -> str:
    tidy = " ".join(text.lower().split()).replace(" / ", "/")
    for odd in ("µ", "μ", "²"):
        tidy = tidy.replace(odd, _SPELLINGS[odd])
    parts = tidy.split("/")
    return "/".join([parts[0], *(_SPELLINGS.get(part.strip(), part.strip()) for part in parts[1:])])
