"""Which boards an alert is about: what is not known about a board takes the strict branch."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from salvage.records.alerts import Alert, BoardFacts, concerns, week_of_code

ANY = Alert("", "clock-battery", "", "", "", "", "", "", "leaks", "bulletin 7", "", "", "")
BOARD = BoardFacts("motherboard", "Orrery", "X-2", "9126", "DC0005X")


@pytest.mark.parametrize(
    ("meant", "is_meant"),
    [
        ({"type": "motherboard"}, True),
        ({"type": "line-card"}, False),
        ({"maker": "ORRERY"}, True),
        ({"maker": "Nocturn"}, False),
        ({"model": "x2"}, True),
        ({"model": "X20"}, False),
        ({"drop_off": "DC0005X"}, True),
        ({"drop_off": "DC0006F"}, False),
        ({"made_from": "1991-06-30"}, True),  # week 9126 is 24 to 30 June 1991
        ({"made_from": "1991-07-01"}, False),
        ({"made_to": "1991-06-24"}, True),
        ({"made_to": "1991-06-23"}, False),
        ({"type": "motherboard", "maker": "Orrery", "model": "X2", "made_to": "1995-12-31"}, True),
    ],
)
def test_an_alert_is_about_what_it_names(meant: dict[str, str], is_meant: bool) -> None:
    """Each field narrows it; case, blanks and hyphens do not matter."""
    assert concerns(replace(ANY, **meant), BOARD) is is_meant


@pytest.mark.parametrize(
    ("meant", "unknown", "is_meant"),
    [
        ({"type": "motherboard", "maker": "Orrery"}, {"maker": ""}, True),
        ({"drop_off": "DC0005X", "model": "X2"}, {"model": "  "}, True),
        ({"maker": "Orrery"}, {"maker": ""}, False),
        ({"type": "line-card"}, {"type": "other"}, True),
        ({"made_from": "2001-01-01"}, {"date_code": ""}, True),
        ({"made_to": "1970-01-01"}, {"date_code": "KE31"}, True),
        ({"made_to": "1975-01-01"}, {"date_code": "8049"}, True),  # a part number, no date
    ],
)
def test_what_nobody_noted_may_be_what_is_meant(
    meant: dict[str, str], unknown: dict[str, str], is_meant: bool
) -> None:
    """An unmarked motherboard may be the maker's; not every unmarked board of the workshop is."""
    assert concerns(replace(ANY, **meant), replace(BOARD, **unknown)) is is_meant


def test_codes_mean_one_week_of_1970_to_2069() -> None:
    """The tables are made with this reading on every device, so it knows no "today"."""
    assert week_of_code("70-01") == (date(1969, 12, 29), date(1970, 1, 4))
    assert week_of_code("6952") == (date(2069, 12, 23), date(2069, 12, 29))
    assert week_of_code("2153") is None
    assert week_of_code("٠٦٢٦") is None
