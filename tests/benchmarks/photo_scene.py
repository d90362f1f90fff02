"""
Photos of a board on a mat, drawn from known truth: seeded, with all that a phone adds to them.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.photo.measure.mat import Mat
from salvage.photo.measure.mat_drawing import draw_mat_png, mat_page
from tests.benchmarks.photo_camera import Camera, Curl
from tests.benchmarks.photo_layout import BoardLayout
from tests.benchmarks.photo_light import Finish, Light, expose, glints, shine, write_jpeg
from tests.benchmarks.photo_paint import paint_face
from tests.benchmarks.photo_raster import cover, sample, to_light, window_round
from tests.benchmarks.photo_solid import (
    Solid,
    box_ring,
    followed,
    lay_faced,
    lay_solid,
    lifted,
    seen_through,
    silhouette,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.benchmarks.photo_raster import Array

# Ink is never quite black, and paper never quite white.
_INK, _PAPER = 0.035, 0.88


@dataclass(frozen=True, slots=True)
class Placed:
    """
    A board lying on the mat.

    Args:
        layout: Which.
        x_mm: Middle of its bounding box on the mat.
        y_mm: The same.
        turn_deg: Counter-clockwise.
        stand_off_mm: Air under it: leads, solder, parts on the lower side.
    """

    layout: BoardLayout
    x_mm: float
    y_mm: float
    turn_deg: float
    stand_off_mm: float

    def on_mat(self, points: Sequence[tuple[float, float]]) -> Array:
        """Board coordinates as places on the mat."""
        import numpy as np

        turn = math.radians(self.turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        width, height = self.layout.size_mm
        centred = np.asarray(points, float).reshape(-1, 2) - (width / 2, height / 2)
        placed: Array = centred @ np.array([[cos, sin], [-sin, cos]]) + (self.x_mm, self.y_mm)
        return placed

    def on_board(self, places: Array) -> Array:
        """Places on the mat as board coordinates; any shape that ends in 2."""
        import numpy as np

        turn = math.radians(self.turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        width, height = self.layout.size_mm
        back = np.array([[cos, -sin], [sin, cos]], np.float32)
        centred = places - np.array((self.x_mm, self.y_mm), np.float32)
        turned: Array = centred @ back + np.array((width / 2, height / 2), np.float32)
        return turned

    @property
    def top_mm(self) -> float:
        """Height of its upper face."""
        return self.stand_off_mm + self.layout.thickness_mm


@dataclass(frozen=True, slots=True)
class Scene:
    """
    What lies on the bench.

    Args:
        mat: Printed mat; none for a bare table.
        boards: What lies on it, lowest first.
        things: Other solids on top, such as a hand.
        table: Linear light of the bench.
        curl: How the mat is bent, if it is.
        print_scale: True length of what is one millimetre in the mat's drawing, along x and y.
        code: Modules of the symbol that says the mat's serial; none on a mat without one.
    """

    mat: Mat | None
    boards: tuple[Placed, ...]
    things: tuple[Solid, ...] = ()
    table: tuple[float, float, float] = (0.32, 0.2, 0.11)
    curl: Curl | None = None
    print_scale: tuple[float, float] = (1.0, 1.0)
    code: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo of a scene: camera, light and finish, and what the EXIF block says."""

    camera: Camera
    light: Light = field(default_factory=Light)
    finish: Finish = field(default_factory=Finish)
    focal_35mm: int = 26
    orientation: int = 1


@lru_cache(maxsize=3)
def _mat_light(mat: Mat, px_per_mm: float, code: tuple[str, ...]) -> Array:
    """The printed mat as linear light, 0 to 65535; the last ones are kept."""
    import numpy as np
    from PIL import Image

    with Image.open(BytesIO(draw_mat_png(mat, px_per_mm=px_per_mm, code=code))) as drawn:
        light = to_light(np.asarray(drawn))
    return np.round(65535 * _INK + light * (_PAPER - _INK)).astype(np.uint16)


def px_per_mm_of(camera: Camera) -> float:
    """About how many pixels a millimetre of the mat has, at the target."""
    return camera.focal_px / camera.distance_mm


def render(scene: Scene, shot: Shot) -> bytes:
    """The photo as a JPEG with EXIF."""
    levels = expose(gather_light(scene, shot), shot.finish)
    return write_jpeg(
        levels,
        quality=shot.finish.quality,
        focal_35mm=shot.focal_35mm,
        orientation=shot.orientation,
    )


def gather_light(scene: Scene, shot: Shot) -> Array:
    """Linear light before the lens blurs it: height x width x 3, float32, paper about 0.9."""
    camera, size = shot.camera, shot.camera.size_px
    picture = _see_mat(scene, camera)
    for board in scene.boards:
        _cast_shadow(picture, camera, board, shot.light)
    gloss = glints(shot.light, size) if shot.light.glares else None
    for board in scene.boards:
        _lay_board(picture, camera, board, gloss)
    for thing in scene.things:
        lay_solid(picture, camera, thing)
    picture *= shine(shot.light, shot.finish, size)[:, :, None]
    if gloss is not None:
        picture += 0.15 * gloss[:, :, None]
    return picture


def _see_mat(scene: Scene, camera: Camera) -> Array:
    import numpy as np

    width, height = camera.size_px
    if scene.mat is None:
        return np.full((height, width, 3), scene.table, np.float32)
    fine = float(min(12, max(4, math.ceil(px_per_mm_of(camera)))))
    left, bottom, right, top = mat_page(scene.mat)
    if (right - left) * (top - bottom) * fine**2 > 50e6:
        # A larger picture cannot be drawn; the mat is then a little softer.
        fine = math.floor(math.sqrt(50e6 / ((right - left) * (top - bottom))))
    sheet = _mat_light(scene.mat, fine, scene.code)
    met = camera.meet_map((0, 0, width, height), 0.0, curl=scene.curl)
    met /= np.array(scene.print_scale, np.float32)
    met -= np.array((left, top), np.float32)
    met *= np.array((fine, -fine), np.float32)
    met -= np.float32(0.5)
    return sample(sheet, met, outside=scene.table)


def _cast_shadow(picture: Array, camera: Camera, board: Placed, light: Light) -> None:
    """The board's shadow on the mat: the lamp's, and the dark line where it nearly touches."""
    import cv2
    import numpy as np

    if not light.cast:
        return
    ring = followed([(float(x), float(y)) for x, y in board.on_mat(board.layout.outer)])
    scale = px_per_mm_of(camera)
    for rise, strength in ((board.top_mm, light.cast), (0.3, 0.6 * light.cast)):
        fallen = camera.project(lifted(ring + np.array(light.lamp) * rise, 0.0))
        window = window_round(fallen, camera.size_px, margin=round(4 * scale))
        if window is None:
            continue
        left, top, width, height = window
        shade = cover([fallen], window)
        # Blurred at a quarter of the size: a soft edge needs no more.
        small = cv2.resize(shade, (width // 4 + 1, height // 4 + 1), interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), max(0.6, 0.35 * rise * scale / 4))
        shade = cv2.resize(small, (width, height))
        picture[top : top + height, left : left + width] *= 1 - strength * shade[:, :, None]


def _lay_board(picture: Array, camera: Camera, board: Placed, gloss: Array | None) -> None:
    import numpy as np

    layout, low, high = board.layout, board.stand_off_mm, board.top_mm
    ring = followed([(float(x), float(y)) for x, y in board.on_mat(layout.outer)])
    hidden = silhouette(camera, ring, low, high)
    window = window_round(np.concatenate(hidden), camera.size_px)
    if window is None:
        return
    body = cover(hidden, window)
    face = cover([camera.project(lifted(ring, high))], window)
    for hole in (*layout.openings, *(drill.ring(sides=16) for drill in layout.drills)):
        at = board.on_mat(hole)
        rim = camera.project(lifted(at, high))
        _take_out(face, window, [rim], rim)
        through = seen_through(camera, at, low, high)
        if through:
            _take_out(body, window, through, rim)
    colour = _see_face(camera, board, window)
    if gloss is not None:
        left, top, width, height = window
        colour += 0.85 * gloss[top : top + height, left : left + width, None]
    lay_faced(picture, window, (body, face), (_edge_colour(layout), colour))
    for part in _far_first(board, camera):
        lay_solid(picture, camera, part)


def _take_out(
    share: Array, window: tuple[int, int, int, int], rings: Sequence[Array], round_it: Array
) -> None:
    """Take a hole out of a cover."""
    near = window_round(round_it - (window[0], window[1]), (window[2], window[3]))
    if near is None:
        return
    left, top, width, height = near
    there = share[top : top + height, left : left + width]
    place = left + window[0], top + window[1], width, height
    there -= cover(rings, place)
    there[there < 0] = 0


def _edge_colour(layout: BoardLayout) -> Array:
    import numpy as np

    dice = random.Random(f"edge {layout.seed}")
    tan = np.array((0.42, 0.36, 0.16)) * dice.uniform(0.5, 1.1)
    if layout.mask == "black":
        tan *= 0.35
    return tan.astype(np.float32)


def _see_face(camera: Camera, board: Placed, window: tuple[int, int, int, int]) -> Array:
    import numpy as np

    fine = float(max(4, math.ceil(1.15 * px_per_mm_of(camera))))
    face = to_light(paint_face(board.layout, px_per_mm=fine))
    places = board.on_board(camera.meet_map(window, board.top_mm))
    places *= np.array((fine, -fine), np.float32)
    places += np.array((-0.5, face.shape[0] - 0.5), np.float32)
    return sample(face, places)


def _far_first(board: Placed, camera: Camera) -> list[Solid]:
    """Parts as solids, so that nearer ones hide what is behind them."""
    import numpy as np

    solids = []
    for part in board.layout.parts:
        ring = board.on_mat(box_ring(part.x, part.y, part.wide, part.deep, is_round=part.is_round))
        light = tuple(float(v) / 65535 for v in to_light(np.array(part.colour, np.uint8)))
        side = light[0] * 0.55, light[1] * 0.55, light[2] * 0.55
        top = light[0], light[1], light[2]
        foot = board.top_mm
        corners = tuple((float(x), float(y)) for x, y in ring)
        far = float(np.hypot(*(ring.mean(axis=0) - camera.place[:2])))
        solids.append((far, Solid(corners, foot, foot + part.tall, side, top)))
    return [solid for _, solid in sorted(solids, key=lambda pair: -pair[0])]
