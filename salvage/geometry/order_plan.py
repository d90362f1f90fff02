"""
An order of several shapes over a shelf of boards: which boards to cut, and where each piece lies.

The first plan is largest first, on the first board that takes it, smallest cut board first and
fresh boards last. A better one is sought while there is time; a plan is better if it leaves less
out, then if it takes fewer fresh boards, then fewer boards, then if it spares the large ones. So
no plan ever takes more fresh boards than the first one. Lengths are millimetres.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.geometry.order_yard import (
    RIGHT_ANGLES,
    Draft,
    OrderLine,
    Search,
    ShelfBoard,
    Yard,
    first_fit,
)
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import grow, polygon_parts, subtract, unite
from salvage.geometry.pack import Demand, PackBoard, PackedPiece, Packing, report
from salvage.geometry.pack_site import Cutouts, Turning
from salvage.geometry.patience import Patience, Watch

if TYPE_CHECKING:
    import numpy as np
    from shapely import MultiPolygon

__all__ = ["OrderLine", "OrderPlan", "Remnant", "ShelfBoard", "Unmet", "plan_order"]

# The first plan looks at a coarse grid and at right angles if they are allowed, else at a few of
# the angles, to be there within a second.
_FIRST_STEP_MM, _FIRST_DETAIL_MM = 2.0, 0.25
_STEP_MM, _DETAIL_MM = 1.0, 0.15
_CIRCLE_MM = 0.05


@dataclass(frozen=True, slots=True)
class Unmet:
    """
    What the plan cannot give.

    Args:
        name: The order line.
        quantity: How many are missing.
        reason: Why, as half a sentence.
    """

    name: str
    quantity: int
    reason: str


@dataclass(frozen=True, slots=True)
class Remnant:
    """
    What is left of a board that the plan cuts.

    Args:
        code: The board.
        area_mm2: Ground left, a gap away from the pieces.
        inscribed_mm: Diameter of the largest circle in it.
    """

    code: str
    area_mm2: float
    inscribed_mm: float


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """
    A plan, checked on the true outlines.

    Args:
        layouts: One for each board that is cut; those that were locked come first, unchanged.
        unmet: What is missing, and why.
        fresh_boards: Boards cut for the first time, locked ones left out.
        boards_touched: Boards to handle, locked ones left out.
        remnants: What is left of the boards cut, locked ones left out.
        is_first: Whether it is the first plan, no better one having been found.
    """

    layouts: tuple[Packing, ...]
    unmet: tuple[Unmet, ...]
    fresh_boards: int
    boards_touched: int
    remnants: tuple[Remnant, ...]
    is_first: bool


def plan_order(
    lines: Sequence[OrderLine],
    boards: Sequence[ShelfBoard],
    *,
    gap_mm: float,
    patience: Patience,
    locked: Sequence[Packing] = (),
    excluded: Mapping[str, str] | None = None,
    seed: int = 0,
) -> OrderPlan:
    """
    A plan for an order.

    Args:
        lines: What is wanted; names differ.
        boards: The shelf; codes differ.
        gap_mm: Least room between two pieces (:func:`salvage.geometry.pack.gap_of_rules`).
        patience: How long to search; with no time the first plan is given.
        locked: Layouts that stay as they are: their pieces count, their boards take no more.
        excluded: Boards not to be cut, each with the reason.
        seed: For chance; the same seed and rounds give the same plan.

    Raises:
        BadValue: If a name or code comes twice, a quantity is below 1 or the gap is negative.
    """
    import numpy as np

    _check(lines, boards, gap_mm)
    out = dict(excluded or {})
    watch = patience.start()
    fixed = Counter(piece.name for packing in locked for piece in packing.pieces)
    wanted = _less(lines, fixed)
    held = {packing.code for packing in locked}
    free = sorted(
        (board for board in boards if board.code not in out and board.code not in held),
        key=lambda board: (board.fresh, board.area_mm2, board.code),
    )
    draft, yard = _first(wanted, free, gap_mm)
    watch.tell(_placed(draft))
    is_first = True
    if watch.next_round() and wanted and free:
        fine = _yard(wanted, free, gap_mm, _STEP_MM, _DETAIL_MM)
        better = _fine_fit(fine, watch)
        best = _improve(fine, better, watch, np.random.default_rng(seed))
        if fine.rank(best) < yard.rank(draft):
            draft, yard, is_first = best, fine, False
    return _plan(yard, draft, gap_mm, locked, out, is_first=is_first)


def _check(lines: Sequence[OrderLine], boards: Sequence[ShelfBoard], gap_mm: float) -> None:
    if not gap_mm >= 0:
        raise BadValue(f"a gap of {gap_mm:g} mm is out of range", hint="0 or more")
    names = Counter([line.name for line in lines] + [board.code for board in boards])
    for name, times in names.items():
        if times > 1:
            raise BadValue(f"'{name}' comes {times} times", hint="give each a name of its own")
    for line in lines:
        if line.quantity < 1:
            raise BadValue(f"{line.quantity} of '{line.name}' is no quantity", hint="1 or more")


def _less(lines: Sequence[OrderLine], fixed: Mapping[str, int]) -> list[OrderLine]:
    """What is wanted beyond the locked pieces."""
    rest = [(line, line.quantity - fixed.get(line.name, 0)) for line in lines]
    return [replace(line, quantity=count) for line, count in rest if count > 0]


def _yard(
    lines: Sequence[OrderLine],
    boards: Sequence[ShelfBoard],
    gap_mm: float,
    step_mm: float,
    detail_mm: float,
) -> Yard:
    cutouts = Cutouts(
        [line.shape for line in lines],
        gap_mm=gap_mm,
        step_mm=step_mm,
        detail_mm=detail_mm,
        turnings=[Turning(line.angles_mdeg, line.mirrored_allowed) for line in lines],
    )
    return Yard(boards, lines, cutouts)


def _first(
    lines: Sequence[OrderLine], boards: Sequence[ShelfBoard], gap_mm: float
) -> tuple[Draft, Yard]:
    yard = _yard(lines, boards, gap_mm, _FIRST_STEP_MM, _FIRST_DETAIL_MM)
    return first_fit(yard), yard


def _improve(yard: Yard, draft: Draft, watch: Watch, chance: np.random.Generator) -> Draft:
    search = Search(yard, draft, chance)
    while watch.next_round():
        if search.try_once():
            watch.tell(_placed(search.best))
    return search.best


def _fine_fit(yard: Yard, watch: Watch) -> Draft:
    """First fit at a few angles; if something is left over, at all that are allowed."""
    few = first_fit(yard)
    if not any(few.left) or not any(map(yard.cutouts.has_more, range(len(yard.lines)))):
        return few
    if not watch.go_on():
        return few
    return min(few, first_fit(yard, tuple), key=yard.rank)


def _placed(draft: Draft) -> int:
    """How many pieces are placed."""
    return sum(map(len, draft.layouts.values()))


def _plan(
    yard: Yard,
    draft: Draft,
    gap_mm: float,
    locked: Sequence[Packing],
    excluded: Mapping[str, str],
    *,
    is_first: bool,
) -> OrderPlan:
    demands = [Demand(line.name, line.shape) for line in yard.lines]
    layouts, remnants, fresh = [], [], 0
    for number in sorted(draft.layouts):
        board = yard.boards[number]
        site = PackBoard(board.code, board.area)
        packing = report(site, demands, draft.layouts[number], yard.cutouts, gap_mm)
        if packing.pieces:
            layouts.append(packing)
            remnants.append(_remnant(board, packing.pieces, gap_mm))
            fresh += board.fresh
    placed = Counter(piece.name for packing in layouts for piece in packing.pieces)
    unmet = [
        Unmet(
            line.name,
            line.quantity - placed[line.name],
            _why(line, yard, excluded, is_first=is_first),
        )
        for line in yard.lines
        if line.quantity > placed[line.name]
    ]
    return OrderPlan(
        layouts=(*locked, *layouts),
        unmet=tuple(unmet),
        fresh_boards=fresh,
        boards_touched=len(layouts),
        remnants=tuple(remnants),
        is_first=is_first,
    )


def _why(line: OrderLine, yard: Yard, excluded: Mapping[str, str], *, is_first: bool) -> str:
    """Why a line is not met, looked at on empty boards; a first plan knows of few angles only."""
    barred = [
        f"{code} is excluded ({excluded[code]})" for code in sorted(line.only & set(excluded))
    ]
    allowed = [n for n, board in enumerate(yard.boards) if line.allows(board.code)]
    if not allowed:
        return "; ".join(barred) or "no board is left that it may come from"
    number = yard.lines.index(line)
    every = yard.cutouts.of_shape[number]
    poses = yard.cutouts.few(every) if is_first else every
    if not any(yard.site(n).room(pose).fits() for n in allowed for pose in poses):
        return f"it fits on none of {len(allowed)} boards, even empty, {_at_angles(line, is_first)}"
    return "; ".join(["the boards it may come from are full", *barred])


def _at_angles(line: OrderLine, is_first: bool) -> str:
    """At which angles a line was tried, in words."""
    angles = sorted(set(line.angles_mdeg))
    if angles == sorted(RIGHT_ANGLES):
        return "at right angles"
    if len(angles) <= len(RIGHT_ANGLES):
        return f"at {', '.join(f'{angle / 1000:g}' for angle in angles)} degrees"
    if is_first:
        return "at the few angles that a first look takes"
    return f"at any of {len(angles)} angles"


def _remnant(board: ShelfBoard, pieces: Sequence[PackedPiece], gap_mm: float) -> Remnant:
    import shapely

    ground: MultiPolygon = unite(to_polygon(region) for region in board.area)
    taken = unite(grow(to_polygon(piece.region), gap_mm) for piece in pieces)
    left = subtract(ground, taken)
    circles = [
        2 * shapely.maximum_inscribed_circle(part, tolerance=_CIRCLE_MM).length
        for part in polygon_parts(left)
    ]
    return Remnant(board.code, left.area, max(circles, default=0.0))
