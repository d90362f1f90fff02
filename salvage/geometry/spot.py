"""
Spots: places where a shape was shown to lie on the ground, on vectors. Lengths are millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.ground import Ground
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import COARSE_EXCESS_MM, grow
from salvage.geometry.placing import Placement, place
from salvage.geometry.probes import Probes
from salvage.geometry.search import Pose
from salvage.records.region import Region
from salvage.units import to_um

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry


# Rounding a corner to the grid moves it by at most 0.71 µm.
_GRID_MM = 0.001


@dataclass(frozen=True, slots=True)
class Spot:
    """
    A place where the shape fits.

    Args:
        shape: What fits.
        placement: Where to put it.
        score: How good the spot is by what was asked for; larger is better, 0 if nothing was.
    """

    shape: Region
    placement: Placement
    score: float = 0.0

    @property
    def region(self) -> Region:
        """The shape there, on the grid."""
        return place(self.shape, self.placement)


@dataclass(frozen=True, slots=True)
class Outfit:
    """
    A shape with its room, in its own coordinates.

    Args:
        probes: The shape.
        clearance_mm: Room round it.
        grown: The shape with the room.
        padded: The same and a micrometre more: where this lies on the ground, so does the shape
            rounded to the grid with its room.
    """

    probes: Probes
    clearance_mm: float
    grown: BaseGeometry
    padded: BaseGeometry


def outfit_of(probes: Probes, clearance_mm: float) -> Outfit:
    """The shape with so much room."""
    return Outfit(
        probes,
        clearance_mm,
        with_room(probes.polygon, clearance_mm),
        with_room(probes.polygon, max(0.0, clearance_mm) + _GRID_MM),
    )


class Prober:
    """
    Puts one shape on one ground and judges exactly.

    Args:
        ground: The ground.
        outfit: The shape with its room.
    """

    __slots__ = ("ground", "outfit", "spots")

    def __init__(self, ground: Ground, outfit: Outfit) -> None:
        self.ground = ground
        self.outfit = outfit
        self.spots: list[Spot] = []

    def judge(self, board: int, poses: Sequence[Pose]) -> bool:
        """Keep the first pose at which the shape lies on the ground; whether there is one."""
        for pose in poses:
            placement = placement_of(self.outfit.probes, pose)
            if self.holds(placement):
                self.spots.append(Spot(self.outfit.probes.shape, placement))
                return True
        return False

    def judge_enclosing(self, x_mm: float, y_mm: float, *, angle: float, side: int) -> bool:
        """The same with the middle of the circle round the shape put at a place."""
        probes = self.outfit.probes
        (cx, cy), (ex, ey) = probes.centre_mm, probes.enclosing_at_mm
        dx, dy = _turned(cx - ex, cy - ey, angle=angle, side=side)
        return self.judge(0, [Pose(x_mm + dx, y_mm + dy, angle, side)])

    def holds(self, placement: Placement) -> bool:
        """Whether the placed shape, on the grid and with its room, lies on the ground."""
        area = self.ground.area
        if area.covers(move_to(self.outfit.padded, placement)):
            return True
        if not area.covers(move_to(self.outfit.grown, placement)):
            return False
        region = place(self.outfit.probes.shape, placement)
        return bool(area.covers(with_room(to_polygon(region), self.outfit.clearance_mm)))

    def margins(
        self, xs: NDArray[np.float64], ys: NDArray[np.float64], least: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Exact room at points less what each needs; negative where there is too little."""
        room: NDArray[np.float64] = self.signs(xs, ys) * self.ground.edges.distances(xs, ys) - least
        return room

    def signs(self, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> NDArray[np.float64]:
        """1 for each point on the ground, -1 off it."""
        import numpy as np
        import shapely

        return np.where(shapely.contains_xy(self.ground.area, xs, ys), 1.0, -1.0)


def with_room(polygon: BaseGeometry, clearance_mm: float) -> BaseGeometry:
    """The polygon grown by a clearance, never less."""
    if clearance_mm <= 0:
        return polygon
    return grow(polygon, clearance_mm, excess_mm=COARSE_EXCESS_MM)


def placement_of(probes: Probes, pose: Pose) -> Placement:
    """The placement that puts the centre of the shape's largest disc at a pose."""
    angle_mdeg = round(math.degrees(pose.angle) * 1000) % 360_000
    dx, dy = _turned(*probes.centre_mm, angle=math.radians(angle_mdeg / 1000), side=pose.side)
    return Placement(to_um(pose.x_mm - dx), to_um(pose.y_mm - dy), angle_mdeg, pose.side < 0)


def move_to(geometry: BaseGeometry, placement: Placement) -> BaseGeometry:
    """The geometry where the placement puts it, not rounded."""
    import numpy as np
    import shapely

    angle = math.radians(placement.angle_mdeg / 1000)
    cosine, sine = math.cos(angle), math.sin(angle)
    side = -1 if placement.mirrored else 1
    matrix = np.array([[side * cosine, side * sine], [-sine, cosine]])
    move = np.array([placement.x_um / 1000, placement.y_um / 1000])
    moved: BaseGeometry = shapely.transform(geometry, lambda points: points @ matrix + move)
    return moved


def _turned(x: float, y: float, *, angle: float, side: int) -> tuple[float, float]:
    cosine, sine = math.cos(angle), math.sin(angle)
    return side * x * cosine - y * sine, side * x * sine + y * cosine
