"""
The strokes on a board's map: filled regions, edges, labels, and the pointer to one place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from salvage.photo.map_frame import Box, MapFrame
from salvage.photo.map_styles import INK, PAPER, STYLES, Colour
from salvage.photo.map_text import fit_text, font_of_height
from salvage.records.region import Region

if TYPE_CHECKING:
    from PIL import Image


def mask_of(frame: MapFrame, regions: Sequence[Region]) -> tuple[Box, Image.Image]:
    """
    The box that holds some regions, and a picture of its size that is white inside them.

    Args:
        frame: Of the map.
        regions: One or more, in board coordinates; holes stay black unless another region fills
            them.
    """
    from PIL import Image, ImageChops, ImageDraw

    width, height = frame.sheet_px
    whole = Image.new("L", (width, height), 0)
    for region in regions:
        outer = frame.to_px(region.outer)
        left, top, right, bottom = box = _box_round(outer, frame)
        one = Image.new("L", (right - left, bottom - top), 0)
        pen = ImageDraw.Draw(one)
        for ring, shade in ((region.outer, 255), *((hole, 0) for hole in region.holes)):
            pen.polygon([(x - left, y - top) for x, y in frame.to_px(ring)], fill=shade)
        whole.paste(ImageChops.lighter(whole.crop(box), one), box)
    box = whole.getbbox() or (0, 0, 1, 1)
    return box, whole.crop(box)


def _box_round(points: Sequence[tuple[float, float]], frame: MapFrame) -> Box:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    left, top = max(0, math.floor(min(xs))), max(0, math.floor(min(ys)))
    right = min(frame.sheet_px[0], math.ceil(max(xs)) + 1)
    bottom = min(frame.sheet_px[1], math.ceil(max(ys)) + 1)
    return left, top, max(left + 1, right), max(top + 1, bottom)


def draw_edge(
    sheet: Image.Image,
    frame: MapFrame,
    region: Region,
    *,
    colour: Colour,
    width_units: float,
    dashed: bool = False,
) -> None:
    """
    Lines along a region's rings.

    Args:
        sheet: Drawn on.
        frame: Of the map.
        region: In board coordinates.
        colour: Of the line.
        width_units: Width of the line in heights of the lettering.
        dashed: Whether the line is broken.
    """
    from PIL import ImageDraw

    pen = ImageDraw.Draw(sheet)
    width = max(1, round(width_units * frame.unit_px))
    for ring in (region.outer, *region.holes):
        points = frame.to_px(ring)
        closed = [*points, points[0], points[1]]
        if dashed:
            for dash in _dashes(closed[:-1], on=0.75 * frame.unit_px, off=0.45 * frame.unit_px):
                pen.line(dash, fill=colour, width=width, joint="curve")
        else:
            pen.line(closed, fill=colour, width=width, joint="curve")


def _dashes(
    points: Sequence[tuple[float, float]], *, on: float, off: float
) -> list[list[tuple[float, float]]]:
    dashes: list[list[tuple[float, float]]] = [[points[0]]]
    drawn, left = True, on
    for (x1, y1), (x2, y2) in pairwise(points):
        length, done = math.hypot(x2 - x1, y2 - y1), 0.0
        while length - done > left:
            done += left
            place = (x1 + (x2 - x1) * done / length, y1 + (y2 - y1) * done / length)
            if drawn:
                dashes[-1].append(place)
            else:
                dashes.append([place])
            drawn, left = not drawn, off if drawn else on
        left -= length - done
        if drawn:
            dashes[-1].append((x2, y2))
    return [dash for dash in dashes if len(dash) > 1]


def draw_label(sheet: Image.Image, frame: MapFrame, region: Region, label: str) -> None:
    """
    A label on a slip of paper where the region is widest.

    Args:
        sheet: Drawn on.
        frame: Of the map.
        region: In board coordinates.
        label: Any text.
    """
    box, mask = mask_of(frame, [region])
    x, y = _widest_place(mask)
    _draw_slip(sheet, frame, label, (box[0] + x, box[1] + y), bold=False)


def _widest_place(mask: Image.Image) -> tuple[float, float]:
    width, height = mask.size
    best, place = 0.0, (width / 2, height / 2)
    # From the middle outwards, so that of equal rows the middle one wins.
    for share in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74):
        row = min(height - 1, int(height * share))
        inside = mask.crop((0, row, width, row + 1)).tobytes()
        for run in _runs(inside):
            if run[1] - run[0] > best * 1.15:
                best, place = run[1] - run[0], ((run[0] + run[1]) / 2, row)
    return place


def _runs(inside: bytes) -> list[tuple[int, int]]:
    runs, start = [], -1
    for place, shade in enumerate((*inside, 0)):
        if shade and start < 0:
            start = place
        elif not shade and start >= 0:
            runs.append((start, place))
            start = -1
    return runs


def _draw_slip(
    sheet: Image.Image, frame: MapFrame, text: str, centre: tuple[float, float], *, bold: bool
) -> Box:
    from PIL import ImageDraw

    unit = frame.unit_px
    font = font_of_height(round(unit * (1.05 if bold else 0.9)), bold=bold)
    shown = fit_text(text, font, frame.sheet_px[0] - 3 * unit)
    half_wide = font.getlength(shown) / 2 + 0.4 * unit
    half_high = 0.78 * unit
    x = min(max(centre[0], half_wide + 2), frame.sheet_px[0] - half_wide - 2)
    y = min(max(centre[1], half_high + 2), frame.sheet_px[1] - half_high - 2)
    box = (round(x - half_wide), round(y - half_high), round(x + half_wide), round(y + half_high))
    pen = ImageDraw.Draw(sheet)
    pen.rounded_rectangle(
        box,
        radius=round(0.3 * unit),
        fill=STYLES["this"].colour if bold else PAPER,
        outline=INK,
        width=max(1, round(unit * (0.12 if bold else 0.05))),
    )
    pen.text((x, y), shown, font=font, fill=INK, anchor="mm")
    return box


def draw_pointer(sheet: Image.Image, frame: MapFrame, region: Region, label: str) -> None:
    """
    The one place that the map is about: a heavy edge, and an arrow with its label.

    Args:
        sheet: Drawn on.
        frame: Of the map.
        region: In board coordinates.
        label: Printed at the arrow's tail; empty for none.
    """
    unit = frame.unit_px
    width = STYLES["this"].edge
    draw_edge(sheet, frame, region, colour=PAPER, width_units=width * 2.1)
    draw_edge(sheet, frame, region, colour=INK, width_units=width * 1.45)
    draw_edge(sheet, frame, region, colour=STYLES["this"].colour, width_units=width * 0.6)
    box, mask = mask_of(frame, [region])
    x, y = _widest_place(mask)
    way = _roomiest_way(frame, box)
    tip = _rim(mask, (x, y), way)
    tip = box[0] + tip[0] + way[0] * 0.55 * unit, box[1] + tip[1] + way[1] * 0.55 * unit
    tail = tip[0] + way[0] * 3.2 * unit, tip[1] + way[1] * 3.2 * unit
    _draw_arrow(sheet, tail, tip, unit)
    if label:
        reach = font_of_height(round(unit * 1.05), bold=True).getlength(label) / 2
        out = (reach + 0.3 * unit) if way[0] else 0.7 * unit
        _draw_slip(sheet, frame, label, (tail[0] + way[0] * out, tail[1] + way[1] * out), bold=True)


def _roomiest_way(frame: MapFrame, box: Box) -> tuple[int, int]:
    left, top, right, bottom = frame.board_box
    # Up or down first: a label is wide, so sideways it needs more room.
    ways = {
        (0, -1): (box[1] - top) * 1.6,
        (0, 1): (bottom - box[3]) * 1.6,
        (1, 0): float(right - box[2]),
        (-1, 0): float(box[0] - left),
    }
    return max(ways, key=lambda way: ways[way])


def _rim(
    mask: Image.Image, start: tuple[float, float], way: tuple[int, int]
) -> tuple[float, float]:
    """The last place inside the mask when walking from *start* one way."""
    x, y = start
    last = x, y
    while 0 <= x < mask.width and 0 <= y < mask.height:
        if mask.getpixel((int(x), int(y))):
            last = x, y
        x, y = x + way[0], y + way[1]
    return last


def _draw_arrow(
    sheet: Image.Image, tail: tuple[float, float], tip: tuple[float, float], unit: float
) -> None:
    from PIL import ImageDraw

    pen = ImageDraw.Draw(sheet)
    length = math.dist(tail, tip)
    ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
    for colour, grow in ((PAPER, 0.34), (INK, 0.2), (STYLES["this"].colour, 0.0)):
        half_head, half_shaft, back = 0.75 + grow, 0.26 + grow, 1.35 + grow
        along = [(-grow * 1.5, 0.0), (back, half_head), (back, half_shaft), (99.0, half_shaft)]
        side = [(min(a * unit, length), b * unit) for a, b in along]
        outline = side + [(a, -b) for a, b in reversed(side)]
        pen.polygon(
            [(tip[0] - ux * a - uy * b, tip[1] - uy * a + ux * b) for a, b in outline], colour
        )
