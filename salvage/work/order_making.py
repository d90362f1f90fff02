"""Making an order: boards held and pieces set aside for it, and the hand-over that sells them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.region import region_of_text
from salvage.records.season import OrderLine, SetAside
from salvage.store.change import Change
from salvage.store.lookup import load_order, load_piece
from salvage.store.rows import select_one
from salvage.work.fitting import BoardFilter
from salvage.work.library import ChosenShape
from salvage.work.order_view import OrderLineState, OrderView, see_order
from salvage.work.orders import CLOSED
from salvage.work.plan_draft import PlannedOrder, append_plan, draft_plan
from salvage.work.plan_search import Demand, Search
from salvage.work.sellable import check_sellable, order_of_piece
from salvage.work.slips import (
    NO_DISCOUNT,
    Discount,
    SaleItem,
    SlipView,
    Terms,
    append_sale,
    settle_terms,
)
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class OrderPlanned:
    """
    Boards that are held for an order.

    Args:
        view: The order then.
        planned: What was found, as for any plan.
    """

    view: OrderView
    planned: PlannedOrder


@dataclass(frozen=True, slots=True)
class HandedOver:
    """
    Pieces that went to the customer.

    Args:
        view: The order then.
        slip: Of their sale.
    """

    view: OrderView
    slip: SlipView


def plan_for_order(
    shop: Workshop,
    *,
    order: Code,
    search: Search,
    filters: BoardFilter | None = None,
    until: date | None = None,
    dry_run: bool = False,
) -> OrderPlanned:
    """
    Hold places on real boards for what an order still lacks, from the boards that it wishes.

    Args:
        shop: The open workshop.
        order: Its code; the plan bears it, not the customer's name.
        search: How to look, and how long.
        filters: Which boards come into question; the order's own wish if left out.
        until: Last day on which the places are held; by the workshop's settings if left out.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        Refused: If it is closed, or lacks nothing.
        NoRoom: If the shelf changed while the plan was sought.
    """
    view = see_order(shop.conn, order, shop.today)
    _check_going_on(view)
    demands = [_demand(line) for line in view.lines if line.open]
    if not demands:
        raise Refused(f"{order} lacks nothing", hint=f"salvage order show {order}")
    wished = BoardFilter(donor=view.order.donor, drop_off=view.order.drop_off)
    chosen = wished if filters is None else _with_wish(filters, wished)
    draft = draft_plan(
        shop, demands=demands, for_whom=f"order {order}", search=search, filters=chosen, until=until
    )

    def steps(change: Change) -> OrderPlanned:
        _check_going_on(see_order(change.conn, order, shop.today))
        planned = append_plan(change, draft, shop.today)
        if planned.plan:
            plan = planned.plan.code
            change.append("order.planned", (order, plan), {"plan": plan})
        return OrderPlanned(see_order(change.conn, order, shop.today), planned)

    return shop.commit("plan for order", steps, dry_run=dry_run)


def _with_wish(filters: BoardFilter, wished: BoardFilter) -> BoardFilter:
    return replace(
        filters,
        donor=filters.donor or wished.donor,
        drop_off=filters.drop_off or wished.drop_off,
    )


def _demand(state: OrderLineState) -> Demand:
    line = state.line
    shape = ChosenShape(line.shape, region_of_text(line.region), line.shape_sha256)
    return Demand(shape, state.open, line.name)


def _check_going_on(view: OrderView) -> None:
    if view.order.state in CLOSED:
        code = view.order.code
        raise Refused(f"{code} is {view.order.state}", hint=f"salvage order show {code}")


def set_aside(
    shop: Workshop, *, order: Code, pieces: Sequence[Code], line: str = "", dry_run: bool = False
) -> OrderView:
    """
    Set pieces from the shelf aside for an order; nobody else is sold them.

    Args:
        shop: The open workshop.
        order: Its code.
        pieces: Their codes.
        line: Name of the order's line they stand for; by their shape if left out.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order or piece.
        Refused: If the order is closed, or a piece may not be sold or waits for another one.
        BadValue: If the order asks for no such shape.
    """

    def steps(change: Change) -> OrderView:
        view = see_order(change.conn, order, shop.today)
        _check_going_on(view)
        for code in dict.fromkeys(pieces):
            piece = load_piece(change.conn, code)
            check_sellable(change.conn, piece, order=order)
            if order_of_piece(change.conn, piece):
                raise Refused(f"{code} is the order's own already")
            n = _line_for(view, line or piece.shape, code)
            change.append("piece.set_aside", (code, order), {"order": order, "line": n})
        return see_order(change.conn, order, shop.today)

    return shop.commit("set aside", steps, dry_run=dry_run)


def _line_for(view: OrderView, name: str, piece: Code) -> int:
    lines: list[OrderLine] = [state.line for state in view.lines]
    fits = [line for line in lines if line.name == name] or [
        line for line in lines if line.shape == name
    ]
    if not fits:
        known = ", ".join(line.name for line in lines)
        raise BadValue(
            f"{piece} is a {name}, which {view.order.code} does not ask for",
            hint=f"say which line it stands for: {known}",
            field="--line",
        )
    return fits[0].n


def free_pieces(
    shop: Workshop, *, pieces: Sequence[Code], reason: str = "", dry_run: bool = False
) -> tuple[Code, ...]:
    """
    Let pieces go that were set aside for an order.

    Args:
        shop: The open workshop.
        pieces: Their codes.
        reason: Why.
        dry_run: Do everything, then roll back.

    Raises:
        Refused: If a piece was not set aside; one that was cut for an order stays its own.
    """

    def steps(change: Change) -> tuple[Code, ...]:
        for code in dict.fromkeys(pieces):
            found = select_one(change.conn, SetAside, "FROM set_aside WHERE piece = ?", (code,))
            if found is None:
                raise Refused(f"{code} is not set aside", hint="salvage order list")
            data = {"reason": reason}
            change.append("piece.freed", (code, found.customer_order), data)
        return tuple(dict.fromkeys(pieces))

    return shop.commit("free pieces", steps, dry_run=dry_run)


def hand_over(
    shop: Workshop,
    *,
    order: Code,
    terms: Terms,
    pieces: Sequence[Code] = (),
    discount: Discount = NO_DISCOUNT,
    dry_run: bool = False,
) -> HandedOver:
    """
    Hand an order's ready pieces over, which sells them at the quoted prices.

    Args:
        shop: The open workshop.
        order: Its code.
        terms: Day and way of paying.
        pieces: Only these; all that are ready, up to what was asked for, if empty.
        discount: Off the whole.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such order.
        Refused: If it is closed, nothing is ready, or a piece is not its own.
        BadValue: If a piece has neither a quoted nor a marked price.
    """

    def steps(change: Change) -> HandedOver:
        view = see_order(change.conn, order, shop.today)
        _check_going_on(view)
        items = _items(view, pieces)
        if not items:
            raise Refused(
                f"nothing of {order} is ready",
                hint=f"salvage piece stage PIECE ready; salvage order show {order}",
            )
        settled = settle_terms(change, replace(terms, order=order))
        slip = append_sale(change, items, settled, discount=discount)
        return HandedOver(see_order(change.conn, order, shop.today), slip)

    load_order(shop.conn, order)
    return shop.commit("hand over order", steps, dry_run=dry_run)


def _items(view: OrderView, chosen: Sequence[Code]) -> list[SaleItem]:
    own = {one.code for line in view.lines for one in line.pieces}
    if strangers := [code for code in chosen if code not in own]:
        raise Refused(
            f"{strangers[0]} is not of {view.order.code}",
            hint=f"salvage order aside {view.order.code} {strangers[0]}",
        )
    items = []
    for line in view.lines:
        left = line.line.quantity - line.handed
        for one in line.pieces:
            is_meant = one.code in chosen if chosen else one.stage == "ready" and left > 0
            if is_meant and not one.handed:
                items.append(SaleItem(one.code, price_minor=line.each_minor))
                left -= 1
    return items
