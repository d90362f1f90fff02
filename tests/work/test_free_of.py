"""
Free of mercury, nickel-cadmium and lithium when it was cut: the order of events is the evidence.

The four things are those of 40 CFR 261.4(a)(14), as explained in the EPA RCRA frequent questions.
"""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, Held
from salvage.ids import Code
from salvage.records.things import Board
from salvage.work.alerts import NewAlert, raise_alert
from salvage.work.clear import NewCheck, record_checks
from salvage.work.cutting import NewCut, record_cut
from salvage.work.free_of import show_free_of
from salvage.work.history import undo
from salvage.work.overrides import overrides_of
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import SteppingClock, circle_at, clear, cut_circle, seeded_entropy

NOT_ON_THE_LIST = ("mercury-tilt", "mercury-relay")


def _say_absent(shop: Workshop, board: Code, *hazards: str) -> None:
    checks = [NewCheck(slug, "absent", how="lamp") for slug in hazards]
    record_checks(shop, boards=[board], checks=checks)


def test_a_board_is_shown_free_by_what_came_before_its_cut(
    empty_shop: Workshop, held_board: Board
) -> None:
    """Each thing was removed, or searched for and not found, by somebody, before the cut."""
    board = held_board.code
    clear(empty_shop, board)
    removed = NewCheck("coin-cell", "present", "removed", "lifted out", "battery box")
    record_checks(empty_shop, boards=[board], checks=[removed])
    _say_absent(empty_shop, board, "potted-clock", *NOT_ON_THE_LIST)
    cut_circle(empty_shop, board, 30, 40)
    (cut,) = show_free_of(empty_shop, board=board).cuts

    assert cut.proven
    lithium = next(line for line in cut.lines if line.item.slug == "lithium")
    assert "coin-cell: removed, lifted out; Maren, 2026-05-04" in lithium.words[0]
    assert "potted-clock: searched, none found" in lithium.words[1]


def test_what_was_said_after_the_cut_does_not_count(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A search afterwards says nothing of the moment of cutting; the next cut is free."""
    board = cleared_board.code
    cut_circle(empty_shop, board, 30, 40)
    _say_absent(empty_shop, board, "potted-clock", *NOT_ON_THE_LIST)
    cut_circle(empty_shop, board, 90, 40)
    view = show_free_of(empty_shop, board=board)
    first, second = view.cuts

    assert [line.item.slug for line in first.lines if not line.proven] == [
        "mercury-switches",
        "mercury-relays",
        "lithium",
    ]
    assert second.proven
    assert view.missing == ()


def test_what_was_accepted_is_not_off(empty_shop: Workshop, cleared_board: Board) -> None:
    """A battery that may stay is a battery on the board."""
    accepted = NewCheck("coin-cell", "present", "accepted", reason="a dummy for show")
    record_checks(empty_shop, boards=[cleared_board.code], checks=[accepted])
    view = show_free_of(empty_shop, board=cleared_board.code)

    assert view.cuts == ()
    assert "coin-cell" in view.missing


def test_new_knowledge_later_changes_nothing_about_an_earlier_cut(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """What was proven stays as it was proven; as things stand now it is open again."""
    cut_circle(empty_shop, cleared_board.code, 30, 40)
    raise_alert(empty_shop, new=NewAlert("clock-battery", "x", "y", maker="Orrery"))
    view = show_free_of(empty_shop, board=cleared_board.code)
    (cut,) = view.cuts

    assert "nickel-cadmium" not in [line.item.slug for line in cut.lines if not line.proven]
    assert "clock-battery" in view.missing


def test_a_cut_that_was_undone_is_none(empty_shop: Workshop, cleared_board: Board) -> None:
    """What did not happen needs no proof."""
    cut_circle(empty_shop, cleared_board.code, 30, 40)
    undo(empty_shop)

    assert show_free_of(empty_shop, board=cleared_board.code).cuts == ()


def test_an_override_is_shown_with_its_reason_and_name_for_ever(
    empty_shop: Workshop, held_board: Board
) -> None:
    """The proof says NOT SHOWN, and says who cut it all the same, and why."""
    board = held_board.code
    new = NewCut(board, circle_at(empty_shop, 30, 40), override_reason="a trial cut")
    record_cut(empty_shop, new=new)
    clear(empty_shop, board)
    (cut,) = show_free_of(empty_shop, board=board).cuts
    (kept,) = overrides_of(empty_shop.conn, board)

    assert (cut.proven, cut.override) == (False, "a trial cut")
    assert (kept.override_reason, kept.by) == ("a trial cut", "Maren")


@pytest.mark.parametrize("override", ["", "  "])
def test_a_held_board_is_not_cut_without_a_reason(
    empty_shop: Workshop, held_board: Board, override: str
) -> None:
    """Blanks are no reason."""
    new = NewCut(held_board.code, circle_at(empty_shop, 30, 40), override_reason=override)
    with pytest.raises(Held):
        record_cut(empty_shop, new=new)

    assert overrides_of(empty_shop.conn, held_board.code) == ()


def test_an_override_needs_a_name(empty_shop: Workshop, held_board: Board) -> None:
    """Somebody stands for it; "the maker" is nobody."""
    nameless = open_workshop(empty_shop.folder, clock=SteppingClock(), entropy=seeded_entropy(7))
    new = NewCut(held_board.code, circle_at(empty_shop, 30, 40), override_reason="a trial")
    with nameless, pytest.raises(BadValue, match="needs a name"):
        record_cut(nameless, new=new)

    assert overrides_of(empty_shop.conn, held_board.code) == ()
