"""Harm done to the record of waste and mass, behind the workshop's back."""

from __future__ import annotations

from collections.abc import Callable

from salvage.ids import Code
from salvage.work.consigning import Handed, NewHandOver, hand_over
from salvage.work.cutting import NewCut, record_cut
from salvage.work.tools import NewTool, describe_tool
from salvage.work.waste import NewContainer, NewWaste, close_container, open_container, put_in
from salvage.work.workshop import Workshop
from tests.bench import circle_at
from tests.work.harms import rechain, sql


def _fill(shop: Workshop) -> Code:
    code = open_container(shop, new=NewContainer("components")).container.code
    put_in(shop, container=code, new=NewWaste("chips", weight_g=40.0))
    return code


def _put_late(shop: Workshop) -> None:
    close_container(shop, container=_fill(shop))

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "waste.put":
                body["data"] = {**body["data"], "put_on": "2026-06-01"}  # type: ignore[dict-item]

    rechain(shop, change)


def _weigh_wrong(shop: Workshop) -> None:
    hand_over(shop, new=NewHandOver("Recycler", (Handed(_fill(shop)),)))

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "consignment.handed_over":
                body["data"] = {**body["data"], "weight_mg": 50_000}  # type: ignore[dict-item]

    rechain(shop, change)


def _open_again(shop: Workshop) -> None:
    hand_over(shop, new=NewHandOver("Recycler", (Handed(_fill(shop)),)))
    sql("UPDATE waste_container SET closed_on = ''")(shop)


def _light_board(shop: Workshop) -> None:
    """Every board is forged to have weighed one gram, pieces and all."""

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "board.recorded":
                body["data"] = {**body["data"], "weight_mg": 1000}  # type: ignore[dict-item]

    rechain(shop, change)


def _wear_wrong(shop: Workshop) -> None:
    """A cut is journalled with a bit, and its way is forged."""
    describe_tool(shop, new=NewTool("spiral", "bit"))
    (board,) = shop.conn.execute("SELECT board FROM cut ORDER BY clock LIMIT 1").fetchone()
    spot = circle_at(shop, 112, 72, width_mm=4)
    new = NewCut(board, spot, bit="spiral", override_reason="x", kerf_mm=0.2)
    record_cut(shop, new=new)

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "tool.used":
                body["data"] = {**body["data"], "length_um": 7}  # type: ignore[dict-item]

    rechain(shop, change)


_CONTAINERS = "waste containers leave once, and consignments add up"

WASTE_HARMS: dict[str, tuple[Callable[[Workshop], None], str, str]] = {
    "waste put in later": (_put_late, _CONTAINERS, "after it was closed on"),
    "a consignment weighed wrong": (_weigh_wrong, _CONTAINERS, "weighs 50 g, its items 40 g"),
    "a container open again": (_open_again, _CONTAINERS, "is not on record as closed"),
    "a bit's way forged": (
        _wear_wrong,
        "bits are logged with the way of their cuts",
        "is logged with 7 um",
    ),
    "a board too light for its pieces": (
        _light_board,
        "no board gave more than it weighed",
        "weighed 1 g and gave",
    ),
}
"""By name: what is done, the line that must turn red, and what it must say."""
