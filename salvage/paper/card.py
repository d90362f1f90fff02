"""
The story card that goes with a sold piece: where it came from, in words that the record bears.

Two sides of A6, or of A5 in large print. In front the piece and its place on the donor board; on
the back its story, who gave it, how to care for it, and the code that leads back to the record. A
picture that is missing leaves a designed side, not a hole; a longer story goes on to a third side.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.picture import print_picture, svg_modules
from salvage.paper.stock import A5_MM, A6_MM
from salvage.paper.typeset import Data, typeset

if TYPE_CHECKING:
    from pathlib import Path

_BODY_PT, _LARGE_BODY_PT = 12.0, 16.0

# Side of the symbol on the card without and with large print, quiet zone included; the module is
# the largest multiple of 0.125 mm within, at least three printer dots of a 203 dpi head.
_SYMBOL_MM, _LARGE_SYMBOL_MM = 29.0, 38.0
_DOT_MM = 0.125
_LEAST_MODULE_MM = 0.375
_QUIET_MODULES = 4


@dataclass(frozen=True, slots=True)
class StoryCard:
    """
    What the card says; every sentence is given, nothing is made up here.

    Args:
        code: Code of the piece.
        headline: Shape and board in words, such as ``Tern cut from a projector control board``.
        workshop: Name of the workshop.
        web_address: Its address for people to read; empty for none.
        symbol_svg: QR code as a picture whose ``viewBox`` counts modules, quiet zone included.
        photo: Photo of the piece; empty for none.
        place_picture: Picture of the donor board with the place marked; empty for none.
        story: Sentences of its story, facts only.
        origin: When the board came and from whom, as the donor wishes to be named.
        care: Care, material and cautions.
        journal_count: Number of entries of the record when the card was made.
        journal_hash: Hash of the last of them, in hexadecimal; its first eight digits are printed.
    """

    code: str
    headline: str
    workshop: str
    web_address: str
    symbol_svg: str
    photo: bytes
    place_picture: bytes
    story: tuple[str, ...]
    origin: tuple[str, ...]
    care: tuple[str, ...]
    journal_count: int
    journal_hash: str


def print_card(
    card: StoryCard, *, made_on: date, large: bool = False, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the card: A6 with 12 point text, or A5 with 16 point text.

    Args:
        card: What it says.
        made_on: Date of the document.
        large: Whether in large print.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If the headline or the story is empty, or no font has one of the characters.
        BadFile: If a picture cannot be opened.
    """
    if not card.headline.strip() or not any(sentence.strip() for sentence in card.story):
        raise BadValue(f"the card of {card.code} has no headline or no story", hint="give both")
    page_mm = A5_MM if large else A6_MM
    pictures = {
        name: print_picture(content, longest_mm=page_mm[1])
        for name, content in (("photo.jpg", card.photo), ("place.jpg", card.place_picture))
        if content
    }
    module_mm = _module_mm(card.symbol_svg, _LARGE_SYMBOL_MM if large else _SYMBOL_MM)
    data: dict[str, Data] = {
        "page_mm": page_mm,
        "body_pt": _LARGE_BODY_PT if large else _BODY_PT,
        "code": card.code,
        "headline": card.headline,
        "workshop": card.workshop,
        "web_address": card.web_address,
        "symbol": card.symbol_svg,
        "symbol_mm": svg_modules(card.symbol_svg)[0] * module_mm,
        "symbol_quiet_mm": _QUIET_MODULES * module_mm,
        "pictures": sorted(pictures),
        "photo_words": f"Photo of {card.code}: {card.headline}",
        "place_words": "Picture of the donor board with the place of the piece marked",
        "story": card.story,
        "origin": card.origin,
        "care": card.care,
        "checkpoint": format_checkpoint(card.journal_count, card.journal_hash),
    }
    return typeset("card", data, pictures=pictures, made_on=made_on, extra_fonts=extra_fonts)


def format_checkpoint(count: int, journal_hash: str) -> str:
    """
    The state of the record that a printed document bears witness to.

    >>> format_checkpoint(1482, "9f3a01bc77d2")
    'Record 1482, 9f3a01bc'
    """
    return f"Record {count}, {journal_hash[:8]}"


def _module_mm(svg: str, side_mm: float) -> float:
    modules = max(svg_modules(svg))
    module = side_mm / modules // _DOT_MM * _DOT_MM
    if module < _LEAST_MODULE_MM:
        raise BadValue("the code is too fine for the card", hint="use a shorter web address")
    return module
