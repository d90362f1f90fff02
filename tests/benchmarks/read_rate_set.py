"""The read-rate benchmark's pictures, each made from its seed and place in the list alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from tests.benchmarks.read_rate_camera import (
    CONDITIONS,
    FOCAL_PER_WIDTH,
    OPTICS,
    Grid,
    Pose,
    as_jpeg,
    bench,
    expose,
    glare,
    homography,
    lay,
    module_px,
    project,
    soil,
    symbol_corners,
)
from tests.benchmarks.read_rate_paint import (
    BAR_SIZES_MM,
    DESIGNS,
    SIZES_MM,
    Label,
    Raster,
    foreign_bars,
    print_label,
)

NEGATIVES = ("texture", "foreign", "occluded", "overlapped")
_NEAR_MM, _FAR_MM = 150.0, 350.0
_LIGHT, _DARK = np.array([0.07, 0.88]), np.array([0.80, 0.06])


@dataclass(frozen=True, slots=True)
class Truth:
    """A label that is in the picture: its code, design, symbol corners and pixels per module."""

    code: str
    design: str
    corners_px: Grid
    module_px: float


@dataclass(frozen=True, slots=True)
class Cell:
    """
    One picture to make.

    Args:
        seed: Of the set.
        group: ``crop``, ``negative`` or ``photo``.
        condition: Light and lens, the kind of negative, or the kind of photo.
        optics: ``12 MP`` or ``3 MP``.
        design: Of the symbol; empty where there are several or none.
        size_mm: Width of the symbol.
        turn: Which of the pictures of this kind.
    """

    seed: int
    group: str
    condition: str
    optics: str
    design: str = ""
    size_mm: float = 0.0
    turn: int = 0

    @property
    def key(self) -> str:
        """Its name, from which its random numbers are seeded."""
        words = (self.group, self.condition, self.optics, self.design, self.size_mm, self.turn)
        return f"{self.seed}/" + "/".join(str(word) for word in words)

    def numbers(self) -> np.random.Generator:
        """The generator of this picture's random numbers."""
        return np.random.default_rng(list(self.key.encode()))


def cells(seed: int, *, per_cell: int, negatives: int, photos: int) -> Iterator[Cell]:
    """All pictures of a set: labels alone, pictures with nothing to read, whole photos."""
    for turn, condition, optics, design in product(range(per_cell), CONDITIONS, OPTICS, DESIGNS):
        for size_mm in BAR_SIZES_MM if design == "code128" else SIZES_MM:
            yield Cell(seed, "crop", condition, optics, design, size_mm, turn)
    for turn in range(negatives):
        optics = tuple(OPTICS)[turn // len(NEGATIVES) % 2]
        yield Cell(seed, "negative", NEGATIVES[turn % len(NEGATIVES)], optics, turn=turn)
    for turn, kind, optics in product(range(photos), ("eight", "sheet"), OPTICS):
        yield Cell(seed, "photo", kind, optics, turn=turn)


def take(cell: Cell) -> tuple[Raster, tuple[Truth, ...]]:
    """The gray picture of a cell and what is in it."""
    if cell.group == "crop":
        return _take_crop(cell)
    if cell.group == "negative":
        return _take_negative(cell)
    return _take_sheet(cell) if cell.condition == "sheet" else _take_eight(cell)


def _focal(cell: Cell) -> float:
    return OPTICS[cell.optics][0] * FOCAL_PER_WIDTH


def _scale(cell: Cell) -> float:
    return OPTICS[cell.optics][0] / OPTICS["12 MP"][0]


def _pose(condition: str, rng: np.random.Generator) -> Pose:
    tilts = {"tilt 25-35": (25.0, 35.0), "tilt 45-50": (45.0, 50.0), "mixed": (0.0, 35.0)}
    low, high = tilts.get(condition, (0.0, 15.0))
    return Pose(
        float(rng.uniform(low, high)),
        float(rng.uniform(0, 360)),
        float(rng.uniform(0, 360)),
        float(rng.uniform(_NEAR_MM, _FAR_MM)),
    )


def _take_crop(cell: Cell) -> tuple[Raster, tuple[Truth, ...]]:
    rng = cell.numbers()
    label = print_label(cell.design, cell.size_mm, rng)
    pose = _pose(cell.condition, rng)
    matrix, size = _framed(label, pose, _focal(cell), rng)
    scene = bench(cell.seed, size, rng)
    lay(scene, label.raster, matrix, _DARK if cell.condition == "light on dark" else _LIGHT)
    corners = symbol_corners(label, matrix)
    if cell.condition == "dirt" or (cell.condition == "mixed" and rng.random() < 0.25):
        soil(scene, corners, rng)
    if cell.condition == "glare":
        glare(scene, corners, rng)
    truth = Truth(label.code, label.design, corners, module_px(label, corners))
    return expose(scene, cell.condition, _scale(cell), rng), (truth,)


def _framed(
    label: Label, pose: Pose, focal_px: float, rng: np.random.Generator
) -> tuple[Grid, tuple[int, int]]:
    """A label's homography into a frame that holds it with some bench around."""
    matrix = homography(label, pose, focal_px, (0, 0))
    height, width = label.raster.shape
    rim = project(matrix, np.array([[0, 0], [width, 0], [width, height], [0, height]]))
    room = rng.integers(40, 120, 4)
    low, high = rim.min(axis=0) - room[:2], rim.max(axis=0) + room[2:]
    move = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]])
    return move @ matrix, (int(high[0] - low[0]), int(high[1] - low[1]))


def _take_negative(cell: Cell) -> tuple[Raster, tuple[Truth, ...]]:
    rng = cell.numbers()
    scene = bench(cell.seed, (700, 700) if cell.optics == "12 MP" else (420, 420), rng)
    middle = (scene.shape[1] / 4, scene.shape[0] / 4)
    truths: list[Truth] = []
    if cell.condition == "foreign":
        bars = foreign_bars(rng)
        stranger = Label("foreign", "", "", bars, (0, 0, 1, 1), 1)
        pose = _pose("clean", rng)
        lay(scene, bars, homography(stranger, pose, _focal(cell), middle), _LIGHT)
    elif cell.condition in ("occluded", "overlapped"):
        reach = 8.0 if cell.condition == "overlapped" else 0.0
        for number in range(2 if reach else 1):
            design = str(rng.choice(list(DESIGNS)))
            label = print_label(design, 30.0 if design == "code128" else 14.0, rng)
            pose = _pose("clean", rng)
            shift = tuple(float(v) for v in rng.uniform(-reach, reach, 2) * number)
            pose = Pose(pose.tilt_deg, pose.lean_deg, pose.turn_deg, 250.0, (shift[0], shift[1]))
            matrix = homography(label, pose, _focal(cell), middle)
            lay(scene, label.raster, matrix, _LIGHT)
            corners = symbol_corners(label, matrix)
            truths.append(Truth(label.code, design, corners, module_px(label, corners)))
        if not reach:
            _cover(scene, truths[0].corners_px, rng)
    condition = str(rng.choice(["clean", "jpeg 25", "motion blur", "defocus", "low light"]))
    return expose(scene, condition, _scale(cell), rng), tuple(truths)


def _cover(scene: npt.NDArray[np.float32], corners: Grid, rng: np.random.Generator) -> None:
    """A thumb or tool over a good part of a symbol."""
    import cv2

    one, other = rng.choice(4, 2, replace=False)
    start, stop = corners[one] * 2, corners[other] * 2
    side = float(np.ptp(corners, axis=0).max()) * 2
    width = max(2, round(side * float(rng.uniform(0.25, 0.6))))
    cv2.line(scene, start.astype(int).tolist(), stop.astype(int).tolist(), 0.4, width)


def _take_sheet(cell: Cell) -> tuple[Raster, tuple[Truth, ...]]:
    """A sheet of 24 labels, three by eight, filling the photo."""
    rng = cell.numbers()
    width, height = OPTICS[cell.optics]
    scene = bench(cell.seed, (width, height), rng)
    pose = _pose("clean", rng)
    turn, distance = float(rng.uniform(-6, 6)) + 90.0, float(rng.uniform(235, 330))
    truths = []
    for row, column in product(range(8), range(3)):
        label = print_label("qr_h", 15.75, rng)  # six dots of a 203 dpi printer to the module
        across, down = (column - 1) * 64.0, (row - 3.5) * 34.0
        angle = np.radians(turn)
        shift = (
            across * np.cos(angle) - down * np.sin(angle),
            across * np.sin(angle) + down * np.cos(angle),
        )
        at = Pose(0.5 * pose.tilt_deg, pose.lean_deg, turn, distance, shift)
        matrix = homography(label, at, _focal(cell), (width / 2, height / 2))
        lay(scene, label.raster, matrix, _LIGHT)
        corners = symbol_corners(label, matrix)
        truths.append(Truth(label.code, label.design, corners, module_px(label, corners)))
    return expose(scene, "clean", _scale(cell), rng), tuple(truths)


def _take_eight(cell: Cell) -> tuple[Raster, tuple[Truth, ...]]:
    """Eight labels of all designs on a bench, well lit."""
    rng = cell.numbers()
    width, height = OPTICS[cell.optics]
    scene = bench(cell.seed, (width, height), rng)
    truths, designs = [], list(DESIGNS)
    for number, (row, column) in enumerate(product(range(2), range(4))):
        design = designs[number % len(designs)]
        size_mm = float(rng.choice(BAR_SIZES_MM if design == "code128" else SIZES_MM))
        label = print_label(design, min(size_mm, 42.0), rng)
        pose = _pose("clean", rng)
        distance = float(rng.uniform(270, 330))
        slot = (distance / FOCAL_PER_WIDTH / 4, distance / FOCAL_PER_WIDTH * height / width / 2)
        shift = ((column - 1.5) * slot[0], (row - 0.5) * slot[1])
        at = Pose(pose.tilt_deg, pose.lean_deg, pose.turn_deg, distance, shift)
        matrix = homography(label, at, _focal(cell), (width / 2, height / 2))
        lay(scene, label.raster, matrix, _LIGHT)
        corners = symbol_corners(label, matrix)
        truths.append(Truth(label.code, design, corners, module_px(label, corners)))
    return expose(scene, "clean", _scale(cell), rng), tuple(truths)


def photo_bytes(picture: Raster) -> bytes:
    """A picture as the JPEG file that a phone would drop."""
    import cv2

    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return data.tobytes()


__all__ = ["NEGATIVES", "Cell", "Truth", "as_jpeg", "cells", "photo_bytes", "take"]
