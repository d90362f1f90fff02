"""Places on a board as people type them: points, sizes, angles, keep-outs, picked corners."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.units import UM_PER_MM, parse_length_mm, to_um
from salvage.work.library import ChosenShape
from salvage.work.record import NewKeepOut

if TYPE_CHECKING:
    from salvage.records.region import Region
    from salvage.work.cutting import Spot

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_POINT = re.compile(rf"{_NUMBER},{_NUMBER}")
_RADIUS = re.compile(r"[rR]([0-9]+(?:\.[0-9]+)?)")
_DEGREES = re.compile(rf"({_NUMBER})\s*(?:°|deg)?")

# A keep-out and the cutter may reach over the edge by this much, not more: beyond it is a slip.
_MOST_MM = 2000.0


def parse_point_um(text: str, *, field: str = "") -> tuple[int, int]:
    """
    A place on a board in whole micrometres.

    Args:
        text: Such as ``60,50`` or ``2 in, 1.5 in``; bare numbers are millimetres.
        field: Label for the error.

    Raises:
        BadValue: If it is not two lengths.

    >>> parse_point_um("60,50.5")
    (60000, 50500)
    """
    parts = text.split(",")
    if len(parts) != 2:
        raise BadValue(
            f"'{text}' is not a place", hint="write x,y in mm such as 60,50", field=field
        )
    x, y = (parse_length_mm(p, field=field, least_mm=-_MOST_MM, most_mm=_MOST_MM) for p in parts)
    return to_um(x), to_um(y)


def parse_size_mm(text: str, *, field: str = "") -> tuple[float, float]:
    """
    Width and height in millimetres.

    Raises:
        BadValue: If it is not two lengths above 0.

    >>> parse_size_mm("175 x 107")
    (175.0, 107.0)
    """
    parts = re.split(r"[x×*]", text.lower())
    if len(parts) != 2 or not all(re.search("[0-9]", part) for part in parts):
        raise BadValue(
            f"'{text}' is not a size", hint="write width x height such as 175x107", field=field
        )
    width, height = (parse_length_mm(part, field=field) for part in parts)
    return width, height


def parse_angle_mdeg(text: str, *, field: str = "") -> int:
    """
    An angle in thousandths of a degree, counter-clockwise.

    Raises:
        BadValue: If it is no angle from -360 to 360 degrees.

    >>> parse_angle_mdeg("-22.5°")
    -22500
    """
    match = _DEGREES.fullmatch(text.strip())
    if not match or abs(Decimal(match[1])) > 360:
        raise BadValue(f"'{text}' is not an angle", hint="degrees from -360 to 360", field=field)
    return round(Decimal(match[1]) * 1000)


def parse_corners_px(text: str, *, field: str = "") -> tuple[tuple[float, float], ...]:
    """
    Four picked corners of a photo, in pixels.

    Args:
        text: ``x,y x,y x,y x,y``: lower left, lower right, upper right, upper left of the board's
            front.
        field: Label for the error.

    Raises:
        BadValue: If it is not four points.
    """
    words = text.split()
    if len(words) != 4 or not all(_POINT.fullmatch(word) for word in words):
        raise BadValue(
            f"'{text}' is not four corners", hint="write x,y x,y x,y x,y in pixels", field=field
        )
    pairs = (word.split(",") for word in words)
    return tuple((float(x), float(y)) for x, y in pairs)


def parse_keep_out(text: str, *, field: str = "") -> NewKeepOut:
    """
    A keep-out from one line: its points, then the reason.

    Two points are opposite corners of a rectangle, one with ``r6`` is a circle of that radius,
    three or more are corners in order.

    Args:
        text: Such as ``0,0 20,20 serial port`` or ``30,40 r6 coil``; millimetres.
        field: Label for the error.

    Raises:
        BadValue: If no shape follows from the points, or the reason is missing.
        BadOutline: If the corners make no outline.

    >>> parse_keep_out("0,0 20,20 serial port").reason
    'serial port'
    """
    words = text.split()
    points = []
    while words and _POINT.fullmatch(words[0]):
        points.append(parse_point_um(words.pop(0), field=field))
    radius = _RADIUS.fullmatch(words[0]) if words and len(points) == 1 else None
    if radius:
        words.pop(0)
    if len(points) < 2 and not radius:
        raise BadValue(
            f"'{text}' is not a keep-out",
            hint="write two corners and a reason, such as '0,0 20,20 serial port'",
            field=field,
        )
    if not words:
        raise BadValue(f"'{text}' has no reason", hint="such as 'serial port'", field=field)
    radius_mm = float(radius[1]) if radius else 0.0
    return NewKeepOut(_region(points, radius_mm, field=field), " ".join(words))


def _region(points: list[tuple[int, int]], radius_mm: float, *, field: str) -> Region:
    from salvage.geometry.outline import circle, map_points, region_of_points

    (x1, y1), (x2, y2) = points[0], points[-1]
    if len(points) == 1:
        return map_points(circle(2 * radius_mm), lambda p: (p[0] + x1, p[1] + y1))
    if len(points) == 2:
        points = [(x1, y1), (x2, y1), (x2, y2), (x1, y2)]
    return region_of_points([(x / UM_PER_MM, y / UM_PER_MM) for x, y in points], field=field)


def parse_spot(shape: ChosenShape, *, at: str, angle: str = "0", side: str = "front") -> Spot:
    """
    Where a shape goes, from typed words.

    Args:
        shape: The shape at its size.
        at: Where the middle of its bounding box goes, as for :func:`parse_point_um`.
        angle: As for :func:`parse_angle_mdeg`.
        side: ``front`` or ``back``; a clear beginning is enough.

    Raises:
        ManyMistakes: With everything that does not parse.
    """
    from salvage.errors import ManyMistakes
    from salvage.records.choices import SIDES, parse_choice
    from salvage.work.cutting import Spot

    mistakes = []
    x_um = y_um = angle_mdeg = 0
    try:
        x_um, y_um = parse_point_um(at, field="--at")
    except BadValue as mistake:
        mistakes.append(mistake)
    try:
        angle_mdeg = parse_angle_mdeg(angle, field="--angle")
    except BadValue as mistake:
        mistakes.append(mistake)
    try:
        side = parse_choice(side, SIDES, field="--side")
    except BadValue as mistake:
        mistakes.append(mistake)
    if mistakes:
        raise ManyMistakes(mistakes)
    return Spot(shape, x_um, y_um, angle_mdeg, side)
