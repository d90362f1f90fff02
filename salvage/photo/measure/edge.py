"""
Where along a line across it an edge lies, to a fraction of a pixel.

Three things would shift it. A shadow beside the board: so colours are mixed in the one way that
tells board from field whatever the shadow does. The board's side, seen where it faces the camera:
so the level just inside the edge counts, not the board's face. And files that keep a colour for
each four pixels: so that shift is computed from the two colours and taken off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.coding import Mixture, play_coding
from salvage.photo.measure.sharpness import Blur, sample_light
from salvage.photo.measure.side import LEAST_SIDE_PX, Profile, edges_beside_side

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEP_PX = 0.5
_CLEAR = 3.5
_SOFTEST = 0.3
_SHADE = 0.03
_CARRIED = 0.04
_STRONG_SHADE, _STRANGE = 0.08, 0.04
_SURELY, _SURELY_SHARE, _FAR_ROUND = 4.0, 0.4, 20
_FLOOR = (0.004, 0.002)
_NEIGHBOURS = 4
WIDE_SIDE_PX = 4.0
"""A side as wide as this has a level of its own; a narrower one is blurred into the face."""

_FEW = 30

# The shadow at a board's foot: over how many pixels and neighbours its fall is taken, how steep it
# may be for each pixel, how dark it may get, and how deep it is taken to be where a side is seen.
_FOOT_PX, _FOOT_ROUND, _MOST_FALL, _DARKEST_FOOT = 3.0, 10, 0.12, 0.4
_FOOT_SHADE, _SURELY_APART = 0.25, 4.0


@dataclass(frozen=True, slots=True)
class Window:
    """
    Where to sample along the line, in pixels from the expected edge, outwards positive.

    Args:
        inside: From where to where the board's level is taken.
        outside: From where to where the field's level is taken.
        calm: Over how many neighbours on either side the board's level is evened out, so that a
            track or letter at the edge is not taken for the board.
        most_move: An edge farther than this from the expected place is not believed.
    """

    inside: tuple[float, float]
    outside: tuple[float, float]
    calm: int
    most_move: float


@dataclass(frozen=True, slots=True)
class Edges:
    """
    Edges across many lines.

    Args:
        offsets: How far outwards of the expected place each lies, in pixels.
        clear: Where board and field are told apart with certainty.
        sigma_px: Their blur, as the standard deviation of a bell.
    """

    offsets: Floats
    clear: NDArray[np.bool_]
    sigma_px: float


def find_edges(
    rgb: NDArray[np.uint8],
    pixels: Floats,
    across: Floats,
    *,
    window: Window,
    blur: Blur,
    sides_px: Floats | None = None,
) -> Edges:
    """
    Edges near expected places, which follow one another round a closed rim.

    Args:
        rgb: The photo.
        pixels: Expected places.
        across: Directions out of the board, of length 1.
        window: Where to sample.
        blur: How the photo softens edges.
        sides_px: How wide the board's side is seen at each point, where that is known.
    """
    import numpy as np

    sides = np.zeros(len(pixels)) if sides_px is None else sides_px
    first = window.inside[0] - min(float(sides.max()), WIDE_SIDE_PX)
    steps = np.arange(first, window.outside[1] + 1e-9, STEP_PX)
    light = _light_across(rgb, pixels, across, steps)
    inside = _calm(_inside_level(light, steps, window, sides), window.calm)
    mixture = _tell_apart(inside, light[:, steps >= window.outside[0]], sides)
    lit = _foot_shade(light, steps, mixture.middle, window)
    # Where the side is seen, its own light would be taken for a change of the field's.
    lit[sides > LEAST_SIDE_PX] = 1.0
    share = mixture.share(light, lit=lit)
    offsets, found, slope = _crossing(share, steps, 0.5)
    clear = found & (mixture.apart > _CLEAR) & (np.abs(offsets) <= window.most_move)
    if clear.any():
        # A glint fades out softly; a board's edge does not.
        clear &= slope > _SOFTEST * float(np.median(slope[clear]))
    sigma = _sigma(slope, clear, sides)
    profile = Profile(share, steps, sigma)
    if blur.colour_px:
        coding = play_coding(inside, mixture, blur)
        offsets = offsets - coding.shifts()
        profile = coding.undo(profile, offsets)
    narrow = np.where(sides < WIDE_SIDE_PX, sides, 0.0)
    offsets = edges_beside_side(profile, offsets, narrow)
    # Where the side is narrow, the fit and not the crossing tells the edge.
    fitted = found & (mixture.apart > _CLEAR) & (np.abs(offsets) <= window.most_move)
    clear = np.where(narrow > LEAST_SIDE_PX, fitted, clear)
    return Edges(_mend(offsets, clear), clear, sigma)


def rough_edges(
    rgb: NDArray[np.uint8],
    pixels: Floats,
    across: Floats,
    *,
    reach: float,
    outside: tuple[float, float],
) -> Floats:
    """
    Where something that is surely not field begins, seen from outside, in pixels outwards.

    Args:
        rgb: The photo.
        pixels: Expected places.
        across: Directions out of the board, of length 1.
        reach: How far inwards to look.
        outside: From where to where the field's level is taken.
    """
    import numpy as np

    steps = np.arange(-reach, outside[1] + 1e-9, STEP_PX)
    light = _light_across(rgb, pixels, across, steps)
    middle, noise = _field_noise(light[:, steps >= outside[0]])
    noise += _shadow(middle, _STRONG_SHADE)
    bright = np.maximum(middle.max(axis=1), 0.02)
    noise += (_STRANGE * bright[:, None, None]) ** 2 * np.eye(3)
    away = light - middle[:, None]
    strange = np.sqrt((np.matmul(away, np.linalg.inv(noise)) * away).sum(axis=2))
    usual = _calm(strange[:, steps <= outside[0] - reach].max(axis=1)[:, None], _FAR_ROUND)
    limit = np.minimum(_SURELY, _SURELY_SHARE * usual)
    offsets, found, _ = _crossing(strange / np.maximum(limit, 0.5), steps, 1.0)
    return _mend(offsets, found)


def _light_across(rgb: NDArray[np.uint8], pixels: Floats, across: Floats, steps: Floats) -> Floats:
    """Light along a line across the rim at each of its points."""
    x, y = (pixels[:, k : k + 1] + across[:, k : k + 1] * steps for k in range(2))
    return sample_light(rgb, x, y)


def _sigma(slope: Floats, clear: NDArray[np.bool_], sides: Floats) -> float:
    """Blur of the edges, told where the board's side is hidden if there are such places."""
    import numpy as np

    chosen = clear & (sides <= LEAST_SIDE_PX)
    if chosen.sum() < _FEW:
        chosen = clear
    if not chosen.any():
        return 9.0
    return 1 / (math.sqrt(2 * math.pi) * max(1e-3, float(np.median(slope[chosen]))))


def _inside_level(light: Floats, steps: Floats, window: Window, sides: Floats) -> Floats:
    """The level of the board's face behind its narrow side, or of the side where that is wide."""
    import numpy as np

    wide = sides >= WIDE_SIDE_PX
    behind = np.where(wide, 0.0, sides)
    near = np.where(wide, np.maximum(-0.35 * sides, window.inside[1]), window.inside[1] - behind)
    far = np.where(wide, np.maximum(-0.8 * sides, window.inside[0]), window.inside[0] - behind)
    chosen = (steps <= near[:, None] + 0.01) & (steps >= far[:, None] - STEP_PX)
    level: Floats = (light * chosen[..., None]).sum(axis=1) / chosen.sum(axis=1)[:, None]
    return level


def _calm(level: Floats, neighbours: int) -> Floats:
    """Each point's level as the median of its neighbours' round the rim."""
    import numpy as np

    half = min(neighbours, (len(level) - 1) // 2)
    if half < 1:
        return level
    closed = np.concatenate([level[-half:], level, level[:half]])
    windows = np.lib.stride_tricks.sliding_window_view(closed, 2 * half + 1, axis=0)
    calm: Floats = np.median(windows, axis=2)
    return calm


def _field_noise(outer: Floats) -> tuple[Floats, Floats]:
    """
    The field's level beside each point and how it varies there, as 3 x 3 for the colours.

    Args:
        outer: Samples of the field, one row for each point.
    """
    import numpy as np

    reach = range(-_NEIGHBOURS, _NEIGHBOURS + 1)
    around = np.concatenate([np.roll(outer, k, axis=0) for k in reach], axis=1)
    middle: Floats = around.mean(axis=1)
    spread = around - middle[:, None]
    noise: Floats = np.matmul(spread.transpose(0, 2, 1), spread) / around.shape[1]
    bright = np.maximum(middle.max(axis=1), 0.02)
    floor = (_FLOOR[0] * bright + _FLOOR[1] * np.sqrt(bright)) ** 2
    noise += floor[:, None, None] * np.eye(3)
    return middle, noise


def _shadow(middle: Floats, share: float) -> Floats:
    """How colours vary, as 3 x 3, where a shadow changes the field's brightness by a share."""
    varied: Floats = share**2 * middle[:, :, None] * middle[:, None, :]
    return varied


def _tell_apart(inside: Floats, outer: Floats, sides: Floats) -> Mixture:
    """
    Fisher's discriminant, with the field's own variation, shadows among it, as the noise.

    ``apart`` is by how many standard deviations board and field differ. Shadows are deep at the
    foot of a side that is seen: there hue alone tells them apart, unless the board is too dark or
    too like the field for that.
    """
    import numpy as np

    middle, noise = _field_noise(outer)
    contrast = inside - middle
    # Coding carries a share of the strongest colour's step into the others.
    carried = (_CARRIED * np.abs(contrast).max(axis=1)) ** 2
    noise += carried[:, None, None] * np.eye(3)
    plain = _discriminant(middle, noise + _shadow(middle, _SHADE), contrast)
    beside = sides > LEAST_SIDE_PX
    if not beside.any():
        return plain
    deep = _discriminant(middle, noise + _shadow(middle, _FOOT_SHADE), contrast)
    beside = beside & (deep.apart > _SURELY_APART)
    weights = np.where(beside[:, None], deep.weights, plain.weights)
    return Mixture(middle, weights, np.where(beside, deep.apart, plain.apart))


def _discriminant(middle: Floats, noise: Floats, contrast: Floats) -> Mixture:
    import numpy as np

    weights = np.linalg.solve(noise, contrast[..., None])[..., 0]
    full = np.maximum((weights * contrast).sum(axis=1), 1e-12)
    return Mixture(middle, weights / full[:, None], np.sqrt(full))


def _foot_shade(light: Floats, steps: Floats, field: Floats, window: Window) -> Floats:
    """
    How bright the field is at each sample, as a share of its level farther out.

    Little light comes to the foot of a board, so its own edge lies in a soft shadow that reaches
    farther out than the edge's blur. Nearer than can be seen, it darkens on as it began.
    """
    import numpy as np

    start = window.outside[0]
    chosen = (steps >= start) & (steps <= start + _FOOT_PX)
    if np.count_nonzero(chosen) < 2:  # too little field is seen to tell how it falls off
        return np.ones(light.shape[:2])
    bright = np.matmul(light[:, chosen], field[..., None])[..., 0]
    bright = _round_mean(bright / np.maximum((field**2).sum(axis=1), 1e-9)[:, None], _FOOT_ROUND)
    away = steps[chosen] - steps[chosen].mean()
    fall = np.clip(bright @ away / (away**2).sum(), -_MOST_FALL, _MOST_FALL)
    reach = np.clip(steps, 0.0, start) - steps[chosen].mean()
    shade = bright.mean(axis=1)[:, None] + fall[:, None] * reach
    return np.where(steps < start, np.clip(shade, _DARKEST_FOOT, 1 / _DARKEST_FOOT), 1.0)


def _round_mean(values: Floats, neighbours: int) -> Floats:
    """Each row as the mean of its neighbours' round the rim."""
    import numpy as np

    half = min(neighbours, (len(values) - 1) // 2)
    if half < 1:
        return values
    closed = np.concatenate([values[-half:], values, values[:half]])
    total = np.cumsum(np.concatenate([np.zeros((1, values.shape[1])), closed]), axis=0)
    mean: Floats = (total[2 * half + 1 :] - total[: -2 * half - 1]) / (2 * half + 1)
    return mean


def _crossing(
    share: Floats, steps: Floats, half: float
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """The outermost fall through *half*, and how steep it is."""
    import numpy as np

    high = share >= half
    falls = high[:, :-1] & ~high[:, 1:]
    at = falls.shape[1] - 1 - falls[:, ::-1].argmax(axis=1)
    found = np.asarray(falls.any(axis=1), bool)
    rows = np.arange(len(share))
    before, after = share[rows, at], share[rows, at + 1]
    drop = np.maximum(before - after, 1e-9)
    offsets = steps[at] + STEP_PX * np.clip((before - half) / drop, 0, 1)
    return np.where(found, offsets, 0.0), found, drop / STEP_PX


def _mend(offsets: Floats, clear: NDArray[np.bool_]) -> Floats:
    """Offsets with doubtful ones replaced from their neighbours."""
    import numpy as np

    if not clear.any() or clear.all():
        return offsets
    count = len(offsets)
    known = np.flatnonzero(clear)
    around = np.concatenate([known - count, known, known + count])
    return np.interp(np.arange(count), around, np.tile(offsets[known], 3))
