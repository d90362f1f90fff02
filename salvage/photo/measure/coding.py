"""
What a photo file's coding does to an edge between two colours.

Most files keep one colour for each four pixels, averaged after coding, and the code is not linear:
dark grows into bright by up to half a pixel. Playing the coding through for the two colours at hand
tells by how much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.pixels import code_light, decode_levels
from salvage.photo.measure.side import Profile, falling

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.sharpness import Blur

    Floats = NDArray[np.float64]

_PLAY_EVERY = 5
_PLAY_STEP_PX, _PLAY_REACH_PX = 0.2, 6.0

# ITU-R BT.601 as JPEG uses it (JFIF 1.02, from memory).
_TO_YCC = (
    (0.299, 0.587, 0.114),
    (-0.168736, -0.331264, 0.5),
    (0.5, -0.418688, -0.081312),
)


@dataclass(frozen=True, slots=True)
class Mixture:
    """The mixture of colours that is 0 on the field beside each point and 1 on the board."""

    middle: Floats
    weights: Floats
    apart: Floats

    def share(self, light: Floats, *, lit: Floats | float = 1.0) -> Floats:
        """
        How much of each sample is board.

        Args:
            light: Samples, a row for each point.
            lit: How bright the field is at each sample, as a share of its level.
        """
        field = (self.weights * self.middle).sum(axis=1)[:, None]
        mixed = (light * self.weights[:, None]).sum(axis=2)
        share: Floats = (mixed - lit * field) / (1 - (lit - 1) * field)
        return share


@dataclass(frozen=True, slots=True)
class Coding:
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


def play_coding(inside: Floats, mixture: Mixture, blur: Blur) -> Coding:
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
    part = Mixture(mixture.middle[pick], mixture.weights[pick], mixture.apart[pick])
    return Coding(part.share(seen), len(inside), sigma)
