"""The job of the season: times and prices, an order, a fair with everything that happens there."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work import (
    forget_customer,
    order_making,
    orders,
    outing_day,
    outings,
    packing,
    pieces,
    selling,
    times,
)
from salvage.work.fitting import BoardFilter
from salvage.work.plan_search import Search
from salvage.work.slips import Discount, SaleItem, Terms
from salvage.work.wishes import parse_demand
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _take(shop: Workshop, memory: Memory) -> Code:
    lines = [parse_demand(shop, "oval@30:1"), parse_demand(shop, "circle@16:1")]
    new = orders.NewOrder(
        "Mirren Faulds", lines, "mirren@example.org", date(2026, 5, 20), notes="for a birthday"
    )
    return orders.take_order(shop, new=new).order.code


def _plan(shop: Workshop, memory: Memory) -> None:
    order_making.plan_for_order(
        shop,
        order=memory["order"],
        search=Search(0, lambda: 0.0),
        filters=BoardFilter(keep_off=(memory["board"],)),
    )


def _sell(shop: Workshop, memory: Memory) -> None:
    selling.sell_pieces(
        shop,
        items=[SaleItem(words="small kite", price_minor=1200)],
        terms=Terms(shop.today, "card"),
        discount=Discount(ppm=100_000),
        given_minor=None,
    )


STEPS = (
    Step(
        "note_time",
        lambda shop, memory: times.note_time(
            shop, pieces=[memory["piece"], memory["oval"]], step="finishing", seconds=1500
        ),
        "price time finishing 25 {piece} {oval}",
    ),
    Step(
        "rate_step",
        lambda shop, memory: times.rate_step(
            shop, step="cutting", seconds=360, shape="circle", tool="router"
        ),
        "price rate cutting 6 --shape circle --tool router",
    ),
    Step(
        "take_order",
        _take,
        'order take oval@30:1 circle@16:1 --customer "Mirren Faulds" --contact mirren@example.org'
        ' --due 2026-05-20 --notes "for a birthday"',
        "order",
    ),
    Step(
        "correct_order",
        lambda shop, memory: orders.correct_order(
            shop,
            order=memory["order"],
            new=orders.OrderCorrection(due_on="2026-05-25", contact=""),
            why="asked for more time",
        ),
        'order correct {order} --due 2026-05-25 --contact "" --why "asked for more time"',
    ),
    Step(
        "quote_order",
        lambda shop, memory: orders.quote_order(
            shop,
            order=memory["order"],
            each={"oval@30": 2400, "circle@16": 1250},
            valid_until=date(2026, 5, 18),
        ),
        "order quote {order} --each oval@30=24 --each circle@16=12.50 --valid 2026-05-18",
    ),
    Step(
        "answer_quote",
        lambda shop, memory: orders.answer_quote(shop, order=memory["order"], accepted=True),
        "order accept {order}",
    ),
    Step(
        "set_aside",
        lambda shop, memory: order_making.set_aside(
            shop, order=memory["order"], pieces=[memory["oval"]]
        ),
        "order aside {order} {oval}",
    ),
    Step("plan_for_order", _plan, "order plan {order} --keep-off {board} --seconds 0"),
    Step(
        "set_stage",
        lambda shop, memory: pieces.set_stage(shop, pieces=[memory["oval"]], stage="ready"),
        "piece stage {oval} ready",
    ),
    Step(
        "hand_over",
        lambda shop, memory: order_making.hand_over(
            shop, order=memory["order"], terms=Terms(shop.today, "transfer")
        ),
        "order handover {order} --paid transfer",
    ),
    Step(
        "set_aside",
        lambda shop, memory: order_making.set_aside(
            shop, order=memory["order"], pieces=[memory["piece"]], line="circle@16"
        ),
        "order aside {order} {piece} --line circle@16",
    ),
    Step(
        "free_pieces",
        lambda shop, memory: order_making.free_pieces(
            shop, pieces=[memory["piece"]], reason="not alike"
        ),
        'order free {piece} --reason "not alike"',
    ),
    Step(
        "plan_outing",
        lambda shop, memory: (
            outings.plan_outing(
                shop,
                new=outings.NewOuting(
                    "Lantern Fair", date(2026, 5, 9), "Quay", date(2026, 5, 10), 3500, "stall 12"
                ),
            ).outing.code
        ),
        'outing plan "Lantern Fair" 2026-05-09 --until 2026-05-10 --place Quay --fee 35'
        ' --notes "stall 12"',
        "outing",
    ),
    Step(
        "correct_outing",
        lambda shop, memory: outings.correct_outing(
            shop,
            outing=memory["outing"],
            new=outings.OutingCorrection(stall_fee_minor=4000),
            why="raised",
        ),
        "outing correct {outing} --fee 40 --why raised",
    ),
    Step(
        "pack",
        lambda shop, memory: packing.pack(shop, outing=memory["outing"], pieces=[memory["piece"]]),
        "outing pack {outing} {piece}",
    ),
    Step(
        "unpack",
        lambda shop, memory: packing.unpack(
            shop, outing=memory["outing"], pieces=[memory["piece"]], reason="scratched"
        ),
        "outing unpack {outing} {piece} --reason scratched",
    ),
    Step(
        "open_outing",
        lambda shop, memory: outing_day.open_outing(
            shop, outing=memory["outing"], float_minor=5000
        ),
        "outing open lantern --float 50",
    ),
    Step("sell_pieces", _sell, "outing sell ?small_kite=12 --card --discount 10%"),
    Step(
        "move_cash",
        lambda shop, memory: outing_day.move_cash(
            shop, outing=memory["outing"], amount_minor=-4000, reason="stall fee"
        ),
        'outing cash out 40 --reason "stall fee"',
    ),
    Step(
        "bring_home",
        lambda shop, memory: outing_day.bring_home(
            shop, outing=memory["outing"], pieces=[memory["piece"]]
        ),
        "outing home lantern {piece}",
    ),
    Step(
        "close_outing",
        lambda shop, memory: outing_day.close_outing(
            shop, outing=memory["outing"], count=outing_day.Count(990, reason="ten cents short")
        ),
        'outing close lantern --cash 9.90 --reason "ten cents short"',
    ),
    Step(
        "cancel_order",
        lambda shop, memory: orders.cancel_order(
            shop, order=memory["order"], reason="one was enough"
        ),
        'order cancel {order} --reason "one was enough"',
    ),
    Step(
        "take_order",
        lambda shop, memory: (
            orders.take_order(
                shop, new=orders.NewOrder("Elspeth Gray", [parse_demand(shop, "circle@16:2")])
            ).order.code
        ),
        'order take circle@16:2 --customer "Elspeth Gray"',
        "later_order",
    ),
    Step(
        "set_aside",
        lambda shop, memory: order_making.set_aside(
            shop, order=memory["later_order"], pieces=[memory["piece"]], line="circle@16"
        ),
        "order aside {later_order} {piece} --line circle@16",
    ),
    Step(
        "forget_customer",
        lambda shop, memory: forget_customer.forget_customer(
            shop, order=memory["order"], reason="asked by letter"
        ),
        'order forget {order} --reason "asked by letter" --yes',
    ),
)
"""In the order of the job."""
