"""
Ways to make data unreadable, and the fields of a certificate about it, each with its source.

The names of the three methods are those of NIST SP 800-88: clear, purge, destroy. We inform; who
did it and who verified it certify, not this program.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.errors import BadValue
from salvage.knowledge.source import Source
from salvage.knowledge.table import nearest_names, parse_list, read_table, source_of, tidy_name

DIE_RULE = (
    "Cutting, bending or drilling a board destroys data only where the memory die itself is"
    " destroyed."
)
"""What is said wherever flash memory is destroyed."""


@dataclass(frozen=True, slots=True)
class Technique:
    """
    One way to make data unreadable.

    Args:
        slug: Its name, such as ``crypto-erase``.
        methods: Methods as which it may count.
        media: Media on which it does so.
        caution: For whoever does it; may be empty.
        source: Where that comes from.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    methods: tuple[str, ...]
    media: tuple[str, ...]
    caution: str
    source: Source
    note: str


@dataclass(frozen=True, slots=True)
class CertificateField:
    """
    One field of a certificate.

    Args:
        slug: The guideline's name for it.
        label: Words on the paper.
        is_required: Whether the guideline asks for it.
        source: Where that comes from.
        note: What it holds here; may be empty.
    """

    slug: str
    label: str
    is_required: bool
    source: Source
    note: str


@cache
def techniques() -> tuple[Technique, ...]:
    """All techniques, the mildest first."""
    return tuple(
        Technique(
            row["slug"],
            parse_list(row["methods"]),
            parse_list(row["media"]),
            row["caution"],
            source_of(row),
            row["note"],
        )
        for row in read_table("sanitising.csv")
    )


def find_technique(text: str, *, field: str = "") -> Technique:
    """
    The technique that *text* names, spaces and case ignored.

    Raises:
        BadValue: If it is none of the list; with the nearest.

    >>> find_technique("Crypto erase").methods
    ('purge',)
    """
    known = {tidy_name(found.slug): found for found in techniques()}
    found = known.get(tidy_name(text))
    if found is None:
        near = nearest_names(text, [each.slug for each in techniques()])
        words = ", ".join(near or [each.slug for each in techniques()])
        raise BadValue(f"'{text}' is no technique in our list", hint=f"use: {words}", field=field)
    return found


@cache
def certificate_fields() -> tuple[CertificateField, ...]:
    """The fields of a certificate of sanitisation, in the order of the guideline."""
    return tuple(
        CertificateField(
            row["slug"], row["label"], row["required"] == "yes", source_of(row), row["note"]
        )
        for row in read_table("certificate_fields.csv")
    )
