"""
Height strips: printed markers of known size that lie on the board, and on the mat beside it.

Seen as if it lay on the mat, a strip seems larger by ``Z / (Z - h)``, Z being the camera's height.
A strip that is printed larger seems to lie higher: at 250 mm, one percent is 2.5 mm. No photo tells
the two apart, but a second strip from the same sheet, flat on the mat, shows how it is printed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.contour import Heights
from salvage.photo.measure.height import HeightKnowledge
from salvage.photo.measure.mat import STRIP_IDS, STRIP_MM, PrintScale, strip_markers
from salvage.photo.measure.refusal import PhotoRefused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.field import Body, Field
    from salvage.photo.measure.fit import CameraFit
    from salvage.photo.measure.markers import FoundMarkers

    Floats = NDArray[np.float64]

SD_STRIP_MM = 0.12
"""What the markers' corners leave open of a strip's height."""

SD_SHEETS = 0.0015
"""Two sheets from one printer differ in scale by a tenth of a percent or two (a guess)."""

PAPER_MM = 0.1
"""Thickness of a strip's paper."""

MOST_MISFIT_MM = 0.15
"""A strip whose markers fit worse does not lie flat, or was stretched by the printer."""

USUAL_STANDOFF_MM = 3.5
"""A board that seems to lie higher than this is worth a second look."""

_STRIP_AREA = (0.8, 1.25)


@dataclass(frozen=True, slots=True)
class Strip:
    """
    A strip seen in a photo.

    Args:
        number: Its number.
        middle_mm: Where its middle is seen, as if at the mat's height.
        larger: How many times larger it seems there than it was drawn.
        misfit_mm: How far its corners miss their places then, root mean square.
    """

    number: int
    middle_mm: tuple[float, float]
    larger: float
    misfit_mm: float


def see_strips(
    found: FoundMarkers, fit: CameraFit, *, print_scale: PrintScale | None
) -> tuple[Strip, ...]:
    """All whole strips in a photo, taken to be printed as large as the mat."""
    import numpy as np

    seen = dict(zip(found.numbers, found.corners_px, strict=True))
    scale = (print_scale.x + print_scale.y) / 2 if print_scale else 1.0
    strips = []
    for number in range(len(STRIP_IDS) // 2):
        pair = strip_markers(number)
        if not all(marker.number in seen for marker in pair):
            continue
        drawn = np.array([marker.corners for marker in pair]) * scale
        outward = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])
        drawn = (drawn + outward * fit.ink_gain_mm).reshape(-1, 2)
        pixels = np.concatenate([seen[marker.number] for marker in pair])
        places = fit.camera.lift(pixels, 0.0)
        larger, misfit = _enlargement(drawn, places)
        x, y = places.mean(axis=0)
        strips.append(Strip(number, (float(x), float(y)), larger, misfit))
    return tuple(strips)


def _enlargement(drawn: Floats, seen: Floats) -> tuple[float, float]:
    """Scale of the similarity that carries one set of points to the other best, and the misfit."""
    import numpy as np

    a, b = drawn - drawn.mean(axis=0), seen - seen.mean(axis=0)
    z, w = a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1]
    best = (np.conj(z) * w).sum() / (np.abs(z) ** 2).sum()
    misfit = float(np.sqrt((np.abs(w - best * z) ** 2).mean()))
    return float(np.abs(best)), misfit


def without_strips(bodies: list[Body], field: Field, strips: tuple[Strip, ...]) -> list[Body]:
    """Bodies on the field, less the strips that lie there by themselves."""
    least, most = (share * STRIP_MM[0] * STRIP_MM[1] for share in _STRIP_AREA)
    return [
        body
        for body in bodies
        if not (
            least < body.area_mm2 < most and any(lies_on(strip, body, field) for strip in strips)
        )
    ]


def lies_on(strip: Strip, body: Body, field: Field) -> bool:
    """Whether a strip is seen within a body."""
    import shapely

    outline = shapely.Polygon(field.to_mm(body.outer)).buffer(0)
    return bool(outline.contains(shapely.Point(strip.middle_mm)))


def height_by_strips(
    strips: tuple[Strip, ...], body: Body, field: Field, *, camera_mm: float, told: HeightKnowledge
) -> tuple[HeightKnowledge, tuple[str, ...]] | None:
    """
    Height of the body's face, with what a person should know; None if no strip lies on it.

    Args:
        strips: All strips in the photo.
        body: The board.
        field: The field that it lies on.
        camera_mm: The camera's height above the mat.
        told: Its thickness, and what was known before.

    Raises:
        PhotoRefused: ``bad-strip``, if a strip does not lie flat, or says what cannot be.
    """
    on = [strip for strip in strips if lies_on(strip, body, field)]
    beside = [strip for strip in strips if strip not in on]
    if not on:
        return None
    for strip in (*on, *beside):
        if strip.misfit_mm > MOST_MISFIT_MM:
            raise PhotoRefused(
                "bad-strip",
                f"height strip {strip.number} is bent or stretched by {strip.misfit_mm:.2f} mm",
            )
    # What lies on the mat lies as high as its paper is thick.
    flat = [strip.larger * (1 - PAPER_MM / camera_mm) for strip in beside]
    printed = sum(flat) / len(flat) if flat else 1.0
    tops = [camera_mm * (1 - printed / strip.larger) for strip in on]
    upper = sum(tops) / len(tops) - PAPER_MM
    sheets = SD_STRIP_MM if flat else SD_SHEETS * camera_mm
    sd = (SD_STRIP_MM**2 + sheets**2) ** 0.5
    thick = told.heights.upper_mm - told.heights.lower_mm
    notes = _doubts(upper - thick, sd, is_checked=bool(flat))
    heights = Heights(max(0.0, upper - thick), max(0.0, upper))
    return HeightKnowledge(heights, sd, "strip"), notes


def _doubts(standoff_mm: float, sd_mm: float, *, is_checked: bool) -> tuple[str, ...]:
    """What a strip's height makes one doubt; refuses a board below the mat."""
    if standoff_mm < -(0.5 + 2 * sd_mm):
        raise PhotoRefused(
            "bad-strip", f"by its height strip the board lies {-standoff_mm:.1f} mm below the mat"
        )
    notes = ["what lies under a height strip is not seen: look for holes there"]
    if not is_checked:
        notes.append(
            "the height strip is taken to be printed as true as the mat: lay a second one flat on "
            "the mat to be sure"
        )
    if standoff_mm > USUAL_STANDOFF_MM:
        notes.append(
            f"by its height strip the board lies {standoff_mm:.1f} mm above the mat: if it does "
            "not, the strip is printed too large or lies on a part"
        )
    return tuple(notes)
