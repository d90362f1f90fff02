"""
Where the symbol and the words go on one label.

The symbol's module is a whole number of printer dots, the largest that fits, because a module that
is rounded by the printer reads far worse (measured on simulated thermal print). The words have a
box of their own beside or below the symbol; neither reaches into the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

from salvage.errors import BadValue
from salvage.paper.stock import Stock

_EDGE_MM = 1.5  # room for the drift of a sheet or roll in the printer (common practice, no source)
_GAP_MM = 0.5  # between symbol and words, besides the symbol's own quiet zone
_SHARE_BESIDE = 0.5  # widest part of a label that a symbol beside words takes

# Least module that was read in simulated thermal print; bars of Code 128 stand two dots.
_LEAST_MODULE_MM = 0.33
_LEAST_BAR_MM = 0.25

_ALERT_MM = 5.0  # a band of one line, or two in small type

_MONO_WIDTH = 0.602  # of the font size: DejaVu Sans Mono, advance 1233 of 2048 units
_MM_PER_PT = 25.4 / 72
_LARGEST_CODE_PT = 30.0
_LEAST_CODE_PT = 7.0
_COMFORTABLE_CODE_PT = 9.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in millimetres from the upper left corner of its label."""

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
        beside: Whether the words stand beside the symbol; else they stand below, centred.
    """

    symbol: Box
    words: Box
    module_mm: float
    code_pt: float
    beside: bool


def place_on_label(
    stock: Stock, modules: tuple[int, int], code: str, *, alert: bool = False
) -> Placing:
    """
    The plan with the largest module; beside the symbol where the words have room there.

    Args:
        stock: What is printed on.
        modules: Width and height of the symbol, quiet zone included.
        code: The code in characters, whose length sets its font size.
        alert: Whether a warning band needs room as well.

    Raises:
        BadValue: If the label is too small for the symbol and the code.

    >>> from salvage.paper.stock import STOCKS
    >>> place_on_label(STOCKS["roll-50x25"], (29, 29), "BC0002J").module_mm
    0.75
    """
    bars = modules[0] > 2 * modules[1]
    below = _words_below(stock, modules, code, room_mm=_ALERT_MM if alert else 0.0)
    plan = below if bars else _better(_words_beside(stock, modules, code), below)
    if plan.module_mm < (_LEAST_BAR_MM if bars else _LEAST_MODULE_MM):
        width, height = stock.label_mm
        raise BadValue(
            f"a label of {width:g} x {height:g} mm is too small for the code {code}",
            hint="take larger labels, or a smaller kind of symbol",
        )
    return plan


def _better(beside: Placing, below: Placing) -> Placing:
    roomy = beside.code_pt >= _COMFORTABLE_CODE_PT
    return beside if roomy and beside.module_mm >= 0.6 * below.module_mm else below


def _words_beside(stock: Stock, modules: tuple[int, int], code: str) -> Placing:
    width, height = stock.label_mm
    room = (width * _SHARE_BESIDE, height - 2 * _EDGE_MM)
    module = _largest_module(stock, modules, room)
    across, down = modules[0] * module, modules[1] * module
    symbol = Box(_on_dots(stock, _EDGE_MM), _on_dots(stock, (height - down) / 2), across, down)
    left = symbol.left_mm + across + _GAP_MM
    words = Box(left, _EDGE_MM, width - _EDGE_MM - left, height - 2 * _EDGE_MM)
    code_pt = min(
        _LARGEST_CODE_PT, _code_pt(code, words.width_mm), 0.4 * words.height_mm / _MM_PER_PT
    )
    return Placing(symbol, words, module, code_pt, beside=True)


def _words_below(stock: Stock, modules: tuple[int, int], code: str, *, room_mm: float) -> Placing:
    width, height = stock.label_mm
    inner = (width - 2 * _EDGE_MM, height - 2 * _EDGE_MM)
    code_pt = max(_LEAST_CODE_PT, min(18.0, _code_pt(code, inner[0]), 0.25 * inner[1] / _MM_PER_PT))
    room = (inner[0], inner[1] - _GAP_MM - code_pt * _MM_PER_PT - room_mm)
    module = _largest_module(stock, modules, room)
    across, down = modules[0] * module, modules[1] * module
    symbol = Box(_on_dots(stock, (width - across) / 2), _on_dots(stock, _EDGE_MM), across, down)
    top = symbol.top_mm + down + _GAP_MM
    words = Box(_EDGE_MM, top, inner[0], height - _EDGE_MM - top)
    return Placing(symbol, words, module, code_pt, beside=False)


def _largest_module(stock: Stock, modules: tuple[int, int], room: tuple[float, float]) -> float:
    fitting = min(room[0] / modules[0], room[1] / modules[1])
    return max(0, floor(fitting / stock.dot_mm + 1e-9)) * stock.dot_mm


def _on_dots(stock: Stock, mm: float) -> float:
    return round(mm / stock.dot_mm) * stock.dot_mm


def _code_pt(code: str, width_mm: float) -> float:
    return max(0.0, width_mm) / (len(code) * _MONO_WIDTH * _MM_PER_PT) * 0.99
