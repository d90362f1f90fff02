"""The job of an order: planned, given more time, planned again, cut, and one withdrawn."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work import plan_cutting, planning, plans
from salvage.work.fitting import BoardFilter
from salvage.work.plan_search import Search
from salvage.work.wishes import parse_demand
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step

FIRST = Search(0, lambda: 0.0)


def _code(planned: planning.PlannedOrder) -> Code:
    assert planned.plan is not None
    return planned.plan.code


def _order(shop: Workshop, memory: Memory) -> Code:
    planned = planning.plan_order(
        shop,
        demands=[parse_demand(shop, "circle@20:2")],
        for_whom="order 41",
        search=FIRST,
        filters=BoardFilter(only=(memory["card"],)),
        until=date(2026, 6, 30),
    )
    return _code(planned)


def _cut(shop: Workshop, memory: Memory) -> None:
    came = plan_cutting.WhatCameOut(boards=(memory["card"],))
    plan_cutting.cut_plan(shop, plan=memory["plan"], came=came)


def _order_tags(shop: Workshop, memory: Memory) -> Code:
    planned = planning.plan_order(
        shop,
        demands=[parse_demand(shop, "circle@25:3")],
        for_whom="tags",
        search=Search(0, lambda: 0.0, tool="shears"),
        filters=BoardFilter(keep_off=(memory["board"],)),
    )
    return _code(planned)


STEPS = (
    Step(
        "plan_order",
        _order,
        'plan order circle@20:2 --for "order 41" --only {card} --until 2026-06-30 --seconds 0',
        "plan",
    ),
    Step(
        "extend_plan",
        lambda shop, memory: plans.extend_plan(
            shop, plan=memory["plan"], until=plans.last_day(shop, days=90)
        ),
        "plan extend {plan} --days 90",
    ),
    Step(
        "replan_order",
        lambda shop, memory: planning.replan_order(
            shop,
            plan=memory["plan"],
            hold=[],
            search=FIRST,
            filters=BoardFilter(only=(memory["card"],)),
        ),
        "plan again {plan} --only {card} --seconds 0",
    ),
    Step("cut_plan", _cut, "plan cut {plan} --board {card} --yes"),
    Step(
        "plan_order",
        _order_tags,
        "plan order circle@25:3 --for tags --tool shears --keep-off {board} --seconds 0",
        "tags",
    ),
    Step(
        "release_plans",
        lambda shop, memory: plans.release_plans(
            shop, plans=[memory["tags"]], reason="order withdrawn"
        ),
        'plan release {tags} --reason "order withdrawn"',
    ),
)
"""In the order of the job."""
