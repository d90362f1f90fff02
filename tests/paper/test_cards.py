"""Cards on paper: alone, for a print shop, and many on a sheet."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from pypdf import PdfReader

from salvage.codes.draw import draw_qr, symbol_svg
from salvage.codes.payload import unwrap
from salvage.errors import BadTemplate, BadValue
from salvage.paper.card import StoryCard
from salvage.paper.cards import BLEED_MM, CardRun, print_cards, with_bleed_box
from salvage.paper.designs import Design, parse_design, shipped_design, shipped_designs
from salvage.paper.sheet import PAPERS
from tests.paper import printed
from tests.paper.samples import DAY, card, codes, print_card

TWO_SIDED = ("pocket", "swing")
PT_PER_MM = 72 / 25.4


def _cards(count: int) -> list[StoryCard]:
    return [
        replace(card(), code=code, symbol_svg=symbol_svg(draw_qr(code)))
        for code in codes(count, "P")
    ]


def _read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf), strict=True)


def _millimetres(box: Any) -> tuple[float, ...]:
    edges = (box.left, box.bottom, box.right, box.top)
    return tuple(round(float(edge) / PT_PER_MM, 2) for edge in edges)


def _black_at(page: Any, x_mm: float, y_mm: float) -> bool:
    """Whether a drawn line covers a place on a page, as pdfplumber sees its lines."""
    x, y = x_mm * PT_PER_MM, y_mm * PT_PER_MM
    return any(
        line["x0"] - 0.3 <= x <= line["x1"] + 0.3 and line["top"] - 0.3 <= y <= line["bottom"] + 0.3
        for line in page.lines
    )


@pytest.mark.parametrize("name", [n for n in shipped_designs() if n not in ("stall", "large")])
def test_a_print_shop_finds_the_trimmed_size_and_the_bleed(name: str) -> None:
    """TrimBox is the finished size and BleedBox 3 mm more on each side, on every page (pypdf)."""
    wide, high = shipped_design(name).trim_mm
    document = _read(print_card(card(), design=name, on="shop"))

    for page in document.pages:
        left, low, right, top = _millimetres(page.trimbox)
        assert (right - left, top - low) == pytest.approx((wide, high), abs=0.02)
        assert _millimetres(page.bleedbox) == pytest.approx(
            (left - BLEED_MM, low - BLEED_MM, right + BLEED_MM, top + BLEED_MM), abs=0.02
        )
        outer = _millimetres(page.mediabox)
        assert outer[0] < left - BLEED_MM
        assert outer[2] > right + BLEED_MM


def test_crop_marks_point_at_the_corners_and_stay_out_of_the_bleed() -> None:
    """A line runs towards each corner of the trimmed card, and none comes nearer than the bleed."""
    pdf = print_card(card(), design="a6", on="shop")
    page_box = _read(pdf).pages[0]
    left, low, right, top = _millimetres(page_box.trimbox)
    height = _millimetres(page_box.mediabox)[3]
    with printed.opened(pdf) as document:
        page = document.pages[0]
        edges = (height - top, height - low)
        across = [
            _black_at(page, x + way * 5, y) for x, way in ((left, -1), (right, 1)) for y in edges
        ]
        down = [
            _black_at(page, x, y + way * 5)
            for x in (left, right)
            for y, way in ((edges[0], -1), (edges[1], 1))
        ]
        near = [
            _black_at(page, x + way * 2, y) for x, way in ((left, -1), (right, 1)) for y in edges
        ]

    assert across == down == [True] * 4
    assert near == [False] * 4


def test_a_photo_at_the_edge_runs_into_the_bleed() -> None:
    """What touches the edge of the finished card is drawn 3 mm beyond it; outside is white."""
    pdf = print_card(replace(card(), photo=b"", place_map=None), design="a6", on="shop")
    left, _, _, _ = _millimetres(_read(pdf).pages[0].trimbox)
    page = printed.pages_of(pdf, 127)[0]  # 5 pixels a millimetre
    middle = page.height // 3

    def gray(x_mm: float) -> int:
        spot = page.crop((round(x_mm * 5), middle, round(x_mm * 5) + 1, middle + 1))
        return spot.histogram().index(1)

    assert gray(left - 2.5) < 120
    assert gray(left - 3.6) == 255


def test_the_changed_document_is_sound_to_a_strict_reader() -> None:
    """The boxes come as an incremental update: same words, fonts and archive mark as before."""
    plain = print_card(card(), design="folded", on="card")
    shop = print_card(card(), design="folded", on="shop")
    document = _read(shop)

    assert len(document.pages) == 2
    assert printed.unembedded_fonts(shop) == []
    assert b"<pdfaid:part>2</pdfaid:part>" in printed.archive_part(shop)
    assert printed.letters(plain) in printed.letters(shop) + printed.letters(plain)
    for words in ("Its story", "Care and cautions"):
        assert any(words in page.extract_text() for page in document.pages)


def test_a_document_of_another_make_is_refused() -> None:
    """Boxes are set only in what the engine wrote."""
    with pytest.raises(BadTemplate, match="bleed"):
        with_bleed_box(b"%PDF-1.7\nnothing", 3)


@pytest.mark.parametrize("name", TWO_SIDED)
@pytest.mark.parametrize("paper", PAPERS)
def test_backs_meet_their_fronts(name: str, paper: str) -> None:
    """Turned over, each back lies behind its own front: the columns run the other way."""
    made = print_cards(_cards(5), CardRun(shipped_design(name), DAY, paper))
    with printed.opened(made.pages[0]) as document:
        front, back = ([w for w in p.extract_words()] for p in document.pages)
        wide = float(document.pages[0].width)
        sizes = {(round(p.width / PT_PER_MM), round(p.height / PT_PER_MM)) for p in document.pages}
    sheet = tuple(round(side) for side in PAPERS[paper])

    assert sizes <= {sheet, sheet[::-1]}
    assert made.per_sheet >= 5
    for code in codes(5, "P"):
        middles = [[(w["x0"] + w["x1"]) / 2, w["top"]] for w in front if w["text"] == code]
        assert len(middles) == 1
    if name == "pocket":
        fronts = {w["text"]: w["x0"] for w in front if w["text"] in codes(5, "P")}
        backs = {w["text"]: w["x0"] for w in back if w["text"] in codes(5, "P")}
        trim = shipped_design(name).trim_mm[0] * PT_PER_MM
        for code, x in fronts.items():
            # The code stands 55 mm from the left edge in front, and 5 mm behind.
            assert (x - 55 * PT_PER_MM) + trim + (backs[code] - 5 * PT_PER_MM) == pytest.approx(
                wide, abs=1
            )


@pytest.mark.parametrize(("name", "count"), [("price", 30), ("pocket", 9)])
def test_every_code_of_a_sheet_is_read(name: str, count: int) -> None:
    """Each piece is found once on full sheets; the second reader finds each card by itself."""
    made = print_cards(_cards(count), CardRun(shipped_design(name), DAY, "a4"))
    alone = print_cards(_cards(3), CardRun(shipped_design(name), DAY))
    pages = printed.pages_of(made.pages[0], 203)
    by_zxing = [unwrap(t) for page in pages for t in printed.read_by_zxing(page)]
    by_zbar = [
        t for page in printed.pages_of(alone.pages[0], 203) for t in printed.read_by_zbar(page)
    ]

    assert sorted(str(code) for code in by_zxing) == sorted(codes(count, "P"))
    assert by_zbar == codes(3, "P")


def test_cutting_marks_stand_at_every_edge_of_a_sheet() -> None:
    """Cards without bleed share their cuts; every cut has a mark at both ends of the sheet."""
    made = print_cards(_cards(4), CardRun(shipped_design("price"), DAY, "a4"))
    with printed.opened(made.pages[0]) as document:
        lines = [
            line
            for line in document.pages[0].lines
            if line["x1"] - line["x0"] + line["bottom"] - line["top"]
            == pytest.approx(3.4 * PT_PER_MM, abs=0.05)
        ]
    is_upright = [line["x1"] - line["x0"] < 0.05 for line in lines]
    marks = list(zip(lines, is_upright, strict=True))
    upright = sorted({round(line["x0"] / PT_PER_MM, 1) for line, stands in marks if stands})
    level = sorted({round(line["top"] / PT_PER_MM, 1) for line, stands in marks if not stands})

    assert (len(upright) - 1) * (len(level) - 1) == made.per_sheet
    assert [b - a for a, b in pairwise(upright)] == pytest.approx(
        [55] * (len(upright) - 1), abs=0.15
    )
    assert [b - a for a, b in pairwise(level)] == pytest.approx([35] * (len(level) - 1), abs=0.15)


def test_a_design_larger_than_the_sheet_is_refused() -> None:
    """A card of 30 cm finds no place on A4; it can still be printed alone."""
    source = shipped_design("price").source.replace("(55mm, 35mm)", "(300mm, 300mm)")
    large = parse_design("banner", source, own=True)

    with pytest.raises(BadValue, match="larger than a sheet of a4"):
        print_cards(_cards(1), CardRun(large, DAY, "a4"))
    assert print_cards(_cards(1), CardRun(large, DAY)).per_sheet == 1


def test_what_cards_are_printed_on_is_known() -> None:
    """Another paper is refused with those that there are, and nothing is no card."""
    with pytest.raises(BadValue, match="card, shop, a4, letter"):
        print_card(card(), on="papyrus")
    with pytest.raises(BadValue, match="no card"):
        print_cards([], CardRun(shipped_design("a6"), DAY))


@pytest.mark.parametrize("on", ["card", "shop", "a4"])
def test_the_same_cards_give_the_same_bytes(on: str) -> None:
    """A reprint is the same file, whatever it is printed on."""
    cards = _cards(3)
    run = CardRun(shipped_design("a7"), DAY, on)

    assert print_cards(cards, run).pages == print_cards(cards, run).pages


def _own(body: str, *, more: str = "") -> Design:
    head = (
        '// Ours.\n#import "card_parts.typ": *\n#let paper = "story card"\n'
        "#let trim = (80mm, 40mm)\n#let bleeds = false\n#let folds = ()\n"
    )
    return parse_design("harbour", f"{head}{more}#let faces = (card => [{body}],)\n", own=True)


def _said(designs: Sequence[Design]) -> list[str]:
    return [printed.letters(print_cards([card()], CardRun(d, DAY)).pages[0]) for d in designs]


def test_a_design_of_ones_own_gets_the_data_as_words() -> None:
    """Its markup is the maker's; what the record holds stays data and is never run."""
    nasty = replace(card(), headline='#read("x") $y$ *z*')
    made = print_cards([nasty], CardRun(_own("#card.headline"), DAY))

    assert printed.letters(made.pages[0]) == '#read("x")$y$*z*'
    assert _said([_own("#card.code"), _own("*#card.shape*")]) == ["PC0002E", "Kite"]


@pytest.mark.parametrize(
    "reach",
    [
        '#read("/etc/passwd")',
        '#read("../../../../etc/passwd")',
        '#read("/proc/self/environ")',
        '#image("/usr/share/pixmaps/a.png")',
        '#csv("/etc/passwd")',
    ],
)
def test_a_design_reads_nothing_outside(reach: str) -> None:
    """The only folder that can be read is the run's own; the place of the attempt is told."""
    with pytest.raises(BadTemplate) as refused:
        print_cards([card()], CardRun(_own(reach), DAY))

    assert (refused.value.file, refused.value.line) == ("harbour.typ", 7)
    assert "root:" not in str(refused.value)


@pytest.mark.parametrize(
    "words", ["הלוח הגיע מפלנטריום בחוף, בשנת 1991.", "جاءت اللوحة من قبة فلكية."]
)
def test_words_from_right_to_left_begin_at_the_right(words: str) -> None:
    """A Hebrew or Arabic story is set from the right edge, in a font that the document carries."""
    pdf = print_card(replace(card(), story=(words,)), design="large")
    latin = print_card(replace(card(), story=("Tern.",)), design="large")

    assert printed.unembedded_fonts(pdf) == []
    assert _right_ink_mm(pdf) > 148 - 16
    assert _right_ink_mm(latin) < 60


def _right_ink_mm(pdf: bytes) -> float:
    """Where the ink of the story's first line ends, on the back of a large card."""
    back = printed.pages_of(pdf, 127)[1]  # 5 pixels a millimetre
    line = back.crop((0, round(31.5 * 5), back.width, round(36.5 * 5)))
    _, _, right, _ = line.point(lambda level: 255 if level < 128 else 0).getbbox() or (0, 0, 0, 0)
    return right / 5
