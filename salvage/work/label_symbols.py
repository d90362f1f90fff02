"""Which symbol a label carries: the one that its size, and whoever is to read it, ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.codes.draw import Symbol
    from salvage.paper.stock import Stock

SYMBOLS = ("qr", "data-matrix", "code128")
"""Kinds of symbols; Code 128 is for laser hand scanners that read bars only."""

# Below this a QR code of our short codes was read less often than a Data Matrix of the same size
# in simulated photos: 12 mm over 21 modules.
_LEAST_QR_MODULE_MM = 12 / 21


def label_symbol(
    shop: Workshop, stock: Stock, code: Code, *, design: str, wanted: str = "", alert: bool = False
) -> str:
    """
    The symbol of a label as SVG.

    A label for buyers always has a QR code, since every phone reads it, and leads to the workshop's
    own address if it has one. Other labels have a QR code where it has room, and a Data Matrix on
    the smallest tags.

    Args:
        shop: The open workshop.
        stock: What is printed on.
        code: What it says.
        design: Design of the label.
        wanted: One of :data:`SYMBOLS`; empty for the one that suits.
        alert: Whether the label carries a warning.

    Raises:
        BadValue: If the label is too small for it.
    """
    from salvage.codes.draw import symbol_svg
    from salvage.codes.payload import wrap
    from salvage.paper.placing import place_on_label

    text = wrap(code, web_address=shop.settings.web_address) if design == "card" else code
    first = wanted or "qr"
    symbol = draw_symbol(first, text)
    try:
        module_mm = place_on_label(
            stock, symbol.size_modules, code, design=design, alert=alert
        ).module_mm
    except BadValue:
        if wanted or design == "card":
            raise
        module_mm = 0.0
    if not wanted and design != "card" and module_mm < _LEAST_QR_MODULE_MM:
        symbol = draw_symbol("data-matrix", text)
    return symbol_svg(symbol)


def draw_symbol(kind: str, text: str) -> Symbol:
    """The symbol of a kind of :data:`SYMBOLS`."""
    from salvage.codes.draw import draw_code128, draw_data_matrix, draw_qr

    return {"qr": draw_qr, "data-matrix": draw_data_matrix, "code128": draw_code128}[kind](text)
