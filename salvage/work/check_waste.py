"""Checks of the workshop's self-check about waste and mass; each gives its faults and a note."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from salvage.units import format_mass
from salvage.work.balance import BoardMass, balance_boards, total

if TYPE_CHECKING:
    from salvage.work.workshop import Workshop


def check_containers(shop: Workshop) -> tuple[Iterator[str], str]:
    """Containers leave once, with what was put in before, and consignments add up."""
    from salvage.work.waste import list_containers

    def faults() -> Iterator[str]:
        rows = shop.conn.execute(
            "SELECT item.container, what, put_on, closed_on FROM waste_item AS item"
            " JOIN waste_container ON code = item.container"
            " WHERE closed_on <> '' AND put_on > closed_on ORDER BY item.container, n"
        )
        for code, what, put, closed in rows:
            yield f"{what} went into {code} on {put}, after it was closed on {closed}"
        rows = shop.conn.execute(
            "SELECT consignment.code, consignment.weight_mg, sum(item.weight_mg) FROM consignment"
            " JOIN consignment_item AS item ON item.consignment = consignment.code"
            " GROUP BY consignment.code HAVING consignment.weight_mg <> sum(item.weight_mg)"
            " ORDER BY consignment.code"
        )
        for code, whole, parts in rows:
            told = f"{format_mass(whole / 1000)}, its items {format_mass(parts / 1000)}"
            yield f"{code} weighs {told}"
        rows = shop.conn.execute(
            "SELECT consignment, code FROM consignment_item WHERE what = 'container'"
            " AND code NOT IN (SELECT code FROM waste_container WHERE closed_on <> '')"
            " ORDER BY consignment, n"
        )
        for consignment, code in rows:
            yield f"{code} left with {consignment}, and is not on record as closed"

    over = [view for view in list_containers(shop) if view.warning and (view.days_left or 0) < 0]
    late = f"{len(over)} over their time: {', '.join(v.container.code for v in over)}"
    return faults(), late if over else ""


def check_board_masses(shop: Workshop) -> tuple[Iterator[str], str]:
    """No weighed board gave more than it weighed, even if every estimate errs as far as it may."""
    boards = balance_boards(shop.conn, where="weight_mg IS NOT NULL")

    def faults() -> Iterator[str]:
        for board in boards:
            found = _least_found(board)
            if found > board.came.most_mg:
                came = format_mass(board.came.mg / 1000)
                yield f"{board.board} weighed {came} and gave {format_mass(found / 1000)} or more"

    return faults(), f"{len(boards)} boards weighed"


def _least_found(board: BoardMass) -> int:
    """The least that a board has given, and still holds by a second weighing."""
    parts = [board.pieces, board.dust, board.parts, board.waste]
    if board.shelf_how == "weighed":
        parts.append(board.shelf)
    return total(parts).least_mg


def check_tools(shop: Workshop) -> tuple[Iterator[str], str]:
    """The way that each bit went is the way round the cuts that it is logged for."""
    from salvage.geometry.way import cutter_way_mm
    from salvage.records.region import region_of_text

    rows = shop.conn.execute(
        "SELECT cut, tool_use.tool, length_um, cut.tool, region, kerf_um FROM tool_use"
        " LEFT JOIN cut ON cut.code = tool_use.cut ORDER BY cut"
    ).fetchall()

    def faults() -> Iterator[str]:
        for code, name, length_um, made_with, region, kerf_um in rows:
            if made_with != "router":
                yield f"{name} is logged for {code}, which is no cut with the router"
                continue
            way_um = round(1000 * cutter_way_mm(region_of_text(region), kerf_um / 1000))
            if abs(way_um - length_um) > 1:
                yield f"{name} is logged with {length_um} um for {code}, whose way is {way_um} um"

    return faults(), f"{len(rows)} cuts with a bit logged"


WASTE_CHECKS: dict[str, Callable[[Workshop], tuple[Iterator[str], str]]] = {
    "waste containers leave once, and consignments add up": check_containers,
    "no board gave more than it weighed": check_board_masses,
    "bits are logged with the way of their cuts": check_tools,
}
"""These checks by the invariant that they check."""
