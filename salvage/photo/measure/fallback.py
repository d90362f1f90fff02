"""
Measuring without a mat: a bank card beside the board, four picked corners, or a flatbed scan.

Without markers nothing is known of the lens, and the board's height is a guess. The outline then
tells which part of a board is left, to about a millimetre and 2 % of area; it does not steer a
router. A scan is better: the glass is flat and the scale is the scanner's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from salvage.errors import BadValue
from salvage.photo.measure.camera import FlatView, px_per_mm
from salvage.photo.measure.contour import Heights
from salvage.photo.measure.field import Body, find_bodies, see_field
from salvage.photo.measure.markers import find_markers
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.measure.quality import check_bodies, check_rim
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.result import HeightFacts, Measurement
from salvage.photo.measure.sharpness import Blur
from salvage.photo.measure.trace import (
    Settled,
    Sight,
    Traced,
    draw_pictures,
    settle_body,
    trace_body,
)
from salvage.photo.measure.uncertainty import (
    Sources,
    area_half_interval_mm2,
    point_interval_mm,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.mat import BoxMm

    Floats = NDArray[np.float64]

PixelPoint: TypeAlias = tuple[float, float]

CARD_MM = (85.60, 53.98)
"""A bank or identity card: ISO/IEC 7810:2019, size ID-1, nominal (from memory)."""

# Shares of length, one standard deviation, from a simulation of 60 cameras for each tilt.
CARD_LENS_SHARE, CORNERS_LENS_SHARE, SCAN_SHARE = 0.009, 0.007, 0.001
"""What an unknown lens, and a card's own tolerance, do to lengths; a scanner is far better."""

_MARKERS_OF_A_MAT = 4
_USUAL_BLUR_PX = 1.0
_FAR_MM = 1e6
_FLAT = Heights(0.0, 0.0)
_MOST_REACH_MM = 450.0
_CARD_GROWN_MM = 2.5
_CORNER_NAMES = "lower left, lower right, upper right, upper left"


@dataclass(frozen=True, slots=True)
class _Plane:
    """How a photo without markers is to be read."""

    method: str
    scale_from: str
    view: FlatView
    lens_share: float
    warnings: tuple[str, ...]
    hidden_mm: Floats | None = None


def measure_scan(data: bytes, *, dpi: float) -> Measurement:
    """
    The outline of a board on a flatbed scan with a plain lid.

    Args:
        data: Bytes of the scan, not cropped to the board: plain lid must be seen all round.
        dpi: Dots per inch that the scan was made with.

    Raises:
        PhotoRefused: If no board is told from the lid.
        BadValue: If *dpi* is out of range.
        BadFile: If it is no picture.
    """
    import cv2
    import numpy as np

    if not 72 <= dpi <= 2400:
        raise BadValue(f"{dpi:g} dots per inch is out of range", hint="72 up to 2400; try 300")
    pixels = read_pixels(data, name="scan")
    grey = cv2.cvtColor(pixels.rgb, cv2.COLOR_RGB2GRAY).astype("uint8", copy=False)
    if len(find_markers(grey).numbers) >= _MARKERS_OF_A_MAT:
        raise BadValue(
            "the picture shows a printed mat, so it is a photo and no scan",
            hint="leave out --dpi; the mat gives the scale",
        )
    per_mm = dpi / 25.4 / pixels.shrunk
    height = pixels.size[1]
    to_px = np.array([[per_mm, 0, -0.5], [0, -per_mm, height - 0.5], [0, 0, 1]])
    view = FlatView(to_px, np.array([0.0, 0.0, _FAR_MM]))
    note = "the board's upper face is out of focus if parts keep it off the glass"
    return _measure(pixels.rgb, _Plane("scan", f"{dpi:g} dpi", view, SCAN_SHARE, (note,)))


def measure_beside_card(data: bytes, *, card_px: Sequence[PixelPoint]) -> Measurement:
    """
    The outline of a board that lies on plain ground beside a bank card.

    Args:
        data: Bytes of the photo.
        card_px: The card's corners in the upright photo: lower left, lower right, upper right and
            upper left, its long side below; where the card is rounded, where its edges would meet.

    Raises:
        PhotoRefused: If no board is told from the ground.
        BadValue: If the corners cannot be those of a card.
        BadFile: If it is no picture.
    """
    corners = _rectangle(*CARD_MM)
    note = (
        "measured beside a card: about 1 mm and 2 % of area; good to see what is left, not to cut"
    )
    return _measure_by_corners(
        data, card_px, corners, method="card", share=CARD_LENS_SHARE, notes=(note,), is_apart=True
    )


def measure_by_corners(
    data: bytes, *, corners_px: Sequence[PixelPoint], width_mm: float, height_mm: float
) -> Measurement:
    """
    The outline of a board on plain ground, from four corners of a rectangle of known size.

    Args:
        data: Bytes of the photo.
        corners_px: Lower left, lower right, upper right and upper left corner of the rectangle in
            the upright photo, such as the board's own corners: then its height does not matter.
        width_mm: Width of the rectangle.
        height_mm: Height of the rectangle.

    Raises:
        PhotoRefused: If no board is told from the ground.
        BadValue: If the corners or lengths make no sense.
        BadFile: If it is no picture.
    """
    for name, value in (("width", width_mm), ("height", height_mm)):
        if not 5 <= value <= 1000:
            raise BadValue(f"a {name} of {value:g} mm is out of range", hint="5 up to 1000 mm")
    note = "measured from picked corners: about 1 mm and 2 % of area; not good enough to cut by"
    return _measure_by_corners(
        data,
        corners_px,
        _rectangle(width_mm, height_mm),
        method="corners",
        share=CORNERS_LENS_SHARE,
        notes=(note,),
    )


def _rectangle(width: float, height: float) -> Floats:
    import numpy as np

    return np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])


def _measure_by_corners(
    data: bytes,
    corners_px: Sequence[PixelPoint],
    corners_mm: Floats,
    *,
    method: str,
    share: float,
    notes: tuple[str, ...],
    is_apart: bool = False,
) -> Measurement:
    import cv2
    import numpy as np

    pixels = read_pixels(data)
    picked = _checked(corners_px, pixels.size, pixels.shrunk)
    to_px = cv2.getPerspectiveTransform(
        corners_mm.astype(np.float32), picked.astype(np.float32)
    ).astype(float)
    view = FlatView(to_px, np.array([0.0, 0.0, _FAR_MM]))
    width, height = corners_mm[2]
    plane = _Plane(
        method,
        f"{width:g} x {height:g} mm",
        view,
        share,
        notes,
        corners_mm if is_apart else None,
    )
    return _measure(pixels.rgb, plane)


def _checked(corners_px: Sequence[PixelPoint], size: tuple[int, int], shrunk: float) -> Floats:
    """
    Four corners in pixels of the photo as it was read.

    Raises:
        BadValue: If they are not four, not in order, or nearly on a line.
    """
    import numpy as np

    if len(corners_px) != 4:
        raise BadValue(f"{len(corners_px)} corners were picked", hint=f"pick four: {_CORNER_NAMES}")
    picked = (np.array(corners_px, float) + 0.5) / shrunk - 0.5
    if (picked < -1).any() or (picked > np.array(size)).any():
        raise BadValue("a corner lies outside the photo", hint="pick corners in the upright photo")
    into, out = picked - np.roll(picked, 1, axis=0), np.roll(picked, -1, axis=0) - picked
    turns = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    lengths = np.linalg.norm(into, axis=1) * np.linalg.norm(out, axis=1)
    # Pixels run downwards, so corners in order turn with a negative sign.
    if (turns > -0.05 * np.maximum(lengths, 1.0)).any():
        raise BadValue("the corners are not in order", hint=f"pick {_CORNER_NAMES}")
    return picked


def _measure(rgb: NDArray[np.uint8], plane: _Plane) -> Measurement:
    """The board on plain ground, everything at the height of the plane."""
    box = _ground(rgb, plane.view)
    field = see_field(rgb, plane.view, box, with_brightness=True)
    bodies = find_bodies(field)
    if plane.hidden_mm is not None:
        bodies = [body for body in bodies if not _is_card(field.to_mm(body.outer), plane.hidden_mm)]
    body = _board(bodies)
    sight = Sight(rgb, plane.view, field, Blur(_USUAL_BLUR_PX, 0.0))
    traced = trace_body(sight, body, _FLAT)
    check_rim(traced.rim)
    return _describe(sight, traced, settle_body(traced), plane)


def _board(bodies: list[Body]) -> Body:
    body, others = check_bodies(bodies)
    if others:
        raise PhotoRefused("two-boards", f"{1 + len(others)} things lie on the ground")
    return body


def _is_card(outer: Floats, card: Floats) -> bool:
    """Whether most of a body lies where the card is."""
    import shapely

    near = shapely.Polygon(card).buffer(_CARD_GROWN_MM)
    body = shapely.Polygon(outer).buffer(0)
    return float(body.intersection(near).area) > 0.5 * float(body.area)


def _ground(rgb: NDArray[np.uint8], view: FlatView) -> BoxMm:
    """The largest upright rectangle of the plane that a photo surely shows, in mm."""
    import numpy as np

    height, width = rgb.shape[:2]
    corners = np.array([(0, height - 1), (width - 1, height - 1), (width - 1, 0), (0, 0)], float)
    seen = view.lift(corners, 0.0)
    xs, ys = np.sort(seen[:, 0]), np.sort(seen[:, 1])
    left, right, bottom, top = xs[1], xs[2], ys[1], ys[2]
    if not (right - left > 10 and top - bottom > 10):
        raise PhotoRefused("tilted", "the ground is seen too slantwise")
    most = _MOST_REACH_MM
    middle_x, middle_y = (left + right) / 2, (bottom + top) / 2
    return (
        float(max(left, middle_x - most / 2)),
        float(max(bottom, middle_y - most / 2)),
        float(min(right, middle_x + most / 2)),
        float(min(top, middle_y + most / 2)),
    )


def _describe(sight: Sight, traced: Traced, settled: Settled, plane: _Plane) -> Measurement:
    area = settled.outline.area_mm2
    sources = Sources(
        px_per_mm=traced.px_per_mm,
        blur_px=min(traced.rim.sigma_px, 4.0),
        fit_mm=0.1 if plane.method == "scan" else 0.25,
        height_share=0.0,
        print_share=0.0,
        lens_share=plane.lens_share,
    )
    half = area_half_interval_mm2(sources, area_mm2=area, rim_mm=settled.rim_mm)
    return Measurement(
        outline=settled.outline,
        holes=settled.holes,
        area_mm2=area,
        interval_mm=point_interval_mm(sources, radius_mm=settled.radius_mm),
        area_interval_mm2=(max(0.0, area - half), area + half),
        px_per_mm=px_per_mm(sight.view, settled.placing.origin_mm, 0.0),
        method=plane.method,
        mat=plane.scale_from,
        pictures=draw_pictures(sight, traced, settled, z=0.0),
        height=HeightFacts(0.0, 0.0, "plane"),
        placing=settled.placing,
        warnings=plane.warnings,
    )
