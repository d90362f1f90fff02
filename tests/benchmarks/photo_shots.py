"""
Seeded good photos: boards laid down as a maker lays them, taken as a maker takes them.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.photo.measure.mat import Mat, standard_mat
from tests.benchmarks.photo_camera import FULL_FRAME_DIAGONAL_MM, Camera
from tests.benchmarks.photo_layout import BoardLayout, make_layout
from tests.benchmarks.photo_light import Finish, Light
from tests.benchmarks.photo_scene import Placed, Scene, Shot, render

if TYPE_CHECKING:
    from tests.benchmarks.photo_raster import Array

TABLES = ((0.32, 0.2, 0.11), (0.12, 0.12, 0.13), (0.55, 0.54, 0.5), (0.2, 0.14, 0.08))
"""Benches: oak, slate, laminate, walnut; linear light."""

PIXELS = {12: (4000, 3000), 3: (2000, 1500)}
"""Sizes of photos by their million pixels."""

# Coloured field that stays free round the board: seen slantwise it hides a few millimetres.
_CLEAR_MM = 7.0


@dataclass(frozen=True, slots=True)
class Case:
    """
    A scene with two photos of it, and the truth.

    Args:
        seed: Makes it again.
        scene: What lies there; the first board is the one to be measured.
        first: The photo.
        second: Another one of the same bench from another side.
    """

    seed: int
    scene: Scene
    first: Shot
    second: Shot

    @property
    def board(self) -> Placed:
        """The board to be measured."""
        return self.scene.boards[0]

    def photos(self) -> tuple[bytes, bytes]:
        """Both photos as JPEG."""
        return render(self.scene, self.first), render(self.scene, self.second)


def make_case(
    seed: int,
    *,
    megapixels: int = 12,
    tilt_deg: float | None = None,
    layout: BoardLayout | None = None,
    mat: Mat | None = None,
) -> Case:
    """
    A good pair of photos from a seed.

    Args:
        seed: Any whole number.
        megapixels: 12, or 3 for quick tests.
        tilt_deg: Of the first photo; 0 to 35 by lot when not given.
        layout: The board; drawn from the seed when not given.
        mat: A4 with a magenta field when not given.
    """
    dice = random.Random(f"case {seed}")
    mat = mat or standard_mat("a4")
    board = lay_down(dice, layout or make_layout(seed), mat)
    # No printer is true: half a percent is usual (a guess); a ruler tells how much it was.
    printed = 1 + dice.gauss(0, 0.003), 1 + dice.gauss(0, 0.003)
    scene = Scene(mat, (board,), table=dice.choice(TABLES), print_scale=printed)
    lots = dice.uniform(0, 35)
    tilt = lots if tilt_deg is None else tilt_deg
    azimuth = dice.uniform(0, 360)
    first = take_shot(dice, mat, megapixels=megapixels, tilt_deg=tilt, azimuth_deg=azimuth)
    second = second_shot(dice, first, mat)
    return Case(seed, scene, first, second)


def lay_down(dice: random.Random, layout: BoardLayout, mat: Mat) -> Placed:
    """The board somewhere in the field, turned by lot if it fits, else along the field."""
    import numpy as np

    left, bottom, right, top = mat.field
    stand_off = dice.choice((0.0, dice.uniform(0, 2.5)))
    for attempt in range(40):
        turn = dice.uniform(0, 360) if attempt < 30 else dice.choice((0, 90, 180, 270))
        placed = Placed(layout, 0.0, 0.0, turn, stand_off)
        low, high = (f(placed.on_mat(layout.outer), axis=0) for f in (np.min, np.max))
        free_x, free_y = right - left - (high - low)[0], top - bottom - (high - low)[1]
        if min(free_x, free_y) > 2 * _CLEAR_MM:
            x = left + _CLEAR_MM - low[0] + dice.random() * (free_x - 2 * _CLEAR_MM)
            y = bottom + _CLEAR_MM - low[1] + dice.random() * (free_y - 2 * _CLEAR_MM)
            return replace(placed, x_mm=float(x), y_mm=float(y))
    middle_x, middle_y = (left + right) / 2, (bottom + top) / 2
    return Placed(layout, middle_x, middle_y, 0.0, stand_off)


def take_shot(
    dice: random.Random, mat: Mat, *, megapixels: int, tilt_deg: float, azimuth_deg: float
) -> Shot:
    """A photo of the whole mat, with light, blur, noise and file by lot."""
    width, height = PIXELS[megapixels]
    scale = width / 4000
    marked = dice.choice((24, 26, 26, 28))
    diagonal = (width**2 + height**2) ** 0.5
    focal = marked * dice.uniform(0.97, 1.03) / FULL_FRAME_DIAGONAL_MM * diagonal
    left, bottom, right, top = mat.reach
    camera = Camera(
        (width, height),
        focal,
        (width / 2 + dice.gauss(0, 18) * scale, height / 2 + dice.gauss(0, 18) * scale),
        _draw_lens(dice),
        ((left + right) / 2 + dice.uniform(-4, 4), (bottom + top) / 2 + dice.uniform(-4, 4)),
        250.0,
        tilt_deg,
        azimuth_deg,
        dice.choice((0, 180)) + dice.gauss(0, 2.5),
    )
    camera = camera.standing_back(_corners(mat), margin=dice.uniform(0.005, 0.04))
    return Shot(
        camera, _draw_light(dice), _draw_finish(dice, scale), marked, dice.choice((1, 1, 3, 6, 8))
    )


def second_shot(dice: random.Random, first: Shot, mat: Mat) -> Shot:
    """The same bench and light, from another side, with the same phone."""
    azimuth = first.camera.azimuth_deg + dice.uniform(130, 230)
    camera = replace(first.camera, tilt_deg=dice.uniform(18, 32), azimuth_deg=azimuth)
    camera = camera.standing_back(_corners(mat), margin=dice.uniform(0.005, 0.04))
    light = replace(first.light, seed=first.light.seed + 1)
    return replace(
        first, camera=camera, light=light, finish=replace(first.finish, seed=dice.randrange(10**6))
    )


def _corners(mat: Mat) -> Array:
    import numpy as np

    left, bottom, right, top = mat.reach
    return np.array([(x, y, 0.0) for x in (left, right) for y in (bottom, top)])


def _draw_lens(dice: random.Random) -> tuple[float, float, float, float]:
    return (
        dice.uniform(-0.04, 0.04),
        dice.uniform(-0.02, 0.02),
        dice.gauss(0, 0.0004),
        dice.gauss(0, 0.0004),
    )


def _draw_light(dice: random.Random) -> Light:
    has_shade, has_glare = dice.random() < 0.35, dice.random() < 0.4
    return Light(
        slope=dice.uniform(0, 0.35),
        slope_deg=dice.uniform(0, 360),
        shade=dice.uniform(0.2, 0.55) if has_shade else 0.0,
        shade_soft_px=dice.uniform(0.015, 0.12),
        glare=dice.uniform(0.3, 1.2) if has_glare else 0.0,
        glares=dice.randint(1, 3) if has_glare else 0,
        lamp=(dice.uniform(-1, 1), dice.uniform(-1, 1)),
        cast=dice.uniform(0.05, 0.45),
        seed=dice.randrange(10**6),
    )


def _draw_finish(dice: random.Random, scale: float) -> Finish:
    warm = dice.gauss(0, 0.08)
    return Finish(
        blur_px=dice.uniform(0.5, 1.1) * max(scale, 0.7),
        motion_px=dice.choice((0.0, 0.0, dice.uniform(0, 2.5) * scale)),
        motion_deg=dice.uniform(0, 180),
        exposure=dice.uniform(0.6, 0.95),
        balance=(1 + warm, 1.0, 1 - warm),
        noise=dice.uniform(0.003, 0.012),
        vignette=dice.uniform(0.05, 0.3),
        quality=dice.randint(78, 95),
        seed=dice.randrange(10**6),
    )
