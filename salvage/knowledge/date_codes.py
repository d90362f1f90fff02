"""
Reading the four-digit date codes on parts: two digits of the year, two of the week.

The newest code on a board is the earliest day it can have been put together: a lower bound only,
because parts lie in stock and boards are repaired. A date never tells the lead status. Weeks are
ISO 8601 weeks, Monday to Sunday; some makers count otherwise, by a few days.
"""

from __future__ import annotations

import re
from datetime import date

from salvage.frozen import dataclass
from salvage.records.alerts import NOT_DATES

FIRST_YEAR = 1970
"""Earliest year read from a code; from memory, date codes of this form were rare before."""

ROHS_DAY = date(2006, 7, 1)
"""Directive 2002/95/EC applied from this day; it lies inside week 26 of 2006."""


@dataclass(frozen=True, slots=True)
class DateReading:
    """
    What a date code can mean.

    Args:
        raw: The text as it was given.
        earliest: First day of the week meant; None if the text is not read as a date.
        latest: Last day of that week; None likewise.
        note: What is doubtful, or why it is not read.
    """

    raw: str
    earliest: date | None
    latest: date | None
    note: str


def read_date_code(text: str, *, today: date) -> DateReading:
    """
    The week that a four-digit code names, if it can name one.

    Args:
        text: As printed on the part, such as ``0626``; spaces and hyphens are ignored.
        today: The workshop's date now; a week that begins later cannot be meant.

    >>> read_date_code("2436", today=date(2026, 11, 25)).earliest
    datetime.date(2024, 9, 2)
    """
    digits = re.sub(r"[\s\-]", "", text)
    if not re.fullmatch(r"[0-9]{4}", digits):
        return DateReading(text, None, None, "only codes of four digits, year and week, are read")
    if digits in NOT_DATES:
        return DateReading(text, None, None, f"{digits} is more likely a part number than a week")
    weeks = _weeks(digits[:2], digits[2:], today)
    other = _weeks(digits[2:], digits[:2], today) if digits[:2] != digits[2:] else []
    if not weeks:
        return DateReading(text, None, None, _why_not(digits, other))
    return DateReading(text, weeks[0][0], weeks[-1][1], _doubts(weeks, other))


def _weeks(year_digits: str, week_digits: str, today: date) -> list[tuple[date, date]]:
    """Monday and Sunday of each week, of any century, that the digits can mean."""
    found = []
    for century in (1900, 2000):
        year = century + int(year_digits)
        try:
            monday = date.fromisocalendar(year, int(week_digits), 1)
            sunday = date.fromisocalendar(year, int(week_digits), 7)
        except ValueError:
            continue
        if year >= FIRST_YEAR and monday <= today:
            found.append((monday, sunday))
    return found


def _why_not(digits: str, other: list[tuple[date, date]]) -> str:
    note = f"{digits} names no week between {FIRST_YEAR} and today"
    if digits[2:] == "53":
        note = f"no plausible year ending in {digits[:2]} has a week 53"
    return f"{note}; {_other_way(other)}" if other else note


def _doubts(weeks: list[tuple[date, date]], other: list[tuple[date, date]]) -> str:
    notes = ["read as year and week: a lower bound for the age of the board"]
    if len(weeks) > 1:
        notes.append("the century is open, so both are given")
    if any(monday <= ROHS_DAY <= sunday for monday, sunday in weeks):
        notes.append(f"the RoHS day {ROHS_DAY} lies inside this week")
    if other:
        notes.append(_other_way(other))
    return "; ".join(notes)


def _other_way(other: list[tuple[date, date]]) -> str:
    year, week, _ = other[-1][0].isocalendar()
    return f"with the week written first it would be week {week} of {year}"
