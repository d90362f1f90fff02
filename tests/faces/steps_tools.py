"""Bits, filters and masks of the job: taken on, used, changed, retired."""

from __future__ import annotations

from salvage.work import cutting, setup, tools
from salvage.work.library import choose_shape
from salvage.work.spots import parse_spot
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _add(shop: Workshop, memory: Memory) -> None:
    new = tools.NewTool("2 mm spiral", "bit", 2.0, 200.0, None, "maker's sheet", "drawer 2")
    tools.describe_tool(shop, new=new)


def _add_filter(shop: Workshop, memory: Memory) -> None:
    new = tools.NewTool("HEPA", "filter", None, None, 40.0, "maker's sheet")
    tools.describe_tool(shop, new=new)


def _cut(shop: Workshop, memory: Memory) -> None:
    spot = parse_spot(choose_shape(shop, name="circle", width_mm=6), at="10,10")
    new = cutting.NewCut(
        memory["bare"], spot, bit="2 mm spiral", override_reason="a bare panel", kerf_mm=2.0
    )
    cutting.record_cut(shop, new=new)


STEPS = (
    Step(
        "describe_tool",
        _add,
        "tool add '2 mm spiral' --kind bit --diameter 2 --metres 200"
        ' --limit-from "maker\'s sheet" --notes "drawer 2"',
    ),
    Step(
        "describe_tool",
        _add_filter,
        'tool add HEPA --kind filter --hours 40 --limit-from "maker\'s sheet"',
    ),
    Step(
        "change_settings",
        lambda shop, memory: setup.change_settings(shop, typed={"bit": "2 MM spiral"}),
        "setup 'bit=2 MM spiral'",
    ),
    Step(
        "record_cut",
        _cut,
        "cut {bare} --shape circle --width 6 --at 10,10 --bit '2 mm spiral'"
        ' --override "a bare panel" --kerf 2',
    ),
    Step(
        "log_hours",
        lambda shop, memory: tools.log_hours(shop, minutes=90),
        "tool ran 1.5h",
    ),
    Step(
        "change_tool",
        lambda shop, memory: tools.change_tool(shop, name="2 mm spiral", reason="burnt"),
        "tool change '2 mm spiral' --reason burnt",
    ),
    Step(
        "change_settings",
        lambda shop, memory: setup.change_settings(shop, typed={"bit": ""}),
        "setup bit=",
    ),
    Step(
        "retire_tool",
        lambda shop, memory: tools.retire_tool(shop, name="HEPA", reason="torn"),
        "tool retire HEPA --reason torn",
    ),
)
"""In the order of the job."""
