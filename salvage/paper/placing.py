"""
Where the symbol and the words go on one label.

The symbol's module is a whole number of printer dots, the largest that fits, because a module that
is rounded by the printer reads far worse (measured on simulated thermal print). The words have a
box of their own beside or below the symbol, or on the other half of a folded tag; neither reaches
into the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from salvage.errors import BadValue
from salvage.paper.stock import Stock

_GAP_MM = 0.5  # between symbol and words, besides the symbol's own quiet zone
_BARS_GAP_MM = 1.2  # below bars, which have no quiet zone there

# Least module that was read in simulated thermal print; bars of Code 128 stand two dots. The
# symbologies leave the module to the application (ISO/IEC 18004, 16022 and 15417, from memory);
# older rules for Code 128 asked for 0.19 mm at least (from memory).
LEAST_MODULE_MM = 0.33
LEAST_BAR_MM = 0.25

_ALERT_MM = 5.0  # a band of one line, or two in small type

_MONO_WIDTH = 0.602  # of the font size: DejaVu Sans Mono, advance 1233 of 2048 units
_MM_PER_PT = 25.4 / 72


@dataclass(frozen=True, slots=True)
class Design:
    """
    What one kind of label gives room to.

    The least size of the code in characters follows the angle that its capitals fill: 20 minutes of
    arc are comfortable and 16 the least (ISO 9241-303, from memory). Capitals of DejaVu Sans Mono
    are 0.729 of the font size, so 9.1 point serve at arm's length, 400 mm, and 7 point for a tag
    that is held at 300 mm.

    Args:
        edge_mm: Room for the drift of a sheet or roll in the printer (common practice, no source).
        share: Widest part of a label that a symbol beside words takes.
        least_pt: Least font size of the code in characters.
        most_pt: Largest one.
        height_share: Part of the words' height that the code may take beside a symbol.
    """

    edge_mm: float = 1.5
    share: float = 0.5
    least_pt: float = 9.1
    most_pt: float = 30.0
    height_share: float = 0.4


DESIGNS = {
    "board": Design(),
    "place": Design(share=0.45, most_pt=16.0, height_share=0.22),
    "tag": Design(edge_mm=1.0, least_pt=7.0, most_pt=14.0),
    "card": Design(share=0.48, most_pt=16.0, height_share=0.25),
}
"""Kinds of labels: for boards, for shelves and boxes, for small pieces, for what a buyer takes."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in millimetres from the upper left corner of its label or page."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Placing:
    """
    The plan of one label.

    Args:
        symbol: Box of the symbol, quiet zone included, on whole printer dots.
        words: Box of the code in characters and the text.
        module_mm: Side of one module.
        code_pt: Font size of the code in characters.
        beside: Whether the words stand beside the symbol; else they are centred.
        code_rows: Lines that the code takes.
        is_turned: Whether the words stand on their head, for the half that is folded backwards.
    """

    symbol: Box
    words: Box
    module_mm: float
    code_pt: float
    beside: bool
    code_rows: int = 1
    is_turned: bool = False


def place_on_label(
    stock: Stock,
    modules: tuple[int, int],
    code: str,
    *,
    design: str = "board",
    alert: bool = False,
) -> Placing:
    """
    The plan with the largest module; beside the symbol where the words have room there.

    Args:
        stock: What is printed on.
        modules: Width and height of the symbol, quiet zone included.
        code: The code in characters, whose length sets its font size.
        design: Key of :data:`DESIGNS`.
        alert: Whether a warning band needs room as well.

    Raises:
        BadValue: If the label is too small for the symbol and the code.

    >>> from salvage.paper.stock import STOCKS
    >>> place_on_label(STOCKS["roll-50x25"], (29, 29), "BC0002J").module_mm
    0.75
    """
    job = _Job(stock, modules, code, DESIGNS[design])
    bars = is_bars(modules)
    if stock.fold:
        plan = _folded(job)
    else:
        below = _words_below(job, room_mm=_ALERT_MM if alert else 0.0)
        plan = below if bars else _better(job, _words_beside(job), below)
    small = plan.module_mm < (LEAST_BAR_MM if bars else LEAST_MODULE_MM)
    if small or plan.code_pt < job.design.least_pt - 1e-9:
        width, height = stock.half_mm
        half = "half " if stock.fold else ""
        raise BadValue(
            f"a {half}label of {width:g} x {height:g} mm is too small for the code {code}",
            hint="take larger labels, or a smaller kind of symbol",
        )
    return plan


def is_bars(modules: tuple[int, int]) -> bool:
    """Whether a symbol is a row of bars, by its width and height."""
    return modules[0] > 2 * modules[1]


@dataclass(frozen=True, slots=True)
class _Job:
    stock: Stock
    modules: tuple[int, int]
    code: str
    design: Design

    def largest_module(self, room: tuple[float, float]) -> float:
        fitting = min(room[0] / self.modules[0], room[1] / self.modules[1])
        return max(0, floor(fitting / self.stock.dot_mm + 1e-9)) * self.stock.dot_mm

    def on_dots(self, mm: float) -> float:
        return round(mm / self.stock.dot_mm) * self.stock.dot_mm

    def code_size(self, width_mm: float, height_mm: float) -> tuple[float, int]:
        """Font size and lines of the code: two lines where one would be too small to read."""
        for rows in (1, 2):
            marks = ceil(len(self.code) / rows)
            wide = max(0.0, width_mm) / (marks * _MONO_WIDTH * _MM_PER_PT) * 0.99
            size = min(self.design.most_pt, wide, height_mm / rows / _MM_PER_PT)
            if size >= self.design.least_pt:
                return size, rows
        return size, rows


def _better(job: _Job, beside: Placing, below: Placing) -> Placing:
    roomy = beside.code_pt >= job.design.least_pt
    if below.code_pt < job.design.least_pt:
        return beside
    if beside.code_rows > below.code_rows and below.module_mm >= 0.75 * beside.module_mm:
        return below
    return beside if roomy and beside.module_mm >= 0.6 * below.module_mm else below


def _words_beside(job: _Job) -> Placing:
    (width, height), edge = job.stock.label_mm, job.design.edge_mm
    module = job.largest_module((width * job.design.share, height - 2 * edge))
    across, down = job.modules[0] * module, job.modules[1] * module
    symbol = Box(job.on_dots(edge), job.on_dots((height - down) / 2), across, down)
    left = symbol.left_mm + across + _GAP_MM
    words = Box(left, edge, width - edge - left, height - 2 * edge)
    share = max(job.design.height_share * words.height_mm, job.design.least_pt * _MM_PER_PT)
    size, rows = job.code_size(words.width_mm, share)
    if rows == 2:
        size, rows = job.code_size(words.width_mm, 0.8 * words.height_mm)
    return Placing(symbol, words, module, size, beside=True, code_rows=rows)


def _words_below(job: _Job, *, room_mm: float) -> Placing:
    (width, height), edge = job.stock.label_mm, job.design.edge_mm
    inner = (width - 2 * edge, height - 2 * edge)
    tall = max(job.design.least_pt * _MM_PER_PT, min(18.0 * _MM_PER_PT, 0.25 * inner[1]))
    size, rows = job.code_size(inner[0], tall)
    if rows == 2:
        size, rows = job.code_size(inner[0], 2 * tall)
    gap = _BARS_GAP_MM if is_bars(job.modules) else _GAP_MM
    room = (inner[0], inner[1] - gap - rows * size * _MM_PER_PT - room_mm)
    module = job.largest_module(room)
    across, down = job.modules[0] * module, job.modules[1] * module
    symbol = Box(job.on_dots((width - across) / 2), job.on_dots(edge), across, down)
    top = symbol.top_mm + down + gap
    words = Box(edge, top, inner[0], height - edge - top)
    return Placing(symbol, words, module, size, beside=False, code_rows=rows)


def _folded(job: _Job) -> Placing:
    """The symbol on the left or lower half, the words on the other one."""
    (wide, high), edge = job.stock.half_mm, job.design.edge_mm
    module = job.largest_module((wide - 2 * edge, high - 2 * edge))
    across, down = job.modules[0] * module, job.modules[1] * module
    width, height = job.stock.label_mm
    is_turned = job.stock.fold == "top"
    top = height - high if is_turned else 0.0
    left = 0.0 if is_turned else width - wide
    symbol = Box(
        job.on_dots((wide - across) / 2), job.on_dots(top + (high - down) / 2), across, down
    )
    words = Box(left + edge, edge, wide - 2 * edge, high - 2 * edge)
    size, rows = job.code_size(words.width_mm, 0.45 * words.height_mm)
    if rows == 2:
        size, rows = job.code_size(words.width_mm, 0.7 * words.height_mm)
    return Placing(symbol, words, module, size, beside=False, code_rows=rows, is_turned=is_turned)
