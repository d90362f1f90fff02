"""
How many pieces of one shape go on one board, at least.

The piece is put at the lowest place where it fits, then the leftmost, again and again. That is
a quick lower bound, not the best layout. Lengths are millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

from salvage.geometry.distance import draw_distance
from salvage.geometry.fit import fit, spot_of
from salvage.geometry.ground import COARSE_MM, Ground, as_ground
from salvage.geometry.ledger import Ledger
from salvage.geometry.overlay import grow, subtract
from salvage.geometry.placing import Placement
from salvage.geometry.probes import Probes, probe_shape
from salvage.geometry.search import Cells, pose_of_row, rows_of, sift
from salvage.geometry.sheet import Sheet, lay_out
from salvage.geometry.spot import Outfit, Prober, Spot, move_to, outfit_of, placement_of
from salvage.geometry.spots import STEPS_MDEG, roomy_cells
from salvage.geometry.turning import DiscTable, Turns, turns_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

_MOST_TRIES = 200
# A third of a millimetre more than the map asks for: then nearly every place holds on the outline,
# and sliding closes the gap again.
_SPARE_UNITS = 30
_SLIDES_UM = (800, 200, 50)


def count_fits(
    shape: Region,
    area: Ground | Ledger | Sequence[Region],
    *,
    kerf_mm: float,
    clearance_mm: float = 0.0,
    mirrored_allowed: bool = False,
    most: int = 200,
) -> tuple[Spot, ...]:
    """
    Spots for one shape, as many as were found to go on the board together.

    Args:
        shape: What to cut.
        area: Ground; or a ledger, for its usable layer; or regions.
        kerf_mm: Width the tool takes round each piece, kept free of the next.
        clearance_mm: Room to leave all round the shape besides.
        mirrored_allowed: Whether the shape may be turned over.
        most: Stop after so many.

    >>> from salvage.geometry.outline import rectangle
    >>> len(count_fits(rectangle(20, 20), [rectangle(67, 45)], kerf_mm=2))
    6
    """
    ground = as_ground(area)
    if not ground.parts:
        return ()
    outfit = outfit_of(probe_shape(shape), clearance_mm)
    spots = _fill(ground, outfit, kerf_mm=kerf_mm, mirrored_allowed=mirrored_allowed)
    return tuple(islice(spots, most))


def _fill(
    ground: Ground, outfit: Outfit, *, kerf_mm: float, mirrored_allowed: bool
) -> Iterator[Spot]:
    probes, shape = outfit.probes, outfit.probes.shape
    turns = turns_of(probes, angles_mdeg=STEPS_MDEG, mirrored_allowed=mirrored_allowed)
    lost = grow(outfit.grown, kerf_mm)
    drawn, frame = ground.distance_map(COARSE_MM)
    sheet = lay_out([drawn], [frame], reach_mm=probes.reach_mm + 1.0)
    table, cells = roomy_cells(sheet, outfit, turns)
    cells = sift(sheet, table, cells, nominal_plus=_SPARE_UNITS)
    cells = cells.take(_lowest_first(probes, turns, cells, rows_of(sheet, turns, table, cells)))
    while not ground.area.is_empty:
        poses = rows_of(sheet, turns, table, cells.take(_first(cells)))
        placement = _first_that_holds(Prober(ground, outfit), poses)
        if placement is None:
            # Between the steps there may be room yet.
            clearance = outfit.clearance_mm
            last = fit(shape, ground, clearance_mm=clearance, mirrored_allowed=mirrored_allowed)
            placement = spot_of(last)
        if placement is None:
            return
        yield Spot(shape, placement)
        claim = move_to(lost, placement)
        ground = Ground(subtract(ground.area, claim))
        if not ground.area.is_empty:
            sheet = _drawn_again(ground, sheet, outfit)
            cells = _still_roomy(sheet, table, cells, near=_around(claim, outfit))


def _around(claim: BaseGeometry, outfit: Outfit) -> tuple[float, float, float, float]:
    """The box outside which a disc of the shape cannot meet the claim."""
    reach = outfit.probes.reach_mm + outfit.probes.inscribed_mm + outfit.clearance_mm + 1.0
    left, bottom, right, top = claim.bounds
    return left - reach, bottom - reach, right + reach, top + reach


def _still_roomy(
    sheet: Sheet, table: DiscTable, cells: Cells, *, near: tuple[float, float, float, float]
) -> Cells:
    """The cells that have room yet; only those in the box are looked at again."""
    import numpy as np

    frame = sheet.frames[0]
    row, column = np.divmod(cells.places - sheet.starts[0], sheet.width)
    x_mm = frame.left_mm + column * frame.step_mm
    y_mm = frame.bottom_mm + row * frame.step_mm
    left, bottom, right, top = near
    touched = (x_mm > left) & (x_mm < right) & (y_mm > bottom) & (y_mm < top)
    kept = sift(sheet, table, cells.take(np.flatnonzero(touched)), nominal_plus=_SPARE_UNITS)
    turns = table.dx.shape[1]
    marks = np.zeros(len(sheet.values) * turns, dtype=np.bool_)
    marks[kept.places * turns + kept.turns] = True
    keep = ~touched | marks[cells.places * turns + cells.turns]
    return cells.take(np.flatnonzero(keep))


def _first(cells: Cells) -> NDArray[np.int64]:
    import numpy as np

    return np.arange(min(len(cells), _MOST_TRIES))


def _first_that_holds(prober: Prober, poses: NDArray[np.float64]) -> Placement | None:
    for row in poses:
        placement = placement_of(prober.outfit.probes, pose_of_row(row))
        if prober.holds(placement):
            return _slid(prober, placement)
    return None


def _slid(prober: Prober, placement: Placement) -> Placement:
    """The placement moved down and left as far as it goes in small steps."""
    for step_um in _SLIDES_UM:
        moved = True
        while moved:
            moved = False
            for dx, dy in ((0, -step_um), (-step_um, 0)):
                tried = replace(placement, x_um=placement.x_um + dx, y_um=placement.y_um + dy)
                if prober.holds(tried):
                    placement, moved = tried, True
    return placement


def _drawn_again(ground: Ground, sheet: Sheet, outfit: Outfit) -> Sheet:
    """The map of what is left, in the frame it had, so that the cells keep their numbers."""
    frame = sheet.frames[0]
    drawn = draw_distance(ground.area, frame)
    return lay_out([drawn], [frame], reach_mm=outfit.probes.reach_mm + 1.0)


def _lowest_first(
    probes: Probes, turns: Turns, cells: Cells, poses: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Order of the cells by how high the placed shape reaches, then by how far to the right."""
    import numpy as np
    import shapely

    corners = shapely.get_coordinates(probes.polygon.convex_hull) - probes.centre_mm
    tops, rights = [], []
    for number in range(turns.count(0)):
        side, angle = turns.pose(number, 0)
        xs, ys = side * corners[:, 0], corners[:, 1]
        rights.append(float((xs * math.cos(angle) - ys * math.sin(angle)).max()))
        tops.append(float((xs * math.sin(angle) + ys * math.cos(angle)).max()))
    top = poses[:, 1] + np.array(tops)[cells.turns]
    right = poses[:, 0] + np.array(rights)[cells.turns]
    order: NDArray[np.int64] = np.lexsort((right, np.round(top, 1)))
    return order
