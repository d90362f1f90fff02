"""
The data certificate: what became of the data-bearing parts of a drop-off, for its donor.

It tells what the record holds, in the fields of NIST SP 800-88, with a line to sign for the person
who did the work and the one who verified it. They certify; neither this program nor the paper does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.card import format_checkpoint
from salvage.paper.picture import print_picture, svg_modules
from salvage.paper.stock import A4_MM
from salvage.paper.typeset import Data, typeset

if TYPE_CHECKING:
    from pathlib import Path

STATEMENT = (
    "This paper tells what the workshop's record holds. The people who sign it speak for the work"
    " they did and saw; the program that printed it certifies nothing, and no authority has checked"
    " it. Whether the method was enough for your data is for you and your local rules to say."
)
"""What every certificate says, so that nobody takes it for more than it is."""

_MODULE_MM = 0.75
_LARGEST_SYMBOL_MM = 30.0


@dataclass(frozen=True, slots=True)
class CertifiedMedium:
    """
    One medium on the paper.

    Args:
        title: Its number and kind in words.
        outcome: How its custody ended, in words.
        fields: Label and value of each field, in order.
        custody: Each step from receipt on, one line each.
        notes: What must be said with it, one sentence each.
        photo: Evidence; empty for none.
        is_signed: Whether people are to sign for work done on it.
    """

    title: str
    outcome: str
    fields: tuple[tuple[str, str], ...]
    custody: tuple[str, ...]
    notes: tuple[str, ...] = ()
    photo: bytes = b""
    is_signed: bool = True


@dataclass(frozen=True, slots=True)
class DataCertificate:
    """
    What the paper says.

    Args:
        code: Code of the drop-off.
        received_on: Day it arrived.
        workshop: Name of the workshop.
        contact: How to reach it; may be empty.
        web_address: Its address for people to read; empty for none.
        symbol_svg: QR code as a picture whose ``viewBox`` counts modules, quiet zone included.
        donor: Who brought it, as their own copy may name them.
        media: Each medium.
        searches: Searches and what they found, one sentence each.
        source: Where the fields come from, and how well that is known.
        journal_count: Number of entries of the record when it was made; 0 for none.
        journal_hash: Hash of the last of them, in hexadecimal.
    """

    code: str
    received_on: date
    workshop: str
    contact: str
    web_address: str
    symbol_svg: str
    donor: str
    media: tuple[CertifiedMedium, ...]
    searches: tuple[str, ...]
    source: str
    journal_count: int = 0
    journal_hash: str = ""


def print_data_certificate(
    certificate: DataCertificate, *, made_on: date, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the certificate on A4; further media go on to further pages.

    Args:
        certificate: What it says.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If it would tell of neither a medium nor a search, or no font has a character.
        BadFile: If a photo cannot be opened.
    """
    if not (certificate.media or certificate.searches):
        raise BadValue(
            f"the certificate of {certificate.code} has nothing to tell",
            hint="search for data-bearing parts first",
        )
    pictures = {
        f"evidence-{place}.jpg": print_picture(medium.photo, longest_mm=80)
        for place, medium in enumerate(certificate.media)
        if medium.photo
    }
    modules = max(svg_modules(certificate.symbol_svg))
    checkpoint = format_checkpoint(certificate.journal_count, certificate.journal_hash)
    data: dict[str, Data] = {
        "page_mm": A4_MM,
        "code": certificate.code,
        "received_on": certificate.received_on.isoformat(),
        "workshop": certificate.workshop,
        "contact": certificate.contact,
        "web_address": certificate.web_address,
        "symbol": certificate.symbol_svg,
        "symbol_mm": min(modules * _MODULE_MM, _LARGEST_SYMBOL_MM),
        "donor": certificate.donor,
        "media": [_medium(medium, place) for place, medium in enumerate(certificate.media)],
        "searches": certificate.searches,
        "source": certificate.source,
        "statement": STATEMENT,
        "checkpoint": checkpoint if certificate.journal_count else "",
    }
    return typeset(
        "data_certificate", data, pictures=pictures, made_on=made_on, extra_fonts=extra_fonts
    )


def _medium(medium: CertifiedMedium, place: int) -> dict[str, Data]:
    return {
        "title": medium.title,
        "outcome": medium.outcome,
        "fields": [list(pair) for pair in medium.fields],
        "custody": medium.custody,
        "notes": medium.notes,
        "photo": f"evidence-{place}.jpg" if medium.photo else "",
        "is_signed": medium.is_signed,
    }
