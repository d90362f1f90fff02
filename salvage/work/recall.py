"""Calling boards and pieces back: from one cause to everything that came of it."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import date

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.things import Recall, RecallItem
from salvage.store.change import Change
from salvage.store.lookup import exists, load_board, load_piece, load_recall, suggest
from salvage.store.rows import select
from salvage.work.trace import descendants, where_now
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class RecallView:
    """
    A recall with the boards and pieces it holds.

    Args:
        recall: The record.
        items: Boards and pieces, with where each was when the recall was opened.
    """

    recall: Recall
    items: tuple[RecallItem, ...]


def view_recall(conn: sqlite3.Connection, code: Code) -> RecallView:
    """The recall with its items; NotFound where there is none."""
    items = select(conn, RecallItem, "FROM recall_item WHERE recall = ? ORDER BY code", (code,))
    return RecallView(load_recall(conn, code), items)


def list_recalls(shop: Workshop) -> tuple[RecallView, ...]:
    """All recalls, newest first."""
    found = select(shop.conn, Recall, "FROM recall ORDER BY learned_on DESC, code DESC")
    return tuple(view_recall(shop.conn, recall.code) for recall in found)


def open_recall(
    shop: Workshop,
    *,
    subject: Code,
    reason: str,
    learned_on: date | None = None,
    dry_run: bool = False,
) -> RecallView:
    """
    Hold everything that came of a donor, drop-off, board, cut or piece.

    Its boards become a no-go and its pieces cannot be sold until the recall is closed. Some places
    ask that a hazard is reported within a day of learning of it (15 USC 2064(b) in the United
    States), hence the day; local codes decide.

    Args:
        shop: The open workshop.
        subject: Where the trouble starts.
        reason: What it is.
        learned_on: Day on which it became known; today when not given.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is nothing with this code.
        BadValue: If no reason is given.
        Refused: If neither a board nor a piece came of it.
    """
    if not reason.strip():
        raise BadValue("say why it is recalled", field="--reason")

    day = (learned_on or shop.today).isoformat()
    return shop.commit(
        "open recall", lambda change: _open(change, subject, reason, day), dry_run=dry_run
    )


def _open(change: Change, subject: Code, reason: str, learned_on: str) -> RecallView:
    conn = change.conn
    if not exists(conn, subject):
        raise NotFound(f"there is nothing with the code {subject}", nearest=suggest(conn, subject))
    affected = [code for code in descendants(conn, subject) if code[0] in "BP"]
    if not affected:
        raise Refused(f"no board or piece came of {subject}, so nothing is to be recalled")
    code = change.new_code("H")
    change.append(
        "recall.opened",
        tuple(dict.fromkeys((code, subject, *affected))),
        {
            "subject": subject,
            "reason": reason,
            "learned_on": learned_on,
            "items": [{"code": item, "where_at": _where(conn, item)} for item in affected],
        },
        made=(code,),
    )
    return view_recall(conn, code)


def _where(conn: sqlite3.Connection, code: Code) -> str:
    if code[0] == "P":
        return where_now(conn, load_piece(conn, code))
    board = load_board(conn, code)
    return f"retired: {board.retired}" if board.retired else board.place or "on the shelf"


def close_recall(
    shop: Workshop, *, recall: Code, outcome: str, dry_run: bool = False
) -> RecallView:
    """
    Close a recall; its boards and pieces are free again unless another holds them.

    Raises:
        NotFound: If there is no such recall.
        Refused: If it is closed already.
        BadValue: If it is not said how it ended.
    """
    if not outcome.strip():
        raise BadValue("say how it ended", field="--outcome")

    def steps(change: Change) -> RecallView:
        view = view_recall(change.conn, recall)
        if view.recall.state != "open":
            raise Refused(f"{recall} is closed already")
        about = (recall, *(item.code for item in view.items))
        change.append("recall.closed", about, {"outcome": outcome})
        return view_recall(change.conn, recall)

    return shop.commit("close recall", steps, dry_run=dry_run)
