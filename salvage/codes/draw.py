"""
Symbols as modules, and modules as pictures: QR, Data Matrix and Code 128.

A symbol is kept as rows of dark and light modules, so that one drawing serves every size. Sizes in
millimetres are chosen where it is printed, so that one module is a whole number of printer dots.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from salvage.errors import BadValue

if TYPE_CHECKING:
    from PIL.Image import Image

QR_LEVELS = "LMQH"
"""Error correction levels of QR codes, weakest first (ISO/IEC 18004, 6.5.1)."""

# Quiet zones in modules: ISO/IEC 18004, 6.3.8 (four on all sides); ISO/IEC 16022, 5.1 (one on all
# sides; two are left here, since on the smallest tags words and a crooked edge come near);
# ISO/IEC 15417, 4.3.2 (ten left and right). Clause numbers are from memory.
_QUIET = {"QR": 4, "Data Matrix": 2, "Code 128": 10}

_LINEAR_ROWS = 24
"""Height of Code 128 bars in modules: 9 mm at three dots of a 203 dpi printer."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """
    A drawn symbol.

    Args:
        kind: ``QR``, ``Data Matrix`` or ``Code 128``.
        rows: Modules from top to bottom, one character each: ``#`` dark, ``.`` light. The bars of
            Code 128 are repeated in every row.
        quiet: Width of the quiet zone in modules.
        text: What the symbol says.
        level: Error correction level; only QR has one.
    """

    kind: str
    rows: tuple[str, ...]
    quiet: int
    text: str
    level: str = ""

    @property
    def quiet_rows(self) -> int:
        """Height of the quiet zone in modules; bars need none above and below."""
        return 0 if self.kind == "Code 128" else self.quiet

    @property
    def size_modules(self) -> tuple[int, int]:
        """Width and height in modules, quiet zone included."""
        return len(self.rows[0]) + 2 * self.quiet, len(self.rows) + 2 * self.quiet_rows


def draw_qr(text: str, level: str = "M") -> Symbol:
    """
    A QR code of the smallest size that holds *text* at *level* or better.

    Where the same size has room for a stronger level, the stronger one is taken: it costs nothing.

    Args:
        text: What it says; digits, capitals and ``$%*+-./:`` pack tightest.
        level: ``L``, ``M``, ``Q`` or ``H``.

    Raises:
        BadValue: If the level is unknown, or the text is empty or too long.

    >>> symbol = draw_qr("BC0002J")
    >>> len(symbol.rows), symbol.level
    (21, 'H')
    """
    if level not in QR_LEVELS or len(level) != 1:
        raise BadValue(f"'{level}' is not a level of a QR code", hint="use L, M, Q or H")
    rows, taken = _modules("QR", text, level=level), level
    for stronger in QR_LEVELS[QR_LEVELS.index(level) + 1 :]:
        try:
            better = _modules("QR", text, level=stronger)
        except BadValue:
            break
        if len(better) > len(rows):
            break
        rows, taken = better, stronger
    return Symbol("QR", rows, _QUIET["QR"], text, taken)


def draw_data_matrix(text: str) -> Symbol:
    """
    A square Data Matrix symbol (ECC 200), for the smallest tags.

    Raises:
        BadValue: If the text is empty or too long.

    >>> len(draw_data_matrix("BC0002J").rows)
    12
    """
    return Symbol("Data Matrix", _modules("Data Matrix", text), _QUIET["Data Matrix"], text)


def draw_code128(text: str) -> Symbol:
    """
    A Code 128 symbol, for laser hand scanners that read bars only.

    Raises:
        BadValue: If the text is empty, too long, or has characters outside Latin-1.

    >>> len(draw_code128("BC0002J").rows[0])
    112
    """
    bars = _modules("Code 128", text)[0]
    return Symbol("Code 128", (bars,) * _LINEAR_ROWS, _QUIET["Code 128"], text)


def symbol_svg(symbol: Symbol) -> str:
    """
    The symbol as SVG: a white ground and one filled path, one unit per module, quiet zone included.

    >>> symbol_svg(draw_qr("BC0002J")).startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    True
    """
    width, height = symbol.size_modules
    path = "".join(f"M{x} {y}h{w}v{h}h-{w}z" for x, y, w, h in _rectangles(symbol))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M0 0h{width}v{height}h-{width}z"/>'
        f'<path fill="#000" d="{path}"/></svg>'
    )


def symbol_png(symbol: Symbol, *, dots: int = 4) -> bytes:
    """
    The symbol as a black and white PNG, quiet zone included.

    Args:
        symbol: What to draw.
        dots: Pixels along one module.

    Raises:
        BadValue: If *dots* is not between 1 and 64.
    """
    from PIL import Image as images
    from PIL import ImageDraw

    if not 1 <= dots <= 64:
        raise BadValue(f"{dots} dots per module is out of range", hint="use 1 to 64")
    width, height = symbol.size_modules
    picture: Image = images.new("1", (width * dots, height * dots), 1)
    pen = ImageDraw.Draw(picture)
    for x, y, w, h in _rectangles(symbol):
        pen.rectangle((x * dots, y * dots, (x + w) * dots - 1, (y + h) * dots - 1), fill=0)
    file = io.BytesIO()
    picture.save(file, format="PNG", optimize=True)
    return file.getvalue()


def _rectangles(symbol: Symbol) -> Iterator[tuple[int, int, int, int]]:
    """Dark runs as left, top, width and height; equal neighbouring rows are joined."""
    top = symbol.quiet_rows
    for row, same in groupby(symbol.rows):
        height = len(list(same))
        left = symbol.quiet
        for mark, run in groupby(row):
            width = len(list(run))
            if mark == "#":
                yield left, top, width, height
            left += width
        top += height


def _modules(kind: str, text: str, *, level: str = "") -> tuple[str, ...]:
    import zxingcpp

    formats = {
        "QR": zxingcpp.BarcodeFormat.QRCode,
        "Data Matrix": zxingcpp.BarcodeFormat.DataMatrix,
        "Code 128": zxingcpp.BarcodeFormat.Code128,
    }
    options: dict[str, str | bool] = {"ec_level": level} if level else {}
    if kind == "Data Matrix":
        options["force_square"] = True
    try:
        barcode = zxingcpp.create_barcode(text, formats[kind], **options)
    except ValueError:
        shown = text if len(text) <= 40 else text[:39] + "…"
        raise BadValue(
            f"'{shown}' cannot be drawn as {kind}",
            hint="use 1 to some 200 plain letters and digits",
        ) from None
    # The writer's picture is a buffer, though its type stub does not say so.
    picture: Any = zxingcpp.write_barcode_to_image(barcode)
    pixels: Any = memoryview(picture).tolist()
    return _crop(["".join(".#"[value < 128] for value in row) for row in pixels])


def _crop(rows: list[str]) -> tuple[str, ...]:
    """The rows without the light margin that the writer adds; light rows inside stay."""
    inked = [number for number, row in enumerate(rows) if "#" in row]
    left = min(rows[number].index("#") for number in inked)
    right = max(rows[number].rindex("#") for number in inked) + 1
    return tuple(row[left:right] for row in rows[inked[0] : inked[-1] + 1])
