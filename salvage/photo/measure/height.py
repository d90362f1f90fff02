"""
How high a board's upper face lies above the mat: the largest error of measuring from one photo.

At 250 mm each millimetre of height is 0.4 % of length. Two photos of the same lying board from
different sides show it, because only at the true height do both outlines agree; so does a printed
strip of known size that lies on the board.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.photo.measure.contour import Heights, Rim, lift_rim

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.camera import Camera

    Floats = NDArray[np.float64]

USUAL_THICKNESS_MM, SD_THICKNESS_MM = 1.6, 0.4
"""Most rigid boards are 1.6 mm thick (common practice); some are 1.0 or 2.4."""

USUAL_STANDOFF_MM, SD_STANDOFF_MM = 1.0, 0.85
"""Solder joints lift a board by 0 to 2.5 mm; many lie flat, so either end is as likely."""

SD_GIVEN_MM = 0.08
"""What a caliper and a board that does not lie quite flat leave open."""

SD_TWO_PHOTOS_MM = 0.05

_HIGHEST_MM = 25.0
_MOST_POINTS = 160
_LEAST_ANGLE_MM = 25.0


@dataclass(frozen=True, slots=True)
class HeightKnowledge:
    """
    What is known of a board's height.

    Args:
        heights: Its faces.
        sd_mm: Standard deviation of the upper face's height.
        source: ``given``, ``assumed``, ``two photos`` or ``strip``.
    """

    heights: Heights
    sd_mm: float
    source: str


def told_heights(thickness_mm: float | None, standoff_mm: float | None) -> HeightKnowledge:
    """
    Heights from what a person says, and the usual for what they do not.

    Raises:
        BadValue: If a length is below 0 or a board would be thicker than 25 mm.
    """
    for name, value in (("thickness", thickness_mm), ("stand-off", standoff_mm)):
        if value is not None and not 0 <= value <= _HIGHEST_MM:
            raise BadValue(f"a {name} of {value:g} mm is out of range", hint="0 up to 25 mm")
    thick = USUAL_THICKNESS_MM if thickness_mm is None else thickness_mm
    below = USUAL_STANDOFF_MM if standoff_mm is None else standoff_mm
    parts = (
        SD_THICKNESS_MM if thickness_mm is None else SD_GIVEN_MM,
        SD_STANDOFF_MM if standoff_mm is None else SD_GIVEN_MM,
    )
    source = "given" if thickness_mm is not None and standoff_mm is not None else "assumed"
    sd = (parts[0] ** 2 + parts[1] ** 2) ** 0.5
    return HeightKnowledge(Heights(below, below + thick), sd, source)


USUAL_THICKNESSES_MM = (0.8, 1.0, 1.2, 1.6, 2.0, 2.4)
"""Laminates that are sold (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TwoPhotos:
    """
    The height at which two outlines of one lying board agree.

    Args:
        upper_mm: Height of the upper face.
        thickness_mm: Thickness that was given, or at which they agree best.
        apart_mm: Mean distance of the outlines there.
        base_mm: How far apart the cameras stood, sideways.
    """

    upper_mm: float
    thickness_mm: float
    apart_mm: float
    base_mm: float

    @property
    def is_useful(self) -> bool:
        """Whether the cameras stood far enough apart for a height."""
        return self.base_mm >= _LEAST_ANGLE_MM


def height_of_two(
    rims: tuple[Rim, Rim], cameras: tuple[Camera, Camera], *, thickness_mm: float | None
) -> TwoPhotos:
    """
    The height of a board that lay still between two photos.

    Args:
        rims: Its rim in both photos.
        cameras: Where they were taken from.
        thickness_mm: Its thickness, for where the lower rim is seen; if not known, that of the
            usual ones at which the outlines agree best.
    """
    import numpy as np

    thicknesses = USUAL_THICKNESSES_MM if thickness_mm is None else (thickness_mm,)
    tries = [_search(rims, cameras, thick) for thick in thicknesses]
    apart, upper, thick = min(tries)
    base = float(np.linalg.norm((cameras[0].centre - cameras[1].centre)[:2]))
    return TwoPhotos(upper, thick, apart, base)


def _search(
    rims: tuple[Rim, Rim], cameras: tuple[Camera, Camera], thickness_mm: float
) -> tuple[float, float, float]:
    """Mean distance of the outlines where they agree best, the height there, and the thickness."""
    import numpy as np

    def apart(upper: float) -> float:
        heights = Heights(max(0.0, upper - thickness_mm), upper)
        first, second = (
            lift_rim(rim, camera, heights) for rim, camera in zip(rims, cameras, strict=True)
        )
        return (_mean_apart(first, second) + _mean_apart(second, first)) / 2

    coarse = [0.0, 2.0, 4.0, 7.0, 11.0, 16.0]
    misses = [apart(height) for height in coarse]
    best = int(np.argmin(misses))
    low, high = coarse[max(0, best - 1)], coarse[min(len(coarse) - 1, best + 1)]
    # Golden section: two tries a step until the height is known to 0.01 mm.
    ratio = (5**0.5 - 1) / 2
    a, b = high - ratio * (high - low), low + ratio * (high - low)
    miss_a, miss_b = apart(a), apart(b)
    while high - low > 0.01:
        if miss_a < miss_b:
            high, b, miss_b = b, a, miss_a
            a = high - ratio * (high - low)
            miss_a = apart(a)
        else:
            low, a, miss_a = a, b, miss_b
            b = low + ratio * (high - low)
            miss_b = apart(b)
    upper = (low + high) / 2
    return apart(upper), upper, thickness_mm


def _mean_apart(line: Floats, other: Floats) -> float:
    """Mean distance of some of a line's points from another line, the farthest fifth left out."""
    import numpy as np
    import shapely

    some = line[:: max(1, len(line) // _MOST_POINTS)]
    ring = shapely.LinearRing(other).simplify(0.005)
    away = np.sort(shapely.distance(shapely.points(some), ring))
    return float(away[: max(1, int(0.8 * len(away)))].mean())
