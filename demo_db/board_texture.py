"""
An imagined board seen square on, as flat artwork: copper under solder mask, tin, print and parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from salvage.photo.map_text import font_of_height

from .board_parts import draw_part, draw_shadow
from .board_plan import HOLE_MM, BoardPlan, Part
from .board_tracks import Wiring

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

Colour: TypeAlias = tuple[int, int, int]
"""Red, green and blue, 0 to 255 each."""

_TIN: Colour = (196, 199, 196)
_GOLD: Colour = (206, 172, 98)
_BORE: Colour = (34, 32, 28)


@dataclass(frozen=True, slots=True)
class MaskColours:
    """
    Colours of one solder mask.

    Args:
        bare: Mask over bare laminate.
        copper: Mask over copper.
        track: Mask over a track; a little livelier, since tracks catch the light.
        print: The printed letters.
    """

    bare: Colour
    copper: Colour
    track: Colour
    print: Colour


MASKS: dict[str, MaskColours] = {
    "green": MaskColours((14, 62, 38), (26, 98, 58), (52, 136, 82), (226, 230, 220)),
    "blue": MaskColours((14, 40, 92), (24, 66, 140), (52, 104, 184), (228, 232, 238)),
    "red": MaskColours((104, 16, 20), (148, 30, 32), (190, 62, 56), (236, 228, 224)),
    "black": MaskColours((20, 21, 23), (36, 38, 41), (62, 65, 69), (222, 222, 216)),
    "white": MaskColours((206, 206, 198), (228, 227, 219), (240, 239, 232), (58, 60, 64)),
    "purple": MaskColours((48, 22, 76), (78, 40, 116), (112, 70, 152), (230, 224, 236)),
    "amber": MaskColours((132, 88, 30), (170, 120, 48), (196, 150, 80), (240, 234, 214)),
}
"""Solder masks by name."""


@dataclass(frozen=True, slots=True)
class Window:
    """
    The part of a board to draw, and how large.

    Args:
        left: Its left end in mm.
        top: Its upper end in mm; y runs upwards on a board.
        wide: In mm.
        high: In mm.
        px_per_mm: Pixels for each millimetre.
    """

    left: float
    top: float
    wide: float
    high: float
    px_per_mm: float

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return round(self.wide * self.px_per_mm), round(self.high * self.px_per_mm)

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Pixels of a place on the board."""
        return (x - self.left) * self.px_per_mm, (self.top - y) * self.px_per_mm

    def box(
        self, x: float, y: float, half_wide: float, half_high: float
    ) -> tuple[float, float, float, float]:
        """Pixels of a box round a place on the board: left, top, right, bottom."""
        left, top = self.place(x - half_wide, y + half_high)
        right, bottom = self.place(x + half_wide, y - half_high)
        return left, top, right, bottom


def draw_side(
    plan: BoardPlan, wiring: Wiring, *, side: str, mask: str, window: Window, populated: bool
) -> Image.Image:
    """
    One side of a board, square on, in board coordinates: the back as if seen through the front.

    Args:
        plan: Parts and holes.
        wiring: Tracks and plated holes.
        side: ``front`` or ``back``.
        mask: Name of a solder mask.
        window: What to draw.
        populated: Whether the parts are still on.
    """
    from PIL import Image, ImageDraw

    colours = MASKS[mask]
    image = Image.new("RGB", window.size, colours.copper)
    pen = ImageDraw.Draw(image)
    parts = [part for part in plan.parts if side == "front" or part.pins[0].drilled]
    _draw_copper(pen, wiring, parts, side, colours, window)
    for part in parts:
        _draw_pads(pen, part, window)
    for x, y in plan.holes:
        pen.ellipse(window.box(x, y, HOLE_MM / 2 + 1.4, HOLE_MM / 2 + 1.4), fill=_TIN)
    _draw_print(image, plan, parts, side, colours, window)
    if populated and side == "front":
        draw_shadow(image, parts, window)
        for part in parts:
            draw_part(image, part, window)
    return image


def _draw_copper(
    pen: ImageDraw.ImageDraw,
    wiring: Wiring,
    parts: Sequence[Part],
    side: str,
    colours: MaskColours,
    window: Window,
) -> None:
    scale = window.px_per_mm
    lines = [
        ([window.place(x, y) for x, y in track.points], track.wide)
        for track in wiring.tracks
        if track.side == side
    ]
    # First the gaps that keep the copper all round away from tracks and pads, then the tracks.
    for points, wide in lines:
        pen.line(
            points, fill=colours.bare, width=max(2, round((wide + 0.44) * scale)), joint="curve"
        )
    for part in parts:
        for pin in part.pins:
            box = window.box(pin.x, pin.y, pin.wide / 2 + 0.25, pin.high / 2 + 0.25)
            (pen.ellipse if pin.drilled else pen.rectangle)(box, fill=colours.bare)
    for points, wide in lines:
        pen.line(points, fill=colours.track, width=max(1, round(wide * scale)), joint="curve")
    for x, y in wiring.vias:
        pen.ellipse(window.box(x, y, 0.52, 0.52), fill=colours.bare)
        pen.ellipse(window.box(x, y, 0.36, 0.36), fill=colours.track)
        pen.ellipse(window.box(x, y, 0.15, 0.15), fill=_BORE)


def _draw_pads(pen: ImageDraw.ImageDraw, part: Part, window: Window) -> None:
    metal = _GOLD if part.kind == "header" else _TIN
    light = tuple(min(255, level + 24) for level in metal)
    for number, pin in enumerate(part.pins):
        box = window.box(pin.x, pin.y, pin.wide / 2, pin.high / 2)
        glint = window.box(pin.x - 0.1, pin.y + 0.1, pin.wide / 2 - 0.16, pin.high / 2 - 0.16)
        # The first pin's pad is square, as on most boards with drilled parts.
        draw = pen.ellipse if pin.drilled and number else pen.rectangle
        draw(box, fill=metal)
        if glint[2] - glint[0] > 1.5 and glint[3] - glint[1] > 1.5:
            draw(glint, fill=light)
        if pin.drilled:
            pen.ellipse(window.box(pin.x, pin.y, 0.45, 0.45), fill=_BORE)


def _draw_print(
    image: Image.Image,
    plan: BoardPlan,
    parts: Sequence[Part],
    side: str,
    colours: MaskColours,
    window: Window,
) -> None:
    from PIL import Image, ImageDraw

    # On a sheet of its own, so that the letters of the back can be turned to be read from behind.
    sheet = Image.new("L", image.size, 0)
    pen = ImageDraw.Draw(sheet)
    line = max(1, round(0.16 * window.px_per_mm))
    small = font_of_height(max(6, round(1.5 * window.px_per_mm)))
    if side == "front":
        for part in parts:
            if part.wide > 2.5 and part.high > 2.5:
                box = window.box(part.x, part.y, part.wide / 2 + 0.35, part.high / 2 + 0.35)
                draw = pen.ellipse if part.kind == "can" else pen.rectangle
                draw(box, outline=230, width=line)
                _write_mark(pen, part, box, small)
    _write_name(sheet, plan, side, window)
    image.paste(colours.print, (0, 0), sheet)


def _write_mark(
    pen: ImageDraw.ImageDraw,
    part: Part,
    box: tuple[float, float, float, float],
    font: ImageFont.FreeTypeFont,
) -> None:
    """The part's number on the side where no pins are."""
    gap = 0.25 * font.size
    ways = {pin.way for pin in part.pins}
    if part.kind in {"header", "terminal", "jack"}:
        pen.text((box[0] + gap, box[1] + gap), part.mark, font=font, fill=230, anchor="lt")
    elif part.kind == "quad":
        pen.text((box[0] - gap, box[1] - gap), part.mark, font=font, fill=230, anchor="rb")
    elif (1, 0) in ways:
        pen.text((box[0], box[1] - gap), part.mark, font=font, fill=230, anchor="lb")
    else:
        pen.text((box[0] - gap, box[3]), part.mark, font=font, fill=230, anchor="rb")


def _write_name(sheet: Image.Image, plan: BoardPlan, side: str, window: Window) -> None:
    from PIL import Image, ImageDraw, ImageOps

    large = font_of_height(max(8, round(2.6 * window.px_per_mm)), bold=True)
    words = plan.name if side == "front" else f"{plan.name}  {plan.date_code}"
    high = round(3.6 * window.px_per_mm)
    slip = Image.new("L", (round(large.getlength(words)) + 8, high), 0)
    ImageDraw.Draw(slip).text((4, high / 2), words, font=large, fill=240, anchor="lm")
    if side == "back":
        slip = ImageOps.mirror(slip)
    if plan.name_at is not None:
        x, y = window.place(*plan.name_at)
        sheet.paste(slip, (round(x), round(y) - high), slip)
    if side == "front":
        small = font_of_height(max(7, round(2.0 * window.px_per_mm)))
        place = window.place(plan.wide - 9.0, 1.2)
        ImageDraw.Draw(sheet).text(place, plan.date_code, font=small, fill=240, anchor="rs")
