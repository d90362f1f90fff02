"""The read-rate benchmark's camera: a pinhole, a lens, a sensor and a JPEG, all seeded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tests.benchmarks.read_rate_paint import RASTER_PX_PER_MM, Label, Raster, texture

Grid = npt.NDArray[np.float64]

# Main cameras of phones see about 69 degrees across: focal length is picture width over 1.38.
FOCAL_PER_WIDTH = 1 / 1.38
OPTICS = {"12 MP": (4000, 3000), "3 MP": (2048, 1536)}

CONDITIONS = (
    "clean",
    "tilt 25-35",
    "tilt 45-50",
    "jpeg 25",
    "light on dark",
    "motion blur",
    "defocus",
    "low light",
    "mixed",
    "dirt",
    "glare",
)
_SUPERSAMPLE = 2


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a label lies: tilt and turn in degrees, distance and shift in millimetres."""

    tilt_deg: float
    lean_deg: float
    turn_deg: float
    distance_mm: float
    shift_mm: tuple[float, float] = (0.0, 0.0)


def homography(label: Label, pose: Pose, focal_px: float, middle_px: tuple[float, float]) -> Grid:
    """The matrix from raster pixels of a label to pixels of the photo."""
    height, width = label.raster.shape
    to_mm = np.array(
        [
            [1 / RASTER_PX_PER_MM, 0, -width / 2 / RASTER_PX_PER_MM],
            [0, 1 / RASTER_PX_PER_MM, -height / 2 / RASTER_PX_PER_MM],
            [0, 0, 1],
        ]
    )
    turn, lean = _about_z(np.radians(pose.turn_deg)), _about_z(np.radians(pose.lean_deg))
    tilt = np.radians(pose.tilt_deg)
    about_x = np.array(
        [[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]]
    )
    spin = lean @ about_x @ lean.T @ turn
    place = np.column_stack(
        [spin[:, 0], spin[:, 1], [pose.shift_mm[0], pose.shift_mm[1], pose.distance_mm]]
    )
    lens = np.array([[focal_px, 0, middle_px[0]], [0, focal_px, middle_px[1]], [0, 0, 1]])
    return np.asarray(lens @ place @ to_mm)


def _about_z(angle: float) -> Grid:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def project(matrix: Grid, points: Grid) -> Grid:
    """Points through a homography."""
    lifted = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(lifted[:, :2] / lifted[:, 2:])


def symbol_corners(label: Label, matrix: Grid) -> Grid:
    """The symbol's corners in the photo, from its upper left one clockwise."""
    left, top, right, bottom = (value * RASTER_PX_PER_MM for value in label.symbol_mm)
    return project(matrix, np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))


def module_px(label: Label, corners: Grid) -> float:
    """Pixels along one module: of the two axes of a square symbol the geometric mean."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    across = (sides[0] + sides[2]) / 2
    if label.design == "code128":
        return float(across / label.modules)
    return float(np.sqrt(across * (sides[1] + sides[3]) / 2) / label.modules)


def lay(ground: npt.NDArray[np.float32], picture: Raster, matrix: Grid, tones: Grid) -> None:
    """
    Lay a label's picture into a scene of double resolution.

    Args:
        ground: The scene, changed in place; reflectance 0 to 1.
        picture: The label's raster.
        matrix: From raster pixels to photo pixels.
        tones: Reflectance of ink and of paper.
    """
    import cv2

    grow = np.diag([_SUPERSAMPLE, _SUPERSAMPLE, 1.0])
    height, width = picture.shape
    rim = project(grow @ matrix, np.array([[0, 0], [width, 0], [width, height], [0, height]]))
    left, top = np.maximum(np.floor(rim.min(axis=0)).astype(int) - 2, 0)
    right, bottom = np.ceil(rim.max(axis=0)).astype(int) + 2
    part = ground[top:bottom, left:right]
    if not part.size:
        return
    move = np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1.0]]) @ grow @ matrix
    size = (part.shape[1], part.shape[0])
    drawn = cv2.warpPerspective(picture, move, size).astype(np.float32) / 255
    cover = cv2.warpPerspective(np.full_like(picture, 255), move, size).astype(np.float32) / 255
    part[:] = part * (1 - cover) + cover * tones[0] + drawn * (tones[1] - tones[0])


def bench(seed: int, size: tuple[int, int], rng: np.random.Generator) -> npt.NDArray[np.float32]:
    """A piece of a texture at double resolution as reflectance, width and height given."""
    import cv2

    ground = texture(seed, int(rng.integers(0, 12)))
    width, height = (min(side, ground.shape[0]) for side in size)
    x, y = int(rng.integers(0, ground.shape[1] - width + 1)), 0
    y = int(rng.integers(0, ground.shape[0] - height + 1))
    part = np.rot90(ground[y : y + height, x : x + width], 2 * int(rng.integers(0, 2)))
    whole = cv2.resize(part, (size[0] * _SUPERSAMPLE, size[1] * _SUPERSAMPLE))
    return np.asarray(whole.astype(np.float32) / 255)


def expose(
    scene: npt.NDArray[np.float32], condition: str, scale: float, rng: np.random.Generator
) -> Raster:
    """
    The photo of a scene: lens, motion, light, noise, the phone's smoothing, tone curve and JPEG.

    Args:
        scene: Reflectance at double resolution.
        condition: One of :data:`CONDITIONS`.
        scale: Photo pixels here to a 12-megapixel camera's; blurs shrink with it.
        rng: Seeded.
    """
    import cv2

    sharp = cv2.resize(scene, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    sharp = sharp * _shading(sharp.shape, rng)
    soft = cv2.GaussianBlur(sharp, (0, 0), float(rng.uniform(0.5, 0.8)))
    light: npt.NDArray[np.float32] = np.asarray(soft, np.float32)
    mixed = condition == "mixed"
    if condition == "defocus" or (mixed and rng.random() < 0.5):
        light = _defocus(light, (3.5 if not mixed else float(rng.uniform(1, 2.5))) * scale)
    if condition == "motion blur" or (mixed and rng.random() < 0.5):
        light = _shake(light, (9.0 if not mixed else float(rng.uniform(2, 6))) * scale, rng)
    level = {"low light": 0.05, "mixed": float(rng.uniform(0.15, 0.5))}.get(condition, 1.0)
    electrons = 9000.0 * level
    noise = rng.standard_normal(light.shape, np.float32)
    light = light + noise * np.sqrt(np.maximum(light, 0) / electrons + (6.0 / electrons) ** 2)
    if level < 1:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), 0.9), np.float32)
    gray = np.clip(light, 0, 1) ** (1 / 2.2) * 255
    quality = 25 if condition == "jpeg 25" else int(rng.integers(60, 94) if mixed else 90)
    return as_jpeg(gray.astype(np.uint8), quality)


def as_jpeg(gray: Raster, quality: int) -> Raster:
    """A gray picture after a JPEG file."""
    import cv2

    _, data = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), np.uint8)


def _shading(shape: tuple[int, ...], rng: np.random.Generator) -> npt.NDArray[np.float32]:
    """Uneven light over the scene."""
    across = np.linspace(-1, 1, shape[1], dtype=np.float32)
    down = np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None]
    angle, depth = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.25)
    slope = np.cos(angle) * across + np.sin(angle) * down
    return np.asarray(rng.uniform(0.7, 0.95) * (1 - depth * (slope + 1) / 2), np.float32)


def _defocus(light: npt.NDArray[np.float32], radius: float) -> npt.NDArray[np.float32]:
    import cv2

    reach = int(np.ceil(radius)) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    disc = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1)
    return np.asarray(cv2.filter2D(light, -1, disc / disc.sum()), np.float32)


def _shake(
    light: npt.NDArray[np.float32], length: float, rng: np.random.Generator
) -> npt.NDArray[np.float32]:
    import cv2

    reach = int(np.ceil(length / 2)) + 1
    path = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    angle = rng.uniform(0, np.pi)
    step = np.array([np.cos(angle), np.sin(angle)]) * length / 2
    ends = [tuple(int(v) for v in np.round((reach + s * step) * 16)) for s in (-1, 1)]
    cv2.line(path, ends[0], ends[1], 1.0, 1, cv2.LINE_AA, 4)
    return np.asarray(cv2.filter2D(light, -1, path / path.sum()), np.float32)


def soil(scene: npt.NDArray[np.float32], corners: Grid, rng: np.random.Generator) -> None:
    """Dirt over 4 % of the symbol and its surroundings: spots and a smear, dark or dusty."""
    import cv2

    low, high = corners.min(axis=0) * _SUPERSAMPLE, corners.max(axis=0) * _SUPERSAMPLE
    side = float((high - low).max())
    covered, spot = 0.0, np.zeros(scene.shape, np.float32)
    while covered < 0.04 * side * side:
        x, y = rng.uniform(low - 0.05 * side, high + 0.05 * side)
        radius = float(rng.uniform(0.015, 0.06)) * side
        axes = (max(1, round(radius)), max(1, round(radius * rng.uniform(0.4, 1))))
        cv2.ellipse(spot, (round(x), round(y)), axes, float(rng.uniform(0, 180)), 0, 360, 1.0, -1)
        covered += float(np.pi * axes[0] * axes[1])
    spot = cv2.GaussianBlur(spot, (0, 0), 1.5) * float(rng.uniform(0.75, 1.0))
    scene[:] = scene * (1 - spot) + spot * float(rng.choice([0.06, 0.15, 0.75]))


def glare(scene: npt.NDArray[np.float32], corners: Grid, rng: np.random.Generator) -> None:
    """A lamp mirrored in the label: a burnt-out heart on the symbol with a soft rim."""
    low, high = corners.min(axis=0) * _SUPERSAMPLE, corners.max(axis=0) * _SUPERSAMPLE
    x0, y0 = rng.uniform(low + 0.2 * (high - low), high - 0.2 * (high - low))
    side = float(np.sqrt(np.prod(high - low)))
    a, b = rng.uniform(0.07, 0.18, 2) * side
    y, x = np.mgrid[0 : scene.shape[0], 0 : scene.shape[1]].astype(np.float32)
    distance = ((x - x0) / a) ** 2 + ((y - y0) / b) ** 2
    scene += 1.2 * np.exp(-distance)
