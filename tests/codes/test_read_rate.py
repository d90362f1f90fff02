"""The read-rate benchmark's own sums, and a third reader that had no part in the cascade."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from salvage.codes.draw import draw_qr, symbol_png
from salvage.codes.read import read_codes
from salvage.codes.zxing import is_foreign_bars
from tests.benchmarks.read_rate_score import rate, score, square, summary, wilson
from tests.benchmarks.read_rate_set import Cell, take


def outcome(design: str, module_px: float, *, read: bool) -> dict[str, Any]:
    """One picture with one label."""
    return {"labels": [["BC0002J", design, module_px]], "read": {"zxing": ["BC0002J"] * read}}


def test_the_interval_is_that_of_a_published_example() -> None:
    """Newcombe, Statistics in Medicine 17 (1998), table I, method 3; values from memory."""
    assert wilson(81, 263) == pytest.approx((25.53, 36.62), abs=0.01)
    assert wilson(0, 20) == pytest.approx((0.0, 16.11), abs=0.01)


def test_nothing_read_of_nothing_leaves_everything_open() -> None:
    """Without labels there is no share, and the interval is all there is."""
    row = rate([], "zxing", square(3))

    assert row == {"labels": 0, "read": 0, "percent": None, "interval": [0.0, 100.0]}


def test_only_labels_of_the_size_asked_for_count() -> None:
    """Small modules and bars are left out of the row of square symbols."""
    records = [
        outcome("qr_m", 3.0, read=True),
        outcome("qr_m", 5.0, read=False),
        outcome("qr_m", 2.9, read=False),
        outcome("code128", 5.0, read=False),
    ]
    row = rate(records, "zxing", square(3))

    assert (row["read"], row["labels"], row["percent"]) == (1, 2, 50.0)


def test_a_code_that_is_not_in_the_picture_is_counted_as_wrong() -> None:
    """The scorer is not blind: told another truth, it calls the right reading wrong."""
    cell = Cell(20261125, "crop", "clean", "12 MP", "qr_h", 18.0)
    picture, truths = take(cell)
    right = score(cell, picture, truths, third=True)
    record = score(cell, picture, (), third=True)

    assert (right["wrong"], right["misplaced"]) == ([], 0)
    assert record["wrong"] == right["read"]["cascade"] == [truths[0].code]
    assert summary([record])["wrong_accepted"]["count"] == 1


@pytest.mark.parametrize("code", ["BC0002J", "PC0002E", "DC0004J", "BC0003H"])
def test_three_readers_agree_on_a_drawn_label(code: str) -> None:
    """OpenCV's reader, which is no part of the cascade, reads from our QR codes the same text."""
    import cv2

    png = symbol_png(draw_qr(code), dots=8)
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("L"), np.uint8)
    third, _, _ = cv2.QRCodeDetector().detectAndDecode(np.pad(pixels, 40, constant_values=255))

    assert third == code
    assert [found.text for found in read_codes(png)] == [code]


def test_bars_of_goods_are_known_as_foreign() -> None:
    """Bars of goods (EAN-13, a number free for use inside a shop) are never told as ours unread."""
    import zxingcpp

    goods = zxingcpp.create_barcode("2000000000008", zxingcpp.BarcodeFormat.EAN13)
    ours = zxingcpp.create_barcode("BC0002J", zxingcpp.BarcodeFormat.Code128)

    assert is_foreign_bars(np.asarray(zxingcpp.write_barcode_to_image(goods, scale=3)))
    assert not is_foreign_bars(np.asarray(zxingcpp.write_barcode_to_image(ours, scale=3)))


def test_a_large_photo_is_read_at_half_size_and_small_symbols_in_full() -> None:
    """In a photo of eight megapixels a small symbol is found beside a large one, in its place."""
    large = np.asarray(Image.open(io.BytesIO(symbol_png(draw_qr("BC0002J"), dots=12))).convert("L"))
    small = np.asarray(Image.open(io.BytesIO(symbol_png(draw_qr("BC0003H"), dots=2))).convert("L"))
    photo = np.full((2400, 3400), 255, np.uint8)
    photo[200 : 200 + large.shape[0], 300 : 300 + large.shape[1]] = large
    photo[1801 : 1801 + small.shape[0], 2501 : 2501 + small.shape[1]] = small
    file = io.BytesIO()
    Image.fromarray(photo).save(file, "PNG")
    readings = {found.text: found for found in read_codes(file.getvalue())}

    assert sorted(readings) == ["BC0002J", "BC0003H"]
    assert abs(min(x for x, _ in readings["BC0002J"].corners_px) - (300 + 4 * 12)) <= 6
    assert abs(min(x for x, _ in readings["BC0003H"].corners_px) - (2501 + 4 * 2)) <= 3
