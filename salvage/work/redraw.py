"""Drawing a keep-out anew: the old one is lifted and the new one marked, in one step."""

from __future__ import annotations

from salvage.errors import Refused
from salvage.ids import Code
from salvage.records.things import Board
from salvage.store.change import Change
from salvage.store.lookup import load_board
from salvage.work.area import usable_with
from salvage.work.record import NewKeepOut, append_keep_outs, list_keep_outs
from salvage.work.workshop import Workshop

_WHY = "drawn anew"


def redraw_keep_out(
    shop: Workshop, *, board: Code, n: int, keep_out: NewKeepOut, dry_run: bool = False
) -> Board:
    """
    Give a keep-out another place or form; both stay on the record, the old one as lifted.

    Args:
        shop: The open workshop.
        board: The board's code.
        n: Number of the keep-out as it is.
        keep_out: As it is to be.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        Refused: If it has no such keep-out that stands.
        BadOutline: If the new region lies wholly outside.
    """

    def steps(change: Change) -> Board:
        old = load_board(change.conn, board)
        standing = {k.n: k.reason for k in list_keep_outs(shop, board) if not k.lifted}
        if n not in standing:
            known = ", ".join(f"{k} ({reason})" for k, reason in standing.items()) or "none"
            raise Refused(f"{board} has no keep-out {n}", hint=f"it has: {known}")
        usable = usable_with(change.conn, old, without=n)
        change.append("keepout.lifted", (board,), {"n": n, "reason": _WHY, "usable_um2": usable})
        append_keep_outs(change, load_board(change.conn, board), [keep_out])
        return load_board(change.conn, board)

    return shop.commit("redraw keep-out", steps, dry_run=dry_run)
