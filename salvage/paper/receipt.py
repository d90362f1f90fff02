"""
The receipt for a drop-off: what arrived, from whom, and what was promised about data.

It names the donor only as the donor agreed to be named, states no value, and says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.local import Local
from salvage.paper.picture import svg_modules
from salvage.paper.stock import A5_MM
from salvage.paper.typeset import Data, typeset
from salvage.paper.wording import fill, standard_words

if TYPE_CHECKING:
    from pathlib import Path

STATEMENT = standard_words("receipt")["statement"]
"""What a receipt says in our own words, so that nobody takes it for more than it is."""

HALF_LETTER_MM = (139.7, 215.9)
"""Half of a Letter page: 5.5 by 8.5 inches."""

_MODULE_MM = 0.75
_LARGEST_SYMBOL_MM = 30.0


@dataclass(frozen=True, slots=True)
class Receipt:
    """
    What the receipt says.

    Args:
        code: Code of the drop-off.
        received_on: Day it arrived.
        workshop: Name of the workshop.
        web_address: Its address for people to read; empty for none.
        symbol_svg: QR code as a picture whose ``viewBox`` counts modules, quiet zone included.
        donor: Who brought it, only as they agreed to be named.
        naming: How the donor wishes to be named on cards, in words.
        contents: What arrived, one line each.
        weight: Weighed mass in words, such as ``12.4 kg``; empty if not weighed.
        data_parts: Parts that can hold somebody's data, each with what was promised about it;
            empty if none was listed.
        terms: Further terms that both sides agreed to, one sentence each.
        journal_count: Number of entries of the record when the receipt was made; 0 for none.
        journal_hash: Hash of the last of them, in hexadecimal.
        local: The words of the receipt, and how it puts days.
    """

    code: str
    received_on: date
    workshop: str
    web_address: str
    symbol_svg: str
    donor: str
    naming: str
    contents: tuple[str, ...]
    weight: str
    data_parts: tuple[tuple[str, str], ...] = ()
    terms: tuple[str, ...] = ()
    journal_count: int = 0
    journal_hash: str = ""
    local: Local = field(default_factory=lambda: Local(standard_words("receipt")))


def print_receipt(
    receipt: Receipt, *, made_on: date, paper: str = "a4", extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the receipt on A5, or half of a Letter; a long list goes on to further pages.

    Args:
        receipt: What it says.
        made_on: Date of the document.
        paper: ``a4`` or ``letter``, of which a receipt is half.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If nothing arrived, or no font has one of the characters.
    """
    if not any(line.strip() for line in receipt.contents):
        raise BadValue(
            f"the receipt {receipt.code} lists nothing", hint="say what arrived, one line each"
        )
    modules = max(svg_modules(receipt.symbol_svg))
    words = receipt.local.words
    record = fill(words, "record", count=receipt.journal_count, head=receipt.journal_hash[:8])
    data: dict[str, Data] = {
        "page_mm": HALF_LETTER_MM if paper == "letter" else A5_MM,
        "code": receipt.code,
        "received_on": receipt.local.day(receipt.received_on),
        "workshop": receipt.workshop,
        "web_address": receipt.web_address,
        "symbol": receipt.symbol_svg,
        "symbol_mm": min(modules * _MODULE_MM, _LARGEST_SYMBOL_MM),
        "donor": receipt.donor,
        "naming": receipt.naming,
        "contents": [line for line in receipt.contents if line.strip()],
        "weight": receipt.weight,
        "data_parts": [list(pair) for pair in receipt.data_parts],
        "terms": receipt.terms,
        "words": dict(words),
        "checkpoint": record if receipt.journal_count else "",
    }
    return typeset("receipt", data, pictures={}, made_on=made_on, extra_fonts=extra_fonts)
