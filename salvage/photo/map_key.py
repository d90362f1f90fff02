"""
What stands round the board on its map: title, scale bar, and the legend with words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.photo.map_frame import LEGEND_ROW_UNITS, MapFrame
from salvage.photo.map_styles import INK, PAPER, STYLES, MapStyle, draw_pattern
from salvage.photo.map_text import fit_text, font_of_height

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

LEGEND_COLUMNS = 2
"""Columns of the legend."""

# A board narrower than this gets the short bar, so that the bar is never longer than the board.
_LONG_BAR_FROM_MM = 60.0


def draw_title(sheet: Image.Image, frame: MapFrame, title: str) -> None:
    """
    The title above the board, cut to the sheet's width.

    Args:
        sheet: Drawn on.
        frame: Of the map.
        title: Any text.
    """
    from PIL import ImageDraw

    font = font_of_height(round(1.35 * frame.unit_px), bold=True)
    left = _text_left(frame)
    shown = fit_text(title, font, frame.sheet_px[0] - 2 * left)
    ImageDraw.Draw(sheet).text((left, round(1.2 * frame.unit_px)), shown, font=font, fill=INK)


def bar_length_mm(width_mm: float) -> int:
    """
    Length of the scale bar for a board of this width, 10 or 50 mm.

    >>> bar_length_mm(160.0)
    50
    """
    return 50 if width_mm >= _LONG_BAR_FROM_MM else 10


def draw_scale_bar(sheet: Image.Image, frame: MapFrame) -> None:
    """
    A bar of 10 or 50 mm, in blocks of 5 or 10 mm, at the board's left edge below it.

    Args:
        sheet: Drawn on.
        frame: Of the map.
    """
    from PIL import ImageDraw

    pen = ImageDraw.Draw(sheet)
    px_per_mm = frame.px_per_um * 1000
    length_mm = bar_length_mm(frame.board_px[0] / px_per_mm)
    block_mm = 10 if length_mm == 50 else 5
    # On whole pixels of the finished picture, so that the ends are sharp enough to measure.
    left = frame.snap(frame.origin[0])
    top = frame.snap(frame.board_box[3] + 1.5 * frame.unit_px)
    high = frame.snap(0.45 * frame.unit_px)
    line = frame.snap(0.09 * frame.unit_px)
    for start in range(0, length_mm, block_mm):
        box = (
            left + round(start * px_per_mm),
            top,
            left + round((start + block_mm) * px_per_mm) - 1,
            top + high - 1,
        )
        dark = start // block_mm % 2 == 0
        pen.rectangle(box, fill=INK if dark else PAPER, outline=INK, width=line)
    end = left + length_mm * px_per_mm + 0.5 * frame.unit_px
    font = font_of_height(round(frame.unit_px))
    pen.text((end, top + high / 2), f"{length_mm} mm", font=font, fill=INK, anchor="lm")


def draw_legend(sheet: Image.Image, frame: MapFrame, styles: Sequence[str]) -> None:
    """
    A swatch and a word for each style.

    Args:
        sheet: Drawn on.
        frame: Of the map.
        styles: Names of the styles, in the order to show.
    """
    from PIL import ImageDraw

    pen = ImageDraw.Draw(sheet)
    unit = frame.unit_px
    left = _text_left(frame)
    column_px = (frame.sheet_px[0] - 2 * left) / LEGEND_COLUMNS
    first = frame.sheet_px[1] - round((LEGEND_ROW_UNITS * legend_rows(len(styles)) + 0.9) * unit)
    font = font_of_height(round(unit))
    for place, name in enumerate(styles):
        row, column = divmod(place, LEGEND_COLUMNS)
        x = round(left + column * column_px)
        y = round(first + row * LEGEND_ROW_UNITS * unit)
        _draw_swatch(sheet, STYLES[name], (x, y), unit)
        shown = fit_text(STYLES[name].word, font, column_px - 3.4 * unit)
        pen.text((x + 2.9 * unit, y + 0.65 * unit), shown, font=font, fill=INK, anchor="lm")


def legend_rows(count: int) -> int:
    """Rows that a legend of *count* styles takes."""
    return -(-count // LEGEND_COLUMNS)


def _text_left(frame: MapFrame) -> int:
    return min(frame.origin[0], round(2.4 * frame.unit_px))


def _draw_swatch(
    sheet: Image.Image, style: MapStyle, corner: tuple[int, int], unit_px: float
) -> None:
    from PIL import Image, ImageDraw

    size = round(2.3 * unit_px), round(1.3 * unit_px)
    swatch = Image.new("RGB", size, tint(PAPER, style.colour, style.tint))
    swatch.paste(style.colour, (0, 0), draw_pattern(style.pattern, size, unit_px))
    pen = ImageDraw.Draw(swatch)
    edge = INK if style is STYLES["this"] else style.colour
    if style.edge:
        _draw_swatch_edge(pen, size, edge, style, unit_px)
    sheet.paste(swatch, corner)


def _draw_swatch_edge(
    pen: ImageDraw.ImageDraw,
    size: tuple[int, int],
    edge: tuple[int, int, int],
    style: MapStyle,
    unit_px: float,
) -> None:
    width = max(1, round(style.edge * unit_px * 0.8))
    right, bottom = size[0] - 1, size[1] - 1
    pen.rectangle((0, 0, right, bottom), outline=edge, width=width)
    if style.dashed:
        gap = 0.38 * unit_px
        for number in range(1, int(size[0] / gap), 2):
            x = number * gap
            pen.rectangle((x, 0, x + gap * 0.6, width - 1), fill=PAPER)
            pen.rectangle((x, bottom - width + 1, x + gap * 0.6, bottom), fill=PAPER)


def tint(
    below: tuple[int, int, int], above: tuple[int, int, int], share: float
) -> tuple[int, int, int]:
    """
    A colour between two.

    >>> tint((255, 255, 255), (0, 100, 200), 0.5)
    (128, 178, 228)
    """
    red, green, blue = (round(b + (a - b) * share) for b, a in zip(below, above, strict=True))
    return red, green, blue
