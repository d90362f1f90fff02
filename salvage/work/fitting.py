"""What fits where: on one board, and over the whole shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadOutline
from salvage.frozen import dataclass, replace
from salvage.ids import Code
from salvage.records.things import Board
from salvage.store.cache import Cache
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.units import from_um, to_um
from salvage.work.area import board_outline, read_taken
from salvage.work.finest import Faces, faces_of
from salvage.work.parting import is_parted
from salvage.work.shearing import is_crossed, shear_board, shear_ground
from salvage.work.verdict import find_obstacles

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from salvage.geometry.fit import Verdict
    from salvage.geometry.ground import Ground
    from salvage.geometry.spot import Spot
    from salvage.work.library import ChosenShape
    from salvage.work.workshop import Workshop

# Of so many boards that fit, in the usual order, the finest are sought.
_MOST_RANKED = 200

_INDEX = "shelf index 1"


@dataclass(frozen=True, slots=True)
class Wish:
    """
    What is to be cut.

    Args:
        shape: The shape at its size.
        kerf_mm: Width that the tool removes round it.
        clearance_mm: Room to leave besides.
        angles_mdeg: The only angles allowed, in thousandths of a degree; empty for all.
        either_face: Whether the picture may be on the back, the shape mirrored.
        finest: Whether it deserves the finest area: places and boards are ranked by richness.
        tool: ``router``, or ``shears`` for straight cuts from edge to edge.
        anyway: Look although the bit cannot cut the shape as drawn.
    """

    shape: ChosenShape
    kerf_mm: float
    clearance_mm: float = 0.0
    angles_mdeg: tuple[int, ...] = ()
    either_face: bool = False
    finest: bool = False
    tool: str = "router"
    anyway: bool = False


@dataclass(frozen=True, slots=True)
class BoardFilter:
    """
    Which boards come into question; an empty field asks for nothing.

    Args:
        cleared_only: Leave held boards out.
        donor, drop_off: Only boards that came from there.
        type, colour: Only boards of that type or colour.
        thickness_mm: Only boards of that thickness, to a tenth of a millimetre.
        only: Only these boards.
        keep_off: None of these boards.
    """

    cleared_only: bool = False
    donor: str = ""
    drop_off: str = ""
    type: str = ""
    colour: str = ""
    thickness_mm: float | None = None
    only: tuple[Code, ...] = ()
    keep_off: tuple[Code, ...] = ()


EVERY_BOARD = BoardFilter()
"""A filter that every board passes."""


@dataclass(frozen=True, slots=True)
class BoardFit:
    """
    The answer for one board.

    Args:
        board: The board.
        verdict: ``fit`` (checked on the outline), ``no`` (proved), or ``tight`` (within about half
            a millimetre of just fitting).
        spots: Where it fits, best first.
        reason: How that was decided; may be empty.
        together: Places that go on the board beside one another, as many as were found; empty where
            that was not asked.
        richness: Traces under each of *spots*, mm for each mm2, as the photo hints; None where no
            photo tells.
    """

    board: Board
    verdict: Verdict
    spots: tuple[Spot, ...]
    reason: str = ""
    together: tuple[Spot, ...] = ()
    richness: tuple[float | None, ...] = ()


def fits_here(shop: Workshop, *, board: Code, wish: Wish, most: int = 5) -> BoardFit:
    """
    Whether a shape fits on a board, where best, and where several of it go beside one another.

    The spots are alternatives, which may overlap; those in ``together`` do not.

    Args:
        shop: The open workshop.
        board: The board's code.
        wish: What is to be cut.
        most: How many spots to give.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If it has no outline yet.
    """
    from salvage.geometry.fit import fit

    found = load_board(shop.conn, board)
    if wish.tool == "shears":
        return _sheared(shop, found, wish, most=0)
    ground = ground_of(shop, found, wish.kerf_mm)
    shape, clearance = wish.shape.region, wish.clearance_mm
    angles = wish.angles_mdeg or None
    answer = fit(
        shape,
        ground,
        clearance_mm=clearance,
        angles_mdeg=angles,
        mirrored_allowed=wish.either_face,
    )
    if answer.verdict != "fit":
        return BoardFit(found, answer.verdict, (), answer.reason)
    faces = faces_of(shop, board, either_face=wish.either_face)
    spots = _best_spots(wish, ground, faces, most=most) or answer.spots
    together = _together(wish, ground)
    return BoardFit(found, "fit", spots, answer.reason, together, faces.richness(spots))


def _best_spots(wish: Wish, ground: Ground, faces: Faces, *, most: int) -> tuple[Spot, ...]:
    """The richest spots where that is asked for and known; else those that spare the board most."""
    from salvage.geometry.preference import Whole
    from salvage.geometry.spots import find_spots

    return find_spots(
        wish.shape.region,
        ground,
        clearance_mm=wish.clearance_mm,
        angles_mdeg=wish.angles_mdeg or None,
        mirrored_allowed=wish.either_face,
        most=most,
        prefer=faces.preference if wish.finest and faces.is_known else Whole(wish.kerf_mm),
    )


def _sheared(shop: Workshop, board: Board, wish: Wish, *, most: int) -> BoardFit:
    """What straight cuts give, at most so many unless 0; that no more would fit is not proved."""
    from salvage.geometry.pack import Demand
    from salvage.geometry.patience import Patience
    from salvage.geometry.spot import Spot

    if board_outline(board) is None:
        raise BadOutline(
            f"{board.code} has no outline yet", hint=f"salvage board outline {board.code} …"
        )
    if is_crossed(shop, board):
        crossed = "a cut from edge to edge would cross a place that is held"
        if is_parted(shop.conn, board.code):
            crossed = "shears have parted it already: no cut runs from edge to edge"
        return BoardFit(board, "no", (), crossed)
    demand = Demand(wish.shape.name, wish.shape.region, most or None)
    ground = shear_ground(shop, board)
    pieces, cuts = shear_board(shop, board, ground, [demand], patience=Patience(0, lambda: 0.0))
    spots = tuple(Spot(wish.shape.region, piece.placement) for piece in pieces)
    if not spots:
        return BoardFit(board, "no", (), "no straight cuts from edge to edge were found")
    many = f"{len(cuts)} straight cuts from edge to edge"
    return BoardFit(board, "fit", spots[:1], many, spots, (None,))


def _together(wish: Wish, ground: Ground) -> tuple[Spot, ...]:
    """Places beside one another, at the angles allowed."""
    from salvage.geometry.filling import count_fits

    return count_fits(
        wish.shape.region,
        ground,
        kerf_mm=wish.kerf_mm,
        clearance_mm=wish.clearance_mm,
        angles_mdeg=wish.angles_mdeg or None,
        mirrored_allowed=wish.either_face,
    )


def ground_of(shop: Workshop, board: Board, kerf_mm: float) -> Ground:
    """
    Where a piece may lie on a board, with the workshop's wall beside earlier cuts.

    Raises:
        BadOutline: If the board has no outline yet.
    """
    from salvage.geometry.ground import ground_of_board

    outline = board_outline(board)
    if outline is None:
        raise BadOutline(
            f"{board.code} has no outline yet", hint=f"salvage board outline {board.code} …"
        )
    beside = kerf_mm + from_um(shop.settings.wall_um)
    return ground_of_board(
        outline, read_taken(shop.conn, board.code), kerf_mm=kerf_mm, beside_cut_mm=beside
    )


def find_boards(
    shop: Workshop,
    *,
    wish: Wish,
    filters: BoardFilter = EVERY_BOARD,
    most: int = 20,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[BoardFit, ...]:
    """
    Boards that can yield a shape, in the order to take them.

    Cleared before held, remnants before fresh boards, the least usable area first; tight ones last.

    Args:
        shop: The open workshop.
        wish: What is to be cut.
        filters: Which boards come into question.
        most: Stop after so many that fit or are tight.
        progress: Called with boards prepared and boards in question.
    """
    from salvage.geometry.shelf import ShelfBoard, ShelfQuery, decide_shelf

    boards = {board.code: board for board in boards_in_question(shop, filters)}
    if wish.tool == "shears":
        return _sheared_shelf(shop, list(boards.values()), wish, most=most)
    indexes = dict(_indexes(shop, list(boards.values()), wish.kerf_mm, progress))

    def ground(code: str) -> BaseGeometry:
        return ground_of(shop, boards[Code(code)], wish.kerf_mm).area

    def rank(shelf: ShelfBoard, head: object) -> tuple[bool, bool, int]:
        del head
        board = boards[Code(shelf.key)]
        return (board.clearance == "held", not board.cut_count, board.usable_um2)

    query = ShelfQuery(wish.shape.region, wish.clearance_mm, wish.angles_mdeg, wish.either_face)
    shelf = [ShelfBoard(code, index) for code, index in indexes.items()]
    found: list[BoardFit] = []
    tight: list[BoardFit] = []
    enough = _MOST_RANKED if wish.finest else most
    for answer in decide_shelf(query, shelf, ground, order=rank):
        board = boards[Code(answer.key)]
        if answer.spot:
            found.append(BoardFit(board, "fit", (answer.spot,)))
        elif answer.verdict == "tight":
            tight.append(BoardFit(board, "tight", ()))
        if len(found) == enough:
            break
    ranked = _richest_first(shop, found, wish) if wish.finest else found
    return (*ranked, *tight)[:most]


def _richest_first(shop: Workshop, found: Sequence[BoardFit], wish: Wish) -> list[BoardFit]:
    """Boards by the richness of their best spot; those of which no photo tells come last."""
    ranked = []
    for fit in found:
        faces = faces_of(shop, fit.board.code, either_face=wish.either_face)
        spots = fit.spots
        if faces.is_known:
            ground = ground_of(shop, fit.board, wish.kerf_mm)
            spots = _best_spots(wish, ground, faces, most=1) or spots
        ranked.append(replace(fit, spots=spots, richness=faces.richness(spots)))
    return sorted(ranked, key=lambda fit: -(fit.richness[0] or 0.0))


def _sheared_shelf(
    shop: Workshop, boards: Sequence[Board], wish: Wish, *, most: int
) -> tuple[BoardFit, ...]:
    """Boards that shears can take the shape from, in the order to take them."""
    found: list[BoardFit] = []
    for board in sorted(boards, key=_take_first):
        answer = _sheared(shop, board, wish, most=1)
        if answer.verdict == "fit":
            found.append(answer)
        if len(found) == most:
            break
    return tuple(found)


def _take_first(board: Board) -> tuple[bool, bool, int, str]:
    """Cleared before held, remnants before fresh boards, small ones first."""
    return (board.clearance == "held", not board.cut_count, board.usable_um2, board.code)


def boards_in_question(shop: Workshop, filters: BoardFilter) -> tuple[Board, ...]:
    """Measured boards that pass a filter and stand in nobody's way but for open hazards."""
    conn = shop.conn
    where = ["retired = ''", "recalled = 0", "outline IS NOT NULL"]
    parameters: list[object] = []
    for condition, value in (
        ("drop_off = ?", filters.drop_off),
        ("type = ?", filters.type),
        ("colour = ? COLLATE NOCASE", filters.colour),
        ("drop_off IN (SELECT code FROM drop_off WHERE donor = ?)", filters.donor),
        ("clearance = ?", "cleared" if filters.cleared_only else ""),
    ):
        if value:
            where.append(condition)
            parameters.append(value)
    if filters.thickness_mm is not None:
        where.append("abs(thickness_um - ?) <= 100")
        parameters.append(to_um(filters.thickness_mm))
    boards = select(conn, Board, f"FROM board WHERE {' AND '.join(where)}", parameters)
    return tuple(
        board
        for board in boards
        if (not filters.only or board.code in filters.only)
        and board.code not in filters.keep_off
        and all(o.mend.startswith("salvage board clear") for o in find_obstacles(conn, board))
    )


def _indexes(
    shop: Workshop,
    boards: list[Board],
    kerf_mm: float,
    progress: Callable[[int, int], None] | None,
) -> Iterator[tuple[str, bytes]]:
    """Shelf index of each board; made anew where the board has changed since it was kept."""
    from salvage.geometry.shelf_index import write_index

    cache = Cache(shop.folder / "cache.db")
    kept, fresh = cache.load_all(_INDEX), []
    rules = f"{to_um(kerf_mm)}/{shop.settings.wall_um}"
    newest = dict(shop.conn.execute("SELECT code, max(seq) FROM event_item GROUP BY code"))
    for count, board in enumerate(boards, 1):
        state = f"{newest[board.code]}/{rules}"
        known = kept.get(board.code)
        if known is None or known[0] != state:
            index = write_index(ground_of(shop, board, kerf_mm))
            fresh.append((board.code, state, index))
            known = (state, index)
        if progress:
            progress(count, len(boards))
        yield board.code, known[1]
    if fresh:
        cache.save_all(_INDEX, fresh)
