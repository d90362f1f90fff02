"""Boards as hand shears see them: straight cuts from edge to edge, no kerf, no wall to leave."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from salvage.work.area import board_outline, cut_rules, read_taken
from salvage.work.parting import is_parted

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from salvage.geometry.ledger import Rules
    from salvage.geometry.order_yard import ShelfBoard
    from salvage.geometry.pack import Demand, PackedPiece
    from salvage.geometry.patience import Patience
    from salvage.geometry.shears import ShearCut
    from salvage.ids import Code
    from salvage.records.things import Board
    from salvage.work.workshop import Workshop


def rules_to_the_corners(shop: Workshop) -> Rules:
    """
    The workshop's rules without a smallest shape.

    What the smallest shape's disc cannot sweep is no use in general; the shapes of an order are
    known, and one with a right angle does go into the corner of a board.
    """
    return replace(cut_rules(shop.settings), least_mm=0.0)


def board_ground(
    shop: Workshop, board: Board, rules: Rules, *, freed: Collection[Code] = ()
) -> ShelfBoard:
    """
    Where the pieces of an order may lie on a board.

    Args:
        shop: The open workshop.
        board: The board; one without outline has no ground.
        rules: What the tool asks for.
        freed: Reservations that do not count.
    """
    from salvage.geometry.ledger import account
    from salvage.geometry.order_yard import ShelfBoard

    outline = board_outline(board)
    if outline is None:
        return ShelfBoard(board.code, (), fresh=not board.cut_count)
    taken = read_taken(shop.conn, board.code, freed=freed)
    area = account(outline, taken, rules).layers["usable"]
    return ShelfBoard(board.code, tuple(area), fresh=not board.cut_count)


def shear_ground(shop: Workshop, board: Board, *, freed: Collection[Code] = ()) -> ShelfBoard:
    """The same for shears."""
    rules = replace(rules_to_the_corners(shop), tool_mm=0.0, wall_mm=0.0)
    return board_ground(shop, board, rules, freed=freed)


def shear_board(
    shop: Workshop,
    board: Board,
    ground: ShelfBoard,
    demands: Sequence[Demand],
    *,
    patience: Patience,
) -> tuple[tuple[PackedPiece, ...], tuple[ShearCut, ...]]:
    """
    What straight cuts give from one board, and the cuts in order; none runs through a keep-out.

    Args:
        shop: The open workshop.
        board: The board, whose edge is the panel at the start.
        ground: From :func:`shear_ground`.
        demands: What is wanted.
        patience: How long to look.
    """
    from salvage.geometry.pack import PackBoard
    from salvage.geometry.shears import plan_shears

    fit = [demand for demand in demands if demand.shape.area_mm2 <= ground.area_mm2]
    if not fit:
        return (), ()
    site = PackBoard(board.code, ground.area)
    spare = [item.region for item in read_taken(shop.conn, board.code) if item.kind == "keep-out"]
    plan = plan_shears(site, fit, patience=patience, panel=board_outline(board), spare=spare)
    return plan.packing.pieces, plan.cuts if plan.packing.pieces else ()


def is_crossed(shop: Workshop, board: Board, *, freed: Collection[Code] = ()) -> bool:
    """Whether places are held on a board, or it lies in panels already, so no cut runs across."""
    rows = shop.conn.execute(
        "SELECT code FROM reservation WHERE board = ? AND state = 'held'", (board.code,)
    )
    return is_parted(shop.conn, board.code) or any(code not in freed for (code,) in rows)
