"""Typing mistakes are mended on the record: old and new stay, and nothing private leaks."""

from __future__ import annotations

import pytest

from salvage.canonical import Json
from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import next_code
from salvage.records.events import check_event_data
from salvage.store.lookup import load_board
from salvage.work.check import run_checks
from salvage.work.clear import read_checklist
from salvage.work.correct import (
    BoardCorrection,
    DonorCorrection,
    DropOffCorrection,
    correct_board,
    correct_donor,
    correct_drop_off,
)
from salvage.work.donors import NewDonor, find_donors, set_naming, view_donor
from salvage.work.history import read_history, undo
from salvage.work.pieces import weigh_piece
from salvage.work.receive import NewDropOff, log_drop_off, view_drop_off
from salvage.work.workshop import Workshop
from tests.bench import START, add_cleared_board, add_drop_off, cut_circle, dump
from tests.work.stock import projection


def _faults(shop: Workshop) -> list[str]:
    return [line.name for line in run_checks(shop) if not line.ok]


def test_a_misread_weight_is_mended(empty_shop: Workshop) -> None:
    """The record says the right weight, the history both and why."""
    code = add_drop_off(empty_shop)
    new = DropOffCorrection(weight_g=62_000.0, board_count=0, story="They turned the stars.")
    view = correct_drop_off(empty_shop, drop_off=code, new=new, why="misread the scales")
    words = read_history(empty_shop, code)[-1].words

    assert view.drop_off.weight_mg == 62_000_000
    assert view.drop_off.board_count is None
    assert view.drop_off.contents == "a box of 14 boards"
    assert "weight 6.2 kg -> 62 kg" in words
    assert "board count 14 -> not known" in words
    assert words.endswith(": misread the scales")
    assert _faults(empty_shop) == []


def test_another_type_brings_its_hazards(empty_shop: Workshop) -> None:
    """A cleared board that turns out to be a power supply is held until that is looked at."""
    board = add_cleared_board(empty_shop)
    before = {line.check.hazard for line in read_checklist(empty_shop, board.code).lines}
    new = BoardCorrection(type="power-supply", maker="Nocturn")
    mended = correct_board(empty_shop, board=board.code, new=new, why="took it for a card")
    lines = read_checklist(empty_shop, board.code).lines
    fresh = {line.check.hazard for line in lines if not line.check.is_settled}

    assert (mended.type, mended.maker, mended.clearance) == ("power-supply", "Nocturn", "held")
    assert before < {line.check.hazard for line in lines}
    assert fresh == {line.check.hazard for line in lines} - before
    assert "now to be checked as well: " in read_history(empty_shop, board.code)[-1].words


def test_a_cut_before_the_correction_stays_in_order(empty_shop: Workshop) -> None:
    """Hazards that nobody expected when the piece was cut do not turn the check red."""
    board = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 30, 40)
    new = BoardCorrection(type="power-supply", thickness_mm=1.6, weight_g=90.0)
    correct_board(empty_shop, board=board.code, new=new, why="read the wrong side")

    assert _faults(empty_shop) == []


def test_a_word_on_the_board_leaves_it_cleared(empty_shop: Workshop) -> None:
    """A better reading of the maker's mark asks for no new look at the hazards."""
    board = add_cleared_board(empty_shop)
    mended = correct_board(
        empty_shop, board=board.code, new=BoardCorrection(maker="Orrery Works"), why="smudged"
    )

    assert mended.clearance == "cleared"
    assert mended.model == board.model


def test_a_misspelt_donor_is_sealed_anew(empty_shop: Workshop) -> None:
    """The right name is found and printed; the journal holds new seals and no word of it."""
    new = NewDonor("Ilva Brant", contact="12 Quay Street")
    view = log_drop_off(empty_shop, donor=new, new=NewDropOff(START.date(), "a box"))
    old = view.donor.donor
    mended = correct_donor(
        empty_shop,
        donor=old.code,
        new=DonorCorrection(name="Ilva Brandt", contact="", source_kind="household"),
        why="misspelt",
    )
    tables = {name: rows for name, rows in dump(empty_shop).items() if name != "private_field"}
    words = read_history(empty_shop, old.code)[-1].words

    assert (mended.name, mended.contact) == ("Ilva Brandt", "")
    assert [found.donor.code for found in find_donors(empty_shop, "ilva brandt")] == [old.code]
    assert "Brand" not in repr(tables)
    assert "Brant" not in repr(tables)
    assert "name changed (sealed)" in words
    assert "'other' -> 'household'" in words
    assert _faults(empty_shop) == []


def test_the_reason_may_not_repeat_the_name(empty_shop: Workshop) -> None:
    """What is sealed may not stand in clear beside it, be it the old name or the new one."""
    view = log_drop_off(
        empty_shop,
        donor=NewDonor("Ilva Brant", described_as="a neighbour"),
        new=NewDropOff(START.date(), "a box"),
    )
    before = dump(empty_shop)
    for why in ("it is Brandt with d", "not BRANT"):
        with pytest.raises(BadValue, match="sealed name"):
            correct_donor(
                empty_shop,
                donor=view.donor.donor.code,
                new=DonorCorrection(name="Ilva Brandt"),
                why=why,
            )

    assert dump(empty_shop) == before


def test_a_named_donor_keeps_a_name(empty_shop: Workshop) -> None:
    """Who is to be named on cards cannot be left without a name."""
    code = view_drop_off(empty_shop.conn, add_drop_off(empty_shop)).donor.donor.code
    set_naming(empty_shop, donor=code, naming="named", naming_how="by letter")
    with pytest.raises(BadValue, match="needs a name"):
        correct_donor(empty_shop, donor=code, new=DonorCorrection(name=""), why="a slip")

    assert view_donor(empty_shop.conn, code).name == "Kelpie Point Planetarium"


def test_what_differs_in_nothing_is_refused(empty_shop: Workshop) -> None:
    """No correction without a difference, a reason, and a thing to correct."""
    code = add_drop_off(empty_shop)
    before = dump(empty_shop)
    same, unknown = DropOffCorrection(weight_g=6200.0), next_code("B", "K", 0)[0]
    with pytest.raises(BadValue, match="differs from the record"):
        correct_drop_off(empty_shop, drop_off=code, new=same, why="a slip")
    with pytest.raises(BadValue, match="say why"):
        correct_drop_off(empty_shop, drop_off=code, new=DropOffCorrection(notes="x"), why=" ")
    with pytest.raises(BadValue, match="say what arrived"):
        correct_drop_off(empty_shop, drop_off=code, new=DropOffCorrection(contents=""), why="x")
    with pytest.raises(NotFound):
        correct_board(empty_shop, board=unknown, new=BoardCorrection(maker="x"), why="x")

    assert dump(empty_shop) == before


def test_corrections_are_taken_back_like_anything_else(empty_shop: Workshop) -> None:
    """Undo gives the old words back, the old name too, and the checklist as it was."""
    board = add_cleared_board(empty_shop)
    donor = view_drop_off(empty_shop.conn, board.drop_off).donor
    before = projection(empty_shop)
    correct_board(empty_shop, board=board.code, new=BoardCorrection(type="other"), why="unsure")
    correct_donor(
        empty_shop, donor=donor.donor.code, new=DonorCorrection(name="Kelpie Dome"), why="renamed"
    )
    correct_drop_off(
        empty_shop,
        drop_off=board.drop_off,
        new=DropOffCorrection(notes="two boxes"),
        why="left out",
    )
    for _ in range(3):
        undo(empty_shop)

    assert projection(empty_shop) == before
    assert view_donor(empty_shop.conn, donor.donor.code).name == donor.name
    assert load_board(empty_shop.conn, board.code).clearance == "cleared"
    assert _faults(empty_shop) == []


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ({"code": "BC0002J"}, {"code": "BC0003K"}),
        ({"maker": "a"}, {"model": "b"}),
        ({"weight_mg": 1}, {"weight_mg": "1"}),
        ({}, {}),
    ],
)
def test_a_correction_names_only_what_may_be_corrected(
    was: dict[str, str | int], now: dict[str, str | int]
) -> None:
    """A code is never corrected, and every new value has its old one beside it."""
    data: dict[str, Json] = {"was": dict(was), "now": dict(now), "hazards": [], "why": "a slip"}
    with pytest.raises(BadValue):
        check_event_data("board.corrected", data)


def test_a_board_stays_heavier_than_its_pieces(empty_shop: Workshop) -> None:
    """A corrected weight below that of a piece which was cut from it is refused."""
    board = add_cleared_board(empty_shop)
    cut = cut_circle(empty_shop, board.code, 80, 60)
    assert cut.piece is not None
    weigh_piece(empty_shop, piece=cut.piece.code, weight_g=9.5)
    light, right = BoardCorrection(weight_g=5), BoardCorrection(weight_g=110)

    with pytest.raises(Refused, match="alone weighs"):
        correct_board(empty_shop, board=board.code, new=light, why="misread the scales")

    corrected = correct_board(empty_shop, board=board.code, new=right, why="misread the scales")

    assert corrected.weight_mg == 110_000
