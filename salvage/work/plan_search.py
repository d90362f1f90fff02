"""Looking for boards and places for an order, with the router or with hand shears."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.frozen import dataclass, replace
from salvage.ids import Code
from salvage.work.fitting import BoardFilter, boards_in_question
from salvage.work.shearing import (
    board_ground,
    is_crossed,
    rules_to_the_corners,
    shear_board,
    shear_ground,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from salvage.geometry.order_yard import ShelfBoard
    from salvage.geometry.patience import Patience
    from salvage.geometry.placing import Placement
    from salvage.geometry.shears import ShearCut
    from salvage.records.things import Board
    from salvage.work.library import ChosenShape
    from salvage.work.workshop import Workshop

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
        angles_mdeg: Angles to try, in thousandths of a degree; right angles if empty.
        mirrored_allowed: Whether either face may carry the picture, the shape turned over.
    """

    seconds: float
    clock: Callable[[], float]
    progress: Callable[[int, float], None] | None = None
    tool: str = "router"
    anyway: bool = False
    angles_mdeg: tuple[int, ...] = ()
    mirrored_allowed: bool = False


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

    Held boards come in only where the cleared ones cannot give everything.

    Args:
        shop: The open workshop.
        demands: What is wanted; names differ.
        filters: Which boards come into question.
        search: How to look.
        freed: Reservations that do not count, since they are about to be let go.

    Raises:
        BadValue: If pieces for shears are to be turned freely or over.
    """
    boards = boards_in_question(shop, filters)
    look = _with_shears if search.tool == "shears" else _with_router
    if search.tool == "shears":
        _check_turns(search)
    cleared = [board for board in boards if board.clearance == "cleared"]
    found = look(shop, demands, cleared, search=search, freed=freed)
    if found.missing and len(cleared) < len(boards):
        found = look(shop, demands, boards, search=search, freed=freed)
    told = _filters_in_words(filters, len(boards))
    missing = (replace(each, reason=f"{each.reason}{told}") for each in found.missing)
    return replace(found, missing=tuple(missing))


def _check_turns(search: Search) -> None:
    if search.angles_mdeg or search.mirrored_allowed:
        raise BadValue(
            "shears cut a rectangle for each piece: it is turned by right angles, and never over",
            hint="leave --any-angle, --angles and --either-face out, or plan for the router",
            field="--tool",
        )


def _patience(search: Search) -> Patience:
    from salvage.geometry.patience import Patience

    return Patience(search.seconds, search.clock, _MOST_ROUNDS, search.progress)


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
    search: Search,
    freed: Collection[Code],
) -> Found:
    from salvage.geometry.order_plan import plan_order
    from salvage.geometry.order_yard import RIGHT_ANGLES, OrderLine
    from salvage.geometry.pack import gap_of_rules

    rules = rules_to_the_corners(shop)
    angles, mirrored = search.angles_mdeg or RIGHT_ANGLES, search.mirrored_allowed
    lines = [
        OrderLine(d.name, d.shape.region, d.quantity, angles_mdeg=angles, mirrored_allowed=mirrored)
        for d in demands
    ]
    grounds = (board_ground(shop, board, rules, freed=freed) for board in boards)
    shelf = [ground for ground in grounds if ground.area]
    plan = plan_order(lines, shelf, gap_mm=gap_of_rules(rules), patience=_patience(search))
    places = (
        FoundPlace(Code(layout.code), piece.name, piece.placement)
        for layout in plan.layouts
        for piece in layout.pieces
    )
    missing = (Missing(unmet.name, unmet.quantity, unmet.reason) for unmet in plan.unmet)
    return Found(tuple(places), tuple(missing), plan.fresh_boards, plan.boards_touched)


def _with_shears(
    shop: Workshop,
    demands: Sequence[Demand],
    boards: Sequence[Board],
    *,
    search: Search,
    freed: Collection[Code],
) -> Found:
    """Board by board, remnants and small ones first; a cut from edge to edge spares nothing."""
    from salvage.geometry import pack

    patience = _patience(search)
    shelf = [
        (board, shear_ground(shop, board, freed=freed))
        for board in boards
        if not is_crossed(shop, board, freed=freed)
    ]
    shelf.sort(key=lambda pair: (pair[1].fresh, pair[1].area_mm2, pair[1].code))
    left = Counter({demand.name: demand.quantity for demand in demands})
    places: list[FoundPlace] = []
    shears: list[tuple[Code, ShearCut]] = []
    used: list[bool] = []
    watch = patience.start()
    for number, (board, ground) in enumerate(shelf):
        wanted = [
            pack.Demand(d.name, d.shape.region, left[d.name]) for d in demands if left[d.name]
        ]
        if not wanted:
            break
        share = max(0.0, (patience.seconds - watch.spent_s) / (len(shelf) - number))
        own = replace(patience, seconds=share, progress=None)
        pieces, cuts = shear_board(shop, board, ground, wanted, patience=own)
        if not pieces:
            continue
        places += [FoundPlace(board.code, piece.name, piece.placement) for piece in pieces]
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


def _why_not_sheared(demand: Demand, grounds: Sequence[ShelfBoard]) -> str:
    if not grounds:
        return "no board is left that straight cuts may cross"
    if all(demand.shape.region.area_mm2 > ground.area_mm2 for ground in grounds):
        return f"it is larger than what is usable on each of {len(grounds)} boards"
    return f"straight cuts that miss the keep-outs give no more from {len(grounds)} boards"
