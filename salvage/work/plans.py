"""
Plans of orders: what was asked, what is held, cut and open, and until when.

A plan whose last day has passed goes on holding its places until somebody says otherwise: either
``release_plans``, or the next order, which takes expired plans' places back by events of its own.
The tables thus follow from the journal alone, and never from the day on which they are looked at.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.records.things import Plan, PlanLine, PlanShear, Reservation
from salvage.store.lookup import load_plan
from salvage.store.rows import select
from salvage.work.cutting import append_release
from salvage.work.settings import MOST_HOLD_DAYS

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class LineState:
    """
    A line of a plan as it stands.

    Args:
        line: What was asked, with what found no place, and why.
        held: Places that are held.
        cut: Pieces that came out.
        scrap: Cuts that came out as scrap.
    """

    line: PlanLine
    held: int
    cut: int
    scrap: int

    @property
    def placed(self) -> int:
        """Places that the plan found and that were not let go."""
        return self.held + self.cut + self.scrap

    @property
    def open(self) -> int:
        """Pieces that have neither come out nor a place."""
        return max(0, self.line.quantity - self.cut - self.held)


@dataclass(frozen=True, slots=True)
class PlanView:
    """
    A plan as it stands.

    Args:
        plan: The record.
        lines: Its lines in order.
        places: Its places, board by board, those let go left out.
        shears: Its straight cuts in order; empty for a router.
        expired: Whether its last day has passed while it still holds places.
    """

    plan: Plan
    lines: tuple[LineState, ...]
    places: tuple[Reservation, ...]
    shears: tuple[PlanShear, ...]
    expired: bool

    @property
    def held(self) -> tuple[Reservation, ...]:
        """Places that are still held."""
        return tuple(place for place in self.places if place.state == "held")

    @property
    def boards(self) -> tuple[Code, ...]:
        """Boards with its places, in order."""
        return tuple(dict.fromkeys(place.board for place in self.places))

    @property
    def state(self) -> str:
        """``held``, ``expired``, ``cut`` when nothing is held any more, or ``released``."""
        if self.plan.state == "released":
            return "released"
        if not self.held:
            return "cut" if self.places else "nothing held"
        return "expired" if self.expired else "held"


def view_plan(shop: Workshop, *, plan: Code) -> PlanView:
    """
    A plan with its lines and places as they stand.

    Raises:
        NotFound: If there is no such plan.
    """
    return _view(shop.conn, load_plan(shop.conn, plan), shop.today)


def list_plans(shop: Workshop, *, every: bool = False) -> tuple[PlanView, ...]:
    """
    Plans that hold places, those first whose time is up first.

    Args:
        shop: The open workshop.
        every: Plans that hold nothing any more as well.
    """
    plans = select(shop.conn, Plan, "FROM plan ORDER BY holds_until, code")
    views = (_view(shop.conn, plan, shop.today) for plan in plans)
    return tuple(view for view in views if every or view.held)


def _view(conn: sqlite3.Connection, plan: Plan, today: date) -> PlanView:
    lines = select(conn, PlanLine, "FROM plan_line WHERE plan = ? ORDER BY n", (plan.code,))
    places = select(
        conn,
        Reservation,
        "FROM reservation WHERE plan = ? AND state <> 'released' ORDER BY board, code",
        (plan.code,),
    )
    rows = conn.execute(
        "SELECT reservation.line, cut.outcome FROM cut JOIN reservation"
        " ON reservation.code = cut.reservation WHERE reservation.plan = ?",
        (plan.code,),
    )
    made = Counter((int(line), str(outcome)) for line, outcome in rows)
    held = Counter(place.line for place in places if place.state == "held")
    states = (
        LineState(line, held[line.n], made[line.n, "piece"], made[line.n, "scrap"])
        for line in lines
    )
    shears = select(conn, PlanShear, "FROM plan_shear WHERE plan = ? ORDER BY n", (plan.code,))
    is_over = plan.holds_until < today.isoformat()
    return PlanView(plan, tuple(states), places, shears, is_over and bool(held))


def expired_plans(conn: sqlite3.Connection, today: date) -> tuple[Plan, ...]:
    """Plans whose last day has passed and which still hold places."""
    return select(
        conn,
        Plan,
        "FROM plan WHERE holds_until < ? AND state = 'held' AND EXISTS (SELECT 1 FROM reservation"
        " WHERE reservation.plan = plan.code AND reservation.state = 'held')"
        " ORDER BY holds_until, code",
        (today.isoformat(),),
    )


def expired_words(conn: sqlite3.Connection, today: date, *, board: str = "") -> tuple[str, ...]:
    """
    One line for each plan whose time is up while it still holds places.

    Args:
        conn: Open connection.
        today: The workshop's day.
        board: Only plans that hold places on this board.
    """
    return tuple(
        f"plan {plan.code} for {plan.for_whom} held until {plan.holds_until}, which has passed"
        for plan in expired_plans(conn, today)
        if not board or any(place.board == board for place in held_by(conn, plan.code))
    )


def held_by(conn: sqlite3.Connection, plan: Code) -> tuple[Reservation, ...]:
    """Places that a plan still holds, by code."""
    rest = "FROM reservation WHERE plan = ? AND state = 'held' ORDER BY code"
    return select(conn, Reservation, rest, (plan,))


def find_plans(shop: Workshop, *, for_whom: str) -> tuple[Plan, ...]:
    """Plans made for somebody that still hold places, oldest first."""
    rest = (
        "FROM plan WHERE for_whom = ? AND state = 'held' AND EXISTS (SELECT 1 FROM reservation"
        " WHERE reservation.plan = plan.code AND reservation.state = 'held') ORDER BY code"
    )
    return select(shop.conn, Plan, rest, (for_whom,))


def parse_day(text: str, *, field: str = "--until") -> date:
    """
    A day to come, as typed.

    Raises:
        BadValue: If it is no date.

    >>> parse_day("2026-06-30")
    datetime.date(2026, 6, 30)
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise BadValue(
            f"'{text}' is no date", hint="write such as 2026-06-30", field=field
        ) from None


def last_day(shop: Workshop, *, until: date | None = None, days: int | None = None) -> date:
    """
    The last day on which a plan made now holds.

    Args:
        shop: The open workshop.
        until: That day itself.
        days: How many days from today; the workshop's own number if neither is given.

    Raises:
        BadValue: If both are given, it has passed already, or it is too far off.
    """
    if until is not None and days is not None:
        raise BadValue("give a last day or a number of days, not both", field="--until")
    today = shop.today
    day = until or today + timedelta(days=shop.settings.hold_days if days is None else days)
    if day < today:
        raise BadValue(f"{day} has passed", hint=f"today is {today}", field="--until")
    if day > today + timedelta(days=MOST_HOLD_DAYS):
        raise BadValue(
            f"{day} is too far off", hint=f"at most {MOST_HOLD_DAYS} days", field="--until"
        )
    return day


def extend_plan(shop: Workshop, *, plan: Code, until: date, dry_run: bool = False) -> PlanView:
    """
    Let a plan hold its places until another day.

    Args:
        shop: The open workshop.
        plan: The plan's code.
        until: The last day, from :func:`last_day`.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such plan.
        Refused: If it holds nothing.
    """
    today = shop.today

    def steps(change: Change) -> PlanView:
        check_holding(change.conn, plan)
        change.append("plan.extended", (plan,), {"holds_until": until.isoformat()})
        return _view(change.conn, load_plan(change.conn, plan), today)

    return shop.commit("extend plan", steps, dry_run=dry_run)


def check_holding(conn: sqlite3.Connection, plan: Code) -> tuple[Reservation, ...]:
    """
    The places that a plan holds.

    Raises:
        NotFound: If there is no such plan.
        Refused: If it holds nothing.
    """
    found = load_plan(conn, plan)
    held = held_by(conn, plan)
    if not held:
        words = f": it was released ({found.reason})" if found.reason else ""
        raise Refused(f"{plan} holds no place{words}", hint=f"salvage plan show {plan}")
    return held


def release_plans(
    shop: Workshop,
    *,
    plans: Sequence[Code] = (),
    expired: bool = False,
    reason: str = "",
    dry_run: bool = False,
) -> tuple[Reservation, ...]:
    """
    Let go every place that plans hold.

    Args:
        shop: The open workshop.
        plans: The plans' codes.
        expired: Those as well whose last day has passed.
        reason: Why; for expired ones the day is the reason.
        dry_run: Do everything, then roll back.

    Returns:
        The places that are free now.

    Raises:
        NotFound: If there is no such plan, or none has expired.
        Refused: If one of the plans holds nothing.
    """
    today = shop.today

    def steps(change: Change) -> tuple[Reservation, ...]:
        freed: list[Reservation] = []
        for plan in plans:
            check_holding(change.conn, plan)
            freed += append_plan_release(change, plan, reason)
        if expired:
            freed += append_expiries(change, today)
            if not freed:
                raise NotFound("no plan has expired")
        return tuple(freed)

    return shop.commit("release plan", steps, dry_run=dry_run)


def append_plan_release(change: Change, plan: Code, reason: str) -> tuple[Reservation, ...]:
    """Journal inside an open change that a plan lets its places go."""
    held = held_by(change.conn, plan)
    freed = tuple(append_release(change, place.code, reason) for place in held)
    change.append("plan.released", (plan,), {"reason": reason})
    return freed


def append_expiries(change: Change, today: date) -> tuple[Reservation, ...]:
    """Journal inside an open change that the plans whose time is up let their places go."""
    freed: list[Reservation] = []
    for plan in expired_plans(change.conn, today):
        freed += append_plan_release(change, plan.code, f"held until {plan.holds_until}")
    return tuple(freed)
