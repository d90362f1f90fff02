"""
The edge where the board's own side is seen beside it, often brighter or darker than its face.

How wide the side is seen follows from the heights; how bright it is does not. Both the edge and
that brightness are fitted to the light across the edge, the brightness evened out along the rim.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_SIDE_PX = 0.05
"""A side narrower than this moves nothing."""

_STEPS = 5
_EVEN_OUT = 10
_NOISE, _SD_EXCESS = 0.05, 1.5
_MOST_MOVE_PX = 1.5
_BETTER = 0.97
_EXCESS = (-0.95, 3.0)
"""The side may be duller than the face, but never of the field's own colour."""


@dataclass(frozen=True, slots=True)
class Profile:
    """
    Light across a rim as the share of board in it: 0 on the field, 1 on the board's face.

    Args:
        share: One row for each point of the rim.
        steps: Where the samples lie, in pixels outwards.
        sigma_px: Blur of the edge.
    """

    share: Floats
    steps: Floats
    sigma_px: float


def edges_beside_side(profile: Profile, offsets: Floats, sides_px: Floats) -> Floats:
    """
    Edges where the side is seen, and the given offsets elsewhere.

    Args:
        profile: Light across the rim.
        offsets: Where each edge was found without thinking of the side, in pixels.
        sides_px: How wide the side is seen at each point.
    """
    import numpy as np

    facing = np.flatnonzero(sides_px > LEAST_SIDE_PX)
    if not facing.size:
        return offsets
    part = Profile(profile.share[facing], profile.steps, profile.sigma_px)
    wide = sides_px[facing]
    edge, excess, known, miss = _fit(part, offsets[facing], wide)
    # A dull side before a bright face is no half of it: try also from where the field ended.
    again = _fit(part, np.maximum(offsets[facing], 0.0), wide)
    better = again[3] < _BETTER * miss
    edge, excess, known = (
        np.where(better, second, first)
        for first, second in zip((edge, excess, known), again[:3], strict=True)
    )
    excess = _even_out(excess, np.maximum(known, 1e-6))
    for _ in range(_STEPS):
        rest, by_edge, _ = _compare(part, edge, excess, wide)
        push = (by_edge * rest).sum(1) / np.maximum((by_edge**2).sum(1), 1e-3)
        edge = edge + np.clip(push, -0.5, 0.5)
    moved = offsets.copy()
    most = _MOST_MOVE_PX + wide
    moved[facing] += np.clip(edge - offsets[facing], -most, most)
    return moved


def _fit(part: Profile, start: Floats, wide: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Edge, excess of the side's light, what is known of that, and what is left of the samples."""
    import numpy as np

    edge, excess, known = start.copy(), np.zeros(start.size), np.zeros(start.size)
    prior = (_NOISE / _SD_EXCESS) ** 2
    for _ in range(_STEPS):
        rest, by_edge, by_excess = _compare(part, edge, excess, wide)
        a, b, c = (by_edge**2).sum(1), (by_edge * by_excess).sum(1), (by_excess**2).sum(1)
        known = c - b * b / np.maximum(a, 1e-9)
        c = c + prior
        p, q = (by_edge * rest).sum(1), (by_excess * rest).sum(1) - excess * prior
        least = np.maximum(a * c - b * b, 1e-9)
        edge = edge + np.clip((c * p - b * q) / least, -0.5, 0.5)
        excess = np.clip(excess + (a * q - b * p) / least, *_EXCESS)
    sigma = part.sigma_px
    away = (part.steps[None] - edge[:, None]) / sigma
    model = (1 + excess[:, None]) * falling(away)
    model -= excess[:, None] * falling(away + wide[:, None] / sigma)
    # The same samples for every start: all outside, and inside as far as the side may reach.
    counted = part.steps[None] > -(wide[:, None] + 2.5 * sigma)
    miss: Floats = (((part.share - model) * counted) ** 2).sum(axis=1)
    return edge, excess, known, miss


def _compare(
    profile: Profile, edge: Floats, excess: Floats, wide: Floats
) -> tuple[Floats, Floats, Floats]:
    """What the model leaves of the samples near the edge, and its slopes by edge and excess."""

    sigma = profile.sigma_px
    a = (profile.steps[None] - edge[:, None]) / sigma
    b = a + wide[:, None] / sigma
    q = excess[:, None]
    face, behind = falling(a), falling(b)
    near = ((a < 2.5) & (b > -1.75)).astype(float)
    rest = (profile.share - (1 + q) * face + q * behind) * near
    by_edge = ((1 + q) * _bell(a) - q * _bell(b)) / sigma * near
    return rest, by_edge, (face - behind) * near


def _even_out(values: Floats, weights: Floats) -> Floats:
    import numpy as np

    half = min(_EVEN_OUT, (len(values) - 1) // 2)
    flat = np.ones(2 * half + 1)
    if not half:
        return values
    top = np.convolve(np.pad(values * weights, half, mode="reflect"), flat, "valid")
    return top / np.convolve(np.pad(weights, half, mode="reflect"), flat, "valid")


def _bell(a: Floats) -> Floats:
    import numpy as np

    return np.exp(-0.5 * a * a) / math.sqrt(2 * math.pi)


def falling(a: Floats) -> Floats:
    """
    An ideal edge, 1 far left of 0 and 0 far right: the normal law's upper tail.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.17, error below 1e-7 (from
    memory).
    """
    import numpy as np

    t = 1 / (1 + 0.2316419 * np.abs(a))
    series = t * (
        0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429)))
    )
    tail = _bell(a) * series
    return np.where(a >= 0, tail, 1 - tail)
