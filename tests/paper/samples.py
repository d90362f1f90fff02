"""Papers of a made-up coastal workshop, for the tests of this room."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

from PIL import Image, ImageDraw

from salvage.codes.draw import draw_qr, symbol_svg
from salvage.codes.payload import wrap
from salvage.ids import next_code
from salvage.paper.card import StoryCard
from salvage.paper.cards import CardRun, print_cards
from salvage.paper.designs import shipped_design
from salvage.paper.label_page import Label
from salvage.paper.place_map import draw_place_map
from salvage.paper.receipt import Receipt
from salvage.records.region import Region

DAY = date(2026, 5, 4)
EDGE = Region(((0, 0), (180000, 0), (180000, 120000), (0, 120000)))
SPOT = Region(((90000, 20000), (110000, 60000), (90000, 80000), (70000, 60000)))


def codes(count: int, kind: str = "B") -> list[str]:
    """The first codes of a kind."""
    found: list[str] = []
    last = 0
    for _ in range(count):
        code, last = next_code(kind, "C", last)
        found.append(code)
    return found


def label(code: str, *, title: str = "Projector control board", alert: str = "") -> Label:
    """A board's label with a QR code."""
    lines = ("from DC0004J", "date code 8214", "shelf 3")
    return Label(code, title, lines, symbol_svg(draw_qr(code)), alert)


def picture(colour: str, *, size: tuple[int, int] = (900, 600), kind: str = "JPEG") -> bytes:
    """A kite on a ground."""
    drawn = Image.new("RGB", size, "linen")
    middle, low = size[0] // 2, size[1] - 60
    ImageDraw.Draw(drawn).polygon(
        [(middle, 60), (middle + 160, low // 3), (middle, low), (middle - 160, low // 3)],
        fill=colour,
    )
    file = io.BytesIO()
    drawn.save(file, kind)
    return file.getvalue()


def card() -> StoryCard:
    """A kite's story card with everything on it."""
    return StoryCard(
        code="PC0002E",
        headline="Kite, cut from a star projector's control board",
        workshop="Tidebell Workshop",
        web_address="tidebell.example",
        symbol_svg=symbol_svg(draw_qr(wrap("PC0002E", web_address="tidebell.example"))),
        photo=picture("seagreen"),
        place_map=draw_place_map(EDGE, (), SPOT, photo=picture("darkgreen")),
        story=(
            "Cut on 4 May 2026 with a 1 mm cutter from board BC0013D.",
            "The board steered the lamp of a star projector.",
        ),
        origin=("Came on 12 March 2026 from the Harbour Planetarium.",),
        care=("Wipe with a dry cloth.", "Lead status unknown: keep it from children's mouths."),
        journal_count=1482,
        journal_hash="9f3a01bc77d2",
        shape="Kite",
        material="Cut from a control board",
        price="24.00 EUR",
    )


def print_card(
    one: StoryCard, *, design: str = "a6", on: str = "card", extra_fonts: Path | None = None
) -> bytes:
    """The PDF of one card in a design of ours."""
    run = CardRun(shipped_design(design), DAY, on, extra_fonts=extra_fonts)
    return print_cards([one], run).pages[0]


def receipt() -> Receipt:
    """A planetarium's receipt."""
    return Receipt(
        code="DC0004F",
        received_on=date(2026, 3, 12),
        workshop="Tidebell Workshop",
        web_address="tidebell.example",
        symbol_svg=symbol_svg(draw_qr("DC0004F")),
        donor="Harbour Planetarium",
        naming="Cards may give your name.",
        contents=("Star projector control unit, one crate", "Two lamp power supplies"),
        weight="12.4 kg",
        data_parts=(("1 × memory card", "taken out unread and shredded"),),
        terms=("What cannot be used goes to a licensed recycler.",),
        journal_count=31,
        journal_hash="c0ffee1234",
    )
