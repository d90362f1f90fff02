"""Forgetting a customer: name and contact are erased, the order and its sales stay."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.store.change import Change
from salvage.store.forget import copies_that_hold, erase, flush_erased, seals_of_donor
from salvage.store.lookup import load_order
from salvage.work.correct import check_nothing_private
from salvage.work.forget import Mention, find_mentions, sealed_words, was_added
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class CustomerForgotten:
    """
    What was erased, and what a person must see to.

    Args:
        order: The order's code.
        erased: Number of sealed texts erased; 0 where it was done before.
        mentions: Free texts that hold a word of the name.
        copies: Backups and bundles in the workshop's folder that still hold it.
        is_flushed: False where another program was reading, so that SQLite's log was not emptied.
    """

    order: Code
    erased: int
    mentions: tuple[Mention, ...]
    copies: tuple[str, ...]
    is_flushed: bool


def forget_customer(
    shop: Workshop, *, order: Code, reason: str, dry_run: bool = False
) -> CustomerForgotten:
    """
    Erase the sealed words of an order's customer from this device; the chain still verifies.

    Other devices erase theirs when they merge. It cannot be undone.

    Args:
        shop: The open workshop.
        order: The order's code.
        reason: Such as "asked by letter"; it stays on the record, so it may not hold the name.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        BadValue: If no reason is given, or it holds a word of name or contact.
    """
    if not reason.strip():
        raise BadValue("say why", hint="such as 'asked by letter'", field="--reason")
    salts: list[str] = []
    seals: list[str] = []

    def steps(change: Change) -> tuple[Mention, ...]:
        if not was_added(change.conn, order):
            load_order(change.conn, order)  # raises with the nearest
        seals[:] = seals_of_donor(change.conn, order)
        words = sealed_words(change.conn, seals)
        private = {f"text of {order}": (words, None)}
        check_nothing_private(reason, private, known="", field="--reason")
        mentions = tuple(find_mentions(change.conn, words)) if words else ()
        salts[:] = erase(change.conn, seals)
        if salts or not _is_forgotten(change, order):
            change.append("order.forgotten", (order,), {"seals": list(seals), "reason": reason})
        return mentions

    mentions = shop.commit("forget customer", steps, dry_run=dry_run)
    is_flushed = dry_run or flush_erased(shop.conn, shop.path, salts)
    copies = copies_that_hold(shop.folder, shop.path, seals)
    names = tuple(str(path.relative_to(shop.folder)) for path in copies)
    return CustomerForgotten(order, len(salts), mentions, names, is_flushed)


def _is_forgotten(change: Change, order: Code) -> bool:
    row = change.conn.execute(
        "SELECT 1 FROM forgotten_customer WHERE customer_order = ?", (order,)
    ).fetchone()
    return row is not None
