"""Settling what a recall called back, item by item, with what that does to the thing itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from salvage.canonical import Json
from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.recalls import OUTCOMES
from salvage.records.things import Sale
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_piece
from salvage.store.rows import select
from salvage.work.board_rules import check_nothing_reserved
from salvage.work.lineage import articles_with, parts_of
from salvage.work.recall import RecallView, view_recall
from salvage.work.workshop import Workshop

_NEED_A_NOTE = ("repaired", "not affected", "destroyed")


def settle_items(
    shop: Workshop,
    *,
    recall: Code,
    outcome: str,
    items: Sequence[Code] = (),
    note: str = "",
    dry_run: bool = False,
) -> RecallView:
    """
    Record what became of items of a recall; who and when is recorded with it.

    ``returned`` takes a sold piece back, and it waits on the bench for what is done to it;
    ``destroyed`` withdraws a piece and retires a board; ``repaired`` and ``not affected`` let go at
    once; ``buyer told`` is for sold pieces, ``not found`` for the others. An item may be settled
    again, after the closing too, when it turns up.

    Args:
        shop: The open workshop.
        recall: The recall's code.
        outcome: One of :data:`salvage.records.recalls.OUTCOMES`.
        items: Their codes, an article with the parts in it; all that are open when empty.
        note: What was done or seen; needed for repaired, not affected and destroyed. It may name no
            private person: the journal keeps it.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such recall, or a thing is not in it.
        BadValue: If the outcome is none, or a note is missing.
        Refused: If the outcome does not fit where the thing is.
    """
    if outcome not in OUTCOMES:
        raise BadValue(f"'{outcome}' is no outcome", hint=f"use one of: {', '.join(OUTCOMES)}")
    if outcome in _NEED_A_NOTE and not note.strip():
        raise BadValue(f"say how it was seen to be {outcome}", field="--note")

    def steps(change: Change) -> RecallView:
        chosen = _choose(change, recall, items)
        reason = f"recall {recall}: {note or outcome}"
        for code in chosen:
            _settle_one(_Settling(change, shop, outcome, reason, chosen), code)
        data: Mapping[str, Json] = {"outcome": outcome, "note": note}
        change.append("recall.settled", (recall, *chosen), data)
        return view_recall(change.conn, recall)

    return shop.commit("settle recall", steps, dry_run=dry_run)


def _choose(change: Change, recall: Code, items: Sequence[Code]) -> tuple[Code, ...]:
    """The items that are meant, with the parts in them."""
    view = view_recall(change.conn, recall)
    inside = {item.code for item in view.items}
    asked = items or [item.code for item in view.open_items]
    if not asked:
        raise Refused(f"nothing of {recall} is open")
    for code in asked:
        if code not in inside:
            raise NotFound(f"{code} is not in {recall}", hint=f"salvage recall show {recall}")
    return _with_parts(change, asked, inside)


@dataclass(frozen=True, slots=True)
class _Settling:
    """What is settled together, and how."""

    change: Change
    shop: Workshop
    outcome: str
    reason: str
    chosen: tuple[Code, ...]


def _settle_one(settling: _Settling, code: Code) -> None:
    change, outcome = settling.change, settling.outcome
    if code[0] == "P" and not _is_part(change, code, settling.chosen):
        _PIECE_STEPS[outcome](change, settling.shop, code, settling.reason)
    elif code[0] == "B":
        _settle_board(change, code, outcome, settling.reason)
    elif code[0] == "V" and outcome in ("returned", "buyer told"):
        raise Refused(f"{code} is a batch, which nobody bought here")


def _with_parts(change: Change, asked: Sequence[Code], inside: set[Code]) -> tuple[Code, ...]:
    """What was asked for, and the parts in it that are called back as well."""
    chosen = dict.fromkeys(asked)
    waiting = [code for code in chosen if code[0] == "P"]
    while waiting:
        parts = parts_of(change.conn, waiting.pop())
        more = [part.piece for part in parts if not part.taken_out_at and part.piece in inside]
        waiting += [code for code in more if code not in chosen]
        chosen |= dict.fromkeys(more)
    return tuple(chosen)


def _is_part(change: Change, code: Code, chosen: Sequence[Code]) -> bool:
    """Whether a piece is in an article that is settled with it; one that is not is named."""
    around = articles_with(change.conn, code)
    if around and around[0] not in chosen:
        raise Refused(
            f"{code} is a part of {around[0]}",
            hint="settle the article, or take it apart first: salvage article apart",
        )
    return bool(around)


def _take_back(change: Change, shop: Workshop, code: Code, reason: str) -> None:
    if load_piece(change.conn, code).stage != "sold":
        raise Refused(f"{code} is not sold", hint="say what was done to it: repaired, destroyed …")
    rest = "FROM sale WHERE piece = ? AND returned_on = '' ORDER BY n"
    for sale in select(change.conn, Sale, rest, (code,)):
        day = max(shop.today.isoformat(), sale.sold_on)
        data: dict[str, Json] = {"n": sale.n, "returned_on": day, "reason": reason}
        change.append("piece.returned", (code,), data)


def _must_be_here(change: Change, shop: Workshop, code: Code, reason: str) -> None:
    del shop, reason
    if load_piece(change.conn, code).stage == "sold":
        raise Refused(
            f"{code} is sold", hint="settle it as returned first, or as told to its buyer"
        )


def _must_be_sold(change: Change, shop: Workshop, code: Code, reason: str) -> None:
    del shop, reason
    stage = load_piece(change.conn, code).stage
    if stage != "sold":
        raise Refused(f"{code} is {stage}, so no buyer has it")


def _withdraw(change: Change, shop: Workshop, code: Code, reason: str) -> None:
    _must_be_here(change, shop, code, reason)
    if load_piece(change.conn, code).stage != "withdrawn":
        change.append("piece.staged", (code,), {"stage": "withdrawn", "note": reason})


def _leave(change: Change, shop: Workshop, code: Code, reason: str) -> None:
    """A piece that is not affected may be anywhere, with its buyer too."""


_PIECE_STEPS: Mapping[str, Callable[[Change, Workshop, Code, str], None]] = {
    "returned": _take_back,
    "repaired": _must_be_here,
    "not affected": _leave,
    "destroyed": _withdraw,
    "buyer told": _must_be_sold,
    "not found": _must_be_here,
}


def _settle_board(change: Change, code: Code, outcome: str, reason: str) -> None:
    if outcome in ("returned", "buyer told"):
        raise Refused(f"{code} is a board, which nobody bought here")
    board = load_board(change.conn, code)
    if outcome == "destroyed" and not board.retired:
        check_nothing_reserved(change.conn, board)
        change.append("board.retired", (code,), {"reason": reason})
