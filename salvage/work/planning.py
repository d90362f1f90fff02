"""Planning an order: which boards to pull, and where each piece is cut, held in one step."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from salvage.errors import NotFound, Refused
from salvage.records.region import region_of_text
from salvage.records.things import Reservation
from salvage.store.lookup import load_plan
from salvage.store.rows import select
from salvage.work.cutting import append_release
from salvage.work.fitting import EVERY_BOARD, BoardFilter
from salvage.work.library import ChosenShape
from salvage.work.plan_draft import (
    PlannedOrder,
    append_plan,
    draft_plan,
    hold_places,
    lines_data,
    planned_order,
    shears_data,
)
from salvage.work.plan_search import Demand, Found, Search, search_places
from salvage.work.plans import (
    LineState,
    PlanView,
    find_plans,
    last_day,
    view_plan,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from salvage.canonical import Json
    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

__all__ = [
    "Demand",
    "PlannedOrder",
    "Search",
    "list_reservations",
    "plan_order",
    "release_order",
    "replan_order",
]


def plan_order(
    shop: Workshop,
    *,
    demands: Sequence[Demand],
    for_whom: str,
    search: Search,
    filters: BoardFilter = EVERY_BOARD,
    until: date | None = None,
    dry_run: bool = False,
) -> PlannedOrder:
    """
    Find boards and places for an order and hold them: few fresh boards, remnants first.

    Every place was checked on the true outlines. What cannot be met is said; where nothing can be,
    no plan is made. Plans whose time is up let their places go first.

    Args:
        shop: The open workshop.
        demands: What is wanted.
        for_whom: Order or person, in words.
        search: How to look, and how long.
        filters: Which boards come into question.
        until: The last day on which the places are held; by the workshop's settings if left out.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If nothing is wanted, a quantity is below 1, or it is not said for whom.
        Refused: If the workshop's bit cannot cut a shape as it is drawn.
        NoRoom: If the shelf changed while the plan was sought.
    """
    draft = draft_plan(
        shop, demands=demands, for_whom=for_whom, search=search, filters=filters, until=until
    )
    return shop.commit(
        "plan order", lambda change: append_plan(change, draft, shop.today), dry_run=dry_run
    )


def replan_order(
    shop: Workshop,
    *,
    plan: Code,
    hold: Collection[Code],
    search: Search,
    filters: BoardFilter = EVERY_BOARD,
    until: date | None = None,
    dry_run: bool = False,
) -> PlannedOrder:
    """
    Plan anew what a plan has not cut yet, while some of its places stay as they are.

    Args:
        shop: The open workshop.
        plan: Its code.
        hold: Its places that stay; what was cut stays anyway.
        search: How to look, and how long; the tool is the plan's own.
        filters: Which boards come into question for the rest.
        until: The last day on which the places are held; by the workshop's settings if left out.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such plan, or it does not hold one of *hold*.
        Refused: If nothing is left to plan, no place is found, or shears would cross what stays.
        NoRoom: If the shelf changed while the plan was sought.
    """
    view = view_plan(shop, plan=plan)
    kept = _kept(view, hold)
    gone = tuple(place for place in view.held if place not in kept)
    demands = _rest(view, kept)
    own, freed = replace(search, tool=view.plan.tool), [place.code for place in gone]
    found = search_places(shop, demands, filters=filters, search=own, freed=freed)
    _check_found(plan, found)
    lines = [_demand_of(state) for state in view.lines]
    data: dict[str, Json] = {
        "holds_until": last_day(shop, until=until).isoformat(),
        "lines": lines_data(lines, found.missing),
        "shears": _old_shears(view, kept) + shears_data(found.shears),
        "why": "",
    }

    def steps(change: Change) -> PlannedOrder:
        for place in gone:
            append_release(change, place.code, "planned again")
        change.append("plan.changed", (plan,), data)
        planned = planned_order(view.plan.for_whom, hold_places(change, plan, lines, found), found)
        return replace(planned, plan=load_plan(change.conn, plan), kept=kept)

    return shop.commit("plan again", steps, dry_run=dry_run)


def _check_found(plan: Code, found: Found) -> None:
    if not found.places:
        reasons = "; ".join(f"{m.quantity} x {m.name}: {m.reason}" for m in found.missing)
        raise Refused(f"no place was found for the rest, and {plan} stays as it was: {reasons}")


def _old_shears(view: PlanView, kept: Sequence[Reservation]) -> list[Json]:
    """The straight cuts of the boards whose places stay, or that were cut already."""
    cut = (place for place in view.places if place.state == "cut")
    staying = {place.board for place in (*kept, *cut)}
    return [
        {
            "board": cut.board,
            "from_x_um": cut.from_x_um,
            "from_y_um": cut.from_y_um,
            "to_x_um": cut.to_x_um,
            "to_y_um": cut.to_y_um,
        }
        for cut in view.shears
        if cut.board in staying
    ]


def _kept(view: PlanView, hold: Collection[Code]) -> tuple[Reservation, ...]:
    """
    The places that stay.

    Raises:
        NotFound: If the plan does not hold one of them.
        Refused: If shears would cross one.
    """
    strangers = sorted(set(hold) - {place.code for place in view.held})
    if strangers:
        raise NotFound(
            f"{view.plan.code} does not hold {', '.join(strangers)}",
            hint=f"its places: salvage plan show {view.plan.code}",
        )
    kept = tuple(place for place in view.held if place.code in hold)
    gone = {place.board for place in view.held if place.code not in hold}
    if view.plan.tool == "shears" and {place.board for place in kept} & gone:
        raise Refused("shears cut a board as a whole: hold all of its places or none")
    return kept


def _rest(view: PlanView, kept: Sequence[Reservation]) -> list[Demand]:
    """
    What is wanted beyond what was cut and what stays.

    Raises:
        Refused: If that is nothing.
    """
    staying = Counter(place.line for place in kept)
    rest = []
    for state in view.lines:
        count = state.line.quantity - state.cut - staying[state.line.n]
        if count > 0:
            rest.append(replace(_demand_of(state), quantity=count))
    if not rest:
        plan = view.plan.code
        raise Refused(f"nothing of {plan} is left to plan", hint=f"salvage plan show {plan}")
    return rest


def _demand_of(state: LineState) -> Demand:
    line = state.line
    shape = ChosenShape(line.shape, region_of_text(line.region), line.shape_sha256)
    return Demand(shape, line.quantity, line.name)


def release_order(
    shop: Workshop, *, for_whom: str, reason: str = "", dry_run: bool = False
) -> tuple[Reservation, ...]:
    """
    Let all places go that are held for somebody, by plans or one by one.

    Args:
        shop: The open workshop.
        for_whom: The name that the reservations bear.
        reason: Why.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If nothing is held under that name.
    """

    def steps(change: Change) -> tuple[Reservation, ...]:
        rest = "FROM reservation WHERE for_whom = ? AND state = 'held' ORDER BY code"
        held = select(change.conn, Reservation, rest, (for_whom,))
        if not held:
            raise NotFound(f"nothing is held for '{for_whom}'")
        plans = find_plans(shop, for_whom=for_whom)
        freed = tuple(append_release(change, one.code, reason) for one in held)
        for plan in plans:
            change.append("plan.released", (plan.code,), {"reason": reason})
        return freed

    return shop.commit("release order", steps, dry_run=dry_run)


def list_reservations(shop: Workshop) -> tuple[Reservation, ...]:
    """All places that are held, by whom they are held for and by board."""
    rest = "FROM reservation WHERE state = 'held' ORDER BY for_whom, board, code"
    return select(shop.conn, Reservation, rest)
