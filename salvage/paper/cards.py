"""Cards and tags in a design: one a page for a print shop, or many on a sheet."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadTemplate, BadValue, Refused
from salvage.paper.card import StoryCard, format_checkpoint
from salvage.paper.designs import TELLING, Design
from salvage.paper.picture import blurred_jpeg, plain_jpeg_size, print_picture, svg_modules
from salvage.paper.sheet import PAPERS as SHEETS
from salvage.paper.typeset import Data, typeset_telling

if TYPE_CHECKING:
    from pathlib import Path

ON = ("card", "shop", *SHEETS)
"""What cards are laid on: the finished size, the same with bleed and marks, or a sheet of many."""

BLEED_MM = 3.0
"""How far what touches the edge is drawn beyond it; common practice of print shops, no source."""

# Room around the bleed for the crop marks.
_MARKS_MM = 6.0
_MAP_MM = 90.0
_MOST_PX = 2500
_POINTS_PER_MM = 72 / 25.4
_PAGE = re.compile(rb"(\d+) 0 obj\s*<<(?=[^\n]*/Type/Page/)(.*?)>>\s*endobj", re.DOTALL)
_TRIM_BOX = re.compile(rb"/TrimBox\[([-0-9. ]+)\]")
_TRAILER = re.compile(rb"trailer\s*<<(.*?)>>\s*startxref\s*(\d+)\s*%%EOF\s*$", re.DOTALL)


@dataclass(frozen=True, slots=True)
class CardRun:
    """
    How cards are printed.

    Args:
        design: What they look like.
        made_on: Date of the document.
        on: One of :data:`ON`.
        beside: Pictures and further page descriptions that lie beside the workshop's own designs.
        extra_fonts: Folder with more fonts.
        dpi: Bitmaps of this resolution instead of a PDF, unless it is 0.
    """

    design: Design
    made_on: date
    on: str = "card"
    beside: Mapping[str, bytes] = field(default_factory=dict)
    extra_fonts: Path | None = None
    dpi: float = 0


@dataclass(frozen=True, slots=True)
class Shortened:
    """
    A story that the design could not hold whole.

    Args:
        code: The piece.
        left_out: Number of words that were left out.
        of: Number of words of the whole.
    """

    code: str
    left_out: int
    of: int


@dataclass(frozen=True, slots=True)
class PrintedCards:
    """
    Cards as they come out.

    Args:
        pages: The PDF alone, or one bitmap a page.
        shortened: Cards whose story was cut short.
        per_sheet: Cards on one sheet; 1 where each has its own page.
        is_lying: Whether the sheets lie on their long edge.
    """

    pages: tuple[bytes, ...]
    shortened: tuple[Shortened, ...] = ()
    per_sheet: int = 1
    is_lying: bool = False


def print_cards(cards: Sequence[StoryCard], run: CardRun) -> PrintedCards:
    """
    A PDF of cards, or bitmaps of its pages.

    Args:
        cards: What they say, in order.
        run: Design, paper and fonts.

    Raises:
        BadValue: If there is nothing to print, a card has no words, the design is larger than the
            sheet, or the code is too fine.
        NoGlyph: If no font has one of the characters.
        BadFile: If a picture cannot be opened.
        BadTemplate: If the design cannot be understood.
        Refused: If the cautions do not fit on the design.
    """
    _check(cards, run)
    pictures = _Pictures()
    data: dict[str, Data] = {
        "title": _title(cards, run.design),
        "workshop": cards[0].workshop,
        "design": run.design.file,
        "design_name": run.design.name,
        "on": run.on,
        "sheet_mm": SHEETS.get(run.on, (0.0, 0.0)),
        "around_mm": BLEED_MM + _MARKS_MM,
        "cards": [_card_data(card, run.design, pictures) for card in cards],
    }
    sources = {run.design.file: run.design.source.encode()}
    made = typeset_telling(
        "card_sheet",
        data,
        files={**run.beside, **sources, **pictures.files},
        made_on=run.made_on,
        extra_fonts=run.extra_fonts,
        dpi=run.dpi,
    )
    pages = made.pages
    if run.on == "shop" and not run.dpi:
        pages = (with_bleed_box(pages[0], BLEED_MM),)
    return _told(made.told, pages, run)


def _check(cards: Sequence[StoryCard], run: CardRun) -> None:
    if not cards:
        raise BadValue("no card to print")
    if run.on not in ON:
        raise BadValue(f"'{run.on}' is no paper for cards", hint=f"use one of: {', '.join(ON)}")
    for card in cards:
        has_story = any(sentence.strip() for sentence in card.story)
        if not card.headline.strip() or not has_story:
            raise BadValue(f"the card of {card.code} has no headline or no story", hint="give both")


def _title(cards: Sequence[StoryCard], design: Design) -> str:
    if len(cards) == 1:
        return f"{cards[0].headline}, {cards[0].code}"
    return f"{len(cards)} × {design.paper}, {design.name}"


@dataclass(frozen=True, slots=True)
class _Photo:
    """A picture by the name that the templates know it by."""

    name: str = ""
    ratio: float = 1.0
    ground: str = ""


@dataclass(frozen=True, slots=True)
class _Pictures:
    """Pictures of a run, each kept once."""

    files: dict[str, bytes] = field(default_factory=dict)
    photos: dict[bytes, _Photo] = field(default_factory=dict)

    def photo(self, content: bytes, *, longest_mm: float) -> _Photo:
        """The name of a picture, which is drawn anew unless it is plain and small enough."""
        if not content:
            return _Photo()
        if content not in self.photos:
            jpeg, size = content, plain_jpeg_size(content)
            if size is None or max(size) > _MOST_PX:
                jpeg = print_picture(content, longest_mm=longest_mm)
                size = plain_jpeg_size(jpeg)
            wide, high = size or (1, 1)
            name = f"picture{len(self.photos) + 1}"
            self.files[f"{name}.jpg"] = jpeg
            self.files[f"{name}-ground.jpg"] = blurred_jpeg(jpeg)
            self.photos[content] = _Photo(f"{name}.jpg", wide / high, f"{name}-ground.jpg")
        return self.photos[content]


def _card_data(
    card: StoryCard,
    design: Design,
    put: _Pictures,
) -> dict[str, Data]:
    telling = design.paper in TELLING
    photo = put.photo(card.photo, longest_mm=max(design.trim_mm))
    board = put.photo(card.place_map.photo if card.place_map else b"", longest_mm=_MAP_MM)
    return {
        "code": card.code,
        "headline": card.headline,
        "shape": card.shape,
        "price": card.price,
        "workshop": card.workshop,
        "web_address": card.web_address,
        "contact": card.contact,
        "symbol": card.symbol_svg,
        "symbol_modules": svg_modules(card.symbol_svg)[0],
        "photo": photo.name,
        "photo_ratio": photo.ratio,
        "photo_ground": photo.ground,
        "map": card.place_map.svg if card.place_map else "",
        "map_ratio": card.place_map.ratio if card.place_map else 1.0,
        "board_photo": board.name,
        "story": card.story if telling else (),
        "origin": card.origin if telling else (),
        "material": card.material,
        "care": card.care,
        "audience": card.audience,
        "key": card.key,
        "checkpoint": format_checkpoint(card.journal_count, card.journal_hash),
    }


def _told(
    told: Sequence[Mapping[str, object]], pages: tuple[bytes, ...], run: CardRun
) -> PrintedCards:
    shortened: dict[str, Shortened] = {}
    per_sheet, is_lying = 1, False
    for one in told:
        code, part = str(one["code"]), one["part"]
        left, of = int(str(one["left"])), int(str(one["of"]))
        if part == "story":
            shortened[code] = Shortened(code, left, of)
        elif part == "symbol":
            raise BadValue("the code is too fine for the card", hint="use a shorter web address")
        elif part == "sheet":
            per_sheet, is_lying = left, bool(of)
            if not left:
                raise BadValue(
                    f"{run.design.name} is larger than a sheet of {run.on}",
                    hint="print it alone: --on card or --on shop",
                )
        else:
            raise Refused(
                f"the {part} of {code} does not fit on {run.design.name}",
                hint="it must be there whole: use a larger design",
            )
    return PrintedCards(pages, tuple(shortened.values()), per_sheet, is_lying)


def with_bleed_box(pdf: bytes, bleed_mm: float) -> bytes:
    """
    The document with a BleedBox on every page, *bleed_mm* around its TrimBox.

    The boxes are those of ISO 32000-1, 14.11.2; the engine writes MediaBox and TrimBox only. What
    it wrote stays byte for byte; the changed page objects follow as an incremental update (7.5.6).

    Args:
        pdf: As the engine wrote it.
        bleed_mm: Width of the bleed.

    Raises:
        BadTemplate: If the document is not built as expected.
    """
    trailer, pages = _TRAILER.search(pdf), list(_PAGE.finditer(pdf))
    if not trailer or not pages:
        raise BadTemplate("the bleed cannot be marked in this document")
    body, places = bytearray(pdf.rstrip(b"\r\n") + b"\n"), {}
    for page in pages:
        trim = _TRIM_BOX.search(page[2])
        if not trim:
            raise BadTemplate("the document has no trimmed size")
        left, low, right, high = map(float, trim[1].split())
        grow = bleed_mm * _POINTS_PER_MM
        box = (left - grow, low - grow, right + grow, high + grow)
        numbers = " ".join(f"{number:.3f}" for number in box).encode()
        places[int(page[1])] = len(body)
        body += page[1] + b" 0 obj\n<<" + page[2] + b"/BleedBox[" + numbers + b"]>>\nendobj\n"
    start = len(body)
    body += b"xref\n0 0\n"
    for number, place in sorted(places.items()):
        body += f"{number} 1\n{place:010d} 00000 n \n".encode()
    body += b"trailer\n<<" + trailer[1] + b"/Prev " + trailer[2]
    body += b">>\nstartxref\n" + str(start).encode() + b"\n%%EOF\n"
    return bytes(body)
