"""
The camera of one photo: lens, place and view, fitted to the markers of the mat.

Camera frame: x right, y down, z ahead; pixel centres on whole numbers. The lens bends rays as Brown
and Conrady describe (k1, k2 radial, p1, p2 tangential; D. C. Brown, "Close-range camera
calibration", Photogrammetric Engineering 37(8), 1971, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_UNDO_STEPS = 12


class View(Protocol):
    """Whatever carries places on the mat to pixels of a photo and back."""

    @property
    def centre(self) -> Floats:
        """Where the camera is, in mm; far above where nothing is known of it."""
        ...

    def project(self, places: Floats) -> Floats:
        """Pixels of places in mm; rows of x, y and z."""
        ...

    def lift(self, pixels: Floats, z: Floats | float) -> Floats:
        """Rows of x and y in mm, at height *z* above the mat, that pixels show."""
        ...


@dataclass(frozen=True, slots=True)
class Lens:
    """
    How rays become pixels.

    Args:
        focal_px: Focal length.
        centre_px: Where the axis meets the picture.
        radial: k1 and k2.
        tangential: p1 and p2.
    """

    focal_px: float
    centre_px: tuple[float, float]
    radial: tuple[float, float] = (0.0, 0.0)
    tangential: tuple[float, float] = (0.0, 0.0)

    def bend(self, slopes: Floats) -> Floats:
        """Slopes of rays behind the lens from those before it."""
        import numpy as np

        x, y = slopes[..., 0], slopes[..., 1]
        (k1, k2), (p1, p2) = self.radial, self.tangential
        square = x * x + y * y
        scale = 1 + square * (k1 + square * k2)
        return np.stack(
            [
                x * scale + 2 * p1 * x * y + p2 * (square + 2 * x * x),
                y * scale + p1 * (square + 2 * y * y) + 2 * p2 * x * y,
            ],
            axis=-1,
        )

    def straighten(self, bent: Floats) -> Floats:
        """Slopes before the lens from those behind it, by fixed-point steps."""
        slopes = bent.copy()
        for _ in range(_UNDO_STEPS):
            slopes += bent - self.bend(slopes)
        return slopes


@dataclass(frozen=True, slots=True)
class Camera:
    """
    A camera that looks at a mat.

    Args:
        lens: Its lens.
        turn: Rotation from the mat frame to the camera frame, 3 x 3.
        shift: The mat's origin in the camera frame, mm.
    """

    lens: Lens
    turn: Floats
    shift: Floats

    @property
    def centre(self) -> Floats:
        """Where the camera is in the mat frame, mm."""
        centre: Floats = -self.turn.T @ self.shift
        return centre

    @property
    def tilt_deg(self) -> float:
        """Angle between the camera's axis and the straight look down, degrees."""
        return math.degrees(math.acos(max(-1.0, min(1.0, -float(self.turn[2, 2])))))

    def project(self, places: Floats) -> Floats:
        """Pixels of places in mm; rows of x, y and z."""
        import numpy as np

        seen = places @ self.turn.T + self.shift
        slopes = seen[..., :2] / np.maximum(seen[..., 2:], 1e-6)
        pixels: Floats = self.lens.bend(slopes) * self.lens.focal_px + self.lens.centre_px
        return pixels

    def lift(self, pixels: Floats, z: Floats | float) -> Floats:
        """Rows of x and y in mm, at height *z* above the mat, that pixels show."""
        import numpy as np

        bent = (pixels - np.asarray(self.lens.centre_px)) / self.lens.focal_px
        slopes = self.lens.straighten(bent)
        rays = np.concatenate([slopes, np.ones_like(slopes[..., :1])], axis=-1) @ self.turn
        steps = (z - self.centre[2]) / rays[..., 2]
        places: Floats = self.centre[:2] + rays[..., :2] * steps[..., None]
        return places


@dataclass(frozen=True, slots=True)
class FlatView:
    """
    A view of one plane without a lens: a scan, or four picked corners.

    Args:
        to_px: Homography from mm to pixels, 3 x 3.
        centre: Far above the plane, so that edges are taken for the upper rim.
    """

    to_px: Floats
    centre: Floats

    def project(self, places: Floats) -> Floats:
        """Pixels of places in mm; the height is left out."""
        return carry(self.to_px, places[..., :2])

    def lift(self, pixels: Floats, z: Floats | float) -> Floats:
        """Rows of x and y in mm that pixels show; the height is left out."""
        import numpy as np

        to_mm: Floats = np.linalg.inv(self.to_px).astype(np.float64)
        return carry(to_mm, pixels)


def carry(homography: Floats, points: Floats) -> Floats:
    """Points moved by a homography."""
    moved = points @ homography[:, :2].T + homography[:, 2]
    result: Floats = moved[..., :2] / moved[..., 2:]
    return result


def px_per_mm(view: View, place: tuple[float, float], z: float) -> float:
    """Pixels for each mm around a place: the square root of how much the view enlarges areas."""
    import numpy as np

    x, y = place
    corner, right, up = view.project(np.array([[x, y, z], [x + 1, y, z], [x, y + 1, z]]))
    (ax, ay), (bx, by) = right - corner, up - corner
    return math.sqrt(abs(float(ax * by - ay * bx)))
