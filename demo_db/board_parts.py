"""
The parts on an imagined board, seen from above. None is a real product; none carries a logo.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import TYPE_CHECKING, Protocol, TypeAlias

from salvage.photo.map_text import font_of_height

from .board_plan import Part

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

Colour: TypeAlias = tuple[int, int, int]
"""Red, green and blue, 0 to 255 each."""

_EPOXY: Colour = (38, 38, 40)
_LEAD: Colour = (186, 188, 190)
_STEEL: Colour = (172, 175, 178)

# Shadows fall to the lower right, as if the window stood at the upper left.
_SHADOW_SLOPE = 0.22

# Letters lower than this are only a smear.
_LEAST_LETTER_PX = 7


class View(Protocol):
    """What the parts need to know of the window they are drawn in."""

    @property
    def px_per_mm(self) -> float:
        """Pixels for each millimetre."""
        ...

    def box(
        self, x: float, y: float, half_wide: float, half_high: float
    ) -> tuple[float, float, float, float]:
        """Pixels of a box round a place on the board."""
        ...


def draw_shadow(image: Image.Image, parts: Sequence[Part], view: View) -> None:
    """
    The shadows of all parts, darkening what is drawn so far.

    Args:
        image: Drawn on.
        parts: Their heights set the shadows' lengths.
        view: Where they lie.
    """
    from PIL import Image, ImageChops, ImageDraw, ImageFilter

    coarse = 4
    light = Image.new("L", (image.width // coarse + 1, image.height // coarse + 1), 255)
    pen = ImageDraw.Draw(light)
    for part in parts:
        shift = part.tall * _SHADOW_SLOPE
        box = view.box(
            part.x + shift, part.y - shift, part.wide / 2 + 0.3 * shift, part.high / 2 + 0.3 * shift
        )
        shape = pen.ellipse if part.kind == "can" else pen.rectangle
        shape([side / coarse for side in box], fill=92)
    soft = light.filter(ImageFilter.GaussianBlur(0.5 * view.px_per_mm / coarse))
    whole = soft.resize(image.size, Image.Resampling.BILINEAR)
    image.paste(ImageChops.multiply(image, Image.merge("RGB", (whole, whole, whole))))


def draw_part(image: Image.Image, part: Part, view: View) -> None:
    """
    One part from above.

    Args:
        image: Drawn on.
        part: What to draw.
        view: Where it lies.
    """
    from PIL import ImageDraw

    pen = ImageDraw.Draw(image)
    draw = {
        "quad": _draw_chip,
        "dual": _draw_chip,
        "header": _draw_header,
        "terminal": _draw_terminal,
        "jack": _draw_jack,
        "can": _draw_can,
        "crystal": _draw_crystal,
        "coil": _draw_coil,
        "resistor": _draw_resistor,
        "capacitor": _draw_capacitor,
    }[part.kind]
    draw(pen, part, view)


def _shade(colour: Colour, by: int) -> Colour:
    red, green, blue = (max(0, min(255, level + by)) for level in colour)
    return red, green, blue


def _block(
    pen: ImageDraw.ImageDraw, part: Part, view: View, colour: Colour, *, rim: float = 0.3
) -> None:
    """A box with lit upper and left edges."""
    pen.rectangle(view.box(part.x, part.y, part.wide / 2, part.high / 2), fill=_shade(colour, -22))
    up = rim / 3
    half = part.wide / 2 - rim / 2, part.high / 2 - rim / 2
    pen.rectangle(view.box(part.x - up, part.y + up, *half), fill=_shade(colour, 26))
    pen.rectangle(view.box(part.x, part.y, part.wide / 2 - rim, part.high / 2 - rim), fill=colour)


def _draw_chip(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    for pin in part.pins:
        # The lead runs from the body to the middle of its pad.
        dx, dy = pin.way
        box = view.box(
            pin.x - dx * 0.35, pin.y - dy * 0.35, 0.3 * pin.wide + 0.12, 0.3 * pin.high + 0.12
        )
        pen.rectangle(box, fill=_LEAD)
    _block(pen, part, view, _EPOXY, rim=0.5)
    dice = Random(part.mark)
    dot = view.box(part.x - part.wide / 2 + 1.3, part.y + part.high / 2 - 1.3, 0.4, 0.4)
    pen.ellipse(dot, fill=_shade(_EPOXY, -20))
    height = min(part.wide, part.high) * 0.17
    if height * view.px_per_mm >= _LEAST_LETTER_PX:
        font = font_of_height(round(height * view.px_per_mm))
        left, top, right, bottom = view.box(part.x, part.y, part.wide / 2, part.high / 2)
        middle = (left + right) / 2, (top + bottom) / 2
        words = f"TW{dice.randint(1000, 9999)}\n{dice.randint(10, 22)}{dice.randint(1, 52):02d}"
        pen.multiline_text(
            middle, words, font=font, fill=(132, 134, 136), anchor="mm", align="center"
        )


def _draw_header(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    _block(pen, part, view, (30, 30, 32))
    for pin in part.pins:
        pen.rectangle(view.box(pin.x + 0.12, pin.y - 0.12, 0.42, 0.42), fill=(18, 18, 18))
        pen.rectangle(view.box(pin.x, pin.y, 0.36, 0.36), fill=(214, 178, 96))
        pen.rectangle(view.box(pin.x - 0.08, pin.y + 0.08, 0.18, 0.18), fill=(246, 222, 160))


def _draw_terminal(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    colour = Random(part.mark).choice(((38, 112, 84), (52, 84, 140), (92, 96, 100)))
    _block(pen, part, view, colour, rim=0.7)
    for number, pin in enumerate(part.pins):
        pen.ellipse(view.box(pin.x, pin.y, 1.75, 1.75), fill=_shade(colour, -40))
        pen.ellipse(view.box(pin.x, pin.y, 1.5, 1.5), fill=_STEEL)
        pen.ellipse(view.box(pin.x - 0.15, pin.y + 0.15, 1.15, 1.15), fill=_shade(_STEEL, 30))
        slot = (1.2, 0.2) if number % 2 else (0.2, 1.2)
        pen.rectangle(view.box(pin.x, pin.y, *slot), fill=(66, 68, 70))


def _draw_jack(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    _block(pen, part, view, _STEEL, rim=0.5)
    upright = part.high > part.wide
    for share in (-0.25, 0.25):
        x = part.x if upright else part.x + share * part.wide
        y = part.y + share * part.high if upright else part.y
        half = (part.wide * 0.22, 0.5) if upright else (0.5, part.high * 0.22)
        pen.rectangle(view.box(x, y, *half), fill=_shade(_STEEL, -70))
        pen.rectangle(view.box(x - 0.2, y + 0.2, *half), fill=_shade(_STEEL, -30))
    shine = (part.wide * 0.05, part.high * 0.3) if upright else (part.wide * 0.3, part.high * 0.05)
    pen.rectangle(
        view.box(part.x - 0.1 * part.wide, part.y + 0.1 * part.high, *shine),
        fill=_shade(_STEEL, 34),
    )


def _draw_can(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    sleeve = Random(part.mark).choice(((34, 44, 84), (30, 30, 34), (84, 52, 34)))
    radius = part.wide / 2
    pen.ellipse(view.box(part.x, part.y, radius, radius), fill=sleeve)
    pen.pieslice(view.box(part.x, part.y, radius, radius), 120, 170, fill=(190, 192, 196))
    for share, by in ((0.86, -20), (0.8, 26), (0.72, 8)):
        lift = (0.86 - share) * radius
        box = view.box(part.x - lift, part.y + lift, share * radius, share * radius)
        pen.ellipse(box, fill=_shade(_STEEL, by))
    score = max(1, round(0.14 * view.px_per_mm))
    left, top, right, bottom = view.box(part.x, part.y, 0.5 * radius, 0.5 * radius)
    for line in ((left, top, right, bottom), (left, bottom, right, top)):
        pen.line(line, fill=_shade(_STEEL, -34), width=score)


def _draw_crystal(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    radius = 0.9 * part.high / 2 * view.px_per_mm
    for grow, by in ((0.0, -30), (-0.25, 24), (-0.6, 6)):
        box = view.box(part.x, part.y, part.wide / 2 + grow, part.high / 2 + grow)
        pen.rounded_rectangle(box, radius=radius, fill=_shade(_STEEL, by))


def _draw_coil(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    _block(pen, part, view, (66, 66, 70), rim=0.5)
    half = min(part.wide, part.high) / 2
    pen.ellipse(view.box(part.x, part.y, 0.78 * half, 0.78 * half), fill=(44, 42, 42))
    for share in (0.7, 0.58, 0.46):
        box = view.box(part.x, part.y, share * half, share * half)
        pen.ellipse(box, outline=(178, 104, 56), width=max(1, round(0.22 * view.px_per_mm)))
    pen.ellipse(view.box(part.x, part.y, 0.34 * half, 0.34 * half), fill=(78, 78, 82))


def _draw_resistor(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    _draw_ends(pen, part, view, (32, 32, 36))


def _draw_capacitor(pen: ImageDraw.ImageDraw, part: Part, view: View) -> None:
    _draw_ends(pen, part, view, (160, 128, 92))


def _draw_ends(pen: ImageDraw.ImageDraw, part: Part, view: View, colour: Colour) -> None:
    pen.rectangle(view.box(part.x, part.y, part.wide / 2, part.high / 2), fill=_LEAD)
    lying = part.wide > part.high
    half = (0.66, part.high / 2) if lying else (part.wide / 2, 0.66)
    pen.rectangle(view.box(part.x, part.y, *half), fill=colour)
