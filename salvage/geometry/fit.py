"""
Whether a shape fits on a board's ground, and where.

Three answers. *fit*: at each spot given, the shape with its clearance lies on the ground; this is
decided on vectors, never on a map alone. *no*: proved for every place and every allowed angle,
with a hundredth of a millimetre granted for rounding. *tight*: neither was shown; the shape is
within about half a millimetre of just fitting. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from salvage.geometry.ground import (
    CIRCLE_TOLERANCE_MM,
    COARSE_MM,
    Ground,
    Part,
    as_ground,
)
from salvage.geometry.ledger import Ledger
from salvage.geometry.magnify import magnify
from salvage.geometry.nudge import best_poses, nudge
from salvage.geometry.placing import Placement
from salvage.geometry.probes import Probes, probe_shape
from salvage.geometry.search import Pose, Progress, Quest, first_cells, run
from salvage.geometry.sheet import Sheet
from salvage.geometry.spot import Prober, Spot, outfit_of
from salvage.geometry.survey import nothing_left, open_cells, reach_of, seek, try_near
from salvage.geometry.sweep import Sweep
from salvage.geometry.turning import ALLOWANCE_MM, DiscTable, Turns, first_arcs, turns_of
from salvage.records.region import Region

Verdict = Literal["fit", "no", "tight"]

# Where only a few cells of 8 mm have room for the largest disc, they are gone through one by one,
# else all cells of 2 mm at once. With more than a few of those open, easy fits are looked for
# first; more than the most take longer than a maker waits.
_LARGE_BLOCK, _BLOCK = 16, 4
_FEW_CELLS, _MOST_CELLS = 20_000, 400_000
# Cells this wide set how many angles are looked at for an easy fit.
_LOOK_MM, _MOST_LOOKS = 8.0, 48
_STARTS = 4
# Where a doubt is left, a window is looked at on ever finer maps, if it is no larger than this.
_FINER_PIXELS = (20_000_000, 5_000_000, 3_000_000)


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """
    The answer for one shape and one board.

    Args:
        verdict: ``fit``, ``no`` or ``tight``.
        spots: Where it fits, best first; empty unless it does.
        reason: How that was decided, in a few words.
    """

    verdict: Verdict
    spots: tuple[Spot, ...]
    reason: str


def fit(
    shape: Region,
    area: Ground | Ledger | Sequence[Region],
    *,
    clearance_mm: float = 0.0,
    angles_mdeg: Iterable[int] | None = None,
    mirrored_allowed: bool = False,
) -> FitAnswer:
    """
    Whether the shape fits, with one spot if it does.

    Args:
        shape: What to cut.
        area: Ground; or a ledger, for its usable layer; or regions.
        clearance_mm: Room to leave all round the shape, beyond what the ground allows for.
        angles_mdeg: The only angles allowed, in thousandths of a degree; all if left out.
        mirrored_allowed: Whether the shape may be turned over.

    >>> from salvage.geometry.outline import rectangle
    >>> fit(rectangle(40, 25), [rectangle(50, 30)]).verdict
    'fit'
    >>> fit(rectangle(40, 35), [rectangle(50, 30)]).verdict
    'no'
    """
    probes = probe_shape(shape)
    ground = as_ground(area)
    angles = None if angles_mdeg is None else list(angles_mdeg)
    turns = turns_of(probes, angles_mdeg=angles, mirrored_allowed=mirrored_allowed)
    prober = Prober(ground, outfit_of(probes, clearance_mm))
    reason = why_not(probes, ground.parts, clearance_mm=clearance_mm)
    if reason:
        return FitAnswer("no", (), reason)
    if _fits_by_circle(prober, ground.parts, turns):
        return FitAnswer("fit", tuple(prober.spots), "a circle round it fits")
    if probes.symmetry.is_round:
        return FitAnswer("tight", (), "the largest circle is as large as the shape")
    return _search(prober, turns)


def why_not(probes: Probes, parts: Sequence[Part], *, clearance_mm: float) -> str:
    """Why no part can hold the shape by its plain measures; empty if one may."""
    inscribed = probes.inscribed_mm + clearance_mm - ALLOWANCE_MM - CIRCLE_TOLERANCE_MM
    roomy = [part for part in parts if part.inscribed_mm >= inscribed]
    if not roomy:
        return "no circle as large as the shape's fits"
    # A shape with clearance is at least a strip round its edge larger; the plain area will do.
    grown = 2 * (clearance_mm - ALLOWANCE_MM)
    spare = probes.polygon.length * ALLOWANCE_MM
    if all(part.area_mm2 < probes.polygon.area - spare for part in roomy):
        return "its area is larger than any part of the ground"
    if all(
        part.least_width_mm < probes.least_width_mm + grown
        or part.longest_mm < probes.longest_mm + grown
        for part in roomy
    ):
        return "it is wider or longer than any part of the ground"
    return ""


def _fits_by_circle(prober: Prober, parts: Sequence[Part], turns: Turns) -> bool:
    """Whether the circle round the shape fits into a part's largest circle."""
    side, angle = turns.pose(0, 1)
    needed = prober.outfit.probes.enclosing_mm + prober.outfit.clearance_mm
    return any(
        prober.judge_enclosing(part.x_mm, part.y_mm, angle=angle, side=side)
        for part in parts
        if part.inscribed_mm >= needed
    )


def _search(prober: Prober, turns: Turns) -> FitAnswer:
    probes = prober.outfit.probes
    quest = Quest(probes, turns, prober.outfit.clearance_mm, prober.judge, _MOST_CELLS)
    reach = probes.reach_mm + 1.0
    coarse = prober.ground.sheet(COARSE_MM, reach_mm=reach)
    progress = _surveyed(coarse, quest, prober.ground.parts[0])
    if prober.spots or _settled_by_nudging(coarse, quest, progress, prober, starts=2):
        return FitAnswer("fit", tuple(prober.spots), "checked on the outline")
    if progress.given_up:
        return FitAnswer("tight", (), "too many places nearly fit")
    if not len(progress.cells):
        return FitAnswer("no", (), "ruled out at every place and angle")
    sheet = coarse
    for most_pixels in _FINER_PIXELS:
        finer = magnify(
            prober.ground,
            sheet,
            progress.cells,
            probes=probes,
            clearance_mm=quest.clearance_mm,
            most_pixels=most_pixels,
        )
        if finer is None:
            break
        sheet, progress.cells = finer
        progress.block = 2
        run(sheet, quest, progress)
        if prober.spots or _settled_by_nudging(sheet, quest, progress, prober, starts=_STARTS):
            return FitAnswer("fit", tuple(prober.spots), "checked on the outline")
        if progress.given_up:
            break
        if not len(progress.cells):
            return FitAnswer("no", (), "ruled out at every place and angle")
    return FitAnswer("tight", (), "within about half a millimetre of fitting")


def _surveyed(sheet: Sheet, quest: Quest, largest: Part) -> Progress:
    """What is left after a search of the sheet; nothing as soon as the shape was found to fit."""
    looks = first_arcs(quest.probes, quest.turns, cell_mm=_LOOK_MM)
    look = quest.table(sheet, arcs=min(looks, _MOST_LOOKS), block=_BLOCK)
    if try_near(sheet, quest, look, [(largest.x_mm, largest.y_mm)]):
        return nothing_left(look)
    arcs = first_arcs(quest.probes, quest.turns, cell_mm=_LARGE_BLOCK * sheet.step_mm)
    cells = first_cells(sheet, quest, arcs=arcs, block=_LARGE_BLOCK)
    if len(cells) < _FEW_CELLS:
        progress = Progress(cells, arcs, _LARGE_BLOCK, set(), set())
        run(sheet, quest, progress)
        return progress
    arcs = first_arcs(quest.probes, quest.turns, cell_mm=_BLOCK * sheet.step_mm)
    table = quest.table(sheet, arcs=arcs, block=_BLOCK)
    progress = open_cells(_swept(sheet, table), quest, table, most=_FEW_CELLS)
    if progress.given_up:
        if seek(_swept(sheet, look), quest, look):
            return nothing_left(look)
        progress = open_cells(_swept(sheet, table), quest, table, most=_MOST_CELLS)
    run(sheet, quest, progress)
    return progress


def _swept(sheet: Sheet, table: DiscTable) -> Sweep:
    return Sweep(sheet, block=_BLOCK, reach=reach_of(table))


def _settled_by_nudging(
    sheet: Sheet, quest: Quest, progress: Progress, prober: Prober, *, starts: int
) -> bool:
    """Whether a pose that nearly fits can be nudged until it does."""
    if not len(progress.cells):
        return False
    poses: list[Pose] = best_poses(sheet, quest, progress, most=starts)
    free = not quest.turns.fixed
    return any(prober.judge(0, [nudge(prober, pose, may_turn=free)]) for pose in poses)


def spot_of(answer: FitAnswer) -> Placement | None:
    """Where to put the shape, if it fits."""
    return answer.spots[0].placement if answer.spots else None
