"""
How many pieces of one shape go on one board, at least.

The board is filled from a few corners with pieces side by side
(:mod:`salvage.geometry.pack_fill`), the best of these is kept, and what is left is asked once more
for room between the steps. That is a quick lower bound, not the best layout. Lengths are
millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice

from salvage.geometry.fit import fit, spot_of
from salvage.geometry.ground import Ground, as_ground
from salvage.geometry.ledger import Ledger
from salvage.geometry.outline import to_regions
from salvage.geometry.overlay import grow, subtract
from salvage.geometry.pack_fill import Corner, Fill
from salvage.geometry.pack_site import Cutouts, Site
from salvage.geometry.placing import Placement
from salvage.geometry.probes import probe_shape
from salvage.geometry.spot import Outfit, Prober, Spot, move_to, outfit_of
from salvage.records.region import Region
from salvage.units import UM_PER_MM

_STEP_MM = 1.0
# What widening a shape and narrowing the ground for the grid take together.
_BESIDE_UM = 250
# Every 45 degrees: with more angles counting takes longer than a maker waits.
_ANGLES_MDEG = tuple(range(0, 360_000, 45_000))
# From two corners that face each other, each along both edges.
_CORNERS = (
    Corner(),
    Corner(along_rows=True),
    Corner(from_right=True, from_top=True),
    Corner(from_right=True, from_top=True, along_rows=True),
)
# Room for one more is looked for between the steps so many times at most.
_MOST_MORE = 3


def count_fits(
    shape: Region,
    area: Ground | Ledger | Sequence[Region],
    *,
    kerf_mm: float,
    clearance_mm: float = 0.0,
    angles_mdeg: Iterable[int] | None = None,
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
        angles_mdeg: The only angles allowed, in thousandths of a degree; all if left out.
        mirrored_allowed: Whether the shape may be turned over.
        most: Stop after so many.

    >>> from salvage.geometry.outline import rectangle
    >>> len(count_fits(rectangle(20, 20), [rectangle(67, 45)], kerf_mm=2))
    6
    """
    ground = as_ground(area)
    angles = None if angles_mdeg is None else tuple(angles_mdeg)
    if not ground.parts or angles == ():
        return ()
    outfit = outfit_of(probe_shape(shape), clearance_mm)
    laid = _laid_out(
        ground,
        outfit,
        kerf_mm=kerf_mm,
        angles_mdeg=angles or _ANGLES_MDEG,
        mirrored_allowed=mirrored_allowed,
        most=most,
    )
    found = _sound(ground, outfit, laid, kerf_mm=kerf_mm, angles=angles, mirrored=mirrored_allowed)
    return tuple(Spot(shape, placement) for placement in islice(found, most))


def _laid_out(
    ground: Ground,
    outfit: Outfit,
    *,
    kerf_mm: float,
    angles_mdeg: Sequence[int],
    mirrored_allowed: bool,
    most: int,
) -> list[Placement]:
    """The layout with the most pieces of those that start in one of the corners."""
    plain = to_regions(outfit.padded)[:1]
    turned_over = _turned_over(outfit, angles_mdeg) if mirrored_allowed else []
    cutouts = Cutouts(
        [*plain, *turned_over], gap_mm=kerf_mm, angles_mdeg=angles_mdeg, step_mm=_STEP_MM
    )
    if turned_over:
        # Both sides are asked for together; the one that goes in deeper is taken.
        cutouts.of_shape[0] += cutouts.of_shape[1]
    # The left and lower edges lie just off the grid, so that pieces stand right beside them.
    left, bottom = (round(edge * UM_PER_MM) + _BESIDE_UM for edge in ground.area.bounds[:2])
    away = Placement(-left, -bottom)
    site = Site(to_regions(move_to(ground.area, away)), cutouts)
    best: list[Placement] = []
    for corner in _CORNERS:
        filled = islice(_filled(Fill(site, corner, [0]), cutouts), most)
        best = max(best, list(filled), key=len)
        if len(best) == most:
            break
    return [replace(one, x_um=one.x_um + left, y_um=one.y_um + bottom) for one in best]


def _turned_over(outfit: Outfit, angles_mdeg: Sequence[int]) -> list[Region]:
    """The mirror image, where it is another shape or may not be turned to fall on the first."""
    if outfit.probes.symmetry.mirrored and angles_mdeg is _ANGLES_MDEG:
        return []
    return list(to_regions(move_to(outfit.padded, Placement(0, 0, 0, True)))[:1])


def _filled(fill: Fill, cutouts: Cutouts) -> Iterator[Placement]:
    """One piece after another until none goes in."""
    step_um = round(cutouts.step_mm * UM_PER_MM)
    while fill.put(0):
        _, spot = fill.spots[-1]
        is_turned_over = cutouts.kinds[spot.pose] == 1
        yield Placement(
            spot.x * step_um, spot.y * step_um, cutouts.angles[spot.pose], is_turned_over
        )


def _sound(
    ground: Ground,
    outfit: Outfit,
    laid: Iterable[Placement],
    *,
    kerf_mm: float,
    angles: Sequence[int] | None,
    mirrored: bool,
) -> Iterator[Placement]:
    """The placements that hold on what the earlier ones leave, and a few more between them."""
    lost = grow(outfit.grown, kerf_mm)
    for placement in laid:
        if Prober(ground, outfit).holds(placement):
            yield placement
            ground = Ground(subtract(ground.area, move_to(lost, placement)))
    for _ in range(_MOST_MORE):
        more = _one_more(ground, outfit, angles=angles, mirrored=mirrored)
        if more is None:
            return
        yield more
        ground = Ground(subtract(ground.area, move_to(lost, more)))


def _one_more(
    ground: Ground, outfit: Outfit, *, angles: Sequence[int] | None, mirrored: bool
) -> Placement | None:
    if ground.area.is_empty:
        return None
    answer = fit(
        outfit.probes.shape,
        ground,
        clearance_mm=outfit.clearance_mm,
        angles_mdeg=angles,
        mirrored_allowed=mirrored,
    )
    return spot_of(answer)
