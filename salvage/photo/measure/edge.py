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

from salvage.photo.measure.pixels import code_light, decode_levels, linear_levels
from salvage.photo.measure.side import LEAST_SIDE_PX, Profile, edges_beside_side, falling

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEP_PX = 0.5
_CLEAR = 3.5
_SOFTEST = 0.3
_SHADE = 0.03
_CARRIED = 0.04
_FLOOR = (0.004, 0.002)
_NEIGHBOURS = 4
WIDE_SIDE_PX = 4.0
"""A side as wide as this has a level of its own; a narrower one is blurred into the face."""

_FEW = 30
_PLAY_EVERY = 5
_PLAY_STEP_PX, _PLAY_REACH_PX = 0.2, 6.0

# ITU-R BT.601 as JPEG uses it (JFIF 1.02, from memory).
_TO_YCC = (
    (0.299, 0.587, 0.114),
    (-0.168736, -0.331264, 0.5),
    (0.5, -0.418688, -0.081312),
)


@dataclass(frozen=True, slots=True)
class Blur:
    """
    How a photo softens edges, as standard deviations in pixels.

    Args:
        light_px: Of brightness: the lens, motion, focus.
        colour_px: What the file adds for colour.
    """

    light_px: float
    colour_px: float


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
        half: Share of board at which the edge is taken to be; a half at last, less while the
            board's level is that of its face and its duller side may be seen in between.
    """

    inside: tuple[float, float]
    outside: tuple[float, float]
    calm: int
    most_move: float
    half: float = 0.5


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
    light = sample_light(
        rgb, pixels[:, :1] + across[:, :1] * steps, pixels[:, 1:] + across[:, 1:] * steps
    )
    inside = _calm(_inside_level(light, steps, window, sides), window.calm)
    mixture = _tell_apart(inside, light[:, steps >= window.outside[0]])
    share = mixture.share(light)
    offsets, found, slope = _crossing(share, steps, window.half)
    clear = found & (mixture.apart > _CLEAR) & (np.abs(offsets) <= window.most_move)
    if clear.any():
        # A glint fades out softly; a board's edge does not.
        clear &= slope > _SOFTEST * float(np.median(slope[clear]))
    sigma = _sigma(slope, clear, sides)
    profile = Profile(share, steps, sigma)
    if blur.colour_px:
        coding = _play_coding(inside, mixture, blur)
        offsets = offsets - coding.shifts()
        profile = coding.undo(profile, offsets)
    narrow = np.where(sides < WIDE_SIDE_PX, sides, 0.0)
    offsets = edges_beside_side(profile, offsets, narrow)
    return Edges(_mend(offsets, clear), clear, sigma)


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


def sample_light(rgb: NDArray[np.uint8], x: Floats, y: Floats) -> Floats:
    """Linear light between pixel centres, three colours in the last axis."""
    import numpy as np

    levels = linear_levels()
    height, width = rgb.shape[:2]
    x, y = np.clip(x, 0, width - 1.001), np.clip(y, 0, height - 1.001)
    left, upper = x.astype(np.intp), y.astype(np.intp)
    right_share, lower_share = (x - left)[..., None], (y - upper)[..., None]
    rows = [
        levels[rgb[upper + k, left]] * (1 - right_share)
        + levels[rgb[upper + k, left + 1]] * right_share
        for k in range(2)
    ]
    result: Floats = rows[0] * (1 - lower_share) + rows[1] * lower_share
    return result


@dataclass(frozen=True, slots=True)
class _Mixture:
    """The mixture of colours that is 0 on the field beside each point and 1 on the board."""

    middle: Floats
    weights: Floats
    apart: Floats

    def share(self, light: Floats) -> Floats:
        """How much of each sample is board."""
        share: Floats = ((light - self.middle[:, None]) * self.weights[:, None]).sum(axis=2)
        return share


def _tell_apart(inside: Floats, outer: Floats) -> _Mixture:
    """
    Fisher's discriminant, with the field's own variation, shadows among it, as the noise.

    ``apart`` is by how many standard deviations board and field differ.
    """
    import numpy as np

    samples = outer.shape[1]
    reach = range(-_NEIGHBOURS, _NEIGHBOURS + 1)
    around = np.concatenate([np.roll(outer, k, axis=0) for k in reach], axis=1)
    middle = around.mean(axis=1)
    spread = around - middle[:, None]
    noise = np.matmul(spread.transpose(0, 2, 1), spread) / (samples * len(reach))
    bright = np.maximum(middle.max(axis=1), 0.02)
    floor = (_FLOOR[0] * bright + _FLOOR[1] * np.sqrt(bright)) ** 2
    contrast = inside - middle
    # Coding carries a share of the strongest colour's step into the others.
    floor += (_CARRIED * np.abs(contrast).max(axis=1)) ** 2
    noise += floor[:, None, None] * np.eye(3)
    # Brightness may change a little by a shadow even where none is seen among the samples.
    noise += _SHADE**2 * middle[:, :, None] * middle[:, None, :]
    weights = np.linalg.solve(noise, contrast[..., None])[..., 0]
    full = np.maximum((weights * contrast).sum(axis=1), 1e-12)
    return _Mixture(middle, weights / full[:, None], np.sqrt(full))


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


@dataclass(frozen=True, slots=True)
class _Coding:
    """
    What an edge at 0 looks like after the file's coding, for every few points of a rim.

    Args:
        share: Rows of samples, each :data:`_PLAY_STEP_PX` apart.
        points: How many points the rim has.
        sigma_px: Blur of the edge before the coding.
    """

    share: Floats
    points: int
    sigma_px: float

    def shifts(self) -> Floats:
        """How far outwards each edge seems to lie."""
        import numpy as np

        count = self.share.shape[1]
        at = (self.share >= 0.5).cumprod(axis=1).sum(axis=1).clip(1, count - 1)
        rows = np.arange(len(self.share))
        before, after = self.share[rows, at - 1], self.share[rows, at]
        part = np.clip((before - 0.5) / np.maximum(before - after, 1e-9), 0, 1)
        shift = (at - 1 + part) * _PLAY_STEP_PX - _PLAY_REACH_PX
        shifts: Floats = np.clip(shift, -1.5, 1.5)[self._rows()]
        return shifts

    def undo(self, profile: Profile, offsets: Floats) -> Profile:
        """The profile as it was before the coding, edges being at *offsets*."""
        import numpy as np

        away = profile.steps[None] - offsets[:, None]
        place = np.clip((away + _PLAY_REACH_PX) / _PLAY_STEP_PX, 0, self.share.shape[1] - 1.001)
        left = place.astype(np.intp)
        rows, part = self._rows()[:, None], place - left
        coded = self.share[rows, left] * (1 - part) + self.share[rows, left + 1] * part
        share = profile.share - coded + falling(away / self.sigma_px)
        return Profile(share, profile.steps, self.sigma_px)

    def _rows(self) -> NDArray[np.intp]:
        import numpy as np

        return np.minimum(np.arange(self.points) // _PLAY_EVERY, len(self.share) - 1)


def _play_coding(inside: Floats, mixture: _Mixture, blur: Blur) -> _Coding:
    """
    An edge between the two colours of each place, carried through the file's coding.

    Colour is averaged after it was coded, and the code is not linear, so dark grows into bright.
    """
    import numpy as np

    pick = np.arange(0, len(inside), _PLAY_EVERY)
    board, field = inside[pick, None], mixture.middle[pick, None]
    steps = np.arange(-_PLAY_REACH_PX, _PLAY_REACH_PX + 1e-9, _PLAY_STEP_PX)
    # Reading between pixels softens by about 0.2 px² more.
    sigma = math.sqrt(blur.light_px**2 + 0.2)
    rise = falling(steps / sigma)
    coded = code_light(field + (board - field) * rise[None, :, None])
    to_ycc = np.array(_TO_YCC)
    ycc = coded @ to_ycc.T
    half = int(3 * blur.colour_px / _PLAY_STEP_PX) + 1
    bell = np.exp(-0.5 * (np.arange(-half, half + 1) * _PLAY_STEP_PX / blur.colour_px) ** 2)
    bell /= bell.sum()
    padded = np.pad(ycc[..., 1:], ((0, 0), (half, half), (0, 0)), mode="edge")
    count = len(steps)
    ycc[..., 1:] = sum(bell[k] * padded[:, k : k + count] for k in range(2 * half + 1))
    seen = decode_levels(ycc @ np.linalg.inv(to_ycc).T)
    part = _Mixture(mixture.middle[pick], mixture.weights[pick], mixture.apart[pick])
    return _Coding(part.share(seen), len(inside), sigma)


def _mend(offsets: Floats, clear: NDArray[np.bool_]) -> Floats:
    """Offsets with doubtful ones replaced from their neighbours."""
    import numpy as np

    if not clear.any() or clear.all():
        return offsets
    count = len(offsets)
    known = np.flatnonzero(clear)
    around = np.concatenate([known - count, known, known + count])
    return np.interp(np.arange(count), around, np.tile(offsets[known], 3))


def marker_blur(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """
    Blur of the black markers' outer edges, as the standard deviation of a bell, in pixels.

    Args:
        rgb: The photo.
        corners_px: Four corners of each marker, in order.
    """
    import numpy as np

    start, end = corners_px, np.roll(corners_px, -1, axis=1)
    along = (end - start).reshape(-1, 2)
    length = np.linalg.norm(along, axis=1)
    cell = float(np.median(length)) / 8
    across = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    steps = np.arange(-0.9 * cell, 0.9 * cell + 1e-9, 0.25)
    places = [(start + (end - start) * k).reshape(-1, 2) for k in (0.3, 0.5, 0.7)]
    middles, ways = np.concatenate(places), np.tile(across, (3, 1))
    light = sample_light(
        rgb, middles[:, :1] + ways[:, :1] * steps, middles[:, 1:] + ways[:, 1:] * steps
    )[..., 1]
    low, high = light[:, :2].mean(axis=1), light[:, -2:].mean(axis=1)
    rise = np.abs(np.diff(light, axis=1)).max(axis=1) / 0.25
    slope = float(np.median(rise / np.maximum(np.abs(high - low), 0.02)))
    # Sampling between pixels and over the pixel itself softens too: about 1/6 + 1/12 px².
    return math.sqrt(max(0.05, 1 / (2 * math.pi * max(slope, 1e-3) ** 2) - 0.15))
