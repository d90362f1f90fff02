"""
The mat that a board lies on: where its markers, field and scale bars are, in millimetres.

Mat frame: x right, y up, origin at the lower left corner of the coloured field. The border is a row
of square markers; each sheet size, and each tile of a joined mat, has markers of its own, so that
a photo tells which mat it shows. The markers are the AprilTag family 36h11 (Olson, "AprilTag: a
robust and flexible visual fiducial system", ICRA 2011; 587 markers, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from salvage.errors import BadValue

PointMm: TypeAlias = tuple[float, float]
Corners: TypeAlias = tuple[PointMm, PointMm, PointMm, PointMm]
BoxMm: TypeAlias = tuple[float, float, float, float]
"""Left, bottom, right and top."""

FAMILY = 1
"""Number of this layout; a changed layout gets a new number, and old sheets are refused."""

MARGIN_MM = 8.0
"""White paper around the markers: printers leave up to 5 mm blank (common practice)."""

TAG_MM, PITCH_MM = 10.0, 13.0
BIG_TAG_MM, BIG_PITCH_MM = 15.0, 19.5
"""Marker and step; larger ones on mats that are photographed from farther away."""

BAR_MM = 200.0
"""Length of a printed scale bar."""

STRIP_IDS = range(500, 587)
"""Markers of the height strips, two to a strip."""

STRIP_MM = (46.0, 16.0)
_STRIP_TAGS_X_MM = (3.0, 33.0)
_STRIP_TAG_Y_MM = 3.0

_MOST_SCALE_OFF = 0.03

# Sheets lie on their long side. ISO 216: A2 594 x 420, A3 420 x 297, A4 297 x 210 mm. ANSI/ASME
# Y14.1: letter 11 x 8.5 in; legal 14 x 8.5 in (all from memory). The range of markers goes with it.
_SHEETS: dict[str, tuple[float, float, int, bool]] = {
    "a4": (297.0, 210.0, 0, False),
    "a3": (420.0, 297.0, 68, False),
    "letter": (279.4, 215.9, 168, False),
    "legal": (355.6, 215.9, 234, False),
    "a2": (594.0, 420.0, 312, True),
}
_TILE_IDS = 406
_TILE_MM = (260.0, 192.0)
_TILE_PAGE_MM = (279.4, 210.0)

PAPERS = (*_SHEETS, "tiles")
"""Names that :func:`standard_mat` takes; ``tiles`` are four sheets of A4 or letter, joined."""

COLOURS: dict[str, tuple[int, int, int]] = {
    "magenta": (255, 0, 200),
    "cyan": (0, 190, 255),
    "orange": (255, 120, 0),
}
"""Colours of the field, sRGB: magenta told every board's colour apart; others are for pink ones."""


@dataclass(frozen=True, slots=True)
class Marker:
    """
    One printed marker.

    Args:
        number: Its number in the family.
        corners: Upper left, upper right, lower right and lower left corner of the black square.
        tile: Which sheet of a joined mat it is printed on, 0 for the only one.
    """

    number: int
    corners: Corners
    tile: int = 0


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """
    A printed bar to lay a ruler on.

    Args:
        start: One end.
        end: The other end.
        length_mm: What the ruler reads when the print is true.
    """

    start: PointMm
    end: PointMm
    length_mm: float = BAR_MM


@dataclass(frozen=True, slots=True)
class Sheet:
    """
    One piece of paper of a mat.

    Args:
        page: The whole page in the mat frame.
        trim: Where to cut before joining; the page itself if nothing is joined.
    """

    page: BoxMm
    trim: BoxMm


@dataclass(frozen=True, slots=True)
class Mat:
    """
    A mat, true to scale.

    Args:
        name: Its sheet size, or ``tiles``.
        colour: Name of the field's colour.
        serial: What tells this print from others, such as a date and number; printed in words.
        markers: All markers of the border.
        field: The coloured rectangle.
        bars: The scale bars.
        sheets: The pieces of paper it is printed on.
        code_places: Where a print with a serial carries its code twice; in a mat without a serial
            there are markers instead.
        family: Number of the layout.
    """

    name: str
    colour: str
    serial: str
    markers: tuple[Marker, ...]
    field: BoxMm
    bars: tuple[ScaleBar, ...]
    sheets: tuple[Sheet, ...]
    code_places: tuple[Marker, ...] = ()
    family: int = FAMILY

    @property
    def tiles(self) -> int:
        """How many sheets it is joined from."""
        return len(self.sheets)

    @property
    def identity(self) -> str:
        """The words printed on it: layout, sheet and serial."""
        return " ".join(filter(None, (f"mat {self.family}", self.name, self.serial)))

    @property
    def reach(self) -> BoxMm:
        """The rectangle that the markers reach."""
        points = [point for marker in self.markers for point in marker.corners]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class PrintScale:
    """
    How much larger than meant the printer drew, along the mat's x and y.

    Args:
        x: True length divided by nominal length.
        y: The same, upwards.
        checked_mm: How well the ruler could be read, for a bar of 200 mm.
    """

    x: float = 1.0
    y: float = 1.0
    checked_mm: float = 0.3


def print_scale_of_bars(x_mm: float, y_mm: float, *, nominal_mm: float = BAR_MM) -> PrintScale:
    """
    The scale of a printed mat from what a ruler reads on its two bars.

    Raises:
        BadValue: If a reading is more than 3 % off, which no printer does by itself.

    >>> print_scale_of_bars(199.0, 200.0).x
    0.995
    """
    for name, reading in (("long", x_mm), ("short", y_mm)):
        if not abs(reading / nominal_mm - 1) <= _MOST_SCALE_OFF:
            raise BadValue(
                f"the bar along the {name} side reads {reading:g} mm instead of {nominal_mm:g}",
                hint="print at 100 % without fitting to the page, or read the ruler again",
            )
    return PrintScale(x_mm / nominal_mm, y_mm / nominal_mm)


def standard_mat(paper: str = "a4", *, colour: str = "magenta", serial: str = "") -> Mat:
    """
    The mat for a size of paper, lying on its long side.

    Args:
        paper: One of :data:`PAPERS`; ``a2`` is the large sheet for a copy shop, and ``tiles`` makes
            four sheets of A4 or letter one mat for boards up to 340 x 310 mm.
        colour: One of :data:`COLOURS`.
        serial: What tells this print from others; two markers give way to a code that says it.

    Raises:
        BadValue: If the paper or colour is not known.

    >>> len(standard_mat("a4").markers), standard_mat("a4").field
    (68, (0.0, 0.0, 244.0, 166.0))
    """
    if colour not in COLOURS:
        raise BadValue(f"'{colour}' is no colour of a mat", hint="use " + ", ".join(COLOURS))
    if paper == "tiles":
        return _tiled_mat(colour, serial)
    if paper not in _SHEETS:
        raise BadValue(f"'{paper}' is no size of a mat", hint="use " + ", ".join(PAPERS))
    width, height, first, is_big = _SHEETS[paper]
    tag, pitch = (BIG_TAG_MM, BIG_PITCH_MM) if is_big else (TAG_MM, PITCH_MM)
    columns = int((width - 2 * MARGIN_MM - tag) // pitch) + 1
    rows = int((height - 2 * MARGIN_MM - tag) // pitch) + 1
    gap = pitch - tag
    field_w, field_h = ((count - 2) * pitch - gap for count in (columns, rows))
    field = (0.0, 0.0, field_w, field_h)
    page_x, page_y = (field_w - width) / 2, (field_h - height) / 2
    page = (page_x, page_y, page_x + width, page_y + height)
    cells = list(_around(columns, rows))
    places = [(-pitch + c * pitch, -pitch + r * pitch) for c, r in cells]
    markers = [_marker(first + k, place, tag) for k, place in enumerate(places)]
    # Halfway along the long sides: a marker is missed least there.
    codes = tuple(markers[cells.index((columns // 2, row))] for row in (0, rows - 1))
    kept = _beside_codes(markers, codes, serial)
    return Mat(paper, colour, serial, kept, field, _bars(page), (Sheet(page, page),), codes)


def _beside_codes(
    markers: list[Marker], codes: tuple[Marker, ...], serial: str
) -> tuple[Marker, ...]:
    """All markers; where a serial is printed, those that do not give way to its code."""
    return tuple(marker for marker in markers if not (serial and marker in codes))


def _around(columns: int, rows: int) -> Iterator[tuple[int, int]]:
    """Cells of a border, counter-clockwise from the lower left."""
    yield from ((c, 0) for c in range(columns))
    yield from ((columns - 1, r) for r in range(1, rows))
    yield from ((c, rows - 1) for c in range(columns - 2, -1, -1))
    yield from ((0, r) for r in range(rows - 2, 0, -1))


def _marker(number: int, lower_left: PointMm, size_mm: float, *, tile: int = 0) -> Marker:
    x, y = lower_left
    right, top = x + size_mm, y + size_mm
    return Marker(number, ((x, top), (right, top), (right, y), (x, y)), tile)


def _bars(page: BoxMm) -> tuple[ScaleBar, ScaleBar]:
    """A bar along the lower and one along the left edge of the page, in the white margin."""
    left, bottom, right, top = page
    x, y, inset = (left + right) / 2, (bottom + top) / 2, 5.5
    return (
        ScaleBar((x - BAR_MM / 2, bottom + inset), (x + BAR_MM / 2, bottom + inset)),
        ScaleBar((left + inset, y - BAR_MM / 2), (left + inset, y + BAR_MM / 2)),
    )


def _tiled_mat(colour: str, serial: str) -> Mat:
    """
    Four sheets, each with markers along its two outer sides, joined edge to edge.

    The joints need not be perfect: the fit finds how each sheet lies against the first.
    """
    tag, pitch = BIG_TAG_MM, BIG_PITCH_MM
    width, height = _TILE_MM
    columns, rows = int((width - tag) // pitch) + 1, int((height - tag) // pitch) + 1
    cells = [(c, 0) for c in range(columns)] + [(0, r) for r in range(1, rows)]
    field = (0.0, 0.0, 2 * (width - pitch), 2 * (height - pitch))
    markers, sheets = [], []
    for tile in range(4):
        on_right, on_top = tile % 2 == 1, tile >= 2
        for k, (c, r) in enumerate(cells):
            x, y = (c - 1) * pitch, (r - 1) * pitch
            place = (field[2] - x - tag if on_right else x, field[3] - y - tag if on_top else y)
            number = _TILE_IDS + tile * len(cells) + k
            markers.append(_marker(number, place, tag, tile=tile))
        sheets.append(_tile_sheet(field, on_right=on_right, on_top=on_top))
    # On the first and the last sheet, so that sheets of two prints joined by mistake are noticed.
    codes = tuple(markers[tile * len(cells) + columns // 2] for tile in (0, 3))
    kept, bars = _beside_codes(markers, codes, serial), _tile_bars(sheets[0])
    return Mat("tiles", colour, serial, kept, field, bars, tuple(sheets), codes)


def _tile_sheet(field: BoxMm, *, on_right: bool, on_top: bool) -> Sheet:
    page_w, page_h = _TILE_PAGE_MM
    outer_x, outer_y = -BIG_PITCH_MM - MARGIN_MM, -BIG_PITCH_MM - MARGIN_MM
    trim = [outer_x, outer_y, field[2] / 2, field[3] / 2]
    page = [outer_x, outer_y, outer_x + page_w, outer_y + page_h]
    for box in (trim, page):
        if on_right:
            box[0], box[2] = field[2] - box[2], field[2] - box[0]
        if on_top:
            box[1], box[3] = field[3] - box[3], field[3] - box[1]
    return Sheet((page[0], page[1], page[2], page[3]), (trim[0], trim[1], trim[2], trim[3]))


def _tile_bars(sheet: Sheet) -> tuple[ScaleBar, ScaleBar]:
    left, bottom, _, _ = sheet.page
    reach = 5.0 + BAR_MM
    return (
        ScaleBar((left + 5.0, bottom + 5.5), (left + reach, bottom + 5.5)),
        ScaleBar((left + 5.5, bottom + 5.0), (left + 5.5, bottom + reach)),
    )


def strip_markers(number: int) -> tuple[Marker, Marker]:
    """
    The two markers of a height strip, in the strip's own frame: lower left corner at the origin.

    Args:
        number: Number of the strip, from 0.

    Raises:
        BadValue: If there is no such strip.
    """
    first = STRIP_IDS.start + 2 * number
    if number < 0 or first + 1 not in STRIP_IDS:
        raise BadValue(f"there is no height strip {number}", hint="0 up to 42")
    left, right = (
        _marker(first + k, (x, _STRIP_TAG_Y_MM), TAG_MM) for k, x in enumerate(_STRIP_TAGS_X_MM)
    )
    return left, right


def mat_of_markers(numbers: set[int], mats: tuple[Mat, ...]) -> Mat | None:
    """The mat most of whose markers are among *numbers*; none if there is not even one."""
    counts = [(sum(m.number in numbers for m in mat.markers), -k) for k, mat in enumerate(mats)]
    best = max(counts, default=(0, 0))
    return mats[-best[1]] if best[0] else None
