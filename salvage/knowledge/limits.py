"""
Limits and duties by topic and jurisdiction, as they were read.

This file only reads them. It decides nothing: laws change, copies age, and a figure here is a
reason to look the law up, not legal advice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.errors import NotFound
from salvage.knowledge.source import Source
from salvage.knowledge.table import nearest_names, read_table, source_of

OPERATORS = ("<", "<=", "=", ">", ">=", "from", "rule")
"""How a value binds: a comparison, a day from which it holds, or a rule in words."""


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
    source: Source
    note: str

    @property
    def number(self) -> float | None:
        """The figure, or None where the value is a day or a rule in words."""
        return None if self.operator in ("from", "rule") else float(self.value)


@cache
def _all_limits() -> tuple[Limit, ...]:
    return tuple(
        Limit(
            slug=row["slug"],
            topic=row["topic"],
            jurisdiction=row["jurisdiction"],
            subject=row["subject"],
            scope=row["scope"],
            operator=row["operator"],
            value=row["value"],
            unit=row["unit"],
            effective=row["effective"],
            source=source_of(row),
            note=row["note"],
        )
        for row in read_table("limits.csv")
    )


def limits(*, topic: str = "", jurisdiction: str = "") -> tuple[Limit, ...]:
    """Limits of a topic and a jurisdiction, exactly as spelt in the data; empty means any."""
    return tuple(
        limit
        for limit in _all_limits()
        if topic in ("", limit.topic) and jurisdiction in ("", limit.jurisdiction)
    )


def find_limit(slug: str) -> Limit:
    """
    The limit of a slug.

    Raises:
        NotFound: If there is none of that name; with the nearest.

    >>> find_limit("eu-jewellery-lead").number
    0.05
    """
    for limit in _all_limits():
        if limit.slug == slug:
            return limit
    known = [limit.slug for limit in _all_limits()]
    raise NotFound(f"'{slug}' is not a limit in our list", nearest=nearest_names(slug, known))
