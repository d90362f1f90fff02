"""Looking for boards and places for an order, with the router or with hand shears."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.ids import Code
from salvage.records.things import Board
from salvage.work.area import board_outline, cut_rules, read_taken
from salvage.work.fitting import BoardFilter, boards_in_question
from salvage.work.library import ChosenShape
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.ledger import Rules
    from salvage.geometry.order_yard import ShelfBoard
    from salvage.geometry.patience import Patience
    from salvage.geometry.placing import Placement
    from salvage.geometry.shears import ShearCut
    from salvage.records.region import Region

# Rounds after which the search stops although time is left: far more than a maker waits for.
_MOST_ROUNDS = 1_000_000


@dataclass(frozen=True, slots=True)
class Demand:
    """
    One line of an order.

    Args:
        shape: The shape at its size.
        quantity: How many.
        label: What to call it where the shape's name is not enough, such as ``circle@40``.
    """

    shape: ChosenShape
    quantity: int
    label: str = ""

    @property
    def name(self) -> str:
        """What the line is called."""
        return self.label or self.shape.name


@dataclass(frozen=True, slots=True)
class Search:
    """
    How to look for a plan, and how long.

    Args:
        seconds: Time to take beyond the first plan; 0 gives the same first plan every time.
        clock: Counts seconds; one that jumps far ahead ends the search with the best so far.
        progress: Called with pieces placed and seconds spent.
        tool: ``router``, or ``shears`` for straight cuts from edge to edge.
        anyway: Plan shapes that the bit cannot cut as drawn, too.
    """

    seconds: float
    clock: Callable[[], float]
    progress: Callable[[int, float], None] | None = None
    tool: str = "router"
    anyway: bool = False


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """
    A place for one piece.

    Args:
        board: The board.
        name: Name of the order's line.
        placement: Where.
    """

    board: Code
    name: str
    placement: Placement


@dataclass(frozen=True, slots=True)
class Missing:
    """
    What an order cannot have, and why.

    Args:
        name: Name of the order's line.
        quantity: How many are missing.
        reason: Why, in plain words.
    """

    name: str
    quantity: int
    reason: str


@dataclass(frozen=True, slots=True)
class Found:
    """
    What a search found; every place was checked on the true outlines.

    Args:
        places: Board by board.
        missing: What is not met.
        fresh_boards: Boards that would be cut for the first time.
        boards_touched: Boards to handle.
        shears: Straight cuts with their boards, in order; empty for a router.
    """

    places: tuple[FoundPlace, ...]
    missing: tuple[Missing, ...]
    fresh_boards: int
    boards_touched: int
    shears: tuple[tuple[Code, ShearCut], ...] = ()


def search_places(
    shop: Workshop,
    demands: Sequence[Demand],
    *,
    filters: BoardFilter,
    search: Search,
    freed: Collection[Code] = (),
) -> Found:
    """
    Boards and places for an order: few fresh boards, remnants first.

    Args:
        shop: The open workshop.
        demands: What is wanted; names differ.
        filters: Which boards come into question.
        search: How to look.
        freed: Reservations that do not count, since they are about to be let go.
    """
    from salvage.geometry.patience import Patience

    patience = Patience(search.seconds, search.clock, _MOST_ROUNDS, search.progress)
    boards = boards_in_question(shop, filters)
    look = _with_shears if search.tool == "shears" else _with_router
    found = look(shop, demands, boards, patience=patience, freed=freed)
    told = _filters_in_words(filters, len(boards))
    missing = (replace(each, reason=f"{each.reason}{told}") for each in found.missing)
    return replace(found, missing=tuple(missing))


def _filters_in_words(filters: BoardFilter, count: int) -> str:
    """What the maker's own wishes leave out, after the reason."""
    named = [
        code for code in (filters.donor, filters.drop_off, filters.type, filters.colour) if code
    ]
    thick = filters.thickness_mm
    parts = [
        "cleared boards" if filters.cleared_only else "",
        f"{', '.join(named)}" if named else "",
        f"{thick:g} mm thick" if thick is not None else "",
        f"only {', '.join(filters.only)}" if filters.only else "",
        f"without {', '.join(filters.keep_off)}" if filters.keep_off else "",
    ]
    told = "; ".join(part for part in parts if part)
    return f" (asked of {count} boards: {told})" if told else ""


def _with_router(
    shop: Workshop,
    demands: Sequence[Demand],
    boards: Sequence[Board],
    *,
    patience: Patience,
    freed: Collection[Code],
) -> Found:
    from salvage.geometry.order_plan import plan_order
    from salvage.geometry.order_yard import OrderLine
    from salvage.geometry.pack import gap_of_rules

    rules = _to_the_corners(shop)
    lines = [OrderLine(d.name, d.shape.region, d.quantity) for d in demands]
    grounds = (_ground(shop, board, rules, freed) for board in boards)
    shelf = [ground for ground in grounds if ground.area]
    plan = plan_order(lines, shelf, gap_mm=gap_of_rules(rules), patience=patience)
    places = (
        FoundPlace(Code(layout.code), piece.name, piece.placement)
        for layout in plan.layouts
        for piece in layout.pieces
    )
    missing = (Missing(unmet.name, unmet.quantity, unmet.reason) for unmet in plan.unmet)
    return Found(tuple(places), tuple(missing), plan.fresh_boards, plan.boards_touched)


def _to_the_corners(shop: Workshop) -> Rules:
    """
    The workshop's rules without a smallest shape.

    What the smallest shape's disc cannot sweep is no use in general; the shapes of an order are
    known, and one with a right angle does go into the corner of a board.
    """
    return replace(cut_rules(shop.settings), least_mm=0.0)


def _ground(shop: Workshop, board: Board, rules: Rules, freed: Collection[Code]) -> ShelfBoard:
    from salvage.geometry.ledger import account
    from salvage.geometry.order_yard import ShelfBoard

    outline = board_outline(board)
    area: tuple[Region, ...] = ()
    if outline is not None:
        area = account(outline, read_taken(shop.conn, board.code, freed=freed), rules).layers[
            "usable"
        ]
    return ShelfBoard(board.code, tuple(area), fresh=not board.cut_count)


def _with_shears(
    shop: Workshop,
    demands: Sequence[Demand],
    boards: Sequence[Board],
    *,
    patience: Patience,
    freed: Collection[Code],
) -> Found:
    """Board by board, remnants and small ones first; a cut from edge to edge spares nothing."""
    rules = replace(_to_the_corners(shop), tool_mm=0.0, wall_mm=0.0)
    shelf = [
        (board, _ground(shop, board, rules, freed))
        for board in boards
        if not _is_crossed(shop, board, freed)
    ]
    shelf.sort(key=lambda pair: (pair[1].fresh, pair[1].area_mm2, pair[1].code))
    left = Counter({demand.name: demand.quantity for demand in demands})
    places: list[FoundPlace] = []
    shears: list[tuple[Code, ShearCut]] = []
    used: list[bool] = []
    watch = patience.start()
    for number, (board, ground) in enumerate(shelf):
        wanted = [replace(d, quantity=left[d.name]) for d in demands if left[d.name]]
        if not wanted:
            break
        share = max(0.0, (patience.seconds - watch.spent_s) / (len(shelf) - number))
        own = replace(patience, seconds=share, progress=None)
        pieces, cuts = shear_board(board, ground, wanted, patience=own)
        if not pieces:
            continue
        places += pieces
        shears += [(board.code, cut) for cut in cuts]
        left.subtract(piece.name for piece in pieces)
        used.append(ground.fresh)
        watch.tell(len(places))
    missing = [
        Missing(d.name, left[d.name], _why_not_sheared(d, [ground for _, ground in shelf]))
        for d in demands
        if left[d.name]
    ]
    return Found(tuple(places), tuple(missing), sum(used), len(used), tuple(shears))


def shear_board(
    board: Board, ground: ShelfBoard, demands: Sequence[Demand], *, patience: Patience
) -> tuple[list[FoundPlace], tuple[ShearCut, ...]]:
    """What straight cuts give from one board, and the cuts in order."""
    from salvage.geometry import pack
    from salvage.geometry.shears import plan_shears

    fit = [d for d in demands if d.shape.region.area_mm2 <= ground.area_mm2]
    if not fit:
        return [], ()
    plan = plan_shears(
        pack.PackBoard(board.code, ground.area),
        [pack.Demand(d.name, d.shape.region, d.quantity) for d in fit],
        patience=patience,
        panel=board_outline(board),
    )
    places = [FoundPlace(board.code, p.name, p.placement) for p in plan.packing.pieces]
    return places, plan.cuts if places else ()


def shear_ground(shop: Workshop, board: Board) -> ShelfBoard:
    """Where pieces may lie that shears cut out: no kerf, and no wall to leave."""
    rules = replace(_to_the_corners(shop), tool_mm=0.0, wall_mm=0.0)
    return _ground(shop, board, rules, ())


def _is_crossed(shop: Workshop, board: Board, freed: Collection[Code]) -> bool:
    """Whether places are held on a board that a cut from edge to edge would cross."""
    rows = shop.conn.execute(
        "SELECT code FROM reservation WHERE board = ? AND state = 'held'", (board.code,)
    )
    return any(code not in freed for (code,) in rows)


def _why_not_sheared(demand: Demand, grounds: Sequence[ShelfBoard]) -> str:
    if not grounds:
        return "no board is left that straight cuts may cross"
    if all(demand.shape.region.area_mm2 > ground.area_mm2 for ground in grounds):
        return f"it is larger than what is usable on each of {len(grounds)} boards"
    return f"straight cuts from edge to edge give no more from {len(grounds)} boards"
