"""Days in their order: nothing is sold before it was made, nor sent off before it came."""

from __future__ import annotations

from datetime import date, datetime

from salvage.errors import BadValue


def local_day(instant: str) -> date:
    """
    The day of a journal's instant in the computer's own time zone, as the workshop's wall tells it.

    Args:
        instant: UTC in ISO 8601; what is made on a summer's night is made on the next day there.
    """
    return datetime.fromisoformat(instant).astimezone().date()


def check_order(earlier: date, later: date, *, words: str, field: str = "--date") -> None:
    """
    Raise if *later* lies before *earlier*; one day may hold both.

    Args:
        earlier: Day that comes first.
        later: Day that was typed.
        words: What happened on the earlier day, such as "PC0001D was made".
        field: Label for the error.

    Raises:
        BadValue: Naming both days.

    >>> check_order(date(2026, 5, 4), date(2026, 5, 4), words="it was made")
    """
    if later < earlier:
        raise BadValue(
            f"{later} is before {words} on {earlier}", hint="give the real day", field=field
        )
