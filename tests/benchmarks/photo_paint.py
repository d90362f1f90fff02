"""
Pictures of a board's face, and how densely its traces truly run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.benchmarks.photo_layout import MASKS, RARE_MASKS, BoardLayout
from tests.benchmarks.photo_raster import cover, dice_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.benchmarks.photo_raster import Array
    from tests.benchmarks.photo_traces import Pad, Trace

# Sub-pixel digits for the drawing calls: 1/16 pixel.
_SHIFT = 4
_PLATING = {"gold": (206, 166, 84), "tin": (188, 190, 190), "copper": (178, 112, 72)}


def paint_face(layout: BoardLayout, *, px_per_mm: float) -> Array:
    """
    The face without parts and without light: height x width x 3 levels, red first.

    The upper left pixel is the upper left of the bounding box.
    """
    import cv2
    import numpy as np

    width, height = layout.size_mm
    size = round(height * px_per_mm), round(width * px_per_mm)
    dice = dice_of(("paint", layout.seed))
    under, over = (np.array(colour, np.float32) for colour in (MASKS | RARE_MASKS)[layout.mask])
    face = np.empty((*size, 3), np.uint8)
    face[:] = under
    copper = paint_copper(layout, px_per_mm=px_per_mm)
    weave = cv2.resize(
        dice.normal(0, 3, (max(2, size[0] // 9), max(2, size[1] // 9))).astype(np.float32),
        (size[1], size[0]),
    )
    for channel in range(3):
        mixed = under[channel] + (over - under)[channel] * (copper / np.float32(255)) + weave
        face[:, :, channel] = np.clip(mixed, 0, 255)
    metal = _PLATING[list(_PLATING)[int(dice.integers(3))]]
    shine = dice.uniform(0.75, 1.12, len(layout.artwork.pads))
    for pad, bright in zip(layout.artwork.pads, shine, strict=True):
        _draw_pad(face, pad, px_per_mm, [min(255.0, bright * level) for level in metal])
    ink = (40, 40, 42) if layout.mask == "white" else (226, 226, 220)
    _draw_traces(face, layout.artwork.silk, px_per_mm, ink)
    return face


def paint_copper(layout: BoardLayout, *, px_per_mm: float) -> Array:
    """Where copper is, 0 to 255."""
    import numpy as np

    width, height = layout.size_mm
    copper = np.zeros((round(height * px_per_mm), round(width * px_per_mm)), np.uint8)
    _draw_traces(copper, layout.artwork.traces, px_per_mm, (255, 255, 255))
    for pad in layout.artwork.pads:
        _draw_pad(copper, pad, px_per_mm, [255, 255, 255])
    return copper


def true_density(layout: BoardLayout, *, window_mm: float = 20.0) -> tuple[Array, Array]:
    """
    Length of trace edges for each mm2 of board in a window round each place, and the board itself.

    Returns:
        Two arrays on a 2 px/mm grid, the upper left of the bounding box first: the density, and the
        share of each pixel that is board.
    """
    import cv2
    import numpy as np

    fine = 20.0
    copper = paint_copper(layout, px_per_mm=fine) > 127
    step = round(fine / 2)
    rows, columns = copper.shape[0] // step, copper.shape[1] // step
    edge = np.zeros(copper.shape, np.float32)
    edge[:, 1:] += copper[:, 1:] != copper[:, :-1]
    edge[1:, :] += copper[1:, :] != copper[:-1, :]

    def binned(picture: Array) -> Array:
        kept = picture[: rows * step, : columns * step].reshape(rows, step, columns, step)
        means: Array = kept.mean(axis=(1, 3))
        return means

    scale = np.array([2.0, -2.0]), np.array([-0.5, 2 * layout.size_mm[1] - 0.5])
    rings = [np.array(ring) * scale[0] + scale[1] for ring in (layout.outer, *_turned(layout))]
    board = cover(rings, (0, 0, columns, rows))
    box = (round(2 * window_mm) | 1,) * 2
    lengths = cv2.boxFilter(binned(edge) * fine * board, -1, box, borderType=cv2.BORDER_CONSTANT)
    share = cv2.boxFilter(board, -1, box, borderType=cv2.BORDER_CONSTANT)
    return lengths / np.maximum(share, 0.05), board


def _turned(layout: BoardLayout) -> list[list[tuple[float, float]]]:
    return [list(reversed(ring)) for ring in layout.openings]


def _draw_traces(
    picture: Array, traces: Sequence[Trace], px_per_mm: float, colour: tuple[int, int, int]
) -> None:
    import cv2
    import numpy as np

    height = picture.shape[0] / px_per_mm
    by_width: dict[int, list[Array]] = {}
    for way, width in traces:
        points = (np.array(way) * (1, -1) + (0, height)) * px_per_mm - 0.5
        fixed = np.round(points * 2**_SHIFT).astype(np.int32)
        by_width.setdefault(max(1, round(width * px_per_mm)), []).append(fixed)
    for thick, ways in by_width.items():
        cv2.polylines(
            picture, ways, False, colour, thickness=thick, lineType=cv2.LINE_AA, shift=_SHIFT
        )


def _draw_pad(picture: Array, pad: Pad, px_per_mm: float, colour: Sequence[float]) -> None:
    import cv2

    x, y, wide, deep, is_round = pad
    scale = px_per_mm * 2**_SHIFT
    middle = x * px_per_mm - 0.5, picture.shape[0] - y * px_per_mm - 0.5
    at = round(middle[0] * 2**_SHIFT), round(middle[1] * 2**_SHIFT)
    if is_round:
        cv2.circle(picture, at, round(wide / 2 * scale), colour, -1, cv2.LINE_AA, _SHIFT)
    else:
        dx, dy = round(wide / 2 * scale), round(deep / 2 * scale)
        corners = (at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy)
        cv2.rectangle(picture, *corners, colour, -1, cv2.LINE_8, _SHIFT)
