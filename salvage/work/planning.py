"""Planning an order: which boards to pull, and where each piece is cut, held in one step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from salvage.canonical import Json
from salvage.errors import BadValue, NoRoom, NotFound, Refused
from salvage.ids import Code
from salvage.records.region import region_of_text
from salvage.records.things import Plan, Reservation
from salvage.store.change import Change
from salvage.store.lookup import load_plan
from salvage.store.rows import select
from salvage.units import from_um
from salvage.work.cutting import (
    PlanSeat,
    Spot,
    append_release,
    append_reservation,
    usual_kerf_mm,
)
from salvage.work.fitting import EVERY_BOARD, BoardFilter
from salvage.work.library import ChosenShape, check_cuttable
from salvage.work.plan_search import Demand, Found, Missing, Search, search_places
from salvage.work.plans import (
    LineState,
    PlanView,
    append_expiries,
    expired_plans,
    find_plans,
    held_by,
    last_day,
    view_plan,
)
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.shears import ShearCut

__all__ = [
    "Demand",
    "PlannedOrder",
    "Search",
    "list_reservations",
    "plan_order",
    "release_order",
    "replan_order",
]


@dataclass(frozen=True, slots=True)
class PlannedOrder:
    """
    A plan, with its places held.

    Args:
        for_whom: Whose order it is; its reservations bear this name.
        reservations: Places held by this step, board by board.
        unmet: What cannot be given, and why.
        fresh_boards: Boards that would be cut for the first time.
        boards_touched: Boards to handle.
        plan: The plan; None where no place at all was found, so that there is none.
        kept: Places that an earlier plan held and that stay.
        expired: Places of other plans that were let go, since their time was up.
    """

    for_whom: str
    reservations: tuple[Reservation, ...]
    unmet: tuple[Missing, ...]
    fresh_boards: int
    boards_touched: int
    plan: Plan | None = None
    kept: tuple[Reservation, ...] = ()
    expired: tuple[Reservation, ...] = ()


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
    lines = _checked(shop, demands, for_whom, search)
    found = search_places(shop, lines, filters=filters, search=search, freed=_expiring(shop))
    data: dict[str, Json] = {
        "for_whom": for_whom,
        "holds_until": last_day(shop, until=until).isoformat(),
        "tool": search.tool,
        "kerf_um": round(usual_kerf_mm(shop, search.tool) * 1000),
        "lines": _lines_data(lines, found.missing),
        "shears": _shears_data(found.shears),
    }

    def steps(change: Change) -> PlannedOrder:
        if not found.places:
            return _planned(for_whom, (), found)
        expired, plan = append_expiries(change, shop.today), change.new_code("J")
        change.append("plan.made", (plan,), data, made=(plan,))
        planned = _planned(for_whom, _hold(change, plan, lines, found), found)
        return replace(planned, plan=load_plan(change.conn, plan), expired=expired)

    return shop.commit("plan order", steps, dry_run=dry_run)


def _expiring(shop: Workshop) -> list[Code]:
    """Places of the plans whose time is up."""
    plans = expired_plans(shop.conn, shop.today)
    return [place.code for plan in plans for place in held_by(shop.conn, plan.code)]


def _checked(
    shop: Workshop, demands: Sequence[Demand], for_whom: str, search: Search
) -> list[Demand]:
    """The order's lines; see :func:`plan_order` for what is refused."""
    lines = _tidy(demands)
    if not for_whom.strip():
        raise BadValue("say for whom", field="--for")
    if search.tool == "router" and not search.anyway:
        for line in lines:
            check_cuttable(shop, line.shape)
    return lines


def _tidy(demands: Sequence[Demand]) -> list[Demand]:
    """
    The lines of an order; equal ones are one, and what is called alike but differs is refused.

    Raises:
        BadValue: If nothing is wanted, or a quantity is below 1.
    """
    if not demands or any(demand.quantity < 1 for demand in demands):
        raise BadValue("an order is one or more of each shape", hint="such as tern:4")
    lines: dict[str, Demand] = {}
    for demand in demands:
        known = lines.get(demand.name)
        if known and known.shape != demand.shape:
            raise BadValue(f"'{demand.name}' comes twice, in two sizes", hint="name both widths")
        count = demand.quantity + (known.quantity if known else 0)
        lines[demand.name] = replace(demand, quantity=count)
    return list(lines.values())


def _planned(for_whom: str, held: tuple[Reservation, ...], found: Found) -> PlannedOrder:
    return PlannedOrder(for_whom, held, found.missing, found.fresh_boards, found.boards_touched)


def _lines_data(lines: Sequence[Demand], missing: Sequence[Missing]) -> list[Json]:
    unmet = {each.name: each for each in missing}
    return [
        {
            "name": line.name,
            "shape": line.shape.name,
            "shape_sha256": line.shape.sha256,
            "region": line.shape.region.to_rings(),
            "quantity": line.quantity,
            "unmet": unmet[line.name].quantity if line.name in unmet else 0,
            "reason": unmet[line.name].reason if line.name in unmet else "",
        }
        for line in lines
    ]


def _shears_data(cuts: Sequence[tuple[Code, ShearCut]]) -> list[Json]:
    found: list[Json] = []
    for board, cut in cuts:
        (from_x, from_y), (to_x, to_y) = cut.start_mm, cut.end_mm
        found.append(
            {
                "board": board,
                "from_x_um": round(from_x * 1000),
                "from_y_um": round(from_y * 1000),
                "to_x_um": round(to_x * 1000),
                "to_y_um": round(to_y * 1000),
            }
        )
    return found


def _hold(
    change: Change, plan: Code, lines: Sequence[Demand], found: Found
) -> tuple[Reservation, ...]:
    """Journal the places of a plan inside an open change."""
    numbers = {line.name: n for n, line in enumerate(lines, 1)}
    shapes = {line.name: line.shape for line in lines}
    made = load_plan(change.conn, plan)
    held = []
    for place in found.places:
        at = place.placement
        side = "back" if at.mirrored else "front"
        spot = Spot(shapes[place.name], at.x_um, at.y_um, at.angle_mdeg, side)
        seat = PlanSeat(plan, numbers[place.name], from_um(made.kerf_um))
        try:
            held.append(append_reservation(change, place.board, spot, made.for_whom, seat=seat))
        except NoRoom as error:
            raise NoRoom(
                f"the shelf changed while the plan was sought: on {place.board} {error}",
                hint="plan the order once more",
            ) from error
    return tuple(held)


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
        "lines": _lines_data(lines, found.missing),
        "shears": _old_shears(view, kept) + _shears_data(found.shears),
        "why": "",
    }

    def steps(change: Change) -> PlannedOrder:
        for place in gone:
            append_release(change, place.code, "planned again")
        change.append("plan.changed", (plan,), data)
        planned = _planned(view.plan.for_whom, _hold(change, plan, lines, found), found)
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
