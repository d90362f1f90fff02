"""Orders as people and programs read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.work.order_view import OrderLineState, OrderView


def order_record(view: OrderView) -> dict[str, Any]:
    """An order as JSON, with the private name and contact, which only the owner sees."""
    return record_of(
        view.order,
        name=view.name,
        contact=view.contact,
        phase=view.phase,
        days_left=view.days_left,
        late=view.is_late,
        pressing=view.is_pressing,
        wanted=view.wanted,
        made=view.made,
        ready=view.ready,
        handed=view.handed,
        lines=[_line(state) for state in view.lines],
        quotes=[
            record_of(quote, total=format_money(quote.total_minor, quote.currency))
            for quote in view.quotes
        ],
        plans=[{"plan": plan, "held": held} for plan, held in view.held_by_plan],
        forgotten_at=view.forgotten_at,
    )


def _line(state: OrderLineState) -> dict[str, Any]:
    return record_of(
        state.line,
        held=state.held,
        ready=state.ready,
        handed=state.handed,
        open=state.open,
        each_minor=state.each_minor,
        pieces=[record_of(one) for one in state.pieces],
    )


def due_words(view: OrderView) -> str:
    """When it is due, and how late that is."""
    if view.days_left is None:
        return "no day"
    due = view.order.due_on
    if view.is_late:
        return f"{due}, LATE by {count_of(-view.days_left, 'day')}"
    if view.is_pressing:
        return f"{due}, in {count_of(view.days_left, 'day')}" if view.days_left else f"{due}, today"
    return due


def order_lines(view: OrderView) -> list[str]:
    """An order as people read it."""
    order = view.order
    who = view.name or ("(forgotten)" if view.forgotten_at else "-")
    contact = f", {view.contact}" if view.contact else ""
    lines = [
        f"{order.code}  {view.phase}, for {who}{contact} (private)",
        f"  taken {order.taken_on}, wished by: {due_words(view)}",
    ]
    wish = " and ".join(filter(None, (order.donor, order.drop_off)))
    if wish:
        lines.append(f"  only from boards of {wish}")
    for state in view.lines:
        each = state.each_minor
        price = "" if each is None else f" at {format_money(each, view.quotes[-1].currency)}"
        counts = (
            ("held on boards", state.held),
            ("ready", state.ready),
            ("handed over", state.handed),
            ("without a place", state.open),
        )
        told = ", ".join(f"{count} {word}" for word, count in counts if count)
        lines.append(f"  {state.line.quantity} x {state.line.name}{price}: {told or 'nothing yet'}")
        for one in state.pieces:
            shelf = ", from the shelf" if one.from_shelf else ""
            lines.append(f"    {one.code}  {one.stage}{shelf}")
    for quote in view.quotes:
        total = format_money(quote.total_minor, quote.currency)
        note = f": {quote.notes}" if quote.notes else ""
        lines.append(f"  quoted {quote.made_on}: {total}, valid until {quote.valid_until}{note}")
    lines += [f"  plan {plan}: {held} held" for plan, held in view.held_by_plan]
    lines += [f"  {word}: {text}" for word, text in _texts(view) if text]
    return lines


def _texts(view: OrderView) -> tuple[tuple[str, str], ...]:
    return ("notes", view.order.notes), (view.order.state, view.order.reason)
