"""Waste on its way out: containers, boards weighed again, what recyclers took and confirmed."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work import consigning, record, waste
from salvage.work.first_outline import outline_of_size
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step

_RECEIVER = "Quay Street recycling yard"


def _record(shop: Workshop, memory: Memory) -> Code:
    outline = outline_of_size("60x40")
    new = record.NewBoard(
        memory["again"], "other", outline=outline.region, outline_from=outline.outline_from
    )
    return record.record_boards(shop, new=new)[0].code


def _open(shop: Workshop, memory: Memory) -> Code:
    new = waste.NewContainer("lithium-batteries", place="metal shelf", opened_on=date(2026, 5, 1))
    return waste.open_container(shop, new=new).container.code


def _open_own(shop: Workshop, memory: Memory) -> Code:
    new = waste.NewContainer("offcuts", "Offcuts, no batteries", limit_days=90, notes="blue bin")
    return waste.open_container(shop, new=new).container.code


def _put(shop: Workshop, memory: Memory) -> None:
    new = waste.NewWaste(
        "coin cell, taped", memory["board"], "coin-cell", 3.0, put_on=date(2026, 5, 2)
    )
    waste.put_in(shop, container=memory["cells"], new=new)


def _put_whole(shop: Workshop, memory: Memory) -> None:
    new = waste.NewWaste("", memory["spent"], whole=True)
    waste.put_in(shop, container=memory["bin"], new=new)


def _hand_over(shop: Workshop, memory: Memory) -> Code:
    items = (
        consigning.Handed(memory["cells"], "", 3.2),
        consigning.Handed(memory["bin"]),
        consigning.Handed(None, "steel frames", 120.0, memory["again"]),
    )
    new = consigning.NewHandOver(_RECEIVER, items, "W-77", "Q-89", date(2026, 5, 4))
    return consigning.hand_over(shop, new=new).consignment.code


def _confirm(shop: Workshop, memory: Memory) -> None:
    consigning.confirm_receipt(
        shop, consignment=memory["sent"], confirmation="R-2291", weight_g=130.0
    )


STEPS = (
    Step("record_boards", _record, "board add {again} --type other --size 60x40", "spent"),
    Step(
        "set_copper",
        lambda shop, memory: waste.set_copper(
            shop, board=memory["spent"], layers=4, copper_oz=0.75
        ),
        "board copper {spent} --layers 4 --oz 0.75",
    ),
    Step(
        "weigh_board",
        lambda shop, memory: waste.weigh_board(shop, board=memory["spent"], weight_g=8.9),
        "board weigh {spent} 8.9g",
    ),
    Step(
        "open_container",
        _open,
        "waste open lithium-batteries --place 'metal shelf' --date 2026-05-01",
        "cells",
    ),
    Step(
        "open_container",
        _open_own,
        "waste open offcuts --words 'Offcuts, no batteries' --days 90 --notes 'blue bin'",
        "bin",
    ),
    Step(
        "put_in",
        _put,
        "waste put {cells} 'coin cell, taped' --from {board} --hazard coin-cell --weight 3g"
        " --date 2026-05-02",
    ),
    Step("put_in", _put_whole, "waste put {bin} --from {spent} --whole"),
    Step(
        "close_container",
        lambda shop, memory: waste.close_container(shop, container=memory["bin"]),
        "waste close {bin}",
    ),
    Step(
        "hand_over",
        _hand_over,
        f"consign --receiver '{_RECEIVER}' --container {{cells}}:3.2g --container {{bin}}"
        " --item 'steel frames:120g' --dropoff {again} --permit W-77 --document Q-89"
        " --date 2026-05-04",
        "sent",
    ),
    Step("confirm_receipt", _confirm, "waste confirm {sent} --paper R-2291 --weight 130g"),
)
"""In the order of the job."""
