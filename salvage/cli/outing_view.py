"""Outings and slips as people and programs read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.work.outings import OutingView
    from salvage.work.selling import Sold
    from salvage.work.slips import SlipView


def outing_record(view: OutingView, *, pieces: bool = True) -> dict[str, Any]:
    """An outing as JSON; its pieces only where they are asked for."""
    outing, currency = view.outing, view.outing.currency
    counts = {
        state: len(view.in_state(state)) for state in ("packed", "sold", "given", "home", "missing")
    }
    record = record_of(
        outing,
        stall_fee=format_money(outing.stall_fee_minor, currency),
        float=format_money(outing.float_minor, currency),
        counts=counts,
        slips=view.slips,
        taken_minor=view.taken_minor,
        taken=format_money(view.taken_minor, currency),
        cash_sales_minor=view.cash_sales_minor,
        card_sales_minor=view.card_sales_minor,
        other_sales_minor=view.other_sales_minor,
        fees_minor=view.fees_minor,
        should_be_minor=view.expected_minor,
        cash_moved=[record_of(one) for one in view.cash],
    )
    if pieces:
        record["pieces"] = [
            {
                "key": one.key,
                "code": one.piece.code,
                "shape": one.piece.shape,
                "state": one.state,
                "price_minor": one.piece.price_minor,
                "currency": one.piece.currency,
                "price": price_words(one.piece.price_minor, one.piece.currency),
            }
            for one in view.pieces
        ]
    return record


def price_words(minor: int | None, currency: str) -> str:
    """A price in words; a dash where there is none."""
    return "-" if minor is None else format_money(minor, currency)


def outing_lines(view: OutingView) -> list[str]:
    """An outing as people read it, with its packing list."""
    outing, currency = view.outing, view.outing.currency
    days = outing.begins_on
    days += f" to {outing.ends_on}" if outing.ends_on != outing.begins_on else ""
    place = f", {outing.place}" if outing.place else ""
    lines = [f"{outing.code}  {outing.name}{place}, {days}: {outing.state}"]
    if outing.stall_fee_minor:
        lines.append(f"  stall fee {format_money(outing.stall_fee_minor, currency)}")
    if outing.state != "planned":
        lines.append(
            f"  taken {format_money(view.taken_minor, currency)} on {count_of(view.slips, 'slip')}:"
            f" cash {format_money(view.cash_sales_minor, currency)},"
            f" card {format_money(view.card_sales_minor, currency)},"
            f" other {format_money(view.other_sales_minor, currency)}"
        )
        lines.append(f"  cash that should be in the box: {_box(view)}")
    if outing.counted_minor is not None and outing.expected_minor is not None:
        off = outing.counted_minor - outing.expected_minor
        told = (
            f" ({format_money(abs(off), currency)} {'over' if off > 0 else 'short'})" if off else ""
        )
        reason = f": {outing.reason}" if outing.reason else ""
        lines.append(f"  counted {format_money(outing.counted_minor, currency)}{told}{reason}")
    for one in view.pieces:
        price = price_words(one.piece.price_minor, one.piece.currency)
        lines.append(
            f"  {one.key or '-':3} {one.piece.code}  {one.piece.shape:16} {price:>12}  {one.state}"
        )
    if outing.notes:
        lines.append(f"  notes: {outing.notes}")
    return lines


def _box(view: OutingView) -> str:
    currency = view.outing.currency
    parts = [f"{format_money(view.outing.float_minor, currency)} to begin with"]
    parts += [
        f"{format_money(abs(one.amount_minor), currency)}"
        f" {'in' if one.amount_minor > 0 else 'out'} ({one.reason})"
        for one in view.cash
    ]
    return f"{format_money(view.expected_minor, currency)} ({', '.join(parts)})"


def slip_record(view: SlipView) -> dict[str, Any]:
    """A slip with its lines as JSON."""
    slip = view.slip
    return record_of(
        slip,
        total_minor=view.total_minor,
        total=format_money(view.total_minor, slip.currency),
        lines=[record_of(line) for line in view.lines],
    )


def sold_record(sold: Sold) -> dict[str, Any]:
    """What a sale came to, as JSON."""
    change = sold.change_minor
    return {
        "sale": slip_record(sold.sale) if sold.sale else None,
        "refunds": [slip_record(refund) for refund in sold.refunds],
        "currency": sold.currency,
        "to_pay_minor": sold.to_pay_minor,
        "to_pay": format_money(sold.to_pay_minor, sold.currency),
        "given_minor": sold.given_minor,
        "change_minor": change,
        "change": None if change is None else format_money(change, sold.currency),
    }
