"""
The fit of a camera to the corners of markers: least squares that shrug off a few wrong corners.

Unknown are the lens (7), the place and view (6), how much fatter the ink is than meant (1), and
for a joined mat how each further sheet lies (3 each). Levenberg and Marquardt's method, with what
is known beforehand of lenses and printers as further equations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import Camera, Lens
from salvage.photo.measure.mat import Mat, PrintScale

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.markers import FoundMarkers

    Floats = NDArray[np.float64]

USUAL_FOCAL_35MM = 26.0
"""What the main camera of most phones has (common practice, no source)."""

_FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)
_LENS_COUNT, _POSE = 7, slice(7, 13)
_GAIN, _JOINTS = 13, 14

# Standard deviations of what is known beforehand: measured on phones' own notes where we had them,
# else common practice.
_SD_LOG_FOCAL_NOTED, _SD_LOG_FOCAL = 0.05, 0.3
_SD_CENTRE = 0.015
_SD_RADIAL, _SD_TANGENTIAL = 0.1, 0.003
_SD_GAIN_MM = 0.1
_SD_JOINT_MM, _SD_JOINT_RAD = 0.7, 0.005
_SD_STRETCH = 0.1

_CORNER_PX = 0.25
_STEPS = 40
_ROUNDS = 3
_CAUCHY = 2.5


@dataclass(frozen=True, slots=True)
class CameraFit:
    """
    A camera and how well it explains the markers.

    Args:
        camera: The camera.
        residual_mm: Median distance of corners from where they should be, on the mat.
        ink_gain_mm: How far the markers' edges stand out beyond the drawing.
        sd_mm: Standard deviation of a place on the mat that comes from the fit alone.
        markers: How many markers took part.
    """

    camera: Camera
    residual_mm: float
    ink_gain_mm: float
    sd_mm: float
    markers: int


@dataclass(frozen=True, slots=True)
class _Task:
    """What the fit is given: corners on the mat and in the photo, and where it starts from."""

    places: Floats
    outward: Floats
    tiles: NDArray[np.int64]
    pixels: Floats
    size: tuple[int, int]
    start: Camera
    prior_mean: Floats
    prior_sd: Floats
    is_stretched: bool = False


def fit_camera(
    mat: Mat,
    found: FoundMarkers,
    *,
    size: tuple[int, int],
    focal_px: float = 0.0,
    print_scale: PrintScale | None = None,
) -> CameraFit:
    """
    The camera that explains where the markers of a mat are seen.

    Args:
        mat: The mat.
        found: Its markers in the photo, at least four.
        size: Width and height of the photo.
        focal_px: Focal length by the camera's own word; 0 if not known.
        print_scale: What a ruler said of the print.
    """
    task = _task(mat, found, size=size, focal_px=focal_px, print_scale=print_scale)
    values, weights, noise_px = _solve(task)
    return _describe(task, values, weights, noise_px)


def stretch_of(
    mat: Mat,
    found: FoundMarkers,
    *,
    size: tuple[int, int],
    focal_px: float = 0.0,
    print_scale: PrintScale | None = None,
) -> float:
    """
    How many times higher than wide the photo shows things: 1 unless somebody stretched it.

    Every camera has square pixels; here the fit is let free to find that they are not.

    Arguments are those of :func:`fit_camera`.
    """
    import numpy as np

    task = _task(mat, found, size=size, focal_px=focal_px, print_scale=print_scale)
    free = replace(
        task,
        is_stretched=True,
        prior_mean=np.append(task.prior_mean, 0.0),
        prior_sd=np.append(task.prior_sd, _SD_STRETCH),
    )
    values, _, _ = _solve(free)
    return math.exp(float(values[-1]))


def _task(
    mat: Mat,
    found: FoundMarkers,
    *,
    size: tuple[int, int],
    focal_px: float,
    print_scale: PrintScale | None,
) -> _Task:
    import numpy as np

    scale = np.array([print_scale.x, print_scale.y] if print_scale else [1.0, 1.0])
    by_number = {marker.number: marker for marker in mat.markers}
    own = found.only(set(by_number))
    corners = np.array([by_number[n].corners for n in own.numbers])
    tiles = np.repeat([by_number[n].tile for n in own.numbers], 4)
    outward = np.tile([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]], (len(corners), 1))
    places = corners.reshape(-1, 2) * scale
    pixels = own.corners_px.reshape(-1, 2)
    usual = focal_px or USUAL_FOCAL_35MM / _FILM_DIAGONAL_MM * math.hypot(*size)
    start = start_camera(places, pixels, size=size, focal_px=usual)
    mean, sd = _priors(usual, size, noted=focal_px > 0, tiles=mat.tiles)
    return _Task(places, outward, tiles, pixels, size, start, mean, sd)


def start_camera(
    places: Floats, pixels: Floats, *, size: tuple[int, int], focal_px: float
) -> Camera:
    """A camera without lens faults from a homography, good enough to start from."""
    import cv2
    import numpy as np

    middle = ((size[0] - 1) / 2, (size[1] - 1) / 2)
    rays = (pixels - np.array(middle)) / focal_px
    tolerance = 0.004
    homography, _ = cv2.findHomography(places, rays, cv2.RANSAC, tolerance)
    h = np.asarray(homography, float).reshape(3, 3)
    lengths = float(np.linalg.norm(h[:, 0])), float(np.linalg.norm(h[:, 1]))
    h = h / math.sqrt(max(1e-18, lengths[0] * lengths[1]))
    if h[2, 2] < 0:
        h = -h
    rough = np.column_stack([h[:, 0], h[:, 1], np.cross(h[:, 0], h[:, 1])])
    u, _, v = np.linalg.svd(rough)
    turn = u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v
    return Camera(Lens(focal_px, middle), turn, h[:, 2])


def _priors(
    focal_px: float, size: tuple[int, int], *, noted: bool, tiles: int
) -> tuple[Floats, Floats]:
    import numpy as np

    joints = 3 * (tiles - 1)
    mean, sd = np.zeros(_JOINTS + joints), np.full(_JOINTS + joints, np.inf)
    mean[0] = math.log(focal_px)
    mean[1:3] = (size[0] - 1) / 2, (size[1] - 1) / 2
    sd[0] = _SD_LOG_FOCAL_NOTED if noted else _SD_LOG_FOCAL
    sd[1:3] = _SD_CENTRE * max(size)
    sd[3:5], sd[5:7] = _SD_RADIAL, _SD_TANGENTIAL
    sd[_GAIN] = _SD_GAIN_MM
    sd[_JOINTS:] = np.tile([_SD_JOINT_MM, _SD_JOINT_MM, _SD_JOINT_RAD], tiles - 1)
    return mean, sd


def _camera(task: _Task, values: Floats) -> Camera:
    import cv2

    lens = Lens(
        math.exp(float(values[0])),
        (float(values[1]), float(values[2])),
        (float(values[3]), float(values[4])),
        (float(values[5]), float(values[6])),
    )
    turn = cv2.Rodrigues(values[7:10])[0] @ task.start.turn
    # Metres for the shift would do as well: LM scales each unknown by itself.
    return Camera(lens, turn, task.start.shift + values[10:13])


def _expected(task: _Task, values: Floats) -> Floats:
    """Pixels where the corners should be seen."""
    import numpy as np

    places = task.places + task.outward * values[_GAIN]
    for tile in range(1, 1 + (len(values) - _JOINTS) // 3):
        dx, dy, angle = values[_JOINTS + 3 * tile - 3 : _JOINTS + 3 * tile]
        here = task.tiles == tile
        x, y = places[here, 0], places[here, 1]
        c, s = math.cos(angle), math.sin(angle)
        # Turned about the middle of the mat, where the sheets meet.
        mx, my = task.places.mean(axis=0)
        places[here, 0] = mx + c * (x - mx) - s * (y - my) + dx
        places[here, 1] = my + s * (x - mx) + c * (y - my) + dy
    flat = np.concatenate([places, np.zeros((len(places), 1))], axis=1)
    pixels = _camera(task, values).project(flat)
    if task.is_stretched:
        middle = (task.size[1] - 1) / 2
        pixels[:, 1] = middle + (pixels[:, 1] - middle) * math.exp(float(values[-1]))
    return pixels


def _solve(task: _Task) -> tuple[Floats, Floats, float]:
    """The unknowns, the weight of each corner, and the corners' noise in pixels."""
    import numpy as np

    values = task.prior_mean.copy()
    weights, noise = np.ones(len(task.pixels)), 4 * _CORNER_PX
    for _ in range(_ROUNDS):
        values = _descend(task, values, weights / noise)
        away = np.linalg.norm(_expected(task, values) - task.pixels, axis=1)
        # The median of a two-dimensional normal error is 1.1774 standard deviations of one axis.
        noise = max(0.02, float(np.median(away)) / 1.1774)
        weights = 1 / np.sqrt(1 + (away / (_CAUCHY * noise)) ** 2)
        weights[away > 6 * noise] = 0.0
    values = _descend(task, values, weights / noise)
    return values, weights, noise


def _residuals(task: _Task, values: Floats, scale: Floats) -> Floats:
    import numpy as np

    away = (_expected(task, values) - task.pixels) * scale[:, None]
    known = np.isfinite(task.prior_sd)
    prior = ((values - task.prior_mean) / task.prior_sd)[known]
    return np.concatenate([away.ravel(), prior])


def _jacobian(task: _Task, values: Floats, scale: Floats) -> Floats:
    import numpy as np

    here = _residuals(task, values, scale)
    columns = []
    for k in range(len(values)):
        step = 1e-4 if k in (1, 2) else 1e-6 if k < 10 else 1e-5
        moved = values.copy()
        moved[k] += step
        columns.append((_residuals(task, moved, scale) - here) / step)
    return np.column_stack(columns)


def _descend(task: _Task, values: Floats, scale: Floats) -> Floats:
    """Levenberg and Marquardt's steps down to the nearest least sum of squares."""
    import numpy as np

    damping, here = 1e-3, _residuals(task, values, scale)
    for _ in range(_STEPS):
        jacobian = _jacobian(task, values, scale)
        normal, slope = jacobian.T @ jacobian, jacobian.T @ here
        gained = 0.0
        while damping < 1e8:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), -slope)
            there = _residuals(task, values + step, scale)
            gained = float(here @ here - there @ there)
            if gained > 0:
                values, here, damping = values + step, there, damping / 8
                break
            damping *= 6
        if gained < 1e-5 * float(here @ here):
            break
    return values


def _describe(task: _Task, values: Floats, weights: Floats, noise_px: float) -> CameraFit:
    import numpy as np

    camera = _camera(task, values)
    expected = _expected(task, values)
    seen, meant = camera.lift(task.pixels, 0.0), camera.lift(expected, 0.0)
    residual = float(np.median(np.linalg.norm(seen - meant, axis=1)))
    return CameraFit(
        camera,
        residual,
        float(values[_GAIN]),
        _spread(task, values, weights / noise_px),
        len(task.pixels) // 4,
    )


def _spread(task: _Task, values: Floats, scale: Floats) -> float:
    """Root mean square, over the mat, of what the fit leaves open about a place."""
    import numpy as np

    jacobian = _jacobian(task, values, scale)
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    low, high = task.places.min(axis=0), task.places.max(axis=0)
    grid = np.stack(np.meshgrid(*np.linspace(low, high, 7)[1:-1].T), -1).reshape(-1, 2)
    pixels = _camera(task, values).project(np.concatenate([grid, np.zeros((25, 1))], axis=1))
    columns = []
    for k in range(_GAIN):
        step = math.sqrt(max(1e-18, covariance[k, k]))
        moved = values.copy()
        moved[k] += step
        columns.append((_camera(task, moved).lift(pixels, 0.0) - grid).ravel() / step)
    rows = np.column_stack(columns)
    inner = covariance[:_GAIN, :_GAIN]
    return math.sqrt(max(0.0, float(np.einsum("ij,jk,ik->i", rows, inner, rows).mean())))
