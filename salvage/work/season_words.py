"""One line of plain words for every kind of event of the selling season."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from salvage.units import format_money

# The fields of an event are what its kind says (salvage.records.events.KINDS), so Any is safe here.
Data = Mapping[str, Any]


def _reason(text: str) -> str:
    return f": {text}" if text else ""


def _lines(d: Data) -> str:
    return ", ".join(f"{line['quantity']} x {line['name']}" for line in d["lines"])


def _due(d: Data) -> str:
    return f", wished by {d['due_on']}" if d["due_on"] else ""


def _slip(d: Data, verb: str) -> str:
    total = format_money(sum(line["paid_minor"] for line in d["lines"]), d["currency"])
    told = ", ".join(line["words"] for line in d["lines"])
    paid = f" by {d['paid_by']}" if d["paid_by"] else ""
    venue = f" at {d['venue']}" if d["venue"] else ""
    return f"{verb} {total}{paid}{venue} on {d['day']}: {told}"


def _closed(d: Data) -> str:
    counted = format_money(d["counted_minor"], d["currency"])
    expected = format_money(d["expected_minor"], d["currency"])
    missing = f", {len(d['missing'])} pieces missing" if d["missing"] else ""
    return f"outing closed: {counted} counted, {expected} expected{missing}{_reason(d['reason'])}"


def format_minutes(seconds: int) -> str:
    """
    A time as people read it.

    >>> format_minutes(750)
    '12.5 min'
    """
    return f"{seconds / 60:.2f}".rstrip("0").rstrip(".") + " min"


def _rated(d: Data) -> str:
    time = "no rate" if d["seconds"] is None else format_minutes(d["seconds"])
    tool = f" by {d['tool']}" if d["tool"] else ""
    return f"rate of {d['step']}{tool} for {d['shape'] or 'every shape'}: {time}"


def _spent(d: Data) -> str:
    total = format_minutes(sum(one["seconds"] for one in d["spent"]))
    count = len(d["spent"])
    return f"{total} of {d['step']} on {count} piece{'s' * (count > 1)}{_reason(d['note'])}"


def season_words(corrected: Callable[[str], Callable[[Data], str]]) -> dict[str, Any]:
    """
    Words by kind of event.

    Args:
        corrected: Makes the words of a correction from what is corrected.
    """
    return {
        "order.taken": lambda d: f"order taken on {d['taken_on']}: {_lines(d)}{_due(d)}",
        "order.corrected": corrected("order"),
        "order.relined": lambda d: f"order changed: {_lines(d)}{_reason(d['why'])}",
        "order.quoted": lambda d: (
            f"quoted at {format_money(d['total_minor'], d['currency'])},"
            f" valid until {d['valid_until']}"
        ),
        "order.answered": lambda d: f"quote {d['answer']}{_reason(d['reason'])}",
        "order.planned": lambda d: f"boards are held by plan {d['plan']}",
        "order.cancelled": lambda d: f"order cancelled{_reason(d['reason'])}",
        "order.forgotten": lambda d: (
            f"customer forgotten, name and contact erased{_reason(d['reason'])}"
        ),
        "piece.set_aside": lambda d: f"set aside for order {d['order']}",
        "piece.freed": lambda d: f"not set aside any more{_reason(d['reason'])}",
        "outing.planned": lambda d: f"outing planned: {d['name']}, {d['begins_on']}",
        "outing.corrected": corrected("outing"),
        "piece.packed": lambda d: f"packed for {d['outing']} as {d['key']}",
        "piece.unpacked": lambda d: f"taken out of the box for {d['outing']}{_reason(d['reason'])}",
        "piece.came_home": lambda d: f"came home from {d['outing']}",
        "outing.opened": lambda d: (
            f"stall opened with {format_money(d['float_minor'], d['currency'])} in the box"
        ),
        "outing.cash_moved": lambda d: (
            f"{format_money(abs(d['amount_minor']), d['currency'])}"
            f" {'into' if d['amount_minor'] >= 0 else 'out of'} the box{_reason(d['reason'])}"
        ),
        "outing.closed": _closed,
        "sale.made": lambda d: _slip(d, "sold for"),
        "sale.refunded": lambda d: _slip(d, "given back"),
        "time.noted": _spent,
        "time.rated": _rated,
    }
