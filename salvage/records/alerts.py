"""
Alerts: new knowledge about boards of a kind, and which boards it concerns.

The tables are made with these rules, on every rebuild and on every device, so they are frozen: they
look at nothing but what the events say. What is not known about a board takes the strict branch.
"""

from __future__ import annotations

import re
from datetime import date

from salvage.frozen import dataclass

NOT_DATES = frozenset(
    {"8031", "8032", "8035", "8039", "8048", "8049", "8050", "8051", "8052"}
    | {f"74{number:02d}" for number in range(54)}
)
"""
Numbers of well-known parts that would also read as year and week. 8049: read at gaqmn.blogg.se
(2022) as "an Intel part number, not week 49 of 1980"; its family and the 74xx logic: from memory.
"""

_FIRST_YY = 70
_STRANGE_TYPE = "other"


@dataclass(frozen=True, slots=True)
class Alert:
    """
    One alert; an empty field means any.

    Args:
        id: Id of the event that raised it.
        hazard: Slug of what is to be looked for.
        type: Slug of a board type.
        maker, model: As printed on the boards.
        drop_off: Code of the drop-off that they came with.
        made_from, made_to: First and last day of the date codes meant, in ISO 8601.
        reason: What was learned.
        source: Where it was learned.
        by: Who raised it.
        at: When.
        lifted: Why it no longer counts; empty while it does.
    """

    id: str
    hazard: str
    type: str
    maker: str
    model: str
    drop_off: str
    made_from: str
    made_to: str
    reason: str
    source: str
    by: str
    at: str
    lifted: str


@dataclass(frozen=True, slots=True)
class BoardFacts:
    """
    What an alert looks at.

    Args:
        type: Slug of its type.
        maker, model, date_code: As printed on it; empty where not known.
        drop_off: Code of its drop-off.
    """

    type: str
    maker: str
    model: str
    date_code: str
    drop_off: str


def concerns(alert: Alert, board: BoardFacts) -> bool:
    """
    True if the alert may be about the board.

    A maker or model that nobody noted may be the one that is meant, if the alert names a type or a
    drop-off and the board is of it. A date code that is not readable may lie in the range.

    >>> alert = Alert("", "clock-battery", "motherboard", "Orrery", "", "", "", "", "x", "y",
    ...               "", "", "")
    >>> concerns(alert, BoardFacts("motherboard", "ORRERY", "X2", "", "DC0005X"))
    True
    >>> concerns(alert, BoardFacts("motherboard", "Nocturn", "X2", "", "DC0005X"))
    False
    """
    narrow = bool(alert.type or alert.drop_off)
    return (
        board.type in (alert.type or board.type, _STRANGE_TYPE)
        and alert.drop_off in ("", board.drop_off)
        and _may_be(alert.maker, board.maker, blank_counts=narrow)
        and _may_be(alert.model, board.model, blank_counts=narrow)
        and _may_lie(alert, board.date_code)
    )


def _may_be(meant: str, noted: str, *, blank_counts: bool) -> bool:
    tidy = _tidy(noted)
    return not meant or (blank_counts if not tidy else tidy == _tidy(meant))


def _tidy(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalnum())


def _may_lie(alert: Alert, date_code: str) -> bool:
    """True unless the date code is readable and its week lies outside the alert's days."""
    week = week_of_code(date_code)
    if week is None:
        return True
    monday, sunday = (day.isoformat() for day in week)
    return sunday >= alert.made_from and (not alert.made_to or monday <= alert.made_to)


def week_of_code(text: str) -> tuple[date, date] | None:
    """
    Monday and Sunday of a four-digit code, year then week, of 1970 to 2069; None if it is none.

    >>> week_of_code("0626")
    (datetime.date(2006, 6, 26), datetime.date(2006, 7, 2))
    """
    digits = re.sub(r"[\s\-]", "", text)
    if not re.fullmatch("[0-9]{4}", digits) or digits in NOT_DATES:
        return None
    short, week = int(digits[:2]), int(digits[2:])
    year = short + (1900 if short >= _FIRST_YY else 2000)
    try:
        return date.fromisocalendar(year, week, 1), date.fromisocalendar(year, week, 7)
    except ValueError:
        return None
