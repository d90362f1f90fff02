"""A printer that is off is put right: simulated, printed, and measured by a library of others."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.paper.action_sheet import ActionCode, Section, SheetPaper, print_action_sheet
from salvage.paper.correction import TRUE, Correction, Frame, correction_of, frame_of
from salvage.paper.label import print_labels, print_outlines
from salvage.paper.picture import svg_modules
from salvage.paper.placing import place_on_label
from salvage.paper.printer_page import print_printer_page
from salvage.paper.sheet import PAPERS
from salvage.paper.stock import A4_MM, STOCKS
from tests.paper import printed
from tests.paper.samples import DAY, codes, label

CLOSE_MM = 0.1

shifts = st.floats(-5, 5)
stretches = st.floats(0.985, 1.015)
corrections = st.builds(
    lambda x, y, across, down: Correction((x, y), (across, down)),
    shifts,
    shifts,
    stretches,
    stretches,
)
points = st.tuples(st.floats(0, 300), st.floats(0, 300))


def boxes_mm(page: Any, *, least_mm: float) -> list[tuple[float, float, float, float]]:
    """Shapes of some size on a page: left, top, right, bottom, from the top of the page down."""
    found = [
        tuple(float(shape[side]) * printed.MM_PER_PT for side in ("x0", "top", "x1", "bottom"))
        for shape in page.rects + page.curves
        if shape["width"] * printed.MM_PER_PT > least_mm and shape["non_stroking_color"] != (1,)
    ]
    return sorted((a, b, c, d) for a, b, c, d in found)


def symbol_middles(pdf: bytes) -> list[tuple[float, float]]:
    """The middle of each symbol on the first page, by its white ground."""
    with printed.opened(pdf) as document:
        grounds = [
            shape
            for shape in document.pages[0].rects
            if shape["fill"]
            and shape["non_stroking_color"] in (1, (1,))
            and shape["width"] * printed.MM_PER_PT > 10
        ]
    return sorted(
        (
            (float(shape["x0"]) + float(shape["x1"])) / 2 * printed.MM_PER_PT,
            (float(shape["top"]) + float(shape["bottom"])) / 2 * printed.MM_PER_PT,
        )
        for shape in grounds
    )


def misses(printer: Correction, meant: bytes, put: bytes) -> list[float]:
    """How far each symbol lands from where it should, on a printer that is off."""
    landed = [printer.land(point) for point in symbol_middles(put)]
    wanted = symbol_middles(meant)
    assert len(landed) == len(wanted) > 0
    return [max(abs(a[0] - b[0]), abs(a[1] - b[1])) for a, b in zip(landed, wanted, strict=True)]


@given(corrections, points)
def test_what_is_put_lands_where_it_should(printer: Correction, point: tuple[float, float]) -> None:
    """Putting and landing undo one another."""
    assert printer.land(printer.put(point)) == pytest.approx(point)


@given(corrections, st.sampled_from([A4_MM, PAPERS["letter"], (57.0, 32.0), (25.0, 18.0)]))
def test_the_test_page_finds_the_printer_out(
    printer: Correction, page_mm: tuple[float, float]
) -> None:
    """Whatever a printer does to the frame, the readings of the frame say it."""
    meant = frame_of(page_mm)
    left, top = printer.land((meant.left_mm, meant.top_mm))
    right, bottom = printer.land((meant.left_mm + meant.width_mm, meant.top_mm + meant.height_mm))
    found = correction_of(meant, Frame(left, top, right - left, bottom - top))

    assert found.shift_mm == pytest.approx(printer.shift_mm, abs=1e-9)
    assert found.stretch == pytest.approx(printer.stretch)


@pytest.mark.parametrize("name", ["a4", "letter"])
def test_the_frame_is_drawn_where_it_is_said_to_be(name: str) -> None:
    """The four lines of the test page lie where the readings are compared with."""
    page_mm, frame = PAPERS[name], frame_of(PAPERS[name])
    pdf = print_printer_page(page_mm, printer="p", next_words="salvage …", made_on=DAY)
    with printed.opened(pdf) as document:
        lines = [
            tuple(float(line[side]) * printed.MM_PER_PT for side in ("x0", "top", "x1", "bottom"))
            for line in document.pages[0].lines
        ]
    level = sorted(
        y0 for x0, y0, x1, y1 in lines if x1 - x0 == pytest.approx(frame.width_mm, abs=0.02)
    )
    steep = sorted(
        x0 for x0, y0, x1, y1 in lines if y1 - y0 == pytest.approx(frame.height_mm, abs=0.02)
    )

    assert printed.sizes_mm(pdf) == [page_mm]
    assert level[0] == pytest.approx(frame.top_mm, abs=0.02)
    assert level[-1] == pytest.approx(frame.top_mm + frame.height_mm, abs=0.02)
    assert steep[0] == pytest.approx(frame.left_mm, abs=0.02)
    assert steep[-1] == pytest.approx(frame.left_mm + frame.width_mm, abs=0.02)


@settings(max_examples=5)
@given(corrections)
def test_a_sheet_of_labels_lands_right_on_a_printer_that_is_off(printer: Correction) -> None:
    """
    However a printer shifts and stretches, symbols land within a tenth of a millimetre of the plan.

    Half a dot of it, 0.06 mm at 203 dpi, is the price of modules that are whole dots.
    """
    stock = STOCKS["a4-3x7"]
    labels = [label(code) for code in codes(stock.count)]
    plan = place_on_label(stock, svg_modules(labels[0].symbol_svg), labels[0].code).symbol
    put = symbol_middles(print_labels(labels, stock, made_on=DAY, correction=printer))
    landed = [printer.land(point) for point in put]
    corners = [stock.corner_mm(place) for place in range(stock.count)]
    wanted = [
        (x + plan.left_mm + plan.width_mm / 2, y + plan.top_mm + plan.height_mm / 2)
        for x, y in corners
    ]

    assert len(landed) == stock.count
    for point in wanted:
        nearest = min(max(abs(a - b) for a, b in zip(point, at, strict=True)) for at in landed)
        assert nearest < CLOSE_MM


@settings(max_examples=5)
@given(corrections)
def test_against_the_plan_itself_less_than_a_tenth_is_missed(printer: Correction) -> None:
    """Outlines of labels, which need no whole dots, land within a hundredth of a millimetre."""
    stock = STOCKS["a4-3x8"]
    with printed.opened(print_outlines(stock, made_on=DAY, correction=printer)) as document:
        put = boxes_mm(document.pages[0], least_mm=60)
    landed = [(printer.land(box[:2]), printer.land(box[2:])) for box in put if box[3] - box[1] > 30]
    wanted = []
    for place in range(stock.count):
        left, top = stock.corner_mm(place)
        wanted.append(((left, top), (left + stock.label_mm[0], top + stock.label_mm[1])))

    assert len(landed) == stock.count
    for (near, far), (first, last) in zip(sorted(landed), sorted(wanted), strict=True):
        assert near == pytest.approx(first, abs=0.01)
        assert far == pytest.approx(last, abs=0.01)


@pytest.mark.parametrize(
    "printer",
    [
        Correction((1.3, -2.1), (1.004, 0.997)),
        Correction((-4.0, 3.0), (0.99, 1.01)),
        Correction((0.3, 0.3), (1.0, 1.0)),
    ],
)
def test_the_action_sheet_lands_right_too(printer: Correction) -> None:
    """At 600 dots an inch every symbol of the action sheet lands within a tenth of a millimetre."""
    actions = tuple(ActionCode(c, c, "", label(c).symbol_svg) for c in codes(10))
    sections = [Section("Do", actions)]
    meant, put = (
        print_action_sheet(sections, SheetPaper(A4_MM, 25.4 / 600, how), workshop="w", made_on=DAY)
        for how in (TRUE, printer)
    )

    assert max(misses(printer, meant, put)) < CLOSE_MM


def test_a_symbol_keeps_its_whole_dots() -> None:
    """Only places are corrected: a stretched symbol would have modules of broken dots."""
    stock = STOCKS["a4-3x7"]
    off = Correction((0.77, -0.31), (1.011, 0.992))
    with printed.opened(
        print_labels([label("BC0002J")], stock, made_on=DAY, correction=off)
    ) as document:
        left, top, right, bottom = printed.symbol_box_mm(document.pages[0])
    dots = [value / stock.dot_mm for value in (left, top, right - left, bottom - top)]

    assert dots == pytest.approx([round(value) for value in dots], abs=0.02)


@pytest.mark.parametrize(
    ("read", "field"),
    [
        (Frame(20, 20, 160, 257), "--width"),
        (Frame(20, 20, 170, 240), "--height"),
        (Frame(40, 20, 170, 257), "--left"),
        (Frame(20, 5, 170, 257), "--top"),
    ],
)
def test_a_reading_that_no_printer_gives_is_refused(read: Frame, field: str) -> None:
    """A page fitted to the paper, and a ruler at the wrong edge, are told by their field."""
    with pytest.raises(BadValue) as refusal:
        correction_of(frame_of(A4_MM), read)

    assert refusal.value.field == field
    assert refusal.value.hint


def test_a_corrected_page_asks_for_no_readings() -> None:
    """What the page says cannot lead to correcting twice."""
    plain, right = (
        printed.letters(
            print_printer_page(
                A4_MM, printer="p", next_words="salvageprintercheck", made_on=DAY, correction=how
            )
        )
        for how in (TRUE, Correction((1.0, 0.0)))
    )

    assert "salvageprintercheck" in plain
    assert "salvageprintercheck" not in right
    assert "Donottypethereadings" in right
