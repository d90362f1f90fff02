"""Lengths that may be nothing, such as the kerf of shears."""

from __future__ import annotations

import math

from salvage.errors import BadValue
from salvage.units import parse_length_mm


def parse_from_zero_mm(text: str, *, field: str, most_mm: float) -> float:
    """
    A length in millimetres from typed text, 0 included.

    Args:
        text: As for :func:`salvage.units.parse_length_mm`.
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
