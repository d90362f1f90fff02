"""What comes out of the printer: pages as pictures, and what others read in them."""

from __future__ import annotations

import io
import subprocess
from typing import Any

import pdfplumber
import zxingcpp
from PIL import Image
from pyzbar.pyzbar import ZBarSymbol, decode

MM_PER_PT = 25.4 / 72


def pages_of(pdf: bytes, dpi: float) -> list[Image.Image]:
    """Each page as a gray picture, drawn by poppler."""
    done = subprocess.run(
        ["pdftoppm", "-r", f"{dpi:g}", "-gray", "-"],
        input=pdf,
        stdout=subprocess.PIPE,
        check=True,
    )
    pages, rest = [], done.stdout
    while rest:
        kind, size, _, body = rest.split(b"\n", 3)
        assert kind == b"P5", "poppler writes portable gray maps"
        width, height = map(int, size.split())
        pages.append(Image.frombytes("L", (width, height), body[: width * height]))
        rest = body[width * height :]
    return pages


def read_by_zxing(picture: Image.Image) -> list[str]:
    """Texts that zxing-cpp reads, sorted."""
    formats = zxingcpp.barcode_formats_from_str("QRCode|DataMatrix|Code128")
    return sorted(found.text for found in zxingcpp.read_barcodes(picture, formats=formats))


def read_by_zbar(picture: Image.Image) -> list[str]:
    """Texts that zbar reads, sorted; it knows no Data Matrix."""
    symbols = [ZBarSymbol.QRCODE, ZBarSymbol.CODE128]
    return sorted(found.data.decode() for found in decode(picture, symbols=symbols))


def opened(pdf: bytes) -> Any:
    """The document as pdfplumber sees it; Any, since that library has no types."""
    return pdfplumber.open(io.BytesIO(pdf))


def sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page, to a hundredth of a millimetre."""
    with opened(pdf) as document:
        return [
            (round(float(page.width) * MM_PER_PT, 2), round(float(page.height) * MM_PER_PT, 2))
            for page in document.pages
        ]


def letters(pdf: bytes) -> str:
    """All characters of all pages in reading order, without blanks."""
    with opened(pdf) as document:
        marks = [mark["text"] for page in document.pages for mark in page.chars]
    return "".join("".join(marks).split())


def lines_of(pdf: bytes) -> list[str]:
    """The text of all pages, line by line, with a line of dashes between pages."""
    with opened(pdf) as document:
        return "\n-----\n".join(page.extract_text() or "" for page in document.pages).split("\n")


def symbol_box_mm(page: Any) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of the black shapes on a page, in millimetres."""
    black = [
        shape
        for shape in page.rects + page.curves
        if shape["non_stroking_color"] in (0, (0,), (0, 0, 0)) and shape["fill"]
    ]
    edges = (
        min(shape["x0"] for shape in black),
        min(shape["top"] for shape in black),
        max(shape["x1"] for shape in black),
        max(shape["bottom"] for shape in black),
    )
    left, top, right, bottom = (float(edge) * MM_PER_PT for edge in edges)
    return left, top, right, bottom


def unembedded_fonts(pdf: bytes) -> list[str]:
    """Names of fonts that the document uses and does not carry, from its own objects."""
    missing, seen = [], 0
    with opened(pdf) as document:
        for page in document.pages:
            for font in _resolved(_resolved(page.page_obj.resources).get("Font", {})).values():
                seen += 1
                kind = _resolved(font)
                inner = _resolved(_resolved(kind.get("DescendantFonts", [kind]))[0])
                carried = _resolved(inner.get("FontDescriptor", {}))
                if not any(key in carried for key in ("FontFile", "FontFile2", "FontFile3")):
                    missing.append(str(kind.get("BaseFont")))
    assert seen, "the document uses no font at all"
    return missing


def archive_part(pdf: bytes) -> bytes:
    """The document's XMP packet, which says what kind of PDF it claims to be."""
    with opened(pdf) as document:
        packet: bytes = document.doc.catalog["Metadata"].resolve().get_data()
    return packet


def _resolved(thing: Any) -> Any:
    return thing.resolve() if hasattr(thing, "resolve") else thing
