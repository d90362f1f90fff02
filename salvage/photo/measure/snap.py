"""
A measured board recognised as a known form factor, with how far it strays from it.

Many boards follow a published size with mounting holes at published places. Where the measured
outline agrees, the published numbers are truer than any photo; the deviation is shown so that a
person decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.align import Fit, lay_on, moved, polygon_of, region_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    import shapely
    from numpy.typing import NDArray

    from salvage.photo.measure.result import Measurement

    Floats = NDArray[np.float64]

HOLE_TOLERANCE_MM = 0.6
"""A mounting hole counts as found within this; holes are drilled to about 0.1 mm, photos add."""

_CIRCLE_POINTS = 48


@dataclass(frozen=True, slots=True)
class FormFactor:
    """
    A published size in plain numbers.

    Args:
        name: What it is called.
        outline: Corners in mm, counter-clockwise.
        holes: Centre x, centre y and diameter of each mounting hole, mm.
    """

    name: str
    outline: tuple[tuple[float, float], ...]
    holes: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Snap:
    """
    A measured board laid on a form factor.

    Args:
        form: The form factor.
        region: Its outline and mounting holes in its own frame, and the board's other holes.
        mean_mm: Mean distance of the measured outline from it.
        most_mm: Largest distance.
        area_off: Measured area divided by its area, less 1.
        holes_found: How many of its mounting holes were measured where they should be.
        turn_deg: By how much the measured board is turned to lie on it, counter-clockwise.
        agrees: Whether nothing is farther off than the measurement's interval allows.
        fit: How the measured board is carried to lie on it.
    """

    form: FormFactor
    region: Region
    mean_mm: float
    most_mm: float
    area_off: float
    holes_found: int
    turn_deg: float
    agrees: bool
    fit: Fit

    def in_board_frame(self, points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        """Points of the form's frame in the frame that the board was measured in, in mm."""
        import numpy as np

        c, s = math.cos(self.fit.turn_rad), math.sin(self.fit.turn_rad)
        back = (np.array(points, float) - self.fit.shift_mm) @ np.array([[c, -s], [s, c]])
        return [(float(x), float(y)) for x, y in back]


def snap_to_form(measurement: Measurement, form: FormFactor) -> Snap:
    """
    The measured board laid on a form factor; which way round, its holes decide.

    Args:
        measurement: A measured board.
        form: The form factor.
    """
    import numpy as np
    import shapely

    whole = shapely.Polygon(form.outline)
    drilled = shapely.Polygon(form.outline, [_circle(hole) for hole in form.holes])
    fit = lay_on(polygon_of(measurement.outline), drilled)
    places = np.array([hole.centre_mm for hole in measurement.holes]).reshape(-1, 2)
    laid = fit.carry(places)
    found = sum(
        bool((np.hypot(laid[:, 0] - x, laid[:, 1] - y) <= HOLE_TOLERANCE_MM).any())
        for x, y, _ in form.holes
    )
    outer = shapely.Polygon(moved(polygon_of(measurement.outline), fit).exterior)
    return Snap(
        form,
        region_of(_with_other_holes(drilled, moved(polygon_of(measurement.outline), fit))),
        fit.mean_mm,
        fit.most_mm,
        float(outer.area) / float(whole.area) - 1,
        found,
        math.degrees(fit.turn_rad) % 360,
        fit.mean_mm <= measurement.interval_mm and found == len(form.holes),
        fit,
    )


def _with_other_holes(form: shapely.Polygon, board: shapely.Polygon) -> shapely.Polygon:
    """The form with those holes of the board that are none of its mounting holes."""
    import shapely

    own = [shapely.Polygon(ring) for ring in form.interiors]
    for ring in board.interiors:
        hole = shapely.Polygon(ring)
        is_inside = shapely.Polygon(form.exterior).contains_properly(hole)
        if is_inside and not any(hole.intersects(other) for other in own):
            own.append(hole)
    return shapely.Polygon(form.exterior, [list(hole.exterior.coords) for hole in own])


def best_form(measurement: Measurement, forms: Sequence[FormFactor]) -> list[Snap]:
    """All form factors with how far the board strays from each, nearest first."""
    snaps = [snap_to_form(measurement, form) for form in forms]
    return sorted(snaps, key=lambda snap: (not snap.agrees, snap.mean_mm))


def _circle(hole: tuple[float, float, float]) -> Floats:
    import numpy as np

    x, y, diameter = hole
    angles = -np.arange(_CIRCLE_POINTS) * 2 * math.pi / _CIRCLE_POINTS
    return np.stack([x + diameter / 2 * np.cos(angles), y + diameter / 2 * np.sin(angles)], axis=1)
