"""
The angles to try, and where a shape's discs come to lie at each of them.

Angles are cut into equal arcs. At the middle of an arc a disc's centre is off from its place at any
other angle of the arc by at most the chord; :class:`DiscTable` allows for that, for the size of
a cell of places, and for the pixel that is looked at. Lengths are millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.distance import UNITS_PER_MM
from salvage.geometry.probes import Probes
from salvage.geometry.symmetry import SYMMETRY_MM

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# What a proof grants beyond the geometry: two micrometres that count as rounding among conflicts,
# one of the grid, one of growing, five of a symmetry, and the last digits of the arithmetic.
ALLOWANCE_MM = SYMMETRY_MM + 0.005


@dataclass(frozen=True, slots=True)
class Turns:
    """
    Angles and sides to try.

    Args:
        fixed: The only angles allowed, in radians; empty for all.
        sides: 1 for the shape as drawn, -1 for turned over.
        period: All angles up to this, in radians, stand for every one.
    """

    fixed: tuple[float, ...]
    sides: tuple[int, ...]
    period: float = 2 * math.pi

    def count(self, arcs: int) -> int:
        """Numbers in use: angles of one side times sides."""
        return len(self.sides) * (len(self.fixed) or arcs)

    def pose(self, number: int, arcs: int) -> tuple[int, float]:
        """Side and angle that a number stands for."""
        side, index = divmod(number, len(self.fixed) or arcs)
        angle = self.fixed[index] if self.fixed else (index + 0.5) * self.period / arcs
        return self.sides[side], angle


def turns_of(probes: Probes, *, angles_mdeg: Sequence[int] | None, mirrored_allowed: bool) -> Turns:
    """The turns that need trying: symmetric ones are left out."""
    symmetry = probes.symmetry
    sides = (1, -1) if mirrored_allowed and not symmetry.mirrored else (1,)
    if angles_mdeg is None:
        return Turns((), sides, 2 * math.pi / symmetry.order)
    turn_mdeg = 360_000 / symmetry.order
    # A mirror image turned by a fixed angle is not one of the fixed angles again.
    sides = (1, -1) if mirrored_allowed else (1,)
    distinct = {round((angle % turn_mdeg) % turn_mdeg, 3): angle for angle in angles_mdeg}
    return Turns(tuple(math.radians(a / 1000) for a in sorted(distinct.values())), sides)


@dataclass(frozen=True, slots=True)
class DiscTable:
    """
    For each disc and turn: where to look, and the least that must be found there.

    Args:
        arcs: Arcs that the period is cut into.
        block: Pixels across a cell.
        dx: Columns from the cell's lower left pixel to the one to look at; discs by turns.
        dy: Rows likewise.
        proof: If less than this is found, no place and angle of the cell has room.
        nominal: What the middle of the cell itself would need.
    """

    arcs: int
    block: int
    dx: NDArray[np.int64]
    dy: NDArray[np.int64]
    proof: NDArray[np.int16]
    nominal: NDArray[np.int16]


def first_arcs(probes: Probes, turns: Turns, *, cell_mm: float) -> int:
    """Arcs for cells of a width, so that turning moves the outermost disc as far as the cell."""
    if turns.fixed:
        return len(turns.fixed)
    half_diagonal = cell_mm / math.sqrt(2)
    return max(1, math.ceil(turns.period * probes.reach_mm / (2 * half_diagonal)))


def disc_table(
    probes: Probes, turns: Turns, *, arcs: int, block: int, step_mm: float, clearance_mm: float
) -> DiscTable:
    """
    The table for cells of *block* by *block* pixels.

    Args:
        probes: The shape's discs.
        turns: Angles and sides.
        arcs: Arcs that the period is cut into.
        block: Pixels across a cell, 1 or an even number.
        step_mm: Width of a pixel.
        clearance_mm: Room round the shape, added to every disc.
    """
    import numpy as np

    poses = [turns.pose(number, arcs) for number in range(turns.count(arcs))]
    side = np.array([pose[0] for pose in poses])[None, :]
    angle = np.array([pose[1] for pose in poses])[None, :]
    xs, ys = probes.xs[:, None] * side, probes.ys[:, None]
    cosine, sine = np.cos(angle), np.sin(angle)
    # The middle of a cell is a corner of pixels, or for a single pixel its own middle.
    across = (xs * cosine - ys * sine) / step_mm + block / 2
    upward = (xs * sine + ys * cosine) / step_mm + block / 2
    dx, dy = np.floor(across), np.floor(upward)
    beside = np.hypot(across - dx - 0.5, upward - dy - 0.5) * step_mm
    turned = 0.0 if turns.fixed else 2 * math.sin(min(turns.period / (4 * arcs), math.pi / 2))
    slack = beside + block * step_mm / math.sqrt(2) + turned * np.hypot(xs, ys) + ALLOWANCE_MM
    need = probes.radii[:, None] + clearance_mm + np.zeros_like(across)
    return DiscTable(
        arcs=arcs,
        block=block,
        dx=dx.astype(np.int64),
        dy=dy.astype(np.int64),
        proof=_units(np.floor((need - slack) * UNITS_PER_MM)),
        nominal=_units(np.ceil(need * UNITS_PER_MM)),
    )


def _units(values: NDArray[np.float64]) -> NDArray[np.int16]:
    import numpy as np

    return np.clip(values, -32768, 32767).astype(np.int16)
