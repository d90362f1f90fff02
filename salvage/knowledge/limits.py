"""
Limits and duties by topic and jurisdiction, as they were read.

This file only reads them. It decides nothing: laws change, copies age, and a figure here is a
reason to look the law up, not legal advice.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from salvage.errors import NotFound
from salvage.frozen import dataclass
from salvage.knowledge.table import nearest_names, read_table, source_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from salvage.knowledge.source import Source

OPERATORS = ("<", "<=", "=", ">", ">=", "from", "rule")
"""How a value binds: a comparison, a day from which it holds, or a rule in words."""


# One per cent is 10 000 parts in a million; one microgram a thousandth of a milligram.
_PPM = {"ppm": 1.0, "% w/w": 10_000.0}
_MG_PER_M3 = {"mg/m3": 1.0, "ug/m3": 0.001}


@dataclass(frozen=True, slots=True)
class Limit:
    """
    One limit or duty.

    Args:
        slug: Its name, such as ``eu-jewellery-lead``.
        topic: Such as jewellery, children, exposure, waste, recall.
        jurisdiction: Such as EU, US federal, California.
        subject: What is limited.
        scope: What it applies to; may be empty.
        operator: One of :data:`OPERATORS`.
        value: The figure, day or rule as text.
        unit: Unit of a figure; empty otherwise.
        effective: Day or year from which it holds; empty where not known.
        until: Last day on which it held; empty while it holds, as far as was read.
        source: Document and section.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    topic: str
    jurisdiction: str
    subject: str
    scope: str
    operator: str
    value: str
    unit: str
    effective: str
    until: str
    source: Source
    note: str

    @property
    def number(self) -> float | None:
        """The figure, or None where the value is a day or a rule in words."""
        return None if self.operator in ("from", "rule") else float(self.value)

    @property
    def ppm(self) -> float | None:
        """
        A share by mass in parts per million, which is milligrams in a kilogram; None for others.

        >>> find_limit("eu-jewellery-lead").ppm
        500.0
        """
        factor = _PPM.get(self.unit)
        return None if factor is None or self.number is None else self.number * factor

    @property
    def mg_per_m3(self) -> float | None:
        """
        A mass in air in milligrams per cubic metre; None for others.

        >>> find_limit("us-air-lead").mg_per_m3
        0.05
        """
        factor = _MG_PER_M3.get(self.unit)
        return None if factor is None or self.number is None else self.number * factor

    def state_on(self, day: date) -> str:
        """
        ``in force``, ``expired`` or ``not yet`` on a day, by the days that were read.

        Args:
            day: Such as the workshop's date now, or that of a test report.
        """
        if self.until and day.isoformat() > self.until:
            return "expired"
        if self.effective and day.isoformat()[: len(self.effective)] < self.effective:
            return "not yet"
        return "in force"

    @property
    def words(self) -> str:
        """
        The figure or rule with its unit and, where known, its days.

        >>> find_limit("us-children-lead").words
        'at most 100 ppm, from 2011-08-14'
        """
        told = {"<": "below", "<=": "at most", ">": "above", ">=": "at least", "=": ""}
        figure = " ".join(filter(None, (told.get(self.operator, ""), self.value, self.unit)))
        days = [f"from {self.effective}" if self.effective and self.operator != "from" else ""]
        days += [f"until {self.until}" if self.until else ""]
        return ", ".join(filter(None, (figure, *days)))


@cache
def _all_limits() -> tuple[Limit, ...]:
    return tuple(limit_of_row(row, source_of(row)) for row in read_table("limits.csv"))


def limit_of_row(row: Mapping[str, str], source: Source) -> Limit:
    """
    A limit from the columns of a row, ours or the workshop's own.

    Args:
        row: Columns as in ``limits.csv``.
        source: Document and section.
    """
    return Limit(
        slug=row["slug"],
        topic=row["topic"],
        jurisdiction=row["jurisdiction"],
        subject=row["subject"],
        scope=row["scope"],
        operator=row["operator"],
        value=row["value"],
        unit=row["unit"],
        effective=row["effective"],
        until=row["until"],
        source=source,
        note=row["note"],
    )


def limits(
    *, topic: str = "", jurisdiction: str = "", own: Sequence[Limit] = ()
) -> tuple[Limit, ...]:
    """
    Limits of a topic and a jurisdiction, expired ones too.

    Args:
        topic: Exactly as spelt in the data; empty means any.
        jurisdiction: Likewise.
        own: The workshop's own limits, after ours.
    """
    return tuple(
        limit
        for limit in (*_all_limits(), *own)
        if topic in ("", limit.topic) and jurisdiction in ("", limit.jurisdiction)
    )


def find_limit(slug: str, *, own: Sequence[Limit] = ()) -> Limit:
    """
    The limit of a slug.

    Args:
        slug: Its name.
        own: The workshop's own limits, besides ours.

    Raises:
        NotFound: If there is none of that name; with the nearest.

    >>> find_limit("eu-jewellery-lead").number
    0.05
    """
    every = (*_all_limits(), *own)
    for limit in every:
        if limit.slug == slug:
            return limit
    known = [limit.slug for limit in every]
    raise NotFound(f"'{slug}' is not a limit in our list", nearest=nearest_names(slug, known))
