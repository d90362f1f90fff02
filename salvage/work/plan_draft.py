"""A plan before it is journalled: boards and places that were found, and how they are held."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, NoRoom
from salvage.frozen import dataclass, replace
from salvage.store.lookup import load_plan
from salvage.units import from_um
from salvage.work.cutting import PlanSeat, Spot, append_reservation, usual_kerf_mm
from salvage.work.fitting import EVERY_BOARD, BoardFilter
from salvage.work.library import check_cuttable
from salvage.work.plan_search import Demand, Found, Missing, Search, search_places
from salvage.work.plans import append_expiries, expired_plans, held_by, last_day

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from salvage.canonical import Json
    from salvage.geometry.shears import ShearCut
    from salvage.ids import Code
    from salvage.records.things import Plan, Reservation
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


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


@dataclass(frozen=True, slots=True)
class PlanDraft:
    """
    A plan that was sought and is not held yet.

    Args:
        for_whom: Whose order it is.
        lines: What is wanted.
        found: Where it goes, and what found no place.
        data: Fields of the event that makes the plan.
    """

    for_whom: str
    lines: Sequence[Demand]
    found: Found
    data: dict[str, Json]


def draft_plan(
    shop: Workshop,
    *,
    demands: Sequence[Demand],
    for_whom: str,
    search: Search,
    filters: BoardFilter = EVERY_BOARD,
    until: date | None = None,
) -> PlanDraft:
    """
    Seek boards and places for an order; see :func:`salvage.work.planning.plan_order`.

    Raises:
        BadValue: If nothing is wanted, a quantity is below 1, or it is not said for whom.
        Refused: If the workshop's bit cannot cut a shape as it is drawn.
    """
    lines = _checked(shop, demands, for_whom, search)
    found = search_places(shop, lines, filters=filters, search=search, freed=_expiring(shop))
    data: dict[str, Json] = {
        "for_whom": for_whom,
        "holds_until": last_day(shop, until=until).isoformat(),
        "tool": search.tool,
        "kerf_um": round(usual_kerf_mm(shop, search.tool) * 1000),
        "lines": lines_data(lines, found.missing),
        "shears": shears_data(found.shears),
    }
    return PlanDraft(for_whom, lines, found, data)


def append_plan(change: Change, draft: PlanDraft, today: date) -> PlannedOrder:
    """
    Journal a plan inside an open change; nothing where no place was found.

    Raises:
        NoRoom: If the shelf changed while the plan was sought.
    """
    found = draft.found
    if not found.places:
        return planned_order(draft.for_whom, (), found)
    expired, plan = append_expiries(change, today), change.new_code("J")
    change.append("plan.made", (plan,), draft.data, made=(plan,))
    held = hold_places(change, plan, draft.lines, found)
    planned = planned_order(draft.for_whom, held, found)
    return replace(planned, plan=load_plan(change.conn, plan), expired=expired)


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


def planned_order(for_whom: str, held: tuple[Reservation, ...], found: Found) -> PlannedOrder:
    """What a search found, with the places that are held."""
    return PlannedOrder(for_whom, held, found.missing, found.fresh_boards, found.boards_touched)


def lines_data(lines: Sequence[Demand], missing: Sequence[Missing]) -> list[Json]:
    """An order\'s lines as an event keeps them."""
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


def shears_data(cuts: Sequence[tuple[Code, ShearCut]]) -> list[Json]:
    """Straight cuts as an event keeps them."""
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


def hold_places(
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
