"""Printed labels, read back from the printed page by readers that did not draw them."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from PIL import Image

from salvage.codes.draw import draw_code128, draw_data_matrix, symbol_svg
from salvage.errors import BadValue
from salvage.paper.label import draw_labels_png, print_labels, print_outlines
from salvage.paper.stock import A4_MM, LETTER_MM, STOCKS, parse_stock, roll
from tests.paper import printed
from tests.paper.samples import DAY, codes, label

SHEETS = ["a4-3x8", "a4-3x7", "letter-3x10"]
ROLLS = ["roll-57x32", "roll-50x25"]


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("dpi", [150, 203, 300])
def test_every_label_of_a_sheet_reads_back(name: str, dpi: int) -> None:
    """
    Every code of a full sheet is read by both readers.

    One reads the whole sheet at once; zbar, which mixes up the corners of many codes on one page,
    reads label by label.
    """
    stock, wanted = STOCKS[name], codes(STOCKS[name].count)
    (page,) = printed.pages_of(print_labels([label(c) for c in wanted], stock, made_on=DAY), dpi)
    dots = dpi / 25.4
    corners = [stock.corner_mm(place) for place in range(stock.count)]
    singles = [
        page.crop(
            (
                round(left * dots),
                round(top * dots),
                round((left + stock.label_mm[0]) * dots),
                round((top + stock.label_mm[1]) * dots),
            )
        )
        for left, top in corners
    ]

    assert printed.read_by_zxing(page) == wanted
    assert [printed.read_by_zbar(single) for single in singles] == [[code] for code in wanted]


@pytest.mark.parametrize("name", ROLLS)
@pytest.mark.parametrize("dpi", [150, 203.2, 300])
def test_every_label_of_a_roll_reads_back(name: str, dpi: float) -> None:
    """On a roll each label is a page; both readers read each of them."""
    wanted = codes(12)
    labels = [label(code, alert="Battery inside") for code in wanted]
    pages = printed.pages_of(print_labels(labels, STOCKS[name], made_on=DAY), dpi)

    assert [printed.read_by_zxing(page) for page in pages] == [[code] for code in wanted]
    assert [printed.read_by_zbar(page) for page in pages] == [[code] for code in wanted]


def test_a_small_tag_and_bars_read_back() -> None:
    """A Data Matrix on a 20 by 12 mm tag and bars on a roll are read at 203 dpi."""
    tag = replace(label("PC0002E"), symbol_svg=symbol_svg(draw_data_matrix("PC0002E")))
    bars = replace(label("BC0002J"), symbol_svg=symbol_svg(draw_code128("BC0002J")))
    (small,) = printed.pages_of(print_labels([tag], roll(20, 12), made_on=DAY), 203.2)
    (wide,) = printed.pages_of(print_labels([bars], STOCKS["roll-57x32"], made_on=DAY), 203.2)

    assert printed.read_by_zxing(small) == ["PC0002E"]
    assert printed.read_by_zxing(wide) == ["BC0002J"]
    assert printed.read_by_zbar(wide) == ["BC0002J"]


def test_a_label_is_a_bitmap_of_whole_printer_dots() -> None:
    """50 by 25 mm at 8 dots a millimetre is 400 by 200 dots, and its modules are 6 dots each."""
    (png,) = draw_labels_png([label("BC0002J")], STOCKS["roll-50x25"], made_on=DAY)
    picture = Image.open(io.BytesIO(png)).convert("L")
    row = [picture.getpixel((x, 100 - 10 * 6)) for x in range(36, 36 + 42)]

    assert picture.size == (400, 200)
    assert row == [0] * 42
    assert printed.read_by_zxing(picture) == ["BC0002J"]


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("a4-3x8", A4_MM),
        ("a4-3x7", A4_MM),
        ("letter-3x10", LETTER_MM),
        ("roll-57x32", (57, 32)),
        ("roll-50x25", (50, 25)),
    ],
)
def test_pages_are_true_to_size(name: str, size: tuple[float, float]) -> None:
    """The page in the file is the sheet or label in the printer, to a hundredth of a millimetre."""
    pdf = print_labels([label("BC0002J")], STOCKS[name], made_on=DAY)

    assert printed.sizes_mm(pdf) == [size]


@pytest.mark.parametrize(("name", "module_mm"), [("roll-50x25", 0.75), ("roll-57x32", 0.875)])
def test_the_symbol_is_true_to_size(name: str, module_mm: float) -> None:
    """21 modules measure 21 times the module, within a tenth of a millimetre."""
    with printed.opened(print_labels([label("BC0002J")], STOCKS[name], made_on=DAY)) as document:
        left, top, right, bottom = printed.symbol_box_mm(document.pages[0])

    assert right - left == pytest.approx(21 * module_mm, abs=0.1)
    assert bottom - top == pytest.approx(21 * module_mm, abs=0.1)


def test_the_raster_has_a_quiet_zone_of_four_modules() -> None:
    """Measured on the printed page: the symbol is 15.75 mm wide, with 3 mm of white around it."""
    pdf = print_labels([label("BC0002J")], STOCKS["roll-50x25"], made_on=DAY)
    (page,) = printed.pages_of(pdf, 508)
    per_mm = 20
    ink = page.crop((0, 0, 23 * per_mm, 25 * per_mm)).point(lambda value: 255 * (value < 128))
    box = ink.getbbox()

    assert box is not None
    assert (box[2] - box[0]) / per_mm == pytest.approx(15.75, abs=0.1)
    assert (box[3] - box[1]) / per_mm == pytest.approx(15.75, abs=0.1)
    assert box[0] / per_mm >= 3
    assert page.crop((box[2], 0, box[2] + 3 * per_mm - 1, 25 * per_mm)).getextrema() == (255, 255)


def test_a_half_used_sheet_is_used_up() -> None:
    """Starting at place 23 of 24, the third label goes onto a second sheet."""
    stock, wanted = STOCKS["a4-3x8"], codes(3)
    pdf = print_labels([label(code) for code in wanted], stock, made_on=DAY, start=23)
    first, second = printed.pages_of(pdf, 150)
    used = first.crop((0, 0, first.width, round(259 / 25.4 * 150)))

    assert used.getextrema() == (255, 255)
    assert printed.read_by_zxing(first) == wanted[:2]
    assert printed.read_by_zxing(second) == wanted[2:]


@pytest.mark.parametrize(
    ("name", "has_rule"), [("a4-3x7", True), ("letter-3x10", True), ("a4-3x8", False)]
)
def test_a_rule_of_100_mm_stands_where_there_is_room(name: str, has_rule: bool) -> None:
    """A sheet with a margin carries a rule to measure; it is 100 mm long and off the labels."""
    stock = STOCKS[name]
    with printed.opened(print_labels([label("BC0002J")], stock, made_on=DAY)) as document:
        lines = document.pages[0].lines
    level = [line for line in lines if abs(line["top"] - line["bottom"]) < 0.01]
    lengths = [(line["x1"] - line["x0"]) * printed.MM_PER_PT for line in level]

    assert lengths == ([pytest.approx(100, abs=0.05)] if has_rule else [])
    assert all(
        line["top"] * printed.MM_PER_PT >= stock.corner_mm(stock.count - 1)[1] + stock.label_mm[1]
        for line in level
    )


def test_a_test_sheet_shows_every_place_and_the_rule() -> None:
    """The outlines of all places lie where the labels will."""
    stock = STOCKS["a4-3x8"]
    with printed.opened(print_outlines(stock, made_on=DAY)) as document:
        page = document.pages[0]
        boxes = [
            (round(r["x0"] * printed.MM_PER_PT, 1), round(r["top"] * printed.MM_PER_PT, 1))
            for r in page.rects + page.curves
            if not r["fill"] and r["width"] * printed.MM_PER_PT > 60
        ]
        lines = [line["x1"] - line["x0"] for line in page.lines]

    assert printed.sizes_mm(print_outlines(stock, made_on=DAY)) == [A4_MM]
    assert sorted(boxes) == sorted(stock.corner_mm(place) for place in range(24))
    assert max(lines) * printed.MM_PER_PT == pytest.approx(100, abs=0.05)


def test_a_roll_has_a_test_label() -> None:
    """A single label's test print has its size and fits its page."""
    pdf = print_outlines(STOCKS["roll-50x25"], made_on=DAY)

    assert printed.sizes_mm(pdf) == [(50, 25)]
    assert "50×25mm" in printed.letters(pdf)


@pytest.mark.parametrize(
    "title",
    [
        "x" * 300,
        "Infusion pump from a very long named device, " * 7,
        "Wheel " + "W" * 60 + " and further words",
        "ÄÖÜ" * 40,
        "a",
    ],
)
@pytest.mark.parametrize("name", [*SHEETS, *ROLLS])
def test_a_long_title_stays_in_its_place(title: str, name: str) -> None:
    """Every character that is printed lies on the label and beside the symbol, never on it."""
    stock = STOCKS[name]
    long = replace(label("BC0002J", title=title), lines=(title,) * 12)
    pdf = print_labels([long], stock, made_on=DAY)
    label_right, label_bottom = (stock.margin_mm[n] + stock.label_mm[n] for n in (0, 1))
    with printed.opened(pdf) as document:
        page = document.pages[0]
        _, _, symbol_right, _ = printed.symbol_box_mm(page)
        marks = [
            tuple(float(mark[side]) * printed.MM_PER_PT for side in ("x0", "x1", "bottom"))
            for mark in page.chars
            if round(mark["size"], 2) != 7  # the words at the 100 mm rule
        ]

    assert len(marks) > 7
    assert min(left for left, _, _ in marks) >= symbol_right + 4 * 0.75
    assert max(right for _, right, _ in marks) <= label_right
    assert max(low for _, _, low in marks) <= label_bottom
    assert printed.read_by_zxing(printed.pages_of(pdf, 203)[0]) == ["BC0002J"]


@pytest.mark.parametrize("size", ["25x25mm", "20x30mm", "57x32mm", "50x25mm"])
def test_code_and_warning_are_never_left_out(size: str) -> None:
    """However small the label, the code in characters and the warning are both on it."""
    pdf = print_labels([label("BC0002J", alert="Battery inside")], parse_stock(size), made_on=DAY)

    assert printed.letters(pdf).startswith("BC0002J")
    assert "Batteryinside" in printed.letters(pdf)


def test_no_label_and_no_place_are_refused() -> None:
    """An empty list and a place off the sheet are refused with a way out."""
    with pytest.raises(BadValue, match="no label"):
        print_labels([], STOCKS["a4-3x8"], made_on=DAY)
    for start in (0, 25):
        with pytest.raises(BadValue, match="1 to 24"):
            print_labels([label("BC0002J")], STOCKS["a4-3x8"], made_on=DAY, start=start)


def test_the_document_is_named_for_its_labels() -> None:
    """The title in the file says which labels it holds."""
    one = print_labels([label("BC0002J")], STOCKS["roll-50x25"], made_on=DAY)
    three = print_labels([label(c) for c in codes(3)], STOCKS["roll-50x25"], made_on=DAY)

    with printed.opened(one) as document:
        assert document.metadata["Title"] == "Label BC0002J"
    with printed.opened(three) as document:
        assert document.metadata["Title"] == "3 labels, BC0002J to BC0004F"
