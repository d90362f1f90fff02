"""
Mats and height strips as drawings in exact millimetres, and as pictures.

A drawing is a list of filled rectangles and lines of words, so that the printed page, the picture
for tests and the page for a browser are one and the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.photo.measure.mat import (
    COLOURS,
    STRIP_IDS,
    STRIP_MM,
    BoxMm,
    Marker,
    Mat,
    PointMm,
    ScaleBar,
    Sheet,
    strip_markers,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CELLS = 8
"""Cells along a marker, its black frame of one cell included."""

_BLACK, _WHITE, _GREY = (0, 0, 0), (255, 255, 255), (170, 170, 170)
_BAR_MM, _TICK_MM, _HAIR_MM = 0.4, 3.0, 0.2
_LETTER_MM = 3.0
MOST_PIXELS = 60_000_000
"""Pixels of the largest picture that is drawn."""

STRIP_BAR_MM = 150.0
"""Length of the bar on a sheet of height strips; it fits both papers."""

_STRIPS_FOOT_MM = 16.0

_QUIET_MODULES = 1
"""White round a symbol: ISO/IEC 16022 asks for one module (from memory)."""


@dataclass(frozen=True, slots=True)
class Filled:
    """
    A rectangle of one colour.

    Args:
        box: Left, bottom, right and top in mm, y upwards.
        colour: sRGB, 0 to 255.
    """

    box: BoxMm
    colour: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Words:
    """
    A line of words.

    Args:
        place: Left end of the line's foot, in mm.
        text: The words.
        turned: Whether they run upwards.
    """

    place: PointMm
    text: str
    turned: bool = False


def marker_cells(number: int) -> NDArray[np.uint8]:
    """The cells of a marker, rows from the top, 0 black and 255 white."""
    import cv2

    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return family.generateImageMarker(number, CELLS, borderBits=1).astype("uint8")


def marker_shapes(marker: Marker) -> Iterator[Filled]:
    """The black square of a marker and its white cells."""
    (left, top), _, (right, bottom), _ = marker.corners
    yield Filled((left, bottom, right, top), _BLACK)
    step = (right - left) / CELLS
    for row, cells in enumerate(marker_cells(marker.number)):
        y = top - row * step
        for start, end in _runs([bool(level) for level in cells]):
            yield Filled((left + start * step, y - step, left + end * step, y), _WHITE)


def _runs(cells: list[bool]) -> Iterator[tuple[int, int]]:
    """First cell, and the one after the last, of each run of true cells in a row."""
    padded = [False, *cells, False]
    turns = [k for k in range(len(cells) + 1) if padded[k] != padded[k + 1]]
    yield from zip(turns[::2], turns[1::2], strict=True)


def mat_shapes(mat: Mat, *, code: Sequence[str] = ()) -> list[Filled]:
    """
    Every rectangle of a mat, lowest first.

    Args:
        mat: The mat.
        code: Modules of the symbol that says its serial, rows from the top, ``#`` dark.
    """
    shapes = [Filled(sheet.page, _WHITE) for sheet in mat.sheets]
    shapes.append(Filled(mat.field, COLOURS[mat.colour]))
    for marker in mat.markers:
        shapes.extend(marker_shapes(marker))
    for bar in mat.bars:
        shapes.extend(_bar_shapes(bar))
    for place in mat.code_places if code else ():
        shapes.extend(_code_shapes(place, code))
    return shapes


def _code_shapes(place: Marker, code: Sequence[str]) -> Iterator[Filled]:
    """The dark modules of a symbol, drawn as large as its place holds with a quiet zone."""
    (left, top), _, (right, _), _ = place.corners
    step = (right - left) / (len(code) + 2 * _QUIET_MODULES)
    inset = _QUIET_MODULES * step
    for row, modules in enumerate(code):
        y = top - inset - row * step
        for start, end in _runs([module == "#" for module in modules]):
            x = left + inset
            yield Filled((x + start * step, y - step, x + end * step, y), _BLACK)


def mat_words(mat: Mat) -> list[Words]:
    """What is written in the margin of a mat."""
    across, up = mat.bars
    length = f"{across.length_mm:g}"
    return [
        Words(
            (across.start[0], across.start[1] - _LETTER_MM - 1.5),
            f"{mat.identity} · print at 100 % · this bar is {length} mm",
        ),
        Words((up.start[0] - 1.5, up.start[1]), f"this bar is {length} mm", turned=True),
    ]


def _bar_shapes(bar: ScaleBar) -> Iterator[Filled]:
    """A thin line between two ticks whose outer sides are the length apart."""
    (x0, y0), (x1, y1) = bar.start, bar.end
    half, tick = _BAR_MM / 2, _TICK_MM / 2
    if y0 == y1:
        yield Filled((x0, y0 - half, x1, y0 + half), _BLACK)
        for left in (x0, x1 - _BAR_MM):
            yield Filled((left, y0 - tick, left + _BAR_MM, y0 + tick), _BLACK)
    else:
        yield Filled((x0 - half, y0, x0 + half, y1), _BLACK)
        for bottom in (y0, y1 - _BAR_MM):
            yield Filled((x0 - tick, bottom, x0 + tick, bottom + _BAR_MM), _BLACK)


def draw_mat_png(mat: Mat, *, px_per_mm: float, code: Sequence[str] = ()) -> bytes:
    """
    The mat as a picture; its upper left pixel is the upper left of all pages together.

    Args:
        mat: The mat.
        px_per_mm: How fine; the file says so too, in pixels per metre.
        code: Modules of the symbol that says its serial.

    Raises:
        BadValue: If the picture would have more than 60 million pixels.
    """
    from PIL import Image

    picture = paint_shapes(mat_shapes(mat, code=code), box=mat_page(mat), px_per_mm=px_per_mm)
    out = BytesIO()
    Image.fromarray(picture).save(out, "PNG", dpi=(px_per_mm * 25.4, px_per_mm * 25.4))
    return out.getvalue()


def mat_page(mat: Mat) -> BoxMm:
    """The rectangle around all sheets of a mat."""
    pages = [sheet.page for sheet in mat.sheets]
    return (
        min(page[0] for page in pages),
        min(page[1] for page in pages),
        max(page[2] for page in pages),
        max(page[3] for page in pages),
    )


def paint_shapes(shapes: list[Filled], *, box: BoxMm, px_per_mm: float) -> NDArray[np.uint8]:
    """
    Rectangles as pixels, each pixel mixed by how much of it is covered.

    Raises:
        BadValue: If the picture would have more than 60 million pixels.
    """
    import numpy as np

    left, bottom, right, top = box
    width, height = round((right - left) * px_per_mm), round((top - bottom) * px_per_mm)
    if not 0 < width * height <= MOST_PIXELS:
        raise BadValue(f"{px_per_mm:g} pixels per mm is out of range", hint="try 10")
    picture = np.full((height, width, 3), 255, np.uint8)
    for shape in shapes:
        x0, y0, x1, y1 = shape.box
        across = _coverage((x0 - left) * px_per_mm, (x1 - left) * px_per_mm, width)
        down = _coverage((top - y1) * px_per_mm, (top - y0) * px_per_mm, height)
        columns, rows = np.flatnonzero(across), np.flatnonzero(down)
        if not (columns.size and rows.size):
            continue
        there = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        share = (down[there[0], None] * across[None, there[1]])[..., None]
        mixed = picture[there] * (1 - share) + np.array(shape.colour, np.float32) * share
        picture[there] = np.rint(mixed).astype(np.uint8)
    return picture


def _coverage(start: float, end: float, count: int) -> NDArray[np.float32]:
    """How much of each of *count* cells lies between start and end."""
    import numpy as np

    cells = np.arange(count)
    covered = np.minimum(end, cells + 1) - np.maximum(start, cells)
    return np.asarray(np.clip(covered, 0, 1), np.float32)


def mat_svg(mat: Mat, *, sheet: int = 0, code: Sequence[str] = ()) -> str:
    """
    One sheet of a mat as SVG in exact millimetres.

    Args:
        mat: The mat.
        sheet: Which of its sheets, from 0; cut marks are drawn where sheets are joined.
        code: Modules of the symbol that says its serial.

    Raises:
        BadValue: If there is no such sheet.
    """
    if not 0 <= sheet < mat.tiles:
        raise BadValue(f"there is no sheet {sheet}", hint=f"0 up to {mat.tiles - 1}")
    paper = mat.sheets[sheet]
    shapes = [_clip(shape, paper.trim) for shape in mat_shapes(mat, code=code)[mat.tiles :]]
    shapes += _cut_marks(paper)
    words = mat_words(mat) if sheet == 0 else []
    return _svg([shape for shape in shapes if shape], words, paper.page)


def _clip(shape: Filled, box: BoxMm) -> Filled | None:
    left, bottom = max(shape.box[0], box[0]), max(shape.box[1], box[1])
    right, top = min(shape.box[2], box[2]), min(shape.box[3], box[3])
    return (
        Filled((left, bottom, right, top), shape.colour) if left < right and bottom < top else None
    )


def _cut_marks(sheet: Sheet) -> list[Filled | None]:
    """Hairlines along the sides that are cut before joining, just outside the cut."""
    (left, bottom, right, top), page = sheet.trim, sheet.page
    hair: list[Filled | None] = []
    if left > page[0]:
        hair.append(Filled((left - _HAIR_MM, page[1], left, page[3]), _GREY))
    if right < page[2]:
        hair.append(Filled((right, page[1], right + _HAIR_MM, page[3]), _GREY))
    if bottom > page[1]:
        hair.append(Filled((page[0], bottom - _HAIR_MM, page[2], bottom), _GREY))
    if top < page[3]:
        hair.append(Filled((page[0], top, page[2], top + _HAIR_MM), _GREY))
    return hair


def strips_svg(page: BoxMm = (0.0, 0.0, 210.0, 297.0)) -> str:
    """
    Height strips to cut out, as many as the page holds, as SVG in exact millimetres.

    Below them stands a bar to lay a ruler on: a strip that is printed too large seems to lie high.
    """
    shapes: list[Filled] = []
    words: list[Words] = []
    step_x, step_y, edge = STRIP_MM[0] + 4.0, STRIP_MM[1] + 7.0, 10.0
    foot = page[1] + edge + _STRIPS_FOOT_MM
    columns = int((page[2] - page[0] - 2 * edge) // step_x)
    rows = int((page[3] - foot - edge) // step_y)
    for k in range(min(columns * rows, len(STRIP_IDS) // 2)):
        x, y = page[0] + edge + (k % columns) * step_x, foot + (k // columns) * step_y
        shapes += _outline_shapes((x, y, x + STRIP_MM[0], y + STRIP_MM[1]))
        for marker in strip_markers(k):
            shapes += [_moved(shape, x, y) for shape in marker_shapes(marker)]
        words.append(Words((x, y + STRIP_MM[1] + 1.0), f"height strip {k}"))
    left, low = page[0] + edge, page[1] + edge
    bar = ScaleBar((left, low), (left + STRIP_BAR_MM, low), STRIP_BAR_MM)
    shapes += _bar_shapes(bar)
    words += [
        Words(
            (left, low + 8.0), "lay one flat on the bare board, another flat on the mat beside it"
        ),
        Words(
            (left, low + 3.0),
            f"print at 100 % together with the mat · this bar is {STRIP_BAR_MM:g} mm",
        ),
    ]
    return _svg(shapes, words, page)


def _outline_shapes(box: BoxMm) -> list[Filled]:
    left, bottom, right, top = box
    inner = (left + _HAIR_MM, bottom + _HAIR_MM, right - _HAIR_MM, top - _HAIR_MM)
    return [Filled(box, _GREY), Filled(inner, _WHITE)]


def _moved(shape: Filled, x: float, y: float) -> Filled:
    left, bottom, right, top = shape.box
    return Filled((left + x, bottom + y, right + x, top + y), shape.colour)


def _svg(shapes: list[Filled], words: list[Words], page: BoxMm) -> str:
    left, _, right, top = page
    width, height = right - left, top - page[1]
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" shape-rendering="crispEdges"',
        f' width="{width:.3f}mm" height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">',
    ]
    for shape in shapes:
        x0, y0, x1, y1 = shape.box
        lines.append(
            f'<rect x="{x0 - left:.3f}" y="{top - y1:.3f}" width="{x1 - x0:.3f}" '
            f'height="{y1 - y0:.3f}" fill="#{bytes(shape.colour).hex()}"/>'
        )
    for line in words:
        x, y = line.place[0] - left, top - line.place[1]
        turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"' if line.turned else ""
        lines.append(
            f'<text x="{x:.3f}" y="{y:.3f}" font-family="sans-serif" '
            f'font-size="{_LETTER_MM:g}"{turn}>{escape(line.text)}</text>'
        )
    return "\n".join([*lines, "</svg>\n"])
