"""
Every design of label at every size: printed, drawn by another program, and read by two readers.

``python -m tests.benchmarks.labels --json``

The PDF is drawn by poppler at 203.2 and 300 dots an inch and read by zxing-cpp and by zbar, which
knows no Data Matrix; the bitmaps at the printer's own dots are read as they are.
"""

from __future__ import annotations

import argparse
import io
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image

from salvage.codes.draw import Symbol, draw_code128, draw_data_matrix, draw_qr, symbol_svg
from salvage.codes.payload import wrap
from salvage.paper.action_sheet import ActionCode, Section, SheetPaper, print_action_sheet
from salvage.paper.label import draw_labels_png, print_labels
from salvage.paper.label_page import Label
from salvage.paper.placing import place_on_label
from salvage.paper.sheet import PAPERS
from salvage.paper.stock import Stock, parse_stock
from salvage.records.actions import ACTIONS
from tests.paper import printed
from tests.paper.samples import DAY, codes

DPIS = (203.2, 300.0)
"""Resolutions that pages are drawn at: those of thermal heads."""

_DRAW = {"qr": draw_qr, "data-matrix": draw_data_matrix, "code128": draw_code128}
_KIND_OF = {"board": "B", "place": "F", "tag": "P", "card": "P"}
_ADDRESS = "https://tidebell.example/s"
_LONG = "Star projector's control board from the harbour planetarium's old dome, second of three"
_PER_ROLL = 2


@dataclass(frozen=True, slots=True)
class Case:
    """
    One design on one stock.

    Args:
        design: Key of :data:`salvage.paper.placing.DESIGNS`.
        stock: As :func:`salvage.paper.stock.parse_stock` reads it.
        symbol: Kind of symbol.
    """

    design: str
    stock: str
    symbol: str = "qr"

    @property
    def name(self) -> str:
        """Design, stock and symbol."""
        return f"{self.design} {self.stock} {self.symbol}"


_SIZES = {
    ("board", "qr"): (
        "a4-3x8",
        "a4-3x7",
        "letter-3x10",
        "57x32",
        "57x32@300",
        "50x25",
        "50x25@300",
    ),
    ("board", "code128"): ("57x32", "57x32@300", "a4-3x8"),
    ("board", "data-matrix"): ("50x25", "30x20@300"),
    ("place", "qr"): ("a4-3x8", "57x32", "100x50", "100x50@300", "50x25@300"),
    ("place", "code128"): ("57x32", "100x50@300"),
    ("tag", "data-matrix"): ("30x15", "22x12", "25x12@300", "60x15 tail 20", "68x12@300 tail 36"),
    ("tag", "qr"): ("40x20", "40x20@300", "25x50 fold top", "60x25@300 fold side"),
    ("card", "qr"): ("57x32", "57x32@300", "40x40", "50x25", "a4-3x7"),
}
CASES = tuple(
    Case(design, stock, symbol) for (design, symbol), stocks in _SIZES.items() for stock in stocks
)
"""Every design with the sizes that it is meant for, at 203 and 300 dots an inch."""


def _symbol(case: Case, code: str) -> Symbol:
    text = wrap(code, web_address=_ADDRESS) if case.design == "card" else code
    return _DRAW[case.symbol](text)


def labels_of(case: Case, stock: Stock, *, title: str = _LONG) -> tuple[list[Label], list[str]]:
    """
    Labels of a case, and what their symbols say.

    Args:
        case: Which.
        stock: Its stock; a sheet is filled, a roll gets two.
        title: What stands on them.
    """
    found = codes(max(_PER_ROLL, stock.count), _KIND_OF[case.design])
    symbols = [_symbol(case, code) for code in found]
    labels = [
        Label(
            code,
            "shelf A3" if case.design == "place" else title,
            ("from DC0004J", "date code 8214", "shelf 3"),
            symbol_svg(symbol),
            "HELD: clear before cutting" if case.design == "board" else "",
            case.design,
        )
        for code, symbol in zip(found, symbols, strict=True)
    ]
    return labels, [symbol.text for symbol in symbols]


@dataclass(frozen=True, slots=True)
class Read:
    """
    What was read of one case.

    Args:
        name: The case.
        module_mm: Side of a module.
        module_dots: The same in printer dots.
        code_pt: Font size of the code in characters.
        wanted: Number of symbols at all resolutions.
        zxing: How many of them zxing-cpp read.
        zbar: How many zbar read; None where it does not know the symbol.
        bitmaps: How many of the stock's own bitmaps zxing-cpp read, of *bitmap_count*.
        bitmap_count: Symbols on the bitmaps.
        wrong: Texts read that nobody printed.
    """

    name: str
    module_mm: float
    module_dots: float
    code_pt: float
    wanted: int
    zxing: int
    zbar: int | None
    bitmaps: int
    bitmap_count: int
    wrong: int

    @property
    def all_read(self) -> bool:
        """Whether nothing was missed and nothing made up."""
        zbar = self.wanted if self.zbar is None else self.zbar
        return (self.zxing, zbar, self.bitmaps, self.wrong) == (
            self.wanted,
            self.wanted,
            self.bitmap_count,
            0,
        )


def cut_labels(page: Image.Image, stock: Stock, dpi: float, count: int) -> list[Image.Image]:
    """The labels of one page as single pictures."""
    dots, found = dpi / 25.4, []
    for place in range(count):
        left, top = stock.corner_mm(place)
        box = (left, top, left + stock.label_mm[0], top + stock.label_mm[1])
        found.append(page.crop(tuple(round(value * dots) for value in box)))  # type: ignore[arg-type]
    return found


def read_case(case: Case) -> Read:
    """Print, draw and read one case at every resolution."""
    stock = parse_stock(case.stock)
    labels, texts = labels_of(case, stock)
    pdf = print_labels(labels, stock, made_on=DAY)
    by_zxing: list[str] = []
    by_zbar: list[str] = []
    for dpi in DPIS:
        for page in printed.pages_of(pdf, dpi):
            for single in cut_labels(page, stock, dpi, stock.count):
                by_zxing += printed.read_by_zxing(single)
                by_zbar += printed.read_by_zbar(single)
    drawn = draw_labels_png(labels, stock, made_on=DAY)
    dots = [
        text
        for png in drawn
        for text in printed.read_by_zxing(Image.open(io.BytesIO(png)).convert("L"))
    ]
    symbol = _symbol(case, labels[0].code)
    plan = place_on_label(
        stock,
        symbol.size_modules,
        labels[0].code,
        design=case.design,
        alert=bool(labels[0].alert),
    )
    return Read(
        case.name,
        round(plan.module_mm, 4),
        round(plan.module_mm / stock.dot_mm, 6),
        round(plan.code_pt, 1),
        len(DPIS) * len(texts),
        _hits(by_zxing, texts),
        None if case.symbol == "data-matrix" else _hits(by_zbar, texts),
        _hits(dots, texts),
        len(texts),
        len({*by_zxing, *by_zbar, *dots} - set(texts)),
    )


def _hits(found: Sequence[str], wanted: Sequence[str]) -> int:
    return sum(found.count(text) for text in wanted)


def read_actions(paper: str, symbol: str, dpi: float) -> tuple[list[str], list[str]]:
    """
    What the two readers find on a page of action codes, drawn at a resolution.

    The first reads the whole page at once; zbar, which mixes up the corners of many QR codes on one
    page, reads code by code, as a scanner at the bench sees them.
    """
    sections = [
        Section(
            "Do",
            tuple(
                ActionCode(a.code, a.words, a.hint, symbol_svg(_DRAW[symbol](a.code)))
                for a in ACTIONS
            ),
        )
    ]
    pdf = print_action_sheet(sections, SheetPaper(PAPERS[paper]), workshop="Tidebell", made_on=DAY)
    (page,) = printed.pages_of(pdf, dpi)
    singles = [page.crop(box) for box in _grounds(pdf, dpi)]
    return (
        printed.read_by_zxing(page),
        sorted(text for single in singles for text in printed.read_by_zbar(single)),
    )


def _grounds(pdf: bytes, dpi: float) -> list[tuple[int, int, int, int]]:
    """The white ground of each symbol on the first page, in pixels of a drawn page."""
    with printed.opened(pdf) as document:
        return [
            (
                round(float(shape["x0"]) * dpi / 72),
                round(float(shape["top"]) * dpi / 72),
                round(float(shape["x1"]) * dpi / 72),
                round(float(shape["bottom"]) * dpi / 72),
            )
            for shape in document.pages[0].rects
            if shape["non_stroking_color"] in (1, (1,)) and shape["width"] > 40
        ]


def run() -> dict[str, object]:
    """Read every case."""
    start = time.process_time()
    reads = [read_case(case) for case in CASES]
    sheets = {
        f"{paper} {symbol} {dpi:g}": [len(found) for found in read_actions(paper, symbol, dpi)]
        for paper in PAPERS
        for symbol in ("qr", "code128")
        for dpi in DPIS
    }
    known = [read for read in reads if read.zbar is not None]
    return {
        "benchmark": "labels",
        "cases": len(reads),
        "symbols": sum(read.wanted for read in reads),
        "zxing_percent": 100 * sum(r.zxing for r in reads) / sum(r.wanted for r in reads),
        "zbar_symbols": sum(read.wanted for read in known),
        "zbar_percent": 100 * sum(r.zbar or 0 for r in known) / sum(r.wanted for r in known),
        "bitmap_percent": 100 * sum(r.bitmaps for r in reads) / sum(r.bitmap_count for r in reads),
        "wrong": sum(read.wrong for read in reads),
        "least_module_mm": min(read.module_mm for read in reads),
        "least_code_pt": min(read.code_pt for read in reads),
        "missed": [read.name for read in reads if not read.all_read],
        "action_codes": len(ACTIONS),
        "action_sheets_zxing_zbar": sheets,
        "cpu_s": round(time.process_time() - start, 1),
        "table": [
            {"name": r.name, "module_mm": r.module_mm, "dots": r.module_dots, "code_pt": r.code_pt}
            for r in reads
        ],
    }


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description="Every design of label, read back.")
    parser.add_argument("--json", action="store_true")
    as_json = parser.parse_args().json
    result = run()
    if as_json:
        print(json.dumps(result, indent=2))
        return
    for key, value in result.items():
        print(f"{key:26} {value}")


if __name__ == "__main__":
    main()
