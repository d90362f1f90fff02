"""Calling boards and pieces back: from one cause to all that it reaches, held in one step."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.recalls import Recall, RecallItem
from salvage.store.change import Change
from salvage.store.lookup import exists, load_recall, suggest
from salvage.store.recall_reach import reach, reach_of_things
from salvage.store.rows import select
from salvage.units import format_instant, has_come
from salvage.work.recall_causes import RecallCause, from_thing
from salvage.work.recall_unknown import Unknown, find_unknown
from salvage.work.whereabouts import Whereabouts, locate
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class RecallView:
    """
    A recall with what it calls back.

    Args:
        recall: The record.
        items: Boards, pieces and batches, with how each is settled.
        now: Where each is now, the most urgent first.
        unknown: What cannot be ruled out, because the record holds no link.
    """

    recall: Recall
    items: tuple[RecallItem, ...]
    now: tuple[Whereabouts, ...] = ()
    unknown: tuple[Unknown, ...] = ()

    @property
    def open_items(self) -> tuple[RecallItem, ...]:
        """Items with which something is left to do."""
        return tuple(item for item in self.items if not item.is_settled)


@dataclass(frozen=True, slots=True)
class NewRecall:
    """
    A recall before it is opened.

    Args:
        cause: Where the trouble starts.
        reason: What it is, in words that do not play it down.
        learned_on: Day, or UTC instant, at which it became known; now when empty.
        to_do: What a buyer is to do; the usual words when empty.
        hold: Hold everything at once.
    """

    cause: RecallCause
    reason: str
    learned_on: str = ""
    to_do: str = ""
    hold: bool = True


def view_recall(conn: sqlite3.Connection, code: Code) -> RecallView:
    """The recall with its items; NotFound where there is none."""
    recall = load_recall(conn, code)
    items = select(conn, RecallItem, "FROM recall_item WHERE recall = ? ORDER BY code", (code,))
    now = locate(conn, (item.code for item in items))
    there = {one.code for one in now}
    gone = tuple(
        Whereabouts(item.code, "", "gone", f"on record no more; it was {item.where_at}")
        for item in items
        if item.code not in there
    )
    return RecallView(recall, items, (*now, *gone), find_unknown(conn, code, recall.cause_map))


def list_recalls(shop: Workshop) -> tuple[RecallView, ...]:
    """All recalls with their items, newest first; where each is and what is unknown left out."""
    found = select(shop.conn, Recall, "FROM recall ORDER BY learned_on DESC, code DESC")
    rest = "FROM recall_item WHERE recall = ? ORDER BY code"
    return tuple(
        RecallView(recall, select(shop.conn, RecallItem, rest, (recall.code,))) for recall in found
    )


def affected_by(conn: sqlite3.Connection, cause: RecallCause) -> tuple[Whereabouts, ...]:
    """Everything that a cause reaches and where it is now, without opening a recall."""
    return locate(conn, reach(conn, cause.fields))


def open_recall(
    shop: Workshop,
    *,
    subject: Code,
    reason: str,
    learned_on: date | None = None,
    dry_run: bool = False,
) -> RecallView:
    """
    Hold everything that came of a donor, drop-off, board, cut, piece or batch of a material.

    Args:
        shop: The open workshop.
        subject: Where the trouble starts.
        reason: What it is.
        learned_on: Day on which it became known; now when not given.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is nothing with this code.
        BadValue: If no reason is given, or nothing comes of such a thing.
        Refused: If nothing came of it.
    """
    new = NewRecall(
        from_thing(shop.conn, subject), reason, learned_on.isoformat() if learned_on else ""
    )
    return begin_recall(shop, new=new, dry_run=dry_run)


def begin_recall(shop: Workshop, *, new: NewRecall, dry_run: bool = False) -> RecallView:
    """
    Call back everything that a cause reaches, and hold it in one step.

    Its boards become a no-go, its pieces cannot be sold or worked on, its batches not be used,
    until the recall is closed. What the cause reaches later joins by itself. Some places ask that a
    hazard is reported within a day of learning of it (15 USC 2064(b) in the United States), hence
    the day; local codes decide.

    Args:
        shop: The open workshop.
        new: Cause, reason and what to do.
        dry_run: Do everything, then roll back; the preview.

    Raises:
        BadValue: If no reason is given, or it became known in the future.
        Refused: If nothing is reached, and nothing is unknown either.
    """
    if not new.reason.strip():
        raise BadValue("say why it is recalled", field="--reason")
    learned_on = new.learned_on or format_instant(shop.clock())
    if not has_come(date.fromisoformat(learned_on[:10]), shop.today):
        raise BadValue(f"{learned_on[:10]} has not come yet", field="--date")
    whole = replace(new, learned_on=learned_on)
    return shop.commit("open recall", lambda change: _begin(change, whole), dry_run=dry_run)


def _begin(change: Change, new: NewRecall) -> RecallView:
    conn, cause = change.conn, new.cause
    items = [Code(code) for code in reach(conn, cause.fields)]
    where = {one.code: one.words for one in locate(conn, items)}
    unknown = find_unknown(conn, Code(""), cause.fields)
    if not items and not (unknown and cause.fields["kind"] != "descent"):
        raise Refused(f"nothing came of {cause.words}, so nothing is to be recalled")
    code = change.new_code("H")
    named = [str(cause.fields["code"])] if cause.fields["kind"] == "descent" else []
    change.append(
        "recall.begun",
        tuple(map(Code, dict.fromkeys((code, *named, *items)))),
        {
            "cause": cause.fields,
            "subject": cause.words,
            "reason": new.reason,
            "learned_on": new.learned_on,
            "to_do": new.to_do,
            "hold": new.hold,
            "items": [{"code": item, "where_at": where[item]} for item in items],
            "unknown": len(unknown),
        },
        made=(code,),
    )
    return view_recall(conn, code)


def _change_recall(
    shop: Workshop,
    act: str,
    recall: Code,
    steps: Callable[[Change, RecallView], None],
    *,
    dry_run: bool,
) -> RecallView:
    def whole(change: Change) -> RecallView:
        steps(change, view_recall(change.conn, recall))
        return view_recall(change.conn, recall)

    return shop.commit(act, whole, dry_run=dry_run)


def check_open(view: RecallView) -> None:
    """
    Raise if a recall is closed.

    Raises:
        Refused: With its outcome.
    """
    if view.recall.state != "open":
        raise Refused(f"{view.recall.code} is closed already: {view.recall.outcome}")


def hold_recall(
    shop: Workshop, *, recall: Code, hold: bool = True, dry_run: bool = False
) -> RecallView:
    """
    Hold everything of a recall that was opened without, or let it go while it is looked into.

    Raises:
        NotFound: If there is no such recall.
        Refused: If it is closed, or holds, or holds nothing, already.
    """

    def steps(change: Change, view: RecallView) -> None:
        check_open(view)
        if bool(view.recall.hold) == hold:
            raise Refused(f"{recall} {'holds' if hold else 'holds nothing of'} its things already")
        about = (recall, *(item.code for item in view.items))
        change.append("recall.hold_set", about, {"hold": hold})

    return _change_recall(shop, "hold recall", recall, steps, dry_run=dry_run)


def add_to_recall(
    shop: Workshop, *, recall: Code, things: Sequence[Code], why: str, dry_run: bool = False
) -> RecallView:
    """
    Take in boards, pieces or batches that the cause did not reach, with all that came of them.

    Args:
        shop: The open workshop.
        recall: The recall's code.
        things: Such as those of which nobody knows.
        why: For the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such recall or thing.
        BadValue: If it is not said why, or a thing cannot be called back.
        Refused: If the recall is closed, or all of them are in it.
    """
    if not why.strip():
        raise BadValue("say why it joins", field="--reason")

    def steps(change: Change, view: RecallView) -> None:
        check_open(view)
        for code in things:
            if code[0] not in "BPV":
                raise BadValue(f"{code} is no board, piece or batch", field="CODE")
            if not exists(change.conn, code):
                raise NotFound(f"there is no {code}", nearest=suggest(change.conn, code))
        inside = {item.code for item in view.items}
        found = [c for c in map(Code, reach_of_things(change.conn, things)) if c not in inside]
        if not found:
            raise Refused(f"all of that is in {recall} already")
        where = locate(change.conn, found)
        items: list[Json] = [{"code": one.code, "where_at": one.words} for one in where]
        change.append("recall.joined", (recall, *found), {"items": items, "why": why})

    return _change_recall(shop, "add to recall", recall, steps, dry_run=dry_run)


_MOST_TOLD = 12


def close_recall(
    shop: Workshop, *, recall: Code, outcome: str, anyway: str = "", dry_run: bool = False
) -> RecallView:
    """
    Close a recall.

    What was found fine or repaired, and what was left open, is free unless another recall holds
    it; what was destroyed, not found, or is with a buyer who was told stays held, should it turn
    up.

    Args:
        shop: The open workshop.
        recall: The recall's code.
        outcome: How it ended.
        anyway: Why it is closed although items are open or things are not ruled out.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such recall.
        Refused: If it is closed already, or something is open and no reason is given, with the
            list.
        BadValue: If it is not said how it ended.
    """
    if not outcome.strip():
        raise BadValue("say how it ended", field="--outcome")

    def steps(change: Change, view: RecallView) -> None:
        check_open(view)
        left = [item.code for item in view.open_items]
        unknown = [one.code for one in view.unknown if one.code[0] != "K"]
        about = (recall, *(item.code for item in view.items))
        if (left or unknown) and not anyway.strip():
            raise Refused(
                f"{recall} cannot be closed:{_left_in_words(view, left, unknown)}",
                hint=_mend_of(left),
            )
        change.append("recall.closed", about, {"outcome": outcome})
        if left or unknown:
            data: dict[str, Json] = {"items": [*left], "unknown": len(unknown), "why": anyway}
            change.append("recall.left_open", (recall,), data)

    return _change_recall(shop, "close recall", recall, steps, dry_run=dry_run)


def _mend_of(left: Sequence[Code]) -> str:
    """What can be done: only things of the recall can be settled, not what is not ruled out."""
    if left:
        return "settle them with 'salvage recall settle', or say why with --anyway"
    return "take in with 'salvage recall add' what is of it, or say why not with --anyway"


def _left_in_words(view: RecallView, left: Sequence[Code], unknown: Sequence[Code]) -> str:
    where = {one.code: f"{one.what}, {one.words}" for one in view.now}
    lines = [f"  {code}  {where[code]}" for code in left[:_MOST_TOLD]]
    if len(left) > _MOST_TOLD:
        lines.append(f"  … and {len(left) - _MOST_TOLD} more open")
    words = {one.code: one.words for one in view.unknown}
    lines += [f"  {code}  not ruled out: {words[code]}" for code in unknown[:_MOST_TOLD]]
    if len(unknown) > _MOST_TOLD:
        lines.append(f"  … and {len(unknown) - _MOST_TOLD} more not ruled out")
    return "\n" + "\n".join(lines)
