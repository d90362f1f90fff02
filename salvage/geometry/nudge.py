"""
From a pose that nearly fits to one that does, by small steps. Lengths are millimetres.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from salvage.geometry.edges import Nearby
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
# Edges farther from a disc's first place than this cannot come to bind it.
_NEAR_EDGES_MM = 3.0
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
    xs, ys = _centres(prober, at[None, :], pose.side, np.arange(len(probes.radii)))
    rooms = prober.margins(xs[0], ys[0], probes.radii + prober.outfit.clearance_mm)
    tight = np.flatnonzero(rooms <= rooms.min() + _NEAR_MM)
    near = Nearby(prober.ground.edges, xs[0][tight], ys[0][tight], within_mm=_NEAR_EDGES_MM)
    least = probes.radii[tight] + prober.outfit.clearance_mm
    best, step = float(rooms.min()), _FIRST_STEP_MM
    for _ in range(_MOST_STEPS):
        tried = at + step * ways
        xs, ys = _centres(prober, tried, pose.side, tight)
        rooms = (prober.signs(xs, ys) * near.distances(xs, ys) - least).min(axis=1)
        if rooms.max() > best + 1e-4:
            best, at = float(rooms.max()), tried[int(rooms.argmax())]
        else:
            step /= 2
        if step < _LAST_STEP_MM or best > 0.05:
            break
    return Pose(float(at[0]), float(at[1]), float(at[2]), pose.side)


def _centres(
    prober: Prober, poses: NDArray[np.float64], side: int, discs: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the discs' centres lie at each pose; poses by discs."""
    import numpy as np

    probes = prober.outfit.probes
    xs, ys = probes.xs[discs] * side, probes.ys[discs]
    cosine, sine = np.cos(poses[:, 2:3]), np.sin(poses[:, 2:3])
    px = poses[:, 0:1] + xs * cosine - ys * sine
    py = poses[:, 1:2] + xs * sine + ys * cosine
    return px, py
