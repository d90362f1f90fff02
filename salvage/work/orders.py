"""Orders: what a customer asks for, what it is quoted at, and what the customer says to that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.season import Order, OrderLine, Quote, SetAside
from salvage.store.change import Change
from salvage.store.lookup import load_order, read_private
from salvage.store.rows import select, select_one
from salvage.work.correct import check_nothing_private
from salvage.work.order_view import OrderView, see_order
from salvage.work.plan_search import Demand
from salvage.work.plans import append_plan_release, held_by
from salvage.work.prices import suggest_each
from salvage.work.workshop import Workshop

CLOSED = ("declined", "cancelled")
"""States in which nothing more is done for an order."""


@dataclass(frozen=True, slots=True)
class NewOrder:
    """
    What a customer asks for.

    Args:
        name: The customer; kept apart from the journal, sealed.
        lines: Shapes and how many of each.
        contact: Address or telephone; sealed as well.
        due_on: Day by which it is wished; None for no haste.
        donor: Only of this donor's boards; empty for any.
        drop_off: Only of this drop-off's boards; empty for any.
        notes: For the workshop only, without the name.
    """

    name: str
    lines: Sequence[Demand]
    contact: str = ""
    due_on: date | None = None
    donor: str = ""
    drop_off: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class OrderCorrection:
    """
    What was wrong about an order; None for what stays.

    Args:
        name, contact: Of the customer; sealed anew.
        due_on: Day by which it is wished; empty text for no haste.
        donor, drop_off: Whose boards it is to be made of; empty for any.
        notes: For the workshop only.
        lines: What is asked for; a new quote is needed then.
    """

    name: str | None = None
    contact: str | None = None
    due_on: str | None = None
    donor: str | None = None
    drop_off: str | None = None
    notes: str | None = None
    lines: Sequence[Demand] | None = None


def take_order(shop: Workshop, *, new: NewOrder, dry_run: bool = False) -> OrderView:
    """
    Record what a customer asks for.

    Args:
        shop: The open workshop.
        new: What is known.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If nothing is asked for, the customer has no name, the day has passed, or the
            notes hold a word of the name.
    """
    lines = _lines_data(new.lines)
    if not new.name.strip():
        raise BadValue("say whose order it is", field="--customer")
    if new.due_on and new.due_on < shop.today:
        raise BadValue(f"{new.due_on} has passed", hint=f"today is {shop.today}", field="--due")
    _check_private(new.notes, new.name, new.contact, field="--notes")
    today = shop.today.isoformat()

    def steps(change: Change) -> OrderView:
        code = change.new_code("N")
        data: dict[str, Json] = {
            "name_seal": change.seal(" ".join(new.name.split())),
            "contact_seal": change.seal(" ".join(new.contact.split())),
            "taken_on": today,
            "due_on": new.due_on.isoformat() if new.due_on else "",
            "donor": new.donor,
            "drop_off": new.drop_off,
            "notes": new.notes,
            "lines": lines,
        }
        change.append("order.taken", (code,), data, made=(code,))
        return see_order(change.conn, code, shop.today)

    return shop.commit("take order", steps, dry_run=dry_run)


def _lines_data(lines: Sequence[Demand]) -> list[Json]:
    if not lines or any(line.quantity < 1 for line in lines):
        raise BadValue("an order is one or more of each shape", hint="such as tern:4")
    names = [line.name for line in lines]
    if len(set(names)) < len(names):
        raise BadValue("a shape comes twice", hint="say it once, with the whole number")
    return [
        {
            "name": line.name,
            "shape": line.shape.name,
            "shape_sha256": line.shape.sha256,
            "region": line.shape.region.to_rings(),
            "quantity": line.quantity,
        }
        for line in lines
    ]


def _check_private(text: str, name: str, contact: str, *, field: str) -> None:
    private = {"name": (name, None), "contact": (contact, None)}
    check_nothing_private(text, private, known="", field=field)


def correct_order(
    shop: Workshop, *, order: Code, new: OrderCorrection, why: str, dry_run: bool = False
) -> OrderView:
    """
    Mend what was typed wrong about an order, or what the customer changed.

    Args:
        shop: The open workshop.
        order: Its code.
        new: What is right.
        why: It stays on the record, so it may not hold the name.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        BadValue: If nothing differs, no reason is given, or a text holds a word of the name.
        Refused: If its shapes change although boards are held or pieces wait for it.
    """
    if not why.strip():
        raise BadValue("say why", hint="such as 'wants two more'", field="--reason")

    def steps(change: Change) -> OrderView:
        old = load_order(change.conn, order)
        told = _corrected(change, old, new, why)
        if new.lines is not None:
            _check_nothing_made(see_order(change.conn, order, shop.today))
            change.append("order.relined", (order,), {"lines": _lines_data(new.lines), "why": why})
        elif not told:
            raise BadValue(
                f"nothing about {order} differs from the record", hint=f"salvage order show {order}"
            )
        return see_order(change.conn, order, shop.today)

    return shop.commit("correct order", steps, dry_run=dry_run)


def _corrected(change: Change, old: Order, new: OrderCorrection, why: str) -> bool:
    """Journal the fields that differ; tells whether any did."""
    name, contact = (read_private(change.conn, seal) for seal in (old.name_seal, old.contact_seal))
    for text, field in ((why, "--reason"), (new.notes or "", "--notes")):
        _check_private(
            text, f"{name} {new.name or ''}", f"{contact} {new.contact or ''}", field=field
        )
    now: dict[str, Json] = {}
    for field, was, value in (("name", name, new.name), ("contact", contact, new.contact)):
        if value is not None and value != was:
            now[f"{field}_seal"] = change.seal(value)
    for field in ("due_on", "donor", "drop_off", "notes"):
        value = getattr(new, field)
        if value is not None and value != getattr(old, field):
            now[field] = value
    if now:
        was_all: dict[str, Json] = {field: getattr(old, field) for field in now}
        change.append("order.corrected", (old.code,), {"was": was_all, "now": now, "why": why})
    return bool(now)


def _check_nothing_made(view: OrderView) -> None:
    """Raise if other shapes would leave held places or pieces behind."""
    rests = [f"{plan} holds {count} places" for plan, count in view.held_by_plan if count]
    rests += [f"{one.code} ({one.stage})" for line in view.lines for one in line.pieces]
    if rests:
        raise Refused(
            f"{view.order.code} cannot ask for other shapes while these are its own:"
            f" {', '.join(rests)}",
            hint="release its plans and free its pieces first, or take another order",
        )


def quote_order(
    shop: Workshop,
    *,
    order: Code,
    each: Mapping[str, int],
    valid_until: date,
    notes: str = "",
    dry_run: bool = False,
) -> OrderView:
    """
    Offer an order at a price.

    Args:
        shop: The open workshop.
        order: Its code.
        each: Price of one piece by the name of its line, in minor units; by the maker's rule where
            a line is left out.
        valid_until: Last day on which the customer may accept.
        notes: For the quote.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        Refused: If it is cancelled, or the rule knows no price for a line.
        BadValue: If a line is not of the order, or the day has passed.
    """
    currency, today = shop.settings.currency, shop.today
    if valid_until < today:
        raise BadValue(f"{valid_until} has passed", hint=f"today is {today}", field="--valid")

    def steps(change: Change) -> OrderView:
        view = see_order(change.conn, order, today)
        _check_going_on(view.order, also=("declined",))
        prices = _prices(shop, [line.line for line in view.lines], each)
        n = change.next_numbers("quote", "customer_order", order)[0]
        data = _quote_data(view, prices) | {
            "n": n,
            "currency": currency,
            "valid_until": valid_until.isoformat(),
            "made_on": today.isoformat(),
            "notes": notes,
        }
        change.append("order.quoted", (order,), data)
        return see_order(change.conn, order, today)

    return shop.commit("quote order", steps, dry_run=dry_run)


def _quote_data(view: OrderView, prices: Sequence[int]) -> dict[str, Json]:
    """Lines and their exact sum."""
    priced = [(state.line, each) for state, each in zip(view.lines, prices, strict=True)]
    lines: list[Json] = [
        {"name": line.name, "quantity": line.quantity, "each_minor": each} for line, each in priced
    ]
    return {"lines": lines, "total_minor": sum(line.quantity * each for line, each in priced)}


def _prices(shop: Workshop, lines: Sequence[OrderLine], each: Mapping[str, int]) -> list[int]:
    names = {line.name for line in lines}
    if strangers := sorted(set(each) - names):
        raise BadValue(
            f"the order asks for no '{strangers[0]}'", hint=f"its lines: {', '.join(sorted(names))}"
        )
    found = []
    for line in lines:
        price = each[line.name] if line.name in each else suggest_each(shop, shapes=[line.shape])[0]
        if line.name not in each and not price:
            raise Refused(
                f"no time or rate is known for {line.shape}, so that no price follows",
                hint=f"give one: --each {line.name}=24, or a rate: salvage price rate cutting 12",
            )
        found.append(price)
    return found


def _check_going_on(order: Order, *, also: Sequence[str] = ()) -> None:
    if order.state in CLOSED and order.state not in also:
        raise Refused(f"{order.code} is {order.state}", hint=f"salvage order show {order.code}")


def answer_quote(
    shop: Workshop, *, order: Code, accepted: bool, reason: str = "", dry_run: bool = False
) -> OrderView:
    """
    Record what the customer says to the newest quote; what is declined lets its boards go.

    Args:
        shop: The open workshop.
        order: Its code.
        accepted: Yes or no.
        reason: In the customer's words, without the name.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        Refused: If it is not quoted, or the quote's last day has passed.
    """

    def steps(change: Change) -> OrderView:
        found = load_order(change.conn, order)
        if found.state != "quoted":
            verb = "cancel" if found.state == "accepted" and not accepted else "quote"
            raise Refused(
                f"{order} is {found.state}, not quoted", hint=f"salvage order {verb} {order}"
            )
        rest = "FROM quote WHERE customer_order = ? ORDER BY made_on DESC, n DESC"
        quote = select_one(change.conn, Quote, rest, (order,))
        if accepted and quote and quote.valid_until < shop.today.isoformat():
            raise Refused(
                f"the quote was valid until {quote.valid_until}",
                hint=f"quote it anew: salvage order quote {order}",
            )
        answer = "accepted" if accepted else "declined"
        change.append("order.answered", (order,), {"answer": answer, "reason": reason})
        if not accepted:
            let_go(change, order, f"{order} declined")
        return see_order(change.conn, order, shop.today)

    return shop.commit("answer quote", steps, dry_run=dry_run)


def cancel_order(shop: Workshop, *, order: Code, reason: str, dry_run: bool = False) -> OrderView:
    """
    Cancel an order; its plans let their places go, and its pieces go back on the shelf.

    Args:
        shop: The open workshop.
        order: Its code.
        reason: It stays on the record, so it may not hold the name.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        Refused: If it is cancelled or declined already, or wholly handed over.
        BadValue: If no reason is given.
    """
    if not reason.strip():
        raise BadValue("say why", hint="such as 'changed their mind'", field="--reason")

    def steps(change: Change) -> OrderView:
        view = see_order(change.conn, order, shop.today)
        _check_going_on(view.order)
        if view.phase == "handed over":
            raise Refused(f"{order} is handed over", hint="take pieces back: salvage piece return")
        _check_private(reason, view.name, view.contact, field="--reason")
        let_go(change, order, f"{order} cancelled")
        change.append("order.cancelled", (order,), {"reason": reason})
        return see_order(change.conn, order, shop.today)

    return shop.commit("cancel order", steps, dry_run=dry_run)


def let_go(change: Change, order: Code, reason: str) -> None:
    """Journal inside an open change that the plans of an order let their places go."""
    rows = change.conn.execute(
        "SELECT plan FROM order_plan WHERE customer_order = ? ORDER BY plan", (order,)
    ).fetchall()
    for (plan,) in rows:
        if held_by(change.conn, Code(plan)):
            append_plan_release(change, Code(plan), reason)
    waiting = select(change.conn, SetAside, "FROM set_aside WHERE customer_order = ?", (order,))
    for one in waiting:
        change.append("piece.freed", (one.piece, order), {"reason": reason})
