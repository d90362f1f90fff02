"""What the read-rate benchmark photographs: our labels as rasters, and benches as textures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import zxingcpp

from salvage.codes.draw import Symbol, draw_code128, draw_data_matrix, draw_qr
from salvage.codes.payload import wrap
from salvage.ids import LETTERS, mint_code

Raster = npt.NDArray[np.uint8]

RASTER_PX_PER_MM = 24.0
TEXTURE_PX = 2600
ADDRESS = "https://tidebell.example/c"
_TEXT_MM = 5.0


@dataclass(frozen=True, slots=True)
class Label:
    """
    A printed label.

    Args:
        design: Key of :data:`DESIGNS`.
        text: What its symbol says.
        code: Our code in it.
        raster: Its picture, dark ink 0 and paper 255, at :data:`RASTER_PX_PER_MM`.
        symbol_mm: Left, top, right and bottom of the symbol without quiet zone, from the label's
            upper left corner.
        modules: Modules along the symbol's width.
    """

    design: str
    text: str
    code: str
    raster: Raster
    symbol_mm: tuple[float, float, float, float]
    modules: int


def _qr_m(code: str) -> Symbol:
    """Level M held, where the program's own drawing takes level H because it costs nothing."""
    barcode = zxingcpp.create_barcode(code, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    picture: Any = zxingcpp.write_barcode_to_image(barcode)
    pixels = np.array(picture)
    inked = np.argwhere(pixels < 128)
    (top, left), (bottom, right) = inked.min(axis=0), inked.max(axis=0) + 1
    inside = pixels[top:bottom, left:right]
    rows = ("".join("#" if value < 128 else "." for value in row) for row in inside)
    return Symbol("QR", tuple(rows), 4, code, "M")


DESIGNS: dict[str, Callable[[str], Symbol]] = {
    "qr_m": _qr_m,
    "qr_h": lambda code: draw_qr(code, "H"),
    "data_matrix": draw_data_matrix,
    "card_qr": lambda code: draw_qr(wrap(code, web_address=ADDRESS)),
    "code128": draw_code128,
}
"""Symbols on our board, shelf and piece labels and story cards."""

SIZES_MM = (8.0, 12.0, 18.0, 25.0)
BAR_SIZES_MM = (30.0, 36.0, 42.0, 50.0)


def invent_code(rng: np.random.Generator) -> str:
    """A code whose grammar and check character are right."""
    while True:
        kind = str(rng.choice(list("BPDKFX")))
        digits = int(rng.choice([4, 4, 4, 5]))
        number = int(rng.integers(1 if digits == 4 else 10_000, 10**digits))
        if code := mint_code(kind, str(rng.choice(list(LETTERS))), number):
            return str(code)


def print_label(design: str, size_mm: float, rng: np.random.Generator) -> Label:
    """A label with a symbol of the given width, its code in readable type beside or below it."""
    import cv2

    code = invent_code(rng)
    symbol = DESIGNS[design](code)
    modules = np.array([[mark == "#" for mark in row] for row in symbol.rows])
    module_mm = size_mm / modules.shape[1]
    height_mm = modules.shape[0] * module_mm if symbol.kind != "Code 128" else 9.0
    quiet_mm = symbol.quiet * module_mm
    side_mm = max(1.5, quiet_mm)
    below = symbol.kind == "Code 128" or rng.random() < 0.4
    text_mm = max(0.25 * size_mm, _TEXT_MM * 0.5) if not below else 0.0
    width_mm = size_mm + 2 * side_mm + (4.2 * text_mm if not below else 0.0)
    full_mm = height_mm + 2 * max(1.5, quiet_mm if symbol.kind != "Code 128" else 1.5)
    top_mm = (full_mm - height_mm) / 2
    full_mm += _TEXT_MM if below else 0.0
    raster = np.full(_px(full_mm, width_mm), 255, np.uint8)
    box = (side_mm, top_mm, side_mm + size_mm, top_mm + height_mm)
    left, top, right, bottom = (round(value * RASTER_PX_PER_MM) for value in box)
    ink = np.where(modules, 0, 255).astype(np.uint8)
    raster[top:bottom, left:right] = cv2.resize(
        ink, (right - left, bottom - top), interpolation=cv2.INTER_NEAREST
    )
    scale = (3.4 if below else text_mm) * RASTER_PX_PER_MM / 30
    spot = (left, raster.shape[0] - 20) if below else (right + 40, (top + bottom) // 2)
    cv2.putText(raster, code[: 8 if below else 4], spot, cv2.FONT_HERSHEY_SIMPLEX, scale, 0, 6)
    if not below:
        lower = (spot[0], spot[1] + round(scale * 34))
        cv2.putText(raster, code[4:], lower, cv2.FONT_HERSHEY_SIMPLEX, scale, 0, 6)
    spread = int(rng.integers(0, 3))  # ink that runs, in raster pixels
    if spread:
        raster = np.asarray(
            cv2.erode(raster, np.ones((spread + 1, spread + 1), np.uint8)), np.uint8
        ).reshape(raster.shape)
    return Label(design, symbol.text, code, raster, box, modules.shape[1])


def _px(height_mm: float, width_mm: float) -> tuple[int, int]:
    return round(height_mm * RASTER_PX_PER_MM), round(width_mm * RASTER_PX_PER_MM)


@cache
def texture(seed: int, number: int) -> Raster:
    """A bench to lie on: a board, wood, a mat with rulers, or printed text."""
    rng = np.random.default_rng([seed, 990, number])
    ground = np.full((TEXTURE_PX, TEXTURE_PX), int(rng.integers(40, 150)), np.uint8)
    (_board, _wood, _mat, _print)[number % 4](ground, rng)
    return ground


def _board(ground: Raster, rng: np.random.Generator) -> None:
    """Traces, pads, chips and white print, as on a stripped circuit board."""
    import cv2

    for _ in range(220):
        x, y = (int(value) for value in rng.integers(0, TEXTURE_PX, 2))
        w, h = (int(value) for value in rng.integers(20, 400, 2))
        tone = int(rng.integers(30, 190))
        cv2.line(ground, (x, y), (x + w, y), tone, int(rng.integers(2, 9)))
        cv2.line(ground, (x + w, y), (x + w, y + h), tone, int(rng.integers(2, 9)))
        cv2.circle(ground, (x, y), int(rng.integers(4, 16)), int(rng.integers(120, 230)), -1)
    for _ in range(50):
        x, y = (int(value) for value in rng.integers(0, TEXTURE_PX, 2))
        w, h = (int(value) for value in rng.integers(60, 340, 2))
        for pin in range(0, w, 18):
            cv2.rectangle(ground, (x + pin, y - 14), (x + pin + 8, y + h + 14), 215, -1)
        cv2.rectangle(ground, (x, y), (x + w, y + h), int(rng.integers(12, 50)), -1)
        words = "".join(rng.choice(list("ABCDEF0123456789"), 7))
        cv2.putText(ground, words, (x + 8, y + h // 2), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 170, 2)
    for _ in range(120):
        x, y = (int(value) for value in rng.integers(0, TEXTURE_PX, 2))
        words = "".join(rng.choice(list("CRUQL0123456789"), 4))
        cv2.putText(ground, words, (x, y), cv2.FONT_HERSHEY_SIMPLEX, 0.8, 225, 2)
        cv2.rectangle(ground, (x, y + 6), (x + 70, y + 34), 225, 2)


def _wood(ground: Raster, rng: np.random.Generator) -> None:
    import cv2

    grain = rng.normal(0, 40, (TEXTURE_PX, 24)).astype(np.float32)
    soft = cv2.GaussianBlur(cv2.resize(grain, (TEXTURE_PX, TEXTURE_PX)), (0, 0), 3)
    ground[:] = np.clip(ground + soft, 0, 255).astype(np.uint8)
    _rulers(ground, rng)


def _mat(ground: Raster, rng: np.random.Generator) -> None:
    import cv2

    for place in range(0, TEXTURE_PX, 120):
        cv2.line(ground, (place, 0), (place, TEXTURE_PX), 170, 2)
        cv2.line(ground, (0, place), (TEXTURE_PX, place), 170, 2)
    _rulers(ground, rng)


def _rulers(ground: Raster, rng: np.random.Generator) -> None:
    """Fine rulers and dark tools, which look like bars."""
    import cv2

    for _ in range(7):
        x, y = (int(value) for value in rng.integers(0, TEXTURE_PX - 700, 2))
        cv2.rectangle(ground, (x, y), (x + 1400, y + 130), int(rng.integers(190, 245)), -1)
        for tick in range(0, 1400, int(rng.integers(5, 14))):
            cv2.line(ground, (x + tick, y), (x + tick, y + (70 if tick % 5 else 40)), 30, 2)
    for _ in range(10):
        start, stop = rng.integers(0, TEXTURE_PX, (2, 2))
        width = int(rng.integers(12, 60))
        cv2.line(ground, start.tolist(), stop.tolist(), int(rng.integers(10, 220)), width)


def _print(ground: Raster, rng: np.random.Generator) -> None:
    """A page of printed text under the labels."""
    import cv2

    ground[:] = int(rng.integers(170, 230))
    for line in range(40, TEXTURE_PX, 46):
        words = "".join(rng.choice(list("abcdefgh ijklmn opqrst uvw 0123"), 120))
        cv2.putText(ground, words, (20, line), cv2.FONT_HERSHEY_PLAIN, 1.9, 40, 2)


def foreign_bars(rng: np.random.Generator) -> Raster:
    """A shop's own symbol: EAN-13, EAN-8, ITF, or a QR code that is not ours."""
    import cv2

    kind = str(rng.choice(["EAN13", "EAN8", "ITF", "QRCode", "DataMatrix", "Code128"]))
    lengths = {"EAN13": 12, "EAN8": 7, "ITF": 10}
    digits = "".join(rng.choice(list("0123456789"), lengths.get(kind, 9)))
    text = digits if kind in lengths else f"LOT-{digits}"
    barcode = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, kind))
    picture: Any = zxingcpp.write_barcode_to_image(barcode, scale=4)
    pixels: Raster = np.array(picture)
    return cv2.copyMakeBorder(pixels, 40, 60, 60, 60, cv2.BORDER_CONSTANT, value=255).astype(
        np.uint8
    )
