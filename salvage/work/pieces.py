"""Following a piece: stages, weight, price, sale, return."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused
from salvage.frozen import dataclass
from salvage.records.choices import BENCH_STAGES
from salvage.records.things import Board, Cut, Piece, Sale
from salvage.store.lookup import load_board, load_piece
from salvage.store.rows import select
from salvage.units import format_mass, to_mg
from salvage.work.gate import check_gate
from salvage.work.lineage import boards_of, cut_pieces, cuts_of, parts_of
from salvage.work.mass import SCALES
from salvage.work.materials import Use, append_uses
from salvage.work.sellable import check_single
from salvage.work.slips import (
    NO_DISCOUNT,
    SaleItem,
    Terms,
    append_refund,
    append_sale,
    settle_terms,
)

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from salvage.canonical import Json
    from salvage.ids import Code
    from salvage.records.article import Part
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class PieceView:
    """
    A piece with the cut and board it came from and its sales.

    Args:
        piece: The record.
        cut: Where it was cut; of an assembled article, where its first part was.
        board: That cut's board as it is now.
        sales: Oldest first.
        parts: What an assembled article is made of; empty for a piece of one cut.
        boards: All boards that it came from.
    """

    piece: Piece
    cut: Cut
    board: Board
    sales: tuple[Sale, ...]
    parts: tuple[Part, ...] = ()
    boards: tuple[Board, ...] = ()


def view_piece(conn: sqlite3.Connection, code: Code) -> PieceView:
    """The piece with what belongs to it; NotFound where there is none."""
    piece = load_piece(conn, code)
    sales = select(conn, Sale, "FROM sale WHERE piece = ? ORDER BY n", (code,))
    boards, cut = boards_of(conn, code), cuts_of(conn, code)[0]
    return PieceView(piece, cut, boards[0], sales, parts_of(conn, code), boards)


# A piece in an article is not to be had singly, wherever the article is.
SINGLE = "NOT EXISTS (SELECT 1 FROM part WHERE part.piece = piece.code AND taken_out_at = '')"
"""Condition on pieces that are no part of an article."""


PIECE_STATES = {
    "": f"stage NOT IN ('sold', 'withdrawn') AND {SINGLE}",
    "all": "1",
    "recalled": "recalled > 0",
    **{stage: f"stage = '{stage}'" for stage in (*BENCH_STAGES, "sold", "returned", "withdrawn")},
}
"""States that a list of pieces may be narrowed to, with their condition."""


def list_pieces(shop: Workshop, *, state: str = "", most: int = 100) -> tuple[Piece, ...]:
    """
    Pieces, newest first.

    Args:
        shop: The open workshop.
        state: Key of :data:`PIECE_STATES`; empty for all still in the workshop.
        most: At most so many.
    """
    rest = f"FROM piece WHERE {PIECE_STATES[state]} ORDER BY made_at DESC, code DESC LIMIT ?"
    return select(shop.conn, Piece, rest, (most,))


def _change_pieces(
    shop: Workshop,
    act: str,
    pieces: Sequence[Code],
    say: Callable[[Change, Piece], tuple[str, Mapping[str, Json]]],
    *,
    more: Callable[[Change], None] | None = None,
    dry_run: bool,
) -> tuple[PieceView, ...]:
    """
    Append one event for each piece, and what else belongs to the step.

    *say* gives kind and fields of a piece's event, or refuses.
    """

    def steps(change: Change) -> tuple[PieceView, ...]:
        for code in pieces:
            kind, data = say(change, load_piece(change.conn, code))
            change.append(kind, (code,), data)
        if more:
            more(change)
        return tuple(view_piece(change.conn, code) for code in pieces)

    return shop.commit(act, steps, dry_run=dry_run)


def set_stage(
    shop: Workshop,
    *,
    pieces: Sequence[Code],
    stage: str,
    note: str = "",
    batches: Sequence[Code] = (),
    dry_run: bool = False,
) -> tuple[PieceView, ...]:
    """
    Move pieces to a bench stage, or withdraw them for good.

    Args:
        shop: The open workshop.
        pieces: Their codes.
        stage: One of :data:`salvage.records.choices.BENCH_STAGES`, or ``withdrawn``.
        note: What was done; needed for ``withdrawn``.
        batches: Batches of materials that went into each of the pieces at this stage.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece or batch is not known.
        Refused: If a piece is sold, recalled, part of an article, or an article that was taken
            apart, or a batch is recalled.
        BadValue: If a withdrawal has no reason, or the stage is not one to be set by hand.
        Held: If it is to be ready, and a limit of a chosen market is not shown to be met.
    """
    _check_stage(stage, note, batches)

    def say(change: Change, piece: Piece) -> tuple[str, Mapping[str, Json]]:
        _check_in_hand(change.conn, piece)
        if piece.recalled and stage != "withdrawn":
            raise Refused(
                f"{piece.code} is recalled", hint="'salvage recall list' says why and since when"
            )
        return "piece.staged", {"stage": stage, "note": note}

    def use(change: Change) -> None:
        if batches:
            append_uses(change, batches=batches, pieces=pieces, use=Use(stage, note=note))
        if stage == "ready":
            for code in pieces:
                found = load_piece(change.conn, code)
                check_gate(change.conn, found, shop.settings.markets, shop.today)

    return _change_pieces(shop, "set stage", pieces, say, more=use, dry_run=dry_run)


def _check_stage(stage: str, note: str, batches: Sequence[Code]) -> None:
    """Raise unless the stage is one to be set by hand, and a withdrawal has its reason."""
    if stage not in (*BENCH_STAGES, "withdrawn"):
        raise BadValue(
            f"'{stage}' is not set by hand",
            hint=f"use one of: {', '.join(BENCH_STAGES)}, withdrawn",
            field="--stage",
        )
    if stage == "withdrawn" and batches:
        raise BadValue("nothing goes into a piece that is withdrawn", field="--batch")
    if stage == "withdrawn" and not note.strip():
        raise BadValue("say why it is withdrawn", field="--note")


def set_price(
    shop: Workshop, *, pieces: Sequence[Code], price_minor: int, dry_run: bool = False
) -> tuple[PieceView, ...]:
    """
    Price pieces in the workshop's currency.

    Args:
        shop: The open workshop.
        pieces: Their codes.
        price_minor: Whole minor units.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece is not known.
    """

    def say(change: Change, piece: Piece) -> tuple[str, Mapping[str, Json]]:
        del change, piece
        return "piece.priced", {"price_minor": price_minor, "currency": shop.settings.currency}

    return _change_pieces(shop, "set price", pieces, say, dry_run=dry_run)


def weigh_piece(
    shop: Workshop, *, piece: Code, weight_g: float, dry_run: bool = False
) -> PieceView:
    """
    Record a piece's weight.

    Raises:
        NotFound: If the piece is not known.
        Refused: If it would weigh more than the whole board that it was cut from, or an article
            less than its parts.
    """

    def say(change: Change, found: Piece) -> tuple[str, Mapping[str, Json]]:
        if not found.board:
            _check_outweighs_parts(change.conn, found.code, weight_g)
            return "piece.weighed", {"weight_mg": to_mg(weight_g)}
        whole_mg = load_board(change.conn, found.board).weight_mg
        if whole_mg and to_mg(weight_g) > whole_mg * (1 + SCALES):
            raise Refused(
                f"{format_mass(weight_g)} is more than the {format_mass(whole_mg / 1000)} of its"
                f" whole board {found.board}",
                hint=f"'salvage correct board {found.board} --weight …' mends the board's",
            )
        return "piece.weighed", {"weight_mg": to_mg(weight_g)}

    return _change_pieces(shop, "weigh piece", (piece,), say, dry_run=dry_run)[0]


def _check_in_hand(conn: sqlite3.Connection, piece: Piece) -> None:
    """Raise if a piece is sold, part of an article, or an article that was taken apart."""
    if piece.stage == "sold":
        raise Refused(
            f"{piece.code} is sold", hint=f"salvage piece return {piece.code} if it came back"
        )
    check_single(conn, piece.code)
    _check_whole(conn, piece)


def _check_whole(conn: sqlite3.Connection, piece: Piece) -> None:
    parts = parts_of(conn, piece.code)
    if parts and all(part.taken_out_at for part in parts):
        raise Refused(f"{piece.code} was taken apart", hint="assemble a new article of its parts")


def _check_outweighs_parts(conn: sqlite3.Connection, article: Code, weight_g: float) -> None:
    parts_mg = sum(piece.weight_mg or 0 for piece in cut_pieces(conn, article))
    if to_mg(weight_g) * (1 + SCALES) < parts_mg:
        raise Refused(
            f"{format_mass(weight_g)} is less than the {format_mass(parts_mg / 1000)} of its parts",
            hint="weigh it again, or mend a part's weight with 'salvage piece weigh'",
        )


def sell(
    shop: Workshop,
    *,
    piece: Code,
    price_minor: int | None = None,
    venue: str = "",
    sold_on: date | None = None,
    dry_run: bool = False,
) -> PieceView:
    """
    Record a sale.

    Args:
        shop: The open workshop.
        piece: The piece's code.
        price_minor: What was paid; the marked price when not given.
        venue: Where it was sold; when not given, the outing that is open on this device.
        sold_on: Day of the sale; today when not given.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the piece is not known.
        Refused: If it is sold already, withdrawn, recalled or part of an article, or was cut by
            override from a board whose hazards are still open.
        Held: If a limit of a chosen market is not shown to be met, and nobody answers for it.
        BadValue: If it has no price.
    """

    def steps(change: Change) -> PieceView:
        terms = settle_terms(change, Terms(sold_on or shop.today, venue=venue))
        item = SaleItem(piece, price_minor=price_minor)
        append_sale(change, [item], terms, discount=NO_DISCOUNT)
        return view_piece(change.conn, piece)

    return shop.commit("sell piece", steps, dry_run=dry_run)


def take_back(
    shop: Workshop,
    *,
    piece: Code,
    reason: str,
    returned_on: date | None = None,
    refund_minor: int | None = None,
    paid_by: str = "",
    dry_run: bool = False,
) -> PieceView:
    """
    Record that a buyer brought a piece back.

    Args:
        shop: The open workshop.
        piece: The piece's code.
        reason: Why it came back.
        returned_on: On which day; today when not given.
        refund_minor: What was given back; all that was paid when not given.
        paid_by: One of :data:`salvage.records.season.PAYMENTS`, or empty where nobody noted it.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the piece is not known.
        Refused: If it is not sold.
        BadValue: If no reason is given, the day is before the sale, or more is given back than was
            paid.
    """
    if not reason.strip():
        raise BadValue("say why it came back", field="--reason")

    def steps(change: Change) -> PieceView:
        day = returned_on or shop.today
        terms = settle_terms(change, Terms(day, paid_by, notes=reason))
        append_refund(change, piece, terms, refund_minor=refund_minor)
        return view_piece(change.conn, piece)

    return shop.commit("take back piece", steps, dry_run=dry_run)
