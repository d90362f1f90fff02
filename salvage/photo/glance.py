"""
A picture small enough for a terminal: two colours to each character cell.

A terminal's cell is about twice as high as wide, and the character ``▀`` fills its upper half, so
one cell shows two nearly square pixels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from salvage.errors import BadValue
from salvage.photo.upright import upright_image

Colour: TypeAlias = tuple[int, int, int]
"""Red, green and blue, 0 to 255 each."""

MOST_COLUMNS = 400
"""Columns of the widest terminal that is served."""

_LONGEST_SIDE_PX = 2 * MOST_COLUMNS


@dataclass(frozen=True, slots=True)
class Cell:
    """
    One character cell.

    Args:
        upper: Colour of the upper half.
        lower: Colour of the lower half.
    """

    upper: Colour
    lower: Colour


def draw_cells(picture_png: bytes, *, columns: int) -> tuple[tuple[Cell, ...], ...]:
    """
    Rows of cells that show the picture, upper row first.

    Args:
        picture_png: Bytes of a PNG, or of any picture that is taken here.
        columns: Cells in each row, 1 to 400; the number of rows follows from the picture's shape.

    Raises:
        BadFile: If the picture cannot be used.
        BadValue: If *columns* is out of range.
    """
    from PIL import Image

    if not 1 <= columns <= MOST_COLUMNS:
        raise BadValue(f"{columns} columns are out of range", hint=f"1 up to {MOST_COLUMNS}")
    image = upright_image(picture_png, longest_px=_LONGEST_SIDE_PX)
    # As many rows as columns for a square; a strip never becomes an endless scroll.
    rows = min(MOST_COLUMNS, max(1, round(image.height * columns / image.width / 2)))
    small = image.resize((columns, 2 * rows), Image.Resampling.LANCZOS, reducing_gap=3.0)
    raw = small.tobytes()
    line = 3 * columns
    return tuple(
        tuple(
            Cell(
                _colour_at(raw, 2 * row * line + 3 * x),
                _colour_at(raw, (2 * row + 1) * line + 3 * x),
            )
            for x in range(columns)
        )
        for row in range(rows)
    )


def _colour_at(raw: bytes, place: int) -> Colour:
    return raw[place], raw[place + 1], raw[place + 2]
