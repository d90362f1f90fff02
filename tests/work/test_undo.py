"""Undo: every operation can be taken back as if it never was, unless later steps rest on it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from salvage.errors import Refused
from salvage.geometry.outline import rectangle
from salvage.records.things import Board
from salvage.store.journal import verify_chain
from salvage.work.alerts import NewAlert, raise_alert
from salvage.work.check import run_checks
from salvage.work.clear import NewCheck, record_checks
from salvage.work.correct import (
    BoardCorrection,
    DonorCorrection,
    DropOffCorrection,
    correct_board,
    correct_donor,
    correct_drop_off,
)
from salvage.work.cutting import NewCut, record_cut, release, reserve
from salvage.work.donors import set_naming
from salvage.work.evidence import NewEvidence, add_evidence
from salvage.work.history import undo
from salvage.work.import_drop_offs import import_drop_offs
from salvage.work.library import add_shape
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.own_facts import add_own_facts
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell, set_price, set_stage, take_back, weigh_piece
from salvage.work.recall import close_recall, open_recall
from salvage.work.receive import NewDropOff, log_drop_off, settle_data_part
from salvage.work.record import (
    NewKeepOut,
    add_keep_outs,
    lift_keep_out,
    move_board,
    retire_board,
    set_lead,
    set_outline,
)
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import (
    PLANETARIUM,
    START,
    add_board,
    add_drop_off,
    circle_at,
    cut_circle,
    dump,
)
from tests.faces.steps_safety import THERMAL_LINK
from tests.work.snapshots import phone_jpeg
from tests.work.stock import Stock, last_operation, projection

_KITE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20">'
    b'<polygon points="10,0 20,10 10,20 0,10"/></svg>'
)

OPERATIONS: dict[str, Callable[[Stock], object]] = {
    "log drop-off": lambda s: add_drop_off(s.shop),
    "log drop-off of a known donor": lambda s: log_drop_off(
        s.shop, donor=s.drop_off.donor, new=NewDropOff(START.date(), "a bag")
    ),
    "import drop-offs": lambda s: import_drop_offs(
        s.shop, data=b"received_on,donor,contents\n2026-05-01,Ilva,a box\n", name="x.csv"
    ),
    "settle data part": lambda s: settle_data_part(
        s.shop, drop_off=s.drop_off.code, n=1, state="destroyed", how="drilled"
    ),
    "set naming": lambda s: set_naming(
        s.shop, donor=s.drop_off.donor, naming="named", naming_how="by letter"
    ),
    "record board": lambda s: add_board(s.shop, drop_off=s.drop_off.code),
    "set outline": lambda s: set_outline(
        s.shop, board=s.held, outline=rectangle(90, 70), outline_from="calipers"
    ),
    "add keep-out": lambda s: add_keep_outs(
        s.shop, board=s.board, keep_outs=[NewKeepOut(rectangle(9, 30), "edge")]
    ),
    "lift keep-out": lambda s: lift_keep_out(s.shop, board=s.board, n=1, reason="port off"),
    "set lead status": lambda s: set_lead(
        s.shop, board=s.board, lead_status="tested", lead_evidence="swab"
    ),
    "move board": lambda s: move_board(s.shop, board=s.board, place="shelf 2"),
    "retire board": lambda s: retire_board(s.shop, board=s.held, reason="used up"),
    "clear board": lambda s: record_checks(
        s.shop, boards=[s.board], checks=[NewCheck("coin-cell", "present")]
    ),
    "add evidence": lambda s: add_evidence(
        s.shop, board=s.board, hazards=["coin-cell"], evidence=NewEvidence("empty holder")
    ),
    "raise alert": lambda s: raise_alert(
        s.shop, new=NewAlert("clock-battery", "leaks", "bulletin 7", drop_off=s.drop_off.code)
    ),
    "add own hazard": lambda s: add_own_facts(
        s.shop, kind="hazard", rows=[("thermal-link", THERMAL_LINK)]
    ),
    "add photo": lambda s: add_photo(s.shop, code=s.piece, new=NewPhoto(phone_jpeg(), "x.jpg")),
    "add shape": lambda s: add_shape(s.shop, name="fin", data=_KITE, file_name="fin.svg"),
    "cut piece": lambda s: cut_circle(s.shop, s.board, 95, 60),
    "cut scrap": lambda s: record_cut(
        s.shop,
        new=NewCut(
            s.board, circle_at(s.shop, 95, 60), outcome="scrap", reason="cracked", kerf_mm=0
        ),
    ),
    "cut override": lambda s: record_cut(
        s.shop, new=NewCut(s.board, circle_at(s.shop, 95, 60), override_reason="a trial")
    ),
    "reserve": lambda s: reserve(
        s.shop, board=s.board, spot=circle_at(s.shop, 95, 60), for_whom="order 4"
    ),
    "release": lambda s: release(s.shop, reservation=s.reservation),
    "set stage": lambda s: set_stage(s.shop, pieces=[s.piece], stage="sealed"),
    "set price": lambda s: set_price(s.shop, pieces=[s.piece, s.sold], price_minor=1850),
    "weigh piece": lambda s: weigh_piece(s.shop, piece=s.piece, weight_g=2.2),
    "sell piece": lambda s: sell(s.shop, piece=s.piece, price_minor=1850),
    "take back piece": lambda s: take_back(s.shop, piece=s.sold, reason="too large"),
    "send consignment": lambda s: send_consignment(
        s.shop, new=NewConsignment("Recycler", "cells", 40, drop_off=s.drop_off.code)
    ),
    "open recall": lambda s: open_recall(s.shop, subject=s.board, reason="nickel"),
    "correct drop-off": lambda s: correct_drop_off(
        s.shop, drop_off=s.drop_off.code, new=DropOffCorrection(notes="two boxes"), why="a slip"
    ),
    "correct board": lambda s: correct_board(
        s.shop, board=s.board, new=BoardCorrection(type="other"), why="a slip"
    ),
    "correct donor": lambda s: correct_donor(
        s.shop, donor=s.drop_off.donor, new=DonorCorrection(name="Ilva"), why="a slip"
    ),
    "close recall": lambda s: close_recall(
        s.shop, recall=s.recall, outcome="false alarm", anyway="a drill"
    ),
}


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_operation_can_be_taken_back_and_brought_again(
    empty_shop: Workshop, name: str
) -> None:
    """After undo every table is as before, after redo as it was done, and all checks hold."""
    stock = Stock(empty_shop)
    before = projection(empty_shop)
    OPERATIONS[name](stock)
    done = projection(empty_shop)
    operation = last_operation(empty_shop)
    taken_back = undo(empty_shop, why="a slip")
    after = projection(empty_shop)
    with pytest.raises(Refused, match="undone already"):
        undo(empty_shop, operation=operation)
    undo(empty_shop, operation=last_operation(empty_shop))

    assert done != before
    assert taken_back.operation == operation
    assert after == before
    assert projection(empty_shop) == done
    assert [line for line in run_checks(empty_shop) if not line.ok] == []
    verify_chain(empty_shop.conn)


RESTING: dict[str, tuple[Callable[[Stock], object], Callable[[Stock], object], str]] = {
    "a drop-off with a board": (
        lambda s: s.keep("box", add_drop_off(s.shop)),
        lambda s: add_board(s.shop, drop_off=s.kept["box"]),
        "board recorded",
    ),
    "a donor with a second drop-off": (
        lambda s: s.keep(
            "giver",
            log_drop_off(
                s.shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a bag")
            ).donor.donor.code,
        ),
        lambda s: log_drop_off(
            s.shop, donor=s.kept["giver"], new=NewDropOff(START.date(), "a second bag")
        ),
        "drop-off received 2026-05-04: a second bag",
    ),
    "a drop-off with a consignment": (
        lambda s: s.keep("box", add_drop_off(s.shop)),
        lambda s: send_consignment(
            s.shop, new=NewConsignment("Recycler", "cells", 4, drop_off=s.kept["box"])
        ),
        "consignment to Recycler",
    ),
    "a clearing with a cut": (
        lambda s: record_checks(
            s.shop, boards=[s.board], checks=[NewCheck("coin-cell", "absent", how="again")]
        ),
        lambda s: cut_circle(s.shop, s.board, 95, 60),
        "cut circle as piece",
    ),
    "a price with a sale": (
        lambda s: set_price(s.shop, pieces=[s.piece], price_minor=1850),
        lambda s: sell(s.shop, piece=s.piece),
        "sold for 18.50 EUR",
    ),
    "a cut with a sale": (
        lambda s: s.keep("made", s.cut_at(95, 60)),
        lambda s: sell(s.shop, piece=s.kept["made"], price_minor=1),
        "sold for 0.01 EUR",
    ),
    "a sale with a return": (
        lambda s: sell(s.shop, piece=s.piece, price_minor=1),
        lambda s: take_back(s.shop, piece=s.piece, reason="too large"),
        "came back",
    ),
    "a recall with its closing": (
        lambda s: s.keep("call", open_recall(s.shop, subject=s.board, reason="nickel").recall.code),
        lambda s: close_recall(s.shop, recall=s.kept["call"], outcome="fine", anyway="a drill"),
        "recall closed: fine",
    ),
}


@pytest.mark.parametrize("name", RESTING)
def test_what_later_steps_rest_on_is_not_taken_back(empty_shop: Workshop, name: str) -> None:
    """The later steps are listed; after they are undone it goes, and everything is as before."""
    stock = Stock(empty_shop)
    first, second, says = RESTING[name]
    before = projection(empty_shop)
    first(stock)
    operation = last_operation(empty_shop)
    second(stock)
    done = dump(empty_shop)
    with pytest.raises(Refused, match=says):
        undo(empty_shop, operation=operation)
    refused = dump(empty_shop)
    undo(empty_shop)
    undo(empty_shop, operation=operation)

    assert refused == done
    assert projection(empty_shop) == before


def test_what_rested_on_something_undone_is_not_brought_back(empty_shop: Workshop) -> None:
    """A drop-off whose donor was taken back since would hang in the air."""
    view = log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a"))
    donor = view.donor.donor.code
    log_drop_off(empty_shop, donor=donor, new=NewDropOff(START.date(), "b"))
    undo(empty_shop)
    correction = last_operation(empty_shop)
    undo(empty_shop)
    with pytest.raises(Refused, match=f"'log drop-off' cannot be brought back: {donor} is undone"):
        undo(empty_shop, operation=correction)

    assert dump(empty_shop)["drop_off"] == []


def test_a_redone_step_is_held_by_what_came_after(empty_shop: Workshop) -> None:
    """A drop-off that was brought back and then used cannot be taken back once more."""
    code = add_drop_off(empty_shop)
    undo(empty_shop)
    undo(empty_shop, operation=last_operation(empty_shop))
    redo = last_operation(empty_shop)
    add_board(empty_shop, drop_off=code)
    with pytest.raises(Refused, match="board recorded"):
        undo(empty_shop, operation=redo)

    assert len(dump(empty_shop)["drop_off"]) == 1


def test_areas_are_right_after_an_undo_under_new_settings(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A cut undone, and brought back, after the wall was made wider: all checks still hold."""
    board = cleared_board.code
    cut_circle(empty_shop, board, 40, 40)
    cut = last_operation(empty_shop)
    change_settings(empty_shop, typed={"wall-mm": "5", "least-mm": "20"})
    undo(empty_shop, operation=cut)
    undone = last_operation(empty_shop)
    once = [line for line in run_checks(empty_shop) if not line.ok]
    undo(empty_shop, operation=undone)
    twice = [line for line in run_checks(empty_shop) if not line.ok]

    assert once == []
    assert twice == []
