"""
The map of a board: what is cut, what is kept out, what is left, and where a piece came from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.photo.map_frame import MapFrame, frame_map
from salvage.photo.map_key import draw_legend, draw_scale_bar, draw_title, legend_rows, tint
from salvage.photo.map_marks import draw_edge, draw_label, draw_pointer, mask_of
from salvage.photo.map_styles import INK, PAPER, STYLES, Colour, draw_pattern
from salvage.photo.upright import upright_image
from salvage.records.region import Region

if TYPE_CHECKING:
    from PIL import Image

# A plain board: pale enough that every pattern and letter stands out on it.
_PLAIN_BOARD: Colour = (232, 238, 231)

# How far a photo fades behind the marks; where one place is pointed out, the rest fades more.
_FADE = 0.18
_FADE_ROUND_THIS = 0.5

_LONGEST_PICTURE_PX = 12_000


@dataclass(frozen=True, slots=True)
class Mark:
    """
    A region to show on a board's map.

    Args:
        style: ``outline``, ``usable``, ``cut``, ``kerf``, ``wall``, ``keep-out``, ``reserved``,
            ``unusable``, ``gone``, ``still``, or ``this`` for the one place that the map is about.
        region: In board coordinates.
        label: Such as a code; printed on the region.
    """

    style: str
    region: Region
    label: str = ""


def draw_map(
    outline: Region,
    marks: Sequence[Mark],
    *,
    picture_png: bytes | None,
    px_per_mm: float,
    legend: bool,
    title: str = "",
) -> bytes:
    """
    A board's map as a PNG; the same arguments give the same bytes.

    Args:
        outline: Edge of the board with its holes, in board coordinates.
        marks: What to show; ``this`` always lies on top, whatever the order.
        picture_png: The squared-up photo of the board's bounding box, or None for a plain board.
        px_per_mm: Pixels for each millimetre of board.
        legend: Whether to explain each style in words below the board.
        title: A line above the board; empty for none.

    Raises:
        BadValue: If a style is unknown, or the scale makes no sense.
        BadFile: If the photo cannot be used.
    """
    from PIL import Image

    _check_styles(marks)
    used = [name for name in STYLES if any(mark.style == name for mark in marks)]
    rows = legend_rows(len(used)) if legend and used else 0
    frame = frame_map(outline, px_per_mm=px_per_mm, legend_rows=rows, titled=bool(title.strip()))
    sheet = Image.new("RGB", frame.sheet_px, PAPER)
    _draw_board(sheet, frame, outline, marks, picture_png)
    for name in used:
        alike = [mark for mark in marks if mark.style == name]
        _draw_style(sheet, frame, name, alike, plain=picture_png is None)
    draw_edge(sheet, frame, outline, colour=INK, width_units=STYLES["outline"].edge)
    _draw_words(sheet, frame, marks)
    draw_scale_bar(sheet, frame)
    if title.strip():
        draw_title(sheet, frame, title)
    if rows:
        draw_legend(sheet, frame, used)
    out = BytesIO()
    sheet.reduce(frame.smooth).save(out, "PNG")
    return out.getvalue()


def _check_styles(marks: Sequence[Mark]) -> None:
    for mark in marks:
        if mark.style not in STYLES:
            raise BadValue(f"'{mark.style}' is not a style of map", hint=", ".join(STYLES))


def _draw_board(
    sheet: Image.Image,
    frame: MapFrame,
    outline: Region,
    marks: Sequence[Mark],
    picture_png: bytes | None,
) -> None:
    box, mask = mask_of(frame, [outline])
    if picture_png is None:
        sheet.paste(_PLAIN_BOARD, box, mask)
        return
    from PIL import Image, ImageOps

    photo = upright_image(picture_png, longest_px=_LONGEST_PICTURE_PX)
    photo = photo.resize(frame.board_px, Image.Resampling.LANCZOS, reducing_gap=3.0)
    places = [mark.region for mark in marks if mark.style == "this"]
    paper = Image.new("RGB", photo.size, PAPER)
    faded = Image.blend(photo, paper, _FADE)
    if places:
        grey = ImageOps.grayscale(photo).convert("RGB")
        faded = Image.blend(Image.blend(grey, photo, 0.25), paper, _FADE_ROUND_THIS)
    whole = Image.new("RGB", sheet.size, PAPER)
    whole.paste(faded, frame.origin)
    if places:
        vivid = whole.copy()
        vivid.paste(photo, frame.origin)
        this_box, this_mask = mask_of(frame, places)
        whole.paste(vivid.crop(this_box), this_box, this_mask)
    sheet.paste(whole.crop(box), box, mask)


def _draw_style(
    sheet: Image.Image, frame: MapFrame, name: str, marks: Sequence[Mark], *, plain: bool
) -> None:
    from PIL import Image

    style = STYLES[name]
    # The place that a map is about shows the photo in full colour; only a plain board needs a fill.
    if name != "outline" and (plain or name != "this"):
        box, mask = mask_of(frame, [mark.region for mark in marks])
        colour = tint(PAPER, style.colour, style.tint)
        fill = Image.new("RGB", mask.size, colour)
        covered = Image.blend(sheet.crop(box), fill, 1.0 if plain else style.cover)
        covered.paste(style.colour, (0, 0), draw_pattern(style.pattern, mask.size, frame.unit_px))
        sheet.paste(covered, box, mask)
    if name == "this" or not style.edge:
        return
    for mark in marks:
        draw_edge(
            sheet,
            frame,
            mark.region,
            colour=style.colour,
            width_units=style.edge,
            dashed=style.dashed,
        )


def _draw_words(sheet: Image.Image, frame: MapFrame, marks: Sequence[Mark]) -> None:
    for mark in marks:
        if mark.label and mark.style != "this":
            draw_label(sheet, frame, mark.region, mark.label)
    for mark in marks:
        if mark.style == "this":
            draw_pointer(sheet, frame, mark.region, mark.label)
