"""
The second reader's own process: pictures come in, texts and places go out.

The zbar library can stop the whole program on some pictures, so it lives in a process of its own,
started as ``python -m salvage.codes.zbar_child``. A picture is one line of two numbers, width and
height, and then the gray pixels; the answer is one line of JSON.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from collections.abc import Callable

NAMES = {"QRCODE": "QR", "CODE128": "Code 128"}


def serve(asked: BinaryIO, answers: BinaryIO, decode: Callable[..., list[Any]]) -> None:
    """
    Answer pictures until there are no more.

    Args:
        asked: Where pictures come from.
        answers: Where answers go.
        decode: Reads one picture: pixels, width and height in, findings out.
    """
    from time import process_time

    while line := asked.readline():
        width, height = (int(word) for word in line.split())
        start = process_time()
        found = decode(asked.read(width * height), width, height)
        spent_ms = (process_time() - start) * 1000
        answers.write(json.dumps({"found": found, "cpu_ms": spent_ms}).encode() + b"\n")
        answers.flush()


def decode_with_zbar(pixels: bytes, width: int, height: int) -> list[dict[str, Any]]:
    """Texts, symbologies and corners of the QR codes and Code 128 in a gray picture."""
    from pyzbar.pyzbar import ZBarSymbol, decode

    # Only these two: with others switched on, zbar prints warnings and can stop the program.
    symbols = [ZBarSymbol.QRCODE, ZBarSymbol.CODE128]
    return [
        {
            "text": found.data.decode("utf-8", "replace"),
            "symbology": NAMES[found.type],
            "corners": [[point.x, point.y] for point in found.polygon] or box(found.rect),
        }
        for found in decode((pixels, width, height), symbols=symbols)
    ]


def box(rect: tuple[int, int, int, int]) -> list[list[int]]:
    """
    Corners of a frame given as left, top, width and height.

    >>> box((10, 20, 30, 40))
    [[10, 20], [40, 20], [40, 60], [10, 60]]
    """
    left, top, width, height = rect
    right, bottom = left + width, top + height
    return [[left, top], [right, top], [right, bottom], [left, bottom]]


def run() -> None:
    """Say that the library is there, and serve; without it, end with an ImportError."""
    import sys

    import pyzbar.pyzbar  # noqa: F401

    into, out = sys.stdin.buffer, sys.stdout.buffer
    out.write(b"ready\n")
    out.flush()
    serve(into, out, decode_with_zbar)


if __name__ == "__main__":
    run()
