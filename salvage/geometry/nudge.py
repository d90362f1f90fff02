"""
From a pose that nearly fits to one that does, by small steps. Lengths are millimetres.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from salvage.geometry.search import Pose, Progress, Quest, poses_of
from salvage.geometry.sheet import Sheet
from salvage.geometry.spot import Prober

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MOST_LOOKED_AT = 4000
_FIRST_STEP_MM, _LAST_STEP_MM = 0.4, 0.01
_NEAR_MM = 1.2
_MOST_STEPS = 40
# Along each axis, and all three at once.
_WAYS = [way for way in product((-1, 0, 1), repeat=3) if sum(map(abs, way)) in (1, 3)]


def best_poses(sheet: Sheet, quest: Quest, progress: Progress, *, most: int) -> list[Pose]:
    """Middles of open cells with the most room for the disc that has least, well apart."""
    import numpy as np

    table = quest.table(sheet, arcs=progress.arcs, block=progress.block)
    pace = max(1, len(progress.cells) // _MOST_LOOKED_AT)
    cells = progress.cells.take(np.arange(0, len(progress.cells), pace))
    jumps = table.dy * sheet.width + table.dx
    looks = jumps.take(cells.turns, axis=1) + cells.places
    found = sheet.values.take(looks, mode="clip").astype(np.int32)
    rooms = (found - table.nominal.take(cells.turns, axis=1)).min(axis=0)
    order = np.argsort(-rooms, kind="stable")
    chosen: list[Pose] = []
    for pose in poses_of(sheet, quest.turns, table, cells.take(order[:200])):
        if all(abs(pose.x_mm - p.x_mm) + abs(pose.y_mm - p.y_mm) > 3 for p in chosen):
            chosen.append(pose)
        if len(chosen) == most:
            break
    return chosen


def nudge(prober: Prober, pose: Pose, *, may_turn: bool) -> Pose:
    """
    The pose after steps that each give the tightest disc more room.

    Args:
        prober: The shape and the ground.
        pose: Where to start.
        may_turn: Whether the angle may change.
    """
    import numpy as np

    probes = prober.outfit.probes
    reach = max(probes.enclosing_mm, 1.0)
    ways = np.array([way for way in _WAYS if may_turn or way[2] == 0], dtype=np.float64)
    ways[:, 2] /= reach
    at = np.array([pose.x_mm, pose.y_mm, pose.angle])
    rooms = _rooms(prober, at[None, :], pose.side, np.arange(len(probes.radii)))[0]
    tight = np.flatnonzero(rooms <= rooms.min() + _NEAR_MM)
    best, step = float(rooms.min()), _FIRST_STEP_MM
    for _ in range(_MOST_STEPS):
        tried = at + step * ways
        least = _rooms(prober, tried, pose.side, tight).min(axis=1)
        if least.max() > best + 1e-4:
            best, at = float(least.max()), tried[int(least.argmax())]
        else:
            step /= 2
        if step < _LAST_STEP_MM or best > 0.05:
            break
    return Pose(float(at[0]), float(at[1]), float(at[2]), pose.side)


def _rooms(
    prober: Prober, poses: NDArray[np.float64], side: int, discs: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Room of each disc at each pose; poses by discs."""
    import numpy as np

    probes = prober.outfit.probes
    xs, ys = probes.xs[discs] * side, probes.ys[discs]
    cosine, sine = np.cos(poses[:, 2:3]), np.sin(poses[:, 2:3])
    px = poses[:, 0:1] + xs * cosine - ys * sine
    py = poses[:, 1:2] + xs * sine + ys * cosine
    least = np.broadcast_to(probes.radii[discs] + prober.outfit.clearance_mm, px.shape)
    return prober.margins(px.ravel(), py.ravel(), least.ravel()).reshape(px.shape)
