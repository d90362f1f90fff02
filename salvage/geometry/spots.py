"""
The best spots for a shape on a board.

Spots are looked for at every millimetre and at the angles asked for; each is checked on the
outline. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from salvage.geometry.fit import fit
from salvage.geometry.ground import COARSE_MM, Ground, as_ground
from salvage.geometry.ledger import Ledger
from salvage.geometry.preference import Preference, Snug
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Cells, Pose, Quest, pose_of_row, rows_of, sift
from salvage.geometry.sheet import Sheet
from salvage.geometry.spot import Outfit, Prober, Spot, outfit_of, placement_of
from salvage.geometry.survey import reach_of, roomy_cells
from salvage.geometry.sweep import Sweep
from salvage.geometry.turning import DiscTable, Turns, turns_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Every 15 degrees: a compromise between looking and waiting; a fit at another angle only is still
# found by salvage.geometry.fit.
STEPS_MDEG = tuple(range(0, 360_000, 15_000))

_MOST_RATED = 20_000
_MOST_CHECKED = 400


def find_spots(
    shape: Region,
    area: Ground | Ledger | Sequence[Region],
    *,
    clearance_mm: float = 0.0,
    angles_mdeg: Iterable[int] | None = None,
    mirrored_allowed: bool = False,
    most: int = 10,
    prefer: Preference | None = None,
) -> tuple[Spot, ...]:
    """
    Spots where the shape fits, best first; none only if it fits nowhere that was looked at.

    Args:
        shape: What to cut.
        area: Ground; or a ledger, for its usable layer; or regions.
        clearance_mm: Room to leave all round the shape.
        angles_mdeg: Angles to look at, in thousandths of a degree; every 15 degrees if left out,
            and any other if the shape fits at none of those.
        mirrored_allowed: Whether the shape may be turned over.
        most: How many spots at most. Spots closer together than the radius of the largest circle in
            the shape are one.
        prefer: What makes a spot good; close to edges if left out.

    >>> from salvage.geometry.outline import rectangle
    >>> spots = find_spots(rectangle(20, 10), [rectangle(60, 40)], most=4)
    >>> len(spots), spots[0].score >= spots[3].score
    (4, True)
    """
    ground, probes = as_ground(area), probe_shape(shape)
    outfit = outfit_of(probes, clearance_mm)
    angles = STEPS_MDEG if angles_mdeg is None else tuple(angles_mdeg)
    turns = turns_of(probes, angles_mdeg=angles, mirrored_allowed=mirrored_allowed)
    if not ground.parts or not angles:
        return ()
    poses = _feasible(ground, outfit, turns)
    spots = tuple(_best(ground, outfit, poses, most=most, prefer=prefer or Snug()))
    if spots:
        return spots
    answer = fit(
        shape,
        ground,
        clearance_mm=clearance_mm,
        angles_mdeg=angles_mdeg and angles,
        mirrored_allowed=mirrored_allowed,
    )
    return answer.spots[:most]


def _feasible(ground: Ground, outfit: Outfit, turns: Turns) -> NDArray[np.float64]:
    """Poses at every millimetre where all discs seem to have room, thinned if there are many."""
    import numpy as np

    sheet = ground.sheet(COARSE_MM, reach_mm=outfit.probes.reach_mm + 1.0)
    table, cells = _roomy_cells(sheet, outfit, turns)
    pace = -(-len(cells) // _MOST_RATED) or 1
    return rows_of(sheet, turns, table, cells.take(np.arange(0, len(cells), pace)))


def _roomy_cells(sheet: Sheet, outfit: Outfit, turns: Turns) -> tuple[DiscTable, Cells]:
    """Cells of a millimetre at the fixed angles in whose middles all discs seem to have room."""
    import numpy as np

    quest = Quest(outfit.probes, turns, outfit.clearance_mm, lambda board, poses: False, 0)
    table = quest.table(sheet, arcs=len(turns.fixed), block=2)
    cells = roomy_cells(Sweep(sheet, block=2, reach=reach_of(table)), table)
    pace = -(-len(cells) // (2 * _MOST_RATED)) or 1
    some = cells.take(np.arange(0, len(cells), pace))
    return table, sift(sheet, table, some, nominal_plus=0)


def _best(
    ground: Ground,
    outfit: Outfit,
    poses: NDArray[np.float64],
    *,
    most: int,
    prefer: Preference,
) -> Iterator[Spot]:
    """The best spots that hold on the outline, well apart."""
    import numpy as np

    if not len(poses):
        return
    scores = prefer.rate(ground, outfit, poses)
    prober = Prober(ground, outfit)
    kept: list[Pose] = []
    checked = 0
    for number in np.argsort(-scores, kind="stable").tolist():
        pose = pose_of_row(poses[number])
        if len(kept) == most or checked == _MOST_CHECKED or np.isneginf(scores[number]):
            return
        if any(_distance(pose, other) < outfit.probes.inscribed_mm for other in kept):
            continue
        checked += 1
        placement = placement_of(outfit.probes, pose)
        if prober.holds(placement):
            kept.append(pose)
            yield Spot(outfit.probes.shape, placement, float(scores[number]))


def _distance(one: Pose, other: Pose) -> float:
    return abs(complex(one.x_mm - other.x_mm, one.y_mm - other.y_mm))
