"""What presses: people wait for it, or a day does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

from salvage.ids import Code
from salvage.work.next_step import NEXT, NOW, Look, NextStep, counted, few, newest

_MOST_ORDERS = 100
# Orders that are due so many days ago and were never handed over are no news any more.
_ORDERS = (
    "SELECT code FROM customer_order WHERE due_on <> '' AND due_on <= ?"
    " AND state IN ('asked', 'quoted', 'accepted')"
    f" ORDER BY due_on DESC LIMIT {_MOST_ORDERS}"
)


def open_recalls(look: Look) -> Iterator[NextStep]:
    """Each recall that is open, with what of it is not settled."""
    rows = look.conn.execute(
        "SELECT code, (SELECT count(*) FROM recall_item WHERE recall = recall.code) AS every,"
        " (SELECT count(*) FROM recall_item WHERE recall = recall.code AND outcome = '') AS open"
        " FROM recall WHERE state = 'open' ORDER BY learned_on DESC, code DESC"
    ).fetchall()
    for code, every, left in rows:
        words = (
            f"recall {code} is open: {left} of {counted(every, 'thing')} not settled"
            if left
            else f"recall {code} is settled and can be closed"
        )
        yield NextStep("recall", NOW, words, f"recall show {code}", (Code(code),), left)


def clashes(look: Look) -> Iterator[NextStep]:
    """What two devices did apart and cannot both be so."""
    (left_out,) = look.conn.execute(
        "SELECT count(*) FROM clash WHERE substr(event_id, -6) NOT IN"
        " (SELECT clash FROM clash_settled)"
    ).fetchone()
    twice = look.codes(
        f"SELECT piece FROM {newest('sale', 'piece, returned_on')} WHERE returned_on = ''"
        " AND piece || '-SOLD' NOT IN (SELECT clash FROM clash_settled)"
        " GROUP BY piece HAVING count(*) > 1"
    )
    count = left_out + len(twice)
    if count:
        words = f"{counted(count, 'clash', 'clashes')} between devices for a person to settle"
        yield NextStep("clash", NOW, words, "device clashes", few(twice), count)


def orders_due(look: Look) -> Iterator[NextStep]:
    """Orders that are late, or due soon and not ready."""
    from datetime import timedelta

    from salvage.work.order_view import SOON_DAYS, see_order

    today = date.fromisoformat(look.today)
    until = (today + timedelta(days=SOON_DAYS)).isoformat()
    views = [see_order(look.conn, code, today) for code in look.codes(_ORDERS, until)]
    late = [view.order.code for view in views if view.is_late]
    soon = [view for view in views if view.is_pressing]
    if late:
        what = f"order {late[0]} is" if len(late) == 1 else f"{len(late)} orders are"
        yield NextStep(
            "order-late", NOW, f"{what} late", f"order show {late[-1]}", few(late), len(late)
        )
    for view in soon[::-1]:
        days = "today" if not view.days_left else f"in {counted(view.days_left, 'day')}"
        words = f"order {view.order.code} is due {days}: {view.ready} of {view.wanted} ready"
        yield NextStep("order-due", NOW, words, f"order show {view.order.code}", (view.order.code,))


def outings(look: Look) -> Iterator[NextStep]:
    """The stall that is open, and the next one where its day has come or is near."""
    rows = look.conn.execute(
        "SELECT code, name, ends_on, state, julianday(begins_on) - julianday(?),"
        " (SELECT count(*) FROM outing_piece WHERE outing = outing.code AND state = 'packed')"
        " FROM outing WHERE state = 'open' OR state = 'planned' AND begins_on <= date(?, '+3 days')"
        " AND ends_on >= ? ORDER BY begins_on",
        (look.today, look.today, look.today),
    ).fetchall()
    for code, name, ends_on, state, days, packed in rows:
        pieces = f"{counted(packed, 'piece')} packed"
        if state == "open" and ends_on < look.today:
            told = NOW, f"{name} is over: count what came home", f"outing home {code}"
        elif state == "open":
            told = NOW, f"the stall at {name} is open", f"outing show {code}"
        elif days <= 0:
            told = NOW, f"{name} begins today, {pieces}", f"outing open {code}"
        else:
            words = f"{name} begins in {counted(int(days), 'day')}, {pieces}"
            told = NEXT, words, f"outing pack {code}"
        yield NextStep("outing", *told, (Code(code),), packed)


def waste(look: Look) -> Iterator[NextStep]:
    """Containers of waste whose time is up or nearly so."""
    from datetime import timedelta

    from salvage.work.waste import SOON_DAYS

    today = date.fromisoformat(look.today)
    rows = look.conn.execute(
        "SELECT code, opened_on, limit_days FROM waste_container AS c WHERE limit_days IS NOT NULL"
        " AND NOT EXISTS (SELECT 1 FROM consignment_item WHERE code <> '' AND code = c.code)"
    ).fetchall()
    due = sorted((date.fromisoformat(at) + timedelta(days=most), code) for code, at, most in rows)
    pressing = [(day, Code(code)) for day, code in due if (day - today).days <= SOON_DAYS]
    if pressing:
        day, code = pressing[0]
        more = f", and {len(pressing) - 1} more" if len(pressing) > 1 else ""
        passed = "had to leave by" if day < today else "must leave by"
        words = f"waste container {code} {passed} {day}{more}"
        found = [code for _, code in pressing]
        yield NextStep("waste", NOW, words, f"waste show {code}", few(found), len(found))


def tools(look: Look) -> Iterator[NextStep]:
    """Bits, filters and masks beyond the limit of their maker."""
    from salvage.work.tools import tool_warnings

    told = tool_warnings(look.conn)
    if told:
        more = f"; and {len(told) - 1} more" if len(told) > 1 else ""
        yield NextStep("tool", NOW, f"{told[0]}{more}", "tool list", (), len(told))


def plans_over(look: Look) -> Iterator[NextStep]:
    """Plans that hold places on boards though their day has passed."""
    from salvage.work.plans import expired_plans

    found = [plan.code for plan in expired_plans(look.conn, date.fromisoformat(look.today))]
    if found:
        words = (
            f"plan {found[0]} holds places on boards though its day has passed"
            if len(found) == 1
            else f"{len(found)} plans hold places on boards though their days have passed"
        )
        yield NextStep("plan", NEXT, words, f"plan show {found[0]}", few(found), len(found))


def requests(look: Look) -> Iterator[NextStep]:
    """Orders that somebody asked for and nobody has quoted."""
    found = look.codes(
        f"SELECT code FROM {newest('customer_order', 'code, state')} WHERE state = 'asked'"
    )
    if found:
        words = f"{counted(len(found), 'request')} without a quote"
        yield NextStep(
            "order-asked", NEXT, words, f"order quote {found[-1]}", few(found), len(found)
        )


PRESSING: tuple[Callable[[Look], Iterator[NextStep]], ...] = (
    open_recalls,
    clashes,
    waste,
    tools,
    outings,
    orders_due,
    plans_over,
    requests,
)
"""The rules of what presses, the gravest first."""
