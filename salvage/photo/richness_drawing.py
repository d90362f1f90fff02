"""
The picture of a board with the hint where its traces run densest.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from salvage.photo.map_text import fit_text, font_of_height
from salvage.photo.richness import CELLS_PER_MM, RichnessMap
from salvage.photo.upright import upright_image

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

_LONGEST_DRAWN_PX = 2400


def draw_richness(rectified_png: bytes, richness: RichnessMap, *, words: bool = True) -> bytes:
    """
    The picture with the map over it, as a PNG: brighter is denser; places are numbered.

    A strip below the picture says so in words, unless it is to lie on another picture.

    Args:
        rectified_png: The picture that the map was made from.
        richness: The map.
        words: Whether the strip is drawn.

    Raises:
        BadFile: If the picture cannot be used.
    """
    import numpy as np
    from PIL import Image, ImageDraw

    picture = upright_image(rectified_png, longest_px=_LONGEST_DRAWN_PX)
    shape = richness.rows, richness.columns
    cells = np.frombuffer(richness.levels, np.uint8).reshape(shape)
    # From the picture's own grey to yellow: seen in print and with any colour vision.
    warmth = Image.fromarray(cells).resize(picture.size, Image.Resampling.BILINEAR)
    grey = picture.convert("L").convert("RGB")
    drawn = Image.composite(
        Image.blend(grey, Image.new("RGB", grey.size, (255, 210, 0)), 0.55), grey, warmth
    )
    pen = ImageDraw.Draw(drawn)
    scale = picture.width * CELLS_PER_MM / richness.columns
    thick = max(2, round(0.25 * scale))
    for number, place in enumerate(richness.places, 1):
        _draw_place(pen, place.x_mm, place.y_mm, richness.window_mm, str(number), (scale, thick))
    for part in richness.parts:
        _draw_place(pen, part.x_mm, part.y_mm, part.side_mm, "?", (scale, thick))
    out = BytesIO()
    (_with_words(drawn, richness) if words else drawn).save(out, "PNG")
    return out.getvalue()


def _with_words(drawn: Image.Image, richness: RichnessMap) -> Image.Image:
    """The drawing with a strip below it that says what is seen."""
    from PIL import Image, ImageDraw

    told = ["brighter and more yellow: more traces; a hint, no measurement"]
    if richness.places:
        told.append(f"1 to {len(richness.places)}: where {richness.window_mm:g} mm show most")
    if richness.parts:
        told.append("?: a large square part; usually the finest pattern is beneath")
    unit = max(11, drawn.width // 52)
    font = font_of_height(unit)
    sheet = Image.new("RGB", (drawn.width, drawn.height + round((1.5 * len(told) + 0.6) * unit)))
    sheet.paste((255, 255, 255), (0, drawn.height, *sheet.size))
    sheet.paste(drawn, (0, 0))
    pen = ImageDraw.Draw(sheet)
    for row, words in enumerate(told):
        shown = fit_text(words, font, drawn.width - unit)
        pen.text((unit // 2, drawn.height + (0.4 + 1.5 * row) * unit), shown, (28, 32, 36), font)
    return sheet


def _draw_place(
    pen: ImageDraw.ImageDraw,
    x_mm: float,
    y_mm: float,
    side_mm: float,
    word: str,
    measure: tuple[float, int],
) -> None:
    scale, thick = measure
    height = pen.im.size[1]
    x, y, half = x_mm * scale, height - y_mm * scale, side_mm * scale / 2
    for colour, wide in (((0, 0, 0), 3 * thick), ((255, 255, 255), thick)):
        pen.rectangle((x - half, y - half, x + half, y + half), outline=colour, width=wide)
    font = font_of_height(max(8, round(4 * scale)))
    pen.text(
        (x, y),
        word,
        font=font,
        fill=(255, 255, 255),
        stroke_fill=(0, 0, 0),
        stroke_width=thick,
        anchor="mm",
    )
