"""Clearing: a board is cut only when every hazard on it is settled, and no sooner."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, Held, NotFound, Refused
from salvage.ids import Code, next_code
from salvage.records.things import Board
from salvage.work.clear import NewCheck, open_hazards, read_checklist, record_checks
from salvage.work.history import read_history
from salvage.work.look import look_at
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, clear, cut_circle, dump


@pytest.fixture
def module(empty_shop: Workshop) -> Board:
    """A memory module: its only hazard is a part that may hold data."""
    return add_board(empty_shop, kind="memory-module")


DATA = "data-bearing-part"


def _clearance(shop: Workshop, board: Code, check: NewCheck) -> str:
    (checklist,) = record_checks(shop, boards=[board], checks=[check])
    return checklist.board.clearance


@pytest.mark.parametrize(
    ("check", "clearance"),
    [
        (NewCheck(DATA, "not checked"), "held"),
        (NewCheck(DATA, "cannot tell", how="label unreadable"), "held"),
        (NewCheck(DATA, "present"), "held"),
        (NewCheck(DATA, "absent", how="looked at both sides"), "cleared"),
        (NewCheck(DATA, "present", "removed", "desoldered", "drawer 3, to be wiped"), "cleared"),
        (NewCheck(DATA, "cannot tell", "accepted", reason="donor wiped it"), "cleared"),
        (NewCheck(DATA, "present", "accepted", reason="donor wiped it"), "cleared"),
    ],
)
def test_only_a_settled_hazard_frees_the_board(
    empty_shop: Workshop, module: Board, check: NewCheck, clearance: str
) -> None:
    """Not checked, cannot tell and present hold; absent, removed and accepted free."""
    assert _clearance(empty_shop, module.code, check) == clearance
    assert look_at(empty_shop, board=module.code).go is (clearance == "cleared")


@pytest.mark.parametrize(
    ("check", "says"),
    [
        (NewCheck(DATA, "present", "removed", goes_to="drawer 3"), "--how"),
        (NewCheck(DATA, "present", "removed", how="desoldered"), "--goes-to"),
        (NewCheck(DATA, "absent", "removed", "desoldered", "drawer"), "only what is present"),
        (NewCheck(DATA, "cannot tell", "removed", "desoldered", "drawer"), "only what is present"),
        (NewCheck(DATA, "present", "accepted"), "--reason"),
        (NewCheck(DATA, "present", "accepted", reason="  "), "--reason"),
        (NewCheck(DATA, "absent", "accepted", reason="x"), "needs no acceptance"),
        (NewCheck(DATA, "perhaps"), "does not fit"),
    ],
)
def test_a_settlement_without_its_words_is_refused(
    empty_shop: Workshop, module: Board, check: NewCheck, says: str
) -> None:
    """Removed says how and whereto, accepted says why; otherwise nothing is written."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=says):
        record_checks(empty_shop, boards=[module.code], checks=[check])

    assert dump(empty_shop) == before


def test_absent_is_never_a_default(empty_shop: Workshop) -> None:
    """A board of every known type starts with each hazard not checked."""
    board = add_board(empty_shop, kind="other")
    checks = [line.check for line in read_checklist(empty_shop, board.code).lines]

    assert checks != []
    assert {(check.finding, check.outcome, check.by) for check in checks} == {
        ("not checked", "", "")
    }


def test_one_open_hazard_is_enough_to_hold(empty_shop: Workshop) -> None:
    """All but one settled is not settled."""
    board = add_board(empty_shop)
    *most, last = [line.check.hazard for line in read_checklist(empty_shop, board.code).lines]
    checks = [NewCheck(hazard, "absent", how="looked") for hazard in most]
    (checklist,) = record_checks(empty_shop, boards=[board.code], checks=checks)

    assert checklist.board.clearance == "held"
    assert [line.check.hazard for line in checklist.open_lines] == [last]
    assert checklist.lines[0].check.hazard == last
    with pytest.raises(Held, match=f"{last}: not checked"):
        cut_circle(empty_shop, board.code, 40, 40)


def test_a_hazard_found_later_holds_the_board_again(empty_shop: Workshop) -> None:
    """A coin cell under a shield, found after clearing, stops the next cut until it is out."""
    board = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 30, 40)
    found = _clearance(empty_shop, board.code, NewCheck("coin-cell", "present", how="under shield"))
    with pytest.raises(Held, match="coin-cell: present"):
        cut_circle(empty_shop, board.code, 80, 40)
    out = NewCheck("coin-cell", "present", "removed", "lifted out", "battery tin")
    freed = _clearance(empty_shop, board.code, out)

    assert (found, freed) == ("held", "cleared")
    cut_circle(empty_shop, board.code, 80, 40)


def test_a_hazard_that_was_not_expected_is_added(empty_shop: Workshop, module: Board) -> None:
    """What turns up on a type that never has it is written down and holds as well."""
    clear(empty_shop, module.code)
    state = _clearance(empty_shop, module.code, NewCheck("mercury-relay", "present"))
    slugs = {line.check.hazard for line in read_checklist(empty_shop, module.code).lines}

    assert state == "held"
    assert slugs == {DATA, "mercury-relay"}


def test_a_hazard_goes_by_any_of_its_names(empty_shop: Workshop) -> None:
    """Typed with a blank or in capitals it is the same line of the list, not a second one."""
    board = add_board(empty_shop)
    before = len(read_checklist(empty_shop, board.code).lines)
    (checklist,) = record_checks(
        empty_shop, boards=[board.code], checks=[NewCheck("Coin Cell", "absent", how="looked")]
    )
    settled = [line.check.hazard for line in checklist.lines if line.check.is_settled]

    assert settled == ["coin-cell"]
    assert len(checklist.lines) == before


def test_an_unknown_hazard_or_board_is_not_found(empty_shop: Workshop, module: Board) -> None:
    """Neither is written on a line of its own."""
    with pytest.raises(NotFound, match="not a hazard"):
        record_checks(empty_shop, boards=[module.code], checks=[NewCheck("dragons", "absent")])
    code, _ = next_code("B", "K", 0)
    before = dump(empty_shop)
    with pytest.raises(NotFound, match="no board"):
        record_checks(empty_shop, boards=[module.code, code], checks=[NewCheck(DATA, "present")])

    assert dump(empty_shop) == before


def test_who_found_what_and_when_is_kept(empty_shop: Workshop, module: Board) -> None:
    """Each line says by whom; a later finding replaces it there and stays in the history."""
    record_checks(empty_shop, boards=[module.code], checks=[NewCheck(DATA, "absent", how="looked")])
    (line,) = read_checklist(empty_shop, module.code).lines
    kinds = empty_shop.conn.execute(
        "SELECT count(*) FROM event WHERE kind = 'hazard.checked'"
    ).fetchone()

    assert (line.check.by, line.check.how) == ("Maren", "looked")
    assert line.check.at > "2026-05-04"
    assert kinds == (1,)


def test_like_boards_are_cleared_together(empty_shop: Workshop) -> None:
    """The same open hazards may be settled at once; where they differ the maker is asked."""
    one, two = add_board(empty_shop), add_board(empty_shop)
    other = add_board(empty_shop, kind="memory-module")
    slugs = open_hazards(empty_shop, [one.code, two.code])
    checks = [NewCheck(slug, "absent", how="looked") for slug in slugs]
    lists = record_checks(empty_shop, boards=[one.code, two.code], checks=checks)

    assert [found.board.clearance for found in lists] == ["cleared", "cleared"]
    with pytest.raises(Refused, match="different open hazards"):
        open_hazards(empty_shop, [two.code, other.code])


def test_one_hazard_told_in_two_ways_is_refused(empty_shop: Workshop, module: Board) -> None:
    """A slip of the hand that says absent and present at once frees no board."""
    present = NewCheck(DATA, "present")
    absent = NewCheck("Data bearing part", "absent", how="looked")
    before = dump(empty_shop)
    for checks in ([present, absent], [absent, present]):
        with pytest.raises(BadValue, match=f"{DATA} is told twice"):
            record_checks(empty_shop, boards=[module.code], checks=checks)

    assert dump(empty_shop) == before


def test_one_hazard_told_twice_alike_counts_once(empty_shop: Workshop, module: Board) -> None:
    """Named by slug and by name, it is still one look and one line of the history."""
    checks = [
        NewCheck(DATA, "absent", how="looked"),
        NewCheck("Data-Bearing PART", "absent", how="looked"),
    ]
    record_checks(empty_shop, boards=[module.code], checks=checks)
    looks = [line for line in read_history(empty_shop, module.code) if "hazard" in line.words]

    assert len(looks) == 1


def test_a_settled_hazard_told_otherwise_is_said(empty_shop: Workshop, module: Board) -> None:
    """A second look may find more, and the answer says that it changed what was settled."""
    checks = [
        NewCheck(DATA, "cannot tell"),
        NewCheck(DATA, "absent", how="looked"),
        NewCheck(DATA, "absent", how="looked again"),
        NewCheck("Data bearing part", "present", "removed", "desoldered", "drawer"),
        NewCheck(DATA, "present"),
    ]
    told = [
        record_checks(empty_shop, boards=[module.code], checks=[check])[0].revised
        for check in checks
    ]

    assert told == [
        (),
        (),
        (),
        (f"{DATA} was absent, is now removed",),
        (f"{DATA} was removed, is now present",),
    ]
