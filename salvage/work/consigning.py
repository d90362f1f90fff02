"""Handing waste over: what a recycler took, under which permit and paper, and that it arrived."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.things import Board, Consignment
from salvage.records.waste import ConsignmentDetail, ConsignmentItem
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_consignment, load_drop_off
from salvage.store.rows import select, select_one
from salvage.units import format_mass, to_mg
from salvage.work.board_rules import check_nothing_reserved
from salvage.work.day_order import check_order
from salvage.work.mass import check_not_outweighed
from salvage.work.waste import shelf_mg, view_container
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Handed:
    """
    One thing that is handed over.

    Args:
        code: Container or board; None for something loose.
        words: What it is; of containers and boards the record says it.
        weight_g: Its weight; a container's or board's own record stands in for None.
        drop_off: Where something loose came with, if all of it is from one.
    """

    code: Code | None = None
    words: str = ""
    weight_g: float | None = None
    drop_off: Code | None = None


@dataclass(frozen=True, slots=True)
class NewHandOver:
    """
    A consignment with its items.

    Args:
        receiver: Who takes it.
        items: What goes.
        permit: Number of the receiver's permit or registration, as text.
        document: Number of the transport paper.
        sent_on: Day; today when not given.
    """

    receiver: str
    items: tuple[Handed, ...]
    permit: str = ""
    document: str = ""
    sent_on: date | None = None


@dataclass(frozen=True, slots=True)
class ConsignmentView:
    """
    A consignment with its items and what the receiver confirmed.

    Args:
        consignment: The record.
        detail: Permit and receipt; None for an older consignment that nobody confirmed.
        items: What went; empty for an older consignment.
    """

    consignment: Consignment
    detail: ConsignmentDetail | None
    items: tuple[ConsignmentItem, ...]

    @property
    def is_confirmed(self) -> bool:
        """Whether the receiver said that it arrived."""
        return bool(self.detail and self.detail.confirmed_on)


def hand_over(shop: Workshop, *, new: NewHandOver, dry_run: bool = False) -> ConsignmentView:
    """
    Record what was handed to a recycler: containers, whole boards, loose things.

    Containers are closed with it, boards retired.

    Args:
        shop: The open workshop.
        new: What left.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it is not said what went to whom, or something loose has no weight.
        NotFound: If a container, board or drop-off is not known.
        Refused: If something has left already, a board is reserved, or more would have left of a
            drop-off than came in.
    """
    if not new.receiver.strip():
        raise BadValue("say who takes it", field="--receiver")
    if not new.items:
        raise BadValue("say what goes", hint="--container, --board or --item")
    day = new.sent_on or shop.today

    def steps(change: Change) -> ConsignmentView:
        items = [_item(shop, change.conn, handed, day) for handed in new.items]
        _check_once(items)
        for handed in new.items:
            if handed.drop_off and handed.weight_g:
                check_not_outweighed(change.conn, handed.drop_off, to_mg(handed.weight_g))
        code = _append(change, new, items, day)
        return view_consignment(change.conn, code)

    return shop.commit("hand over", steps, dry_run=dry_run)


def _append(change: Change, new: NewHandOver, items: list[dict[str, Json]], day: date) -> Code:
    """Journal the hand-over, and that its boards are retired with it."""
    code = change.new_code("C")
    for item in items:
        if item["what"] == "board":
            reason = f"to {new.receiver}, consignment {code}"
            change.append("board.retired", (Code(str(item["code"])),), {"reason": reason})
    codes = [Code(str(item["code"])) for item in items if item["code"]]
    # Named as origin only, as drop-offs of older consignments are.
    origins = [handed.drop_off for handed in new.items if handed.drop_off]
    change.append(
        "consignment.handed_over",
        tuple(dict.fromkeys((code, *codes, *origins))),
        {
            "receiver": new.receiver,
            "contents": "; ".join(str(item["words"]) for item in items),
            "weight_mg": sum(int(str(item["weight_mg"])) for item in items),
            "sent_on": day.isoformat(),
            "document": new.document,
            "permit": new.permit,
            "items": list(items),
        },
        made=(code,),
    )
    return code


def _item(shop: Workshop, conn: sqlite3.Connection, handed: Handed, day: date) -> dict[str, Json]:
    weight_mg = None if handed.weight_g is None else to_mg(handed.weight_g)
    is_weighed = weight_mg is not None
    words, what = handed.words.strip(), "loose"
    if handed.code and handed.code[0] == "E":
        what, view = "container", view_container(shop, handed.code)
        if view.consignment:
            raise Refused(f"{handed.code} has left already, with {view.consignment}")
        opened = date.fromisoformat(view.container.opened_on)
        check_order(opened, day, words=f"{handed.code} was opened")
        words = f"{view.container.words} ({handed.code})"
        if weight_mg is None:
            weight_mg = view.weight_mg or None
            is_weighed = not view.unweighed and all(item.weighed for item in view.items)
    elif handed.code:
        what, board = "board", load_board(conn, handed.code)
        _check_leaves(conn, board)
        words = f"{board.title} ({board.code})"
        if weight_mg is None:
            weight_mg = shelf_mg(conn, board.code)
    if handed.drop_off:
        load_drop_off(conn, handed.drop_off)
    if not words:
        raise BadValue("say what it is", hint="such as 'steel frames:3.4kg'", field="--item")
    if not weight_mg:
        name = handed.code or words
        raise BadValue(f"nobody has weighed {name}", hint=f"give it as {name}:1.2kg")
    return {
        "what": what,
        "code": handed.code or "",
        "words": words,
        "weight_mg": weight_mg,
        "weighed": is_weighed,
        "drop_off": handed.drop_off,
    }


def _check_once(items: Sequence[dict[str, Json]]) -> None:
    codes = [str(item["code"]) for item in items if item["code"]]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise BadValue(f"{', '.join(twice)} is named twice")


def _check_leaves(conn: sqlite3.Connection, board: Board) -> None:
    if board.retired:
        raise Refused(
            f"{board.code} is retired already: {board.retired}",
            hint="tell its remains with --item, if they are handed over only now",
        )
    check_nothing_reserved(conn, board)


def view_consignment(conn: sqlite3.Connection, code: Code) -> ConsignmentView:
    """A consignment with its items; NotFound where there is none."""
    return ConsignmentView(
        load_consignment(conn, code),
        select_one(
            conn, ConsignmentDetail, "FROM consignment_detail WHERE consignment = ?", (code,)
        ),
        select(
            conn, ConsignmentItem, "FROM consignment_item WHERE consignment = ? ORDER BY n", (code,)
        ),
    )


def confirm_receipt(
    shop: Workshop,
    *,
    consignment: Code,
    confirmation: str,
    confirmed_on: date | None = None,
    weight_g: float | None = None,
    dry_run: bool = False,
) -> ConsignmentView:
    """
    Record that the receiver confirmed a consignment.

    Args:
        shop: The open workshop.
        consignment: Its code.
        confirmation: Number or words of what they sent back.
        confirmed_on: Day; today when not given.
        weight_g: What they weighed, if they said.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such consignment.
        BadValue: If it is not said how, or it was confirmed before it was sent.
        Refused: If it is confirmed already.
    """
    if not confirmation.strip():
        raise BadValue("say how it was confirmed", hint="number of their paper", field="--paper")
    day = confirmed_on or shop.today

    def steps(change: Change) -> ConsignmentView:
        view = view_consignment(change.conn, consignment)
        if view.detail and view.detail.confirmed_on:
            raise Refused(
                f"{consignment} was confirmed on {view.detail.confirmed_on} already",
                hint="undo that first if it was a mistake",
            )
        sent = date.fromisoformat(view.consignment.sent_on)
        check_order(sent, day, words=f"{consignment} was sent")
        change.append(
            "consignment.confirmed",
            (consignment,),
            {
                "confirmed_on": day.isoformat(),
                "confirmed_mg": None if weight_g is None else to_mg(weight_g),
                "confirmation": confirmation,
            },
        )
        return view_consignment(change.conn, consignment)

    return shop.commit("confirm receipt", steps, dry_run=dry_run)


def confirmed_words(view: ConsignmentView) -> str:
    """What the receiver confirmed, in words; or that nobody did yet."""
    detail = view.detail
    if detail is None or not detail.confirmed_on:
        return "not confirmed yet"
    told = f"confirmed on {detail.confirmed_on}: {detail.confirmation}"
    if detail.confirmed_mg is None:
        return told
    return f"{told}, {format_mass(detail.confirmed_mg / 1000)} weighed there"
