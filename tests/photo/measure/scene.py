"""
A small synthetic camera: a mat, a board on it, and a photo of both with a known truth.

Independent of the code under test: it sends a ray through every pixel and asks what it meets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING, Any, TypeAlias

from salvage.photo.measure.mat import STRIP_MM, Mat, standard_mat, strip_markers
from salvage.photo.measure.mat_drawing import marker_shapes, mat_page, mat_shapes, paint_shapes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Points: TypeAlias = tuple[tuple[float, float], ...]

TEXTURE_PX_PER_MM = 12.0
STRIP_PX_PER_MM = 16.0
BAND_ROWS = 32


@dataclass(frozen=True)
class Shot:
    """
    Everything about one photo; angles in degrees, lengths in mm, board in the mat frame.

    The camera aims at *aim*, from *distance* away, leaning *tilt* towards *azimuth*. A height strip
    is given by its number, where its lower left corner lies, and at what height; all of them are
    printed *strip_scale* times as large as meant.
    """

    outline: Points
    holes: tuple[tuple[float, float, float], ...] = ()
    mat: Mat = field(default_factory=lambda: standard_mat("a4"))
    size: tuple[int, int] = (2000, 1500)
    film_mm: float = 26.0
    distance: float = 262.0
    tilt: float = 8.0
    azimuth: float = 40.0
    roll: float = 2.0
    aim: tuple[float, float] = (122.0, 83.0)
    k1: float = 0.03
    k2: float = -0.01
    standoff: float = 1.2
    thickness: float = 1.6
    colour: tuple[int, int, int] = (20, 90, 45)
    edge_colour: tuple[int, int, int] = (150, 130, 80)
    blur_px: float = 0.8
    noise: float = 1.5
    light: float = 1.0
    shadow: float = 0.45
    quality: int = 88
    subsampling: int = 2
    seed: int = 1
    extra: tuple[tuple[Points, tuple[int, int, int]], ...] = ()
    exif: bool = True
    strip: tuple[int, float, float, float] | None = None
    flat_strip: tuple[int, float, float, float] | None = None
    strip_scale: float = 1.0


def rectangle(left: float, bottom: float, width: float, height: float, turn: float = 0) -> Points:
    """Four corners, counter-clockwise, turned about the lower left by *turn* degrees."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    return tuple((left + c * x - s * y, bottom + s * x + c * y) for x, y in corners)


@lru_cache(maxsize=3)
def _mat_picture(mat: Mat) -> Any:  # an array; cached, so never written to
    shapes = mat_shapes(mat)
    return _light(paint_shapes(shapes, box=mat_page(mat), px_per_mm=TEXTURE_PX_PER_MM))


def _light(rgb: Any) -> Any:
    import numpy as np

    level = np.asarray(rgb, np.float32) / 255
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def _code(light: NDArray[np.float32]) -> NDArray[np.float32]:
    import cv2
    import numpy as np

    light = np.clip(light, 0, 1)
    bright = cv2.pow(light, 1 / 2.4) * np.float32(1.055) - np.float32(0.055)
    np.copyto(bright, light * np.float32(12.92), where=light <= np.float32(0.0031308))
    return np.float32(255) * bright


class Eye:
    """Where the camera is and where each pixel looks."""

    def __init__(self, shot: Shot) -> None:
        import numpy as np

        tilt, azimuth = math.radians(shot.tilt), math.radians(shot.azimuth)
        lean = np.array(
            [math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)]
        )
        self.place = np.array([*shot.aim, 0.0]) + shot.distance * lean
        ahead = -lean
        up = np.array([math.sin(math.radians(shot.roll)), math.cos(math.radians(shot.roll)), 0.0])
        right = np.cross(ahead, up)
        right /= np.linalg.norm(right)
        self.turn = np.array([right, np.cross(ahead, right), ahead])
        self.focal = shot.film_mm / math.hypot(36, 24) * math.hypot(*shot.size)
        self.shot = shot

    def rays(self, rows: slice) -> Any:
        """Where the pixels of some rows look: three parts, each with a row for every row."""
        import numpy as np

        shot = self.shot
        width, height = shot.size
        u, v = np.meshgrid(
            (np.arange(width, dtype=np.float32) - (width - 1) / 2) / self.focal,
            (np.arange(height, dtype=np.float32)[rows] - (height - 1) / 2) / self.focal,
        )
        x, y = u.copy(), v.copy()
        for _ in range(8):
            r2 = x * x + y * y
            bend = 1 + shot.k1 * r2 + shot.k2 * r2 * r2
            x, y = u / bend, v / bend
        turn = self.turn.astype(np.float32)
        return [x * turn[0, k] + y * turn[1, k] + turn[2, k] for k in range(3)]


class Band:
    """What the eye sees through some rows of the picture."""

    def __init__(self, eye: Eye, rows: slice) -> None:
        self.place = tuple(map(float, eye.place))
        self.rays = eye.rays(rows)

    def meet(self, z: float) -> tuple[Any, Any]:
        """Where each pixel's ray meets the plane at height *z*."""
        x, y, height = self.place
        step = (z - height) / self.rays[2]
        return x + step * self.rays[0], y + step * self.rays[1]


def _mask(shot: Shot, outline: Points, holes: Sequence[tuple[float, float, float]]) -> Any:
    """How much of each cell of the field's texture the board covers; fine cells averaged."""
    import cv2
    import numpy as np
    import shapely

    left, bottom, right, top = mat_page(shot.mat)
    fine = TEXTURE_PX_PER_MM * 2
    size = (round((right - left) * fine), round((top - bottom) * fine))
    mask = np.zeros((size[1], size[0]), np.uint8)

    def place(points: Any) -> Any:
        xy = np.asarray(points, float)
        cells = np.stack([(xy[:, 0] - left) * fine, (top - xy[:, 1]) * fine], 1) - 0.5
        return np.rint(cells * 256).astype(np.int32)

    # The drawing counts every cell that the rim touches, half a cell too many all round.
    inner = shapely.Polygon(outline).buffer(-0.5 / fine, join_style="mitre")
    cv2.fillPoly(mask, [place(inner.exterior.coords[:-1])], 255, shift=8)
    angles = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    for x, y, d in holes:
        reach = d / 2 - 0.5 / fine
        ring = np.stack([x + reach * np.cos(angles), y + reach * np.sin(angles)], 1)
        cv2.fillPoly(mask, [place(ring)], 0, shift=8)
    return cv2.resize(mask, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)


def _texture_at(shot: Shot, texture: Any, xy: tuple[Any, Any]) -> Any:
    import cv2

    left, _, _, top = mat_page(shot.mat)
    x = (xy[0] - left) * TEXTURE_PX_PER_MM - 0.5
    y = (top - xy[1]) * TEXTURE_PX_PER_MM - 0.5
    border = cv2.BORDER_CONSTANT
    fill = (0.1, 0.1, 0.1) if texture.ndim == 3 else (0,)
    return cv2.remap(texture, x, y, cv2.INTER_LINEAR, borderMode=border, borderValue=fill)


def take_photo(shot: Shot) -> bytes:
    """The JPEG of a shot, gathered a band of rows at a time: what fits into the cache is quick."""
    import cv2
    import numpy as np

    eye, rng = Eye(shot), np.random.default_rng(shot.seed)
    things = _things(shot)
    view = np.empty((shot.size[1], shot.size[0], 3), np.float32)
    for first in range(0, shot.size[1], BAND_ROWS):
        rows = slice(first, first + BAND_ROWS)
        view[rows] = _gather(shot, things, Band(eye, rows))
    cv2.GaussianBlur(view, (0, 0), max(shot.blur_px, 0.01), dst=view)
    for first in range(0, shot.size[1], BAND_ROWS):
        rows = slice(first, first + BAND_ROWS)
        coded = _code(view[rows])
        coded += rng.normal(0, shot.noise, coded.shape).astype(np.float32)
        np.clip(np.rint(coded), 0, 255, out=view[rows])
    return _jpeg(view.astype(np.uint8), shot)


@dataclass(frozen=True)
class _Things:
    """What lies there: the board's cover, its shadow, other things, printed strips."""

    board: Any
    cast: Any
    extra: tuple[tuple[Any, Any], ...]
    strips: tuple[tuple[Any, tuple[int, float, float, float]], ...]


def _things(shot: Shot) -> _Things:
    board = _mask(shot, shot.outline, shot.holes)
    return _Things(
        board,
        _cast(shot, board) if shot.shadow else None,
        tuple((_mask(shot, points, ()), _light(colour)) for points, colour in shot.extra),
        tuple((_strip(one), one) for one in (shot.strip, shot.flat_strip) if one),
    )


def _cast(shot: Shot, board: Any) -> Any:
    """The soft shadow of the board on the mat."""
    import cv2
    import numpy as np

    spread = shot.standoff + shot.thickness
    shift = np.array([[1, 0, spread * 5], [0, 1, spread * 4]], np.float32)
    cast = cv2.warpAffine(board, shift, (board.shape[1], board.shape[0]))
    return cv2.GaussianBlur(np.maximum(cast, board), (0, 0), 6 + 4 * spread)


def _gather(shot: Shot, things: _Things, band: Band) -> Any:
    """The light that comes in through a band of rows."""
    import numpy as np

    def share(mask: Any, z: float) -> Any:
        return _texture_at(shot, mask, band.meet(z)).astype(np.float32)[..., None] / 255

    view = _texture_at(shot, _mat_picture(shot.mat), band.meet(0.0))
    if things.cast is not None:
        view = view * (1 - shot.shadow * share(things.cast, 0.0))
    for mask, light in things.extra:
        part = share(mask, 0.5)
        view = view * (1 - part) + light * part
    top = share(things.board, shot.standoff + shot.thickness)
    covered = top
    for z in np.linspace(shot.standoff, shot.standoff + shot.thickness, 9)[:-1]:
        covered = np.maximum(covered, share(things.board, float(z)))
    side = (covered - top) * _light(shot.edge_colour)
    view = view * (1 - covered) + side + top * _light(shot.colour)
    for paper, strip in things.strips:
        view = _lay_strip(view, paper, strip, shot.strip_scale, band)
    return view * np.float32(shot.light)


def _strip(strip: tuple[int, float, float, float]) -> Any:
    """The paper of a height strip, as printed."""
    shapes = [shape for marker in strip_markers(strip[0]) for shape in marker_shapes(marker)]
    return _light(paint_shapes(shapes, box=(0.0, 0.0, *STRIP_MM), px_per_mm=STRIP_PX_PER_MM))


def _lay_strip(view: Any, paper: Any, strip: Any, scale: float, band: Band) -> Any:
    """A printed height strip, along x, on top of everything."""
    import cv2
    import numpy as np

    _, left, bottom, z = strip
    x, y = band.meet(z)
    at_x = (x - left) / scale * STRIP_PX_PER_MM - 0.5
    at_y = (STRIP_MM[1] - (y - bottom) / scale) * STRIP_PX_PER_MM - 0.5
    inside = (at_x > 0) & (at_x < paper.shape[1] - 1) & (at_y > 0) & (at_y < paper.shape[0] - 1)
    if not inside.any():
        return view
    return np.where(inside[..., None], cv2.remap(paper, at_x, at_y, cv2.INTER_LINEAR), view)


def _jpeg(rgb: Any, shot: Shot) -> bytes:
    from PIL import Image

    image, out = Image.fromarray(rgb), BytesIO()
    exif = image.getexif()
    if shot.exif:
        exif.get_ifd(0x8769)[0xA405] = round(shot.film_mm)
    image.save(out, "JPEG", quality=shot.quality, exif=exif, subsampling=shot.subsampling)
    return out.getvalue()


def big(shot: Shot) -> Shot:
    """The same shot with 12 million pixels."""
    return replace(shot, size=(4000, 3000))
