"""
Straight edges and sharp corners where the data say so; everything else stays as it was measured.

A saw or router leaves straight edges, mostly at right angles. Fitting a line to hundreds of points
brings it ten times nearer than each of them. Notches, curves and rounded corners stay in between.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SIMPLIFY_MM = 0.03
"""A curve of straight steps may leave the measured one by this much; a third of what we promise."""

_SPLIT_MM = 0.1
_MOST_TAKEN = 0.3
_SPECK_MM, _LOOK_AHEAD, _ENOUGH_AHEAD = 0.6, 14, 4
_LEAST_RUN_MM = 3.5
_RIM_MM = 0.6
_LEAST_CORNER_SINE = 0.2
_ANGLE_NOISE_MM = 0.08


@dataclass(frozen=True, slots=True)
class _Run:
    """
    A straight stretch of a closed line.

    Args:
        first: Index of its first point.
        count: How many points it has; it may run over the end of the list.
        middle: A point on the line.
        angle: Its direction, radians.
        length: Its length, mm.
        rms: How far its points stray from it.
    """

    first: int
    count: int
    middle: tuple[float, float]
    angle: float
    length: float
    rms: float

    @property
    def along(self) -> tuple[float, float]:
        """Direction of length 1."""
        return math.cos(self.angle), math.sin(self.angle)

    def foot(self, point: Floats) -> Floats:
        """The nearest point of the line."""
        import numpy as np

        along, middle = np.array(self.along), np.array(self.middle)
        nearest: Floats = middle + along * ((point - middle) @ along)
        return nearest


@dataclass(frozen=True, slots=True)
class Straightened:
    """
    A closed line with its straight stretches made straight.

    Args:
        ring: Its points.
        angle: Direction of most of its edges, radians between -45 and 45 degrees; 0 if it has none.
        straight_share: How much of its length is straight.
    """

    ring: Floats
    angle: float
    straight_share: float


def straighten(line: Floats, *, tolerance_mm: float) -> Straightened:
    """
    A closed line whose straight stretches are lines, and whose sharp corners are where they meet.

    Args:
        line: Its points, evenly spaced.
        tolerance_mm: How far a point may lie off a straight edge by noise alone.
    """
    import numpy as np

    runs = _find_runs(line, tolerance_mm)
    whole = float(np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1).sum())
    if not runs:
        return Straightened(_simplify(line), 0.0, 0.0)
    angle = _main_angle(runs)
    runs = [_square(run, angle) for run in runs]
    points = _join(line, runs, tolerance_mm)
    share = sum(run.length for run in runs) / whole
    return Straightened(_simplify(points), angle, share)


def _find_runs(line: Floats, tolerance: float) -> list[_Run]:
    """Straight runs in order; the longest take what belongs to them from the shorter ones."""
    import numpy as np

    count = len(line)
    soft = _soften(line)
    splits = _splits(soft, max(_SPLIT_MM, 2 * tolerance))
    seeds = [
        run
        for start, end in zip(splits, [*splits[1:], splits[0] + count], strict=True)
        if (run := _fit(line, start, end, tolerance))
    ]
    taken = np.zeros(count, bool)
    runs = []
    for seed in sorted(seeds, key=lambda run: -run.length):
        own = np.arange(seed.first, seed.first + seed.count) % count
        if taken[own].mean() > _MOST_TAKEN:
            continue
        start, end = _grow(soft, seed, taken, 3 * max(tolerance / 2, seed.rms))
        run = _fit(line, start, end, tolerance)
        if run:
            runs.append(run)
            taken[np.arange(start, end) % count] = True
    return sorted(runs, key=lambda run: run.first)


def _soften(line: Floats) -> Floats:
    """The line with single points evened out, for finding where it bends."""
    import numpy as np

    bell = np.array([1.0, 4.0, 7.0, 8.0, 7.0, 4.0, 1.0])
    padded = np.concatenate([line[-3:], line, line[:3]])
    return np.stack([np.convolve(padded[:, k], bell / bell.sum(), "valid") for k in range(2)], 1)


def _grow(line: Floats, run: _Run, taken: NDArray[np.bool_], tolerance: float) -> tuple[int, int]:
    """First point, and the one after the last, of the stretch that keeps to the run's line."""
    import numpy as np

    count = len(line)
    (ax, ay), (mx, my) = run.along, run.middle
    off = np.abs((line[:, 0] - mx) * ay - (line[:, 1] - my) * ax)
    good = (off <= tolerance) & ~taken
    # A letter or speck at the edge pulls points in a little; a notch is deeper.
    near = (off <= _SPECK_MM) & ~taken
    start, end = run.first, run.first + run.count
    ahead = np.arange(_LOOK_AHEAD)
    while end - start < count - 8 and _goes_on(good, near, (end + ahead) % count):
        end += 1
    while end - start < count - 8 and _goes_on(good, near, (start - 1 - ahead) % count):
        start -= 1
    while end - start > 8 and not good[(end - 1) % count]:
        end -= 1
    while end - start > 8 and not good[start % count]:
        start += 1
    return start, end


def _goes_on(
    good: NDArray[np.bool_], near: NDArray[np.bool_], ahead: NDArray[np.signedinteger]
) -> bool:
    """Whether enough of the next points keep to the line, and those before them nearly do."""
    import numpy as np

    there = np.flatnonzero(good[ahead])
    if len(there) < _ENOUGH_AHEAD:
        return False
    return bool(near[ahead[: there[_ENOUGH_AHEAD - 1]]].all())


def _splits(line: Floats, tolerance: float) -> list[int]:
    """Indices where a closed line bends, by Douglas and Peucker's rule."""
    import numpy as np

    # Two points that are far apart are surely bends; between them the rule finds the others.
    start = int(np.linalg.norm(line - line.mean(axis=0), axis=1).argmax())
    turned = np.roll(line, -start, axis=0)
    middle = int(np.linalg.norm(turned - turned[0], axis=1).argmax())
    closed = np.concatenate([turned, turned[:1]])
    found, todo = {0, middle}, [(0, middle), (middle, len(line))]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        chord = closed[b] - closed[a]
        rest = closed[a + 1 : b] - closed[a]
        length = max(1e-9, float(np.linalg.norm(chord)))
        away = np.abs(rest[:, 0] * chord[1] - rest[:, 1] * chord[0]) / length
        worst = int(away.argmax())
        if away[worst] > tolerance:
            found.add(a + 1 + worst)
            todo += [(a, a + 1 + worst), (a + 1 + worst, b)]
    return sorted((place + start) % len(line) for place in found)


def _fit(line: Floats, start: int, end: int, tolerance: float) -> _Run | None:
    import numpy as np

    count = len(line)
    chord = line[(end - 1) % count] - line[start % count]
    length = float(np.linalg.norm(chord))
    if length < _LEAST_RUN_MM:
        return None
    # The ends are drawn towards the corners by blur.
    trim = max(1, round(_RIM_MM / length * (end - start)))
    picked = np.arange(start + trim, end - trim) % count
    points = line[picked]
    if len(points) < 8:
        return None
    for _ in range(3):
        middle = points.mean(axis=0)
        _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
        away = np.abs((points - middle) @ axes[1])
        rms = float(np.sqrt(np.mean(away**2)))
        kept = away <= max(2.5 * rms, 1e-6)
        if kept.all() or kept.sum() < 8:
            break
        points = points[kept]
    if rms > tolerance:
        return None
    along = axes[0] * np.sign(axes[0] @ chord)
    angle = math.atan2(float(along[1]), float(along[0]))
    x, y = (float(value) for value in middle)
    return _Run((start + trim) % count, len(picked), (x, y), angle, length, rms)


def _main_angle(runs: list[_Run]) -> float:
    """The direction most of the length runs along, or at right angles to."""
    best = max(runs, key=lambda run: run.length).angle
    total, weight = 0.0, 0.0
    for run in runs:
        off = _off_square(run.angle, best)
        if abs(off) <= math.radians(0.5) + 2 * _ANGLE_NOISE_MM / run.length:
            total += off * run.length**3
            weight += run.length**3
    return _off_square(best + total / weight, 0.0)


def _off_square(angle: float, other: float) -> float:
    """By how much two directions miss a multiple of a right angle, -45 to 45 degrees."""
    return math.remainder(angle - other, math.pi / 2)


def _square(run: _Run, angle: float) -> _Run:
    """The run turned to the main direction, if its noise allows."""
    off = _off_square(run.angle, angle)
    if abs(off) > 2 * _ANGLE_NOISE_MM / run.length:
        return run
    return replace(run, angle=run.angle - off)


def _join(line: Floats, runs: list[_Run], tolerance: float) -> Floats:
    """The runs with corners where they meet, and the measured points between those that do not."""
    import numpy as np

    count = len(line)
    points: list[Floats] = []
    for run, after in zip(runs, [*runs[1:], runs[0]], strict=True):
        last = run.first + run.count
        gap = np.arange(last, last + (after.first - last) % count) % count
        between = line[gap]
        corner = _meeting(run, after)
        if corner is not None and len(between) and _is_sharp(corner, between, tolerance):
            points.append(corner[None])
            continue
        ends = [run.foot(line[(last - 1) % count])[None]]
        points += [*ends, between, after.foot(line[after.first])[None]]
    return np.concatenate(points)


def _meeting(run: _Run, after: _Run) -> Floats | None:
    import numpy as np

    (ax, ay), (bx, by) = run.along, after.along
    sine = ax * by - ay * bx
    if abs(sine) < _LEAST_CORNER_SINE:
        return None
    dx, dy = after.middle[0] - run.middle[0], after.middle[1] - run.middle[1]
    step = (dx * by - dy * bx) / sine
    return np.array([run.middle[0] + step * ax, run.middle[1] + step * ay])


def _is_sharp(corner: Floats, between: Floats, tolerance: float) -> bool:
    """Whether the measured points go round the corner as closely as blur lets them."""
    import numpy as np

    nearest = float(np.linalg.norm(between - corner, axis=1).min())
    # A gap longer than both trimmed ends is a curve or a notch, not a corner.
    return nearest <= 0.12 + 3 * tolerance and len(between) < 6 * _RIM_MM / 0.2


def _simplify(points: Floats) -> Floats:
    import numpy as np
    import shapely

    ring = shapely.LinearRing(points).simplify(SIMPLIFY_MM, preserve_topology=True)
    return np.asarray(ring.coords, float)[:-1]
