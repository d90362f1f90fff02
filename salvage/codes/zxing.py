"""The first reader: zxing-cpp, which sees all our symbols and says where it failed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.codes.reading import Corners, Reading

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

NAME = "zxing-cpp"
ALL_FORMATS = "QRCode|DataMatrix|Code128|MicroQRCode"
"""Our symbols, and Micro QR, which is told as a stranger; others are never looked for."""

BARS = "Code128"

FOREIGN_BARS = "EAN13|EAN8|UPCA|UPCE|ITF|Code39|Code93|Codabar"

_NAMES = {"QRCode": "QR", "MicroQRCode": "Micro QR", "DataMatrix": "Data Matrix"}
_NAMES |= {"Code128": "Code 128"}

_LINEAR_MODULES = 11  # of one character of Code 128; start, check and stop add 35 (ISO/IEC 15417)
_LINEAR_FRAME = 35


def see_with_zxing(
    pixels: npt.NDArray[np.uint8],
    *,
    formats: str = ALL_FORMATS,
    one_threshold: bool = False,
    step: str = "as it is",
) -> tuple[list[Reading], list[Corners]]:
    """
    What zxing-cpp reads, and where it found a square symbol but could not read it.

    Args:
        pixels: Gray picture, rows by columns.
        formats: Names of formats with ``|`` between them.
        one_threshold: Part dark and light once for the whole picture, not in each neighbourhood.
        step: Name of the step, kept in the readings.
    """
    import zxingcpp

    way = zxingcpp.Binarizer.GlobalHistogram if one_threshold else zxingcpp.Binarizer.LocalAverage
    found = zxingcpp.read_barcodes(
        pixels,
        formats=zxingcpp.barcode_formats_from_str(formats),
        binarizer=way,
        return_errors=True,
    )
    readings, broken = [], []
    for barcode in found:
        corners = _corners(barcode.position)
        if barcode.valid and barcode.text:
            readings.append(_reading(barcode, corners, step))
        elif barcode.format.name in ("QRCode", "DataMatrix") and len(set(corners)) == len(corners):
            broken.append(corners)  # now and then one is reported at no place at all
    return readings, broken


def is_foreign_bars(pixels: npt.NDArray[np.uint8]) -> bool:
    """Whether an upright gray picture shows bars of another kind than ours."""
    import zxingcpp

    formats = zxingcpp.barcode_formats_from_str(FOREIGN_BARS)
    return bool(zxingcpp.read_barcodes(pixels, formats=formats))


def _corners(place: Any) -> Corners:  # its class has no public name
    around = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
    return tuple((point.x, point.y) for point in around)


def _reading(barcode: Any, corners: Corners, step: str) -> Reading:  # its class is untyped
    name = barcode.format.name
    return Reading(
        barcode.text,
        _NAMES.get(name, name),
        corners,
        NAME,
        step,
        module_px=_module_px(barcode, corners),
    )


def _module_px(barcode: Any, corners: Corners) -> float:
    version = str((barcode.extra or {}).get("Version", ""))
    (x1, y1), (x2, y2), (x3, y3) = corners[:3]
    across = float(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5)
    if barcode.format.name == "Code128":
        return round(across / (_LINEAR_MODULES * len(barcode.text) + _LINEAR_FRAME), 2)
    modules = _modules_of(version)
    down = float(((x3 - x2) ** 2 + (y3 - y2) ** 2) ** 0.5)
    return round((across * down) ** 0.5 / modules, 2) if modules else 0.0


def _modules_of(version: str) -> int:
    """Modules along a side: of a Data Matrix said outright, of a QR code by its version."""
    if "x" in version:
        return int(version.partition("x")[0])
    # ISO/IEC 18004, 6.1: version 1 has 21 modules, and each one more has four more.
    return 17 + 4 * int(version) if version.isdecimal() else 0
