"""
A pinhole camera with a lens that bends, above a mat in the plane z = 0.

World: millimetres, x right, y up on the mat, z towards the camera. Pixels: the middle of the first
one is (0, 0). The lens follows the five-term model with k1, k2, p1, p2 (Brown 1966; the order of
terms is that of OpenCV's camera model, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from tests.benchmarks.photo_raster import Array, Window

Lens: TypeAlias = tuple[float, float, float, float]
"""k1, k2, p1, p2."""

_STEP_PX = 8

FULL_FRAME_DIAGONAL_MM = 43.27
"""Of a 36 x 24 mm frame, to which "35 mm equivalent" focal lengths refer."""


@dataclass(frozen=True, slots=True)
class Camera:
    """
    Where the camera stands and how it sees.

    Args:
        size_px: Width and height of its pictures.
        focal_px: Focal length in pixels.
        centre_px: Principal point.
        lens: See :data:`Lens`.
        target_mm: Place on the mat that it looks at.
        distance_mm: From the target.
        tilt_deg: Between its axis and the mat's normal.
        azimuth_deg: From which side it looks; 0 from the right, counter-clockwise.
        roll_deg: Turn about its own axis; 0 keeps the mat's upper edge up when frontal.
    """

    size_px: tuple[int, int]
    focal_px: float
    centre_px: tuple[float, float]
    lens: Lens
    target_mm: tuple[float, float]
    distance_mm: float
    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    roll_deg: float = 0.0

    @property
    def place(self) -> Array:
        """The camera's centre in the world."""
        import numpy as np

        tilt, azimuth = math.radians(self.tilt_deg), math.radians(self.azimuth_deg)
        flat = math.sin(tilt)
        way = np.array([flat * math.cos(azimuth), flat * math.sin(azimuth), math.cos(tilt)])
        place: Array = np.array([*self.target_mm, 0.0]) + self.distance_mm * way
        return place

    @property
    def axes(self) -> Array:
        """Rows: right, down and forward of the camera, in the world."""
        import numpy as np

        tilt, azimuth = math.radians(self.tilt_deg), math.radians(self.azimuth_deg)
        forward = -np.array(
            [math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)]
        )
        # The least turn from straight down to forward leaves "up" where it was when frontal.
        axis = np.array([math.sin(azimuth), -math.cos(azimuth), 0.0])
        right = _turned(np.array([1.0, 0.0, 0.0]), axis, -tilt)
        down = np.cross(forward, right)
        roll = math.radians(self.roll_deg)
        cos, sin = math.cos(roll), math.sin(roll)
        return np.array([cos * right + sin * down, cos * down - sin * right, forward])

    def project(self, points: Array) -> Array:
        """Pixels (N x 2) of points in the world (N x 3)."""
        import numpy as np

        seen = (np.asarray(points, float) - self.place) @ self.axes.T
        plane = bend(seen[:, :2] / seen[:, 2:], self.lens)
        pixels: Array = self.focal_px * plane + np.asarray(self.centre_px)
        return pixels

    def meet(self, pixels: Array, z_mm: float) -> Array:
        """Where the rays of pixels (N x 2) meet the plane at a height (N x 2, mm)."""
        import numpy as np

        plane = (np.asarray(pixels, float) - self.centre_px) / self.focal_px
        straight = plane.copy()
        for _ in range(12):
            straight += plane - bend(straight, self.lens)
        rays = np.column_stack((straight, np.ones(len(straight)))) @ self.axes
        reach = (z_mm - self.place[2]) / rays[:, 2]
        met: Array = self.place[:2] + reach[:, None] * rays[:, :2]
        return met

    def meet_map(self, window: Window, z_mm: float, *, curl: Curl | None = None) -> Array:
        """
        For each pixel of a window, the place on a plane that it sees (height x width x 2, mm).

        Computed on every eighth pixel and filled in along straight lines: 0.02 pixel off at most.
        """
        import cv2
        import numpy as np

        left, top, width, height = window
        columns, rows = -(-width // _STEP_PX) + 4, -(-height // _STEP_PX) + 4
        x = left + (np.arange(columns) - 1.5) * _STEP_PX - 0.5
        y = top + (np.arange(rows) - 1.5) * _STEP_PX - 0.5
        grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        met = self.meet(grid, z_mm)
        if curl:
            met = curl.bent(met, self.place)
        coarse = met.reshape(rows, columns, 2).astype(np.float32)
        size = columns * _STEP_PX, rows * _STEP_PX
        fine: Array = cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR)
        edge = 2 * _STEP_PX
        return fine[edge : edge + height, edge : edge + width]

    def standing_back(self, corners: Array, *, margin: float) -> Camera:
        """
        The same camera at the distance where all corners are just in the picture.

        Args:
            corners: N x 3 points in the world.
            margin: Share of the picture's width left free on each side; negative cuts off.
        """
        import numpy as np

        low, high = 60.0, 3000.0
        size = np.array(self.size_px, float)
        for _ in range(30):
            middle = (low + high) / 2
            pixels = replace(self, distance_mm=middle).project(corners)
            free = min(pixels.min(), float((size - pixels).min())) / size[0]
            low, high = (middle, high) if free < margin else (low, middle)
        return replace(self, distance_mm=high)


@dataclass(frozen=True, slots=True)
class Curl:
    """
    A mat that does not lie flat: it rises towards one side like rolled paper.

    Args:
        from_x_mm: Where it leaves the table.
        rise: Height in mm is ``rise`` times the squared distance from there, in units of 100 mm.
    """

    from_x_mm: float
    rise: float

    def bent(self, met: Array, eye: Array) -> Array:
        """Places on the paper, of places where rays would meet the table."""
        import numpy as np

        paper = met.copy()
        for _ in range(4):
            height = self.rise * (np.maximum(0, paper[:, :1] - self.from_x_mm) / 100) ** 2
            paper = met + (eye[:2] - met) * height / eye[2]
        return paper


def bend(plane: Array, lens: Lens) -> Array:
    """Where the lens puts points of the plane at distance 1 (N x 2)."""
    import numpy as np

    k1, k2, p1, p2 = lens
    x, y = plane[:, 0], plane[:, 1]
    r2 = x * x + y * y
    radial = 1 + k1 * r2 + k2 * r2 * r2
    return np.column_stack(
        (
            x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        )
    )


def _turned(vector: Array, axis: Array, angle: float) -> Array:
    """A vector turned about a unit axis (Rodrigues)."""
    import numpy as np

    cos, sin = math.cos(angle), math.sin(angle)
    turned: Array = vector * cos + np.cross(axis, vector) * sin + axis * (axis @ vector) * (1 - cos)
    return turned
