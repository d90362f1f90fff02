"""
Lettering on pictures, in the one typeface that ships with the program.

Text from people is data here: a line break, a tab or a control character in a label becomes a
space, and what is too long ends in an ellipsis.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import ImageFont


@cache
def _font_bytes(name: str) -> bytes:
    return (files("salvage") / "paper" / "fonts" / name).read_bytes()


@cache
def font_of_height(height_px: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """
    The shipped typeface at *height_px* pixels to the em.

    Args:
        height_px: 1 or more.
        bold: Whether the heavier cut is wanted.
    """
    from PIL import ImageFont

    name = "NotoSans-Bold.ttf" if bold else "NotoSans-Regular.ttf"
    # The plain layout engine, so that the same text gives the same pixels on every machine.
    return ImageFont.truetype(
        BytesIO(_font_bytes(name)), max(1, height_px), layout_engine=ImageFont.Layout.BASIC
    )


def tidy_text(text: str) -> str:
    """
    *text* on one line, with only what can be printed.

    >>> tidy_text("fern leaf\\n no. 4 ")
    'fern leaf no. 4'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def fit_text(text: str, font: ImageFont.FreeTypeFont, width_px: float) -> str:
    """
    *text* on one line, cut with an ellipsis where it is wider than *width_px* pixels.

    Args:
        text: Any text.
        font: The typeface it will be set in.
        width_px: Room for it.
    """
    tidy = tidy_text(text)
    if font.getlength(tidy) <= width_px:
        return tidy
    # No label of a thousand letters fits any board; looking at them one by one would take long.
    for end in range(min(len(tidy), 400) - 1, 0, -1):
        if font.getlength(tidy[:end].rstrip() + "…") <= width_px:
            return tidy[:end].rstrip() + "…"
    return "…" if tidy else ""
