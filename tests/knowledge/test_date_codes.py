"""
Date codes on parts, read as ISO 8601 weeks.

First days of weeks and years with 53 weeks: computed from ISO 8601, by another rule where given.
"""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.knowledge.date_codes import FIRST_YEAR, read_date_code

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("code", "earliest", "latest"),
    [
        ("0626", date(2006, 6, 26), date(2006, 7, 2)),
        ("0627", date(2006, 7, 3), date(2006, 7, 9)),
        ("2436", date(2024, 9, 2), date(2024, 9, 8)),
        ("9952", date(1999, 12, 27), date(2000, 1, 2)),
        ("0001", date(2000, 1, 3), date(2000, 1, 9)),
        ("2053", date(2020, 12, 28), date(2021, 1, 3)),
        (" 06-26 ", date(2006, 6, 26), date(2006, 7, 2)),
    ],
)
def test_a_code_names_a_week(code: str, earliest: date, latest: date) -> None:
    """The newest code on a board tells the earliest day it can have been put together."""
    reading = read_date_code(code, today=TODAY)

    assert (reading.earliest, reading.latest) == (earliest, latest)
    assert reading.raw == code
    assert "lower bound" in reading.note


def test_the_rohs_day_lies_inside_week_26_of_2006() -> None:
    """1 July 2006 was a Saturday: code 0626 is neither before nor after RoHS."""
    assert "2006-07-01 lies inside" in read_date_code("0626", today=TODAY).note
    assert "2006-07-01" not in read_date_code("0627", today=TODAY).note
    assert "2006-07-01" not in read_date_code("0625", today=TODAY).note


def test_only_years_with_53_weeks_have_a_week_53() -> None:
    """A year has 53 weeks if it starts on a Thursday, or is a leap year starting on Wednesday."""
    starts = {year: date(year, 1, 1).isoweekday() for year in range(1970, 2027)}
    long_years = [
        year for year, day in starts.items() if day == 4 or (day == 3 and calendar.isleap(year))
    ]
    # 2026 week 53 starts after TODAY, so the readings are made a year later.
    read = [
        year
        for year in range(1970, 2027)
        if read_date_code(f"{year % 100:02d}53", today=date(2027, 12, 31)).earliest
    ]

    assert long_years == [1970, 1976, 1981, 1987, 1992, 1998, 2004, 2009, 2015, 2020, 2026]
    assert read == long_years


@pytest.mark.parametrize("code", ["1053", "2153"])
def test_a_week_53_that_never_was_is_not_a_date(code: str) -> None:
    """2010 and 2021 had 52 weeks."""
    reading = read_date_code(code, today=TODAY)

    assert (reading.earliest, reading.latest) == (None, None)
    assert "has a week 53" in reading.note


@pytest.mark.parametrize("code", ["8049", "8051", "7400", "7453"])
def test_a_part_number_is_not_a_date(code: str) -> None:
    """8049 is a microcontroller, whatever week 49 of 1980 was like."""
    reading = read_date_code(code, today=TODAY)

    assert (reading.earliest, reading.latest) == (None, None)
    assert "part number" in reading.note


@pytest.mark.parametrize("code", ["", "626", "06266", "O626", "A626", "06W26", "٠٦٢٦", "Intel"])
def test_other_shapes_are_not_read(code: str) -> None:
    """What is not four digits is kept as text and not guessed at."""
    reading = read_date_code(code, today=TODAY)

    assert (reading.raw, reading.earliest, reading.latest) == (code, None, None)
    assert "four digits" in reading.note


@pytest.mark.parametrize("code", ["2654", "0600", "2699", "4510", "6910", "2650"])
def test_weeks_that_have_not_been_are_not_read(code: str) -> None:
    """No week 54, no week in the future, none before 1970."""
    reading = read_date_code(code, today=TODAY)

    assert reading.earliest is None
    assert reading.note


def test_the_other_way_round_is_said_and_not_taken() -> None:
    """Some makers write the week first: the reading says so where it could be."""
    both = read_date_code("0903", today=TODAY)
    only = read_date_code("3624", today=TODAY)

    assert both.earliest == date(2009, 1, 12)
    assert "week 9 of 2003" in both.note
    assert only.earliest is None
    assert "week 36 of 2024" in only.note


def test_a_code_that_reads_the_same_both_ways_has_no_other_way() -> None:
    """Week 10 of 2010 is week 10 of 2010."""
    assert "written first" not in read_date_code("1010", today=TODAY).note


def test_the_week_that_runs_now_can_be_meant() -> None:
    """A part made this Monday may lie on the bench on Wednesday."""
    assert read_date_code("2648", today=TODAY).earliest == date(2026, 11, 23)
    assert read_date_code("2649", today=TODAY).earliest is None


def test_an_open_century_is_said() -> None:
    """Half a century from now 7510 will be two weeks; both ends are given."""
    reading = read_date_code("7510", today=date(2080, 1, 1))

    assert reading.earliest == date(1975, 3, 3)
    assert reading.latest == date(2075, 3, 10)
    assert "century is open" in reading.note


@given(st.dates(min_value=date(FIRST_YEAR, 1, 5), max_value=TODAY))
def test_a_day_lies_in_the_week_its_code_names(day: date) -> None:
    """A code made from a day is read back to a week that holds the day, or is a part number."""
    year, week, _ = day.isocalendar()
    reading = read_date_code(f"{year % 100:02d}{week:02d}", today=TODAY)

    if reading.earliest is None:
        assert "part number" in reading.note
    else:
        assert reading.latest == reading.earliest + timedelta(days=6)
        assert reading.earliest <= day <= reading.latest


def test_every_code_means_the_week_that_the_reference_says() -> None:
    """All codes of 1970 to 2026, against Python's date.fromisocalendar (ISO 8601 weeks)."""
    differ = []
    for year in range(1970, 2027):
        for week in range(60):
            code = f"{year % 100:02d}{week:02d}"
            try:
                wanted = date.fromisocalendar(year, week, 1)
            except ValueError:
                wanted = None
            reading = read_date_code(code, today=date(2026, 12, 31))
            if reading.earliest != wanted and "part number" not in reading.note:
                differ.append(code)

    assert differ == []


def test_a_code_that_is_read_never_says_more_than_a_lower_bound() -> None:
    """Every reading that gives a day also says how far it may be trusted."""
    readings = [read_date_code(f"{n:04d}", today=TODAY) for n in range(0, 10_000, 7)]
    silent = [one.raw for one in readings if one.earliest and "lower bound" not in one.note]

    assert silent == []
