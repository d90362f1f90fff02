"""Planning an order: which boards to pull, and where each piece is cut, reserved in one step."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound
from salvage.ids import Code
from salvage.records.things import Board, Reservation
from salvage.store.change import Change
from salvage.store.rows import select
from salvage.work.area import account_board, cut_rules
from salvage.work.cutting import Spot, append_release, append_reservation
from salvage.work.fitting import EVERY_BOARD, BoardFilter, boards_in_question
from salvage.work.library import ChosenShape
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.order_plan import OrderPlan, Unmet
    from salvage.geometry.order_yard import ShelfBoard

# Rounds after which the search stops although time is left: far more than a maker waits for.
_MOST_ROUNDS = 1_000_000


@dataclass(frozen=True, slots=True)
class Demand:
    """
    One line of an order.

    Args:
        shape: The shape at its size.
        quantity: How many.
    """

    shape: ChosenShape
    quantity: int


@dataclass(frozen=True, slots=True)
class PlannedOrder:
    """
    A plan, with its places reserved.

    Args:
        for_whom: Whose order it is; its reservations bear this name.
        reservations: Places held, board by board.
        unmet: What cannot be given, and why.
        fresh_boards: Boards that would be cut for the first time.
        boards_touched: Boards to handle.
    """

    for_whom: str
    reservations: tuple[Reservation, ...]
    unmet: tuple[Unmet, ...]
    fresh_boards: int
    boards_touched: int


@dataclass(frozen=True, slots=True)
class Search:
    """
    How long to look for a better plan.

    Args:
        seconds: Time to take beyond the first plan; 0 gives the same first plan every time.
        clock: Counts seconds.
        progress: Called with pieces placed and seconds spent.
    """

    seconds: float
    clock: Callable[[], float]
    progress: Callable[[int, float], None] | None = None


def plan_order(
    shop: Workshop,
    *,
    demands: Sequence[Demand],
    for_whom: str,
    search: Search,
    filters: BoardFilter = EVERY_BOARD,
    dry_run: bool = False,
) -> PlannedOrder:
    """
    Find boards and places for an order and reserve them: few fresh boards, remnants first.

    Every place was checked on the true outlines. What cannot be met is said and left out.

    Args:
        shop: The open workshop.
        demands: What is wanted.
        for_whom: Order or person, in words.
        search: How long to look.
        filters: Which boards come into question.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If nothing is wanted, a quantity is below 1, or it is not said for whom.
    """
    if not demands or any(demand.quantity < 1 for demand in demands):
        raise BadValue("an order is one or more of each shape", hint="such as tern:4")
    if not for_whom.strip():
        raise BadValue("say for whom", field="--for")

    def steps(change: Change) -> PlannedOrder:
        plan = _search(shop, demands, filters, search)
        made = []
        shapes = {demand.shape.name: demand.shape for demand in demands}
        for layout in plan.layouts:
            for piece in layout.pieces:
                at = piece.placement
                spot = Spot(shapes[piece.name], at.x_um, at.y_um, at.angle_mdeg)
                made.append(append_reservation(change, Code(layout.code), spot, for_whom))
        return PlannedOrder(
            for_whom, tuple(made), plan.unmet, plan.fresh_boards, plan.boards_touched
        )

    return shop.commit("plan order", steps, dry_run=dry_run)


def _search(
    shop: Workshop, demands: Sequence[Demand], filters: BoardFilter, search: Search
) -> OrderPlan:
    from salvage.geometry.order_plan import plan_order as plan
    from salvage.geometry.order_yard import OrderLine
    from salvage.geometry.pack import gap_of_rules
    from salvage.geometry.patience import Patience

    lines = [OrderLine(d.shape.name, d.shape.region, d.quantity) for d in demands]
    shelf = [
        board
        for board in (_shelf_board(shop, found) for found in boards_in_question(shop, filters))
        if board.area
    ]
    patience = Patience(search.seconds, search.clock, _MOST_ROUNDS, search.progress)
    gap_mm = gap_of_rules(cut_rules(shop.settings))
    return plan(lines, shelf, gap_mm=gap_mm, patience=patience)


def _shelf_board(shop: Workshop, board: Board) -> ShelfBoard:
    from salvage.geometry.order_yard import ShelfBoard

    ledger = account_board(shop.conn, board)
    area = ledger.layers["usable"] if ledger else ()
    return ShelfBoard(board.code, tuple(area), fresh=not board.cut_count)


def release_order(
    shop: Workshop, *, for_whom: str, reason: str = "", dry_run: bool = False
) -> tuple[Reservation, ...]:
    """
    Let all places go that are held for somebody.

    Args:
        shop: The open workshop.
        for_whom: The name that the reservations bear.
        reason: Why.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If nothing is held under that name.
    """

    def steps(change: Change) -> tuple[Reservation, ...]:
        rest = "FROM reservation WHERE for_whom = ? AND state = 'held' ORDER BY code"
        held = select(change.conn, Reservation, rest, (for_whom,))
        if not held:
            raise NotFound(f"nothing is held for '{for_whom}'")
        return tuple(append_release(change, one.code, reason) for one in held)

    return shop.commit("release order", steps, dry_run=dry_run)


def list_reservations(shop: Workshop) -> tuple[Reservation, ...]:
    """All places that are held, by whom they are held for and by board."""
    rest = "FROM reservation WHERE state = 'held' ORDER BY for_whom, board, code"
    return select(shop.conn, Reservation, rest)
