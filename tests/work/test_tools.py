"""Bits, filters and masks: life counted from the record, and warned of at the bench."""

from __future__ import annotations

import math

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.records.things import Board
from salvage.store.lookup import load_board
from salvage.work.check import run_checks
from salvage.work.cutting import NewCut, record_cut
from salvage.work.history import undo
from salvage.work.look import look_at
from salvage.work.setup import change_settings
from salvage.work.tools import (
    NewTool,
    change_tool,
    describe_tool,
    list_tools,
    log_hours,
    retire_tool,
    tool_warnings,
    view_tool,
)
from salvage.work.verdict import find_warnings
from salvage.work.workshop import Workshop
from tests.bench import circle_at, cut_circle, dump
from tests.work.stock import last_operation

SPIRAL = NewTool("2 mm spiral", "bit", 2.0, 0.2, None, "maker's sheet")


def test_a_bits_life_is_the_way_that_it_went(empty_shop: Workshop, cleared_board: Board) -> None:
    """Round a circle of 30 mm the middle of a bit of 2 mm goes round one of 32 mm."""
    describe_tool(empty_shop, new=SPIRAL)
    change_settings(empty_shop, typed={"bit": "2 mm Spiral"})
    cut_circle(empty_shop, cleared_board.code, 30, 40)
    once = view_tool(empty_shop.conn, "2 mm spiral")
    early = find_warnings(empty_shop.conn, cleared_board)
    cut_circle(empty_shop, cleared_board.code, 80, 40)
    twice = view_tool(empty_shop.conn, "2 mm spiral")

    assert once.cut_um == pytest.approx(math.pi * 32_000, rel=2e-3)
    assert (once.cuts, twice.cuts, twice.cut_um) == (1, 2, 2 * once.cut_um)
    assert early == ()
    assert twice.share == pytest.approx(1.005, abs=0.002)
    (warning,) = find_warnings(empty_shop.conn, load_board(empty_shop.conn, cleared_board.code))
    assert warning == ("bit '2 mm spiral' has cut 0.2 m of 0.2 m (maker's sheet): change it")
    assert warning in look_at(empty_shop, board=cleared_board.code).warnings


def test_a_fresh_bit_begins_anew(empty_shop: Workshop, cleared_board: Board) -> None:
    """The old life stays in the record and counts no more."""
    describe_tool(empty_shop, new=SPIRAL)
    change_settings(empty_shop, typed={"bit": "2 mm spiral"})
    for x_mm in (30, 80):
        cut_circle(empty_shop, cleared_board.code, x_mm, 40)
    change_tool(empty_shop, name="2 mm spiral", reason="dull")

    assert view_tool(empty_shop.conn, "2 mm spiral").cut_um == 0
    assert tool_warnings(empty_shop.conn) == ()


def test_a_cut_that_is_taken_back_wore_nothing(empty_shop: Workshop, cleared_board: Board) -> None:
    """The bit's way goes with its cut; the tool itself stands while something rests on it."""
    describe_tool(empty_shop, new=SPIRAL)
    added = last_operation(empty_shop)
    spot = circle_at(empty_shop, 40, 40)
    record_cut(empty_shop, new=NewCut(cleared_board.code, spot, bit="2 MM SPIRAL"))
    with pytest.raises(Refused, match="before the later steps"):
        undo(empty_shop, operation=added)
    undo(empty_shop)
    after = view_tool(empty_shop.conn, "2 mm spiral")
    undo(empty_shop, operation=added)

    assert (after.cut_um, after.cuts) == (0, 0)
    assert list_tools(empty_shop, all_=True) == ()


def test_shears_wear_no_bit(empty_shop: Workshop, cleared_board: Board) -> None:
    """Only the router's way counts; a bit named beside shears is a slip."""
    describe_tool(empty_shop, new=SPIRAL)
    change_settings(empty_shop, typed={"bit": "2 mm spiral"})
    spot = circle_at(empty_shop, 40, 40)
    cut = NewCut(cleared_board.code, spot, tool="shears", kerf_mm=0.0)
    record_cut(empty_shop, new=cut)
    with pytest.raises(BadValue, match="has no bit"):
        record_cut(
            empty_shop,
            new=NewCut(
                cleared_board.code, circle_at(empty_shop, 90, 40), tool="saw", bit="2 mm spiral"
            ),
        )

    assert view_tool(empty_shop.conn, "2 mm spiral").cuts == 0


def test_hours_go_to_filters_and_masks(empty_shop: Workshop) -> None:
    """To all in use unless some are named; beyond the maker's hours it is told before a cut."""
    describe_tool(empty_shop, new=SPIRAL)
    for name, kind in (("HEPA", "filter"), ("P100", "mask")):
        new = NewTool(name, kind, limit_hours=2, limit_from="leaflet")
        describe_tool(empty_shop, new=new)
    log_hours(empty_shop, minutes=90)
    log_hours(empty_shop, minutes=45, names=["hepa"])
    views = {view.tool.name: view for view in list_tools(empty_shop)}

    assert {name: view.minutes for name, view in views.items()} == {
        "HEPA": 135,
        "P100": 90,
        "2 mm spiral": 0,
    }
    assert tool_warnings(empty_shop.conn) == (
        "filter 'HEPA' ran 2.2 h of 2 h (leaflet): change it",
    )
    retire_tool(empty_shop, name="HEPA", reason="torn")
    assert tool_warnings(empty_shop.conn) == ()


def test_the_usual_bit_that_is_gone_is_told_and_hinders_nothing(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A cut was made all the same; only naming a retired bit is refused."""
    describe_tool(empty_shop, new=SPIRAL)
    change_settings(empty_shop, typed={"bit": "2 mm spiral"})
    retire_tool(empty_shop, name="2 mm spiral", reason="broke")
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    with pytest.raises(Refused, match="is retired: broke"):
        record_cut(
            empty_shop,
            new=NewCut(cleared_board.code, circle_at(empty_shop, 90, 40), bit="2 mm spiral"),
        )

    assert tool_warnings(empty_shop.conn) == (
        "the usual bit '2 mm spiral' is in use no more: salvage setup bit=…",
    )


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (NewTool(" ", "bit"), "give the tool a name"),
        (NewTool("x", "hammer"), "no kind of tool"),
        (NewTool("x", "bit", limit_m=9), "say where the limit stands"),
    ],
)
def test_a_tool_is_told_rightly(empty_shop: Workshop, new: NewTool, says: str) -> None:
    """A limit is the maker's own, so it is said where it stands."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=says):
        describe_tool(empty_shop, new=new)

    assert dump(empty_shop) == before


def test_what_is_not_there_is_not_found(empty_shop: Workshop) -> None:
    """A mistyped name, or hours where nothing is in use; a filter is no bit."""
    with pytest.raises(NotFound, match="no filter or mask"):
        log_hours(empty_shop, minutes=30)
    describe_tool(empty_shop, new=NewTool("HEPA", "filter"))
    with pytest.raises(NotFound, match="nearest: HEPA"):
        change_tool(empty_shop, name="hepb")
    with pytest.raises(BadValue, match="at most a day"):
        log_hours(empty_shop, minutes=0)
    with pytest.raises(BadValue, match="is a filter, no bit"):
        change_settings(empty_shop, typed={"bit": "HEPA"})
    with pytest.raises(BadValue, match="say why"):
        retire_tool(empty_shop, name="HEPA", reason=" ")


def test_limits_told_anew_keep_the_life(empty_shop: Workshop, cleared_board: Board) -> None:
    """Another sheet, another limit: what was cut before stays counted."""
    describe_tool(empty_shop, new=SPIRAL)
    change_settings(empty_shop, typed={"bit": "2 mm spiral"})
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    again = NewTool("2 mm spiral", "bit", 2.0, 50.0, None, "new sheet")
    view = describe_tool(empty_shop, new=again)

    assert view.cuts == 1
    assert view.tool.limit_um == 50_000_000
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []
