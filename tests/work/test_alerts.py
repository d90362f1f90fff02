"""New knowledge: one alert holds every board of a kind, now and from now on."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import date
from pathlib import Path

import pytest

from salvage.errors import BadValue, Held, NotFound, Refused
from salvage.ids import Code
from salvage.records.things import Board
from salvage.store.lookup import load_board
from salvage.work.alerts import (
    NewAlert,
    lift_alert,
    list_alerts,
    parse_made,
    raise_alert,
    short_alert,
    view_alert,
)
from salvage.work.check import rebuild_tables, run_checks
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.history import read_history, undo
from salvage.work.look import look_at
from salvage.work.recall import open_recall
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_drop_off, clear, cut_circle, dump
from tests.work.fleet import Fleet

ORRERY = NewAlert(
    "clock-battery", "a battery under the slot", "found on a board", maker="Orrery", model="X2"
)


def _state(shop: Workshop, board: Code, hazard: str = "clock-battery") -> tuple[str, str]:
    """Finding and outcome of a check, and empty texts where it is not on the list."""
    for line in read_checklist(shop, board).lines:
        if line.check.hazard == hazard:
            return line.check.finding, line.check.outcome
    return "", ""


def _one(shop: Workshop, drop_off: Code, *, maker: str, model: str = "") -> Board:
    new = NewBoard(drop_off, "memory-module", maker=maker, model=model)
    return record_boards(shop, new=new)[0]


def test_all_boards_of_a_kind_are_held_in_one_step(empty_shop: Workshop) -> None:
    """Cleared boards on three shelves are a no-go a second later; others are not touched."""
    drop_off = add_drop_off(empty_shop)
    boards = [add_board(empty_shop, drop_off=drop_off) for _ in range(3)]
    other = _one(empty_shop, drop_off, maker="Nocturn")
    for board in (*boards, other):
        clear(empty_shop, board.code)
    view = raise_alert(empty_shop, new=ORRERY)

    assert [under.board.code for under in view.held] == [board.code for board in boards]
    assert {_state(empty_shop, board.code) for board in boards} == {("not checked", "")}
    assert load_board(empty_shop.conn, other.code).clearance == "cleared"
    for board in boards:
        assert not look_at(empty_shop, board=board.code).go
        with pytest.raises(Held, match="clock-battery"):
            cut_circle(empty_shop, board.code, 30, 40)


def test_a_board_to_come_expects_the_check_at_once(empty_shop: Workshop) -> None:
    """The type alone would not ask a memory module for a clock battery."""
    drop_off = add_drop_off(empty_shop)
    before = _one(empty_shop, drop_off, maker="Nocturn")
    raise_alert(empty_shop, new=ORRERY)
    after = _one(empty_shop, drop_off, maker="orrery", model="X 2")

    assert _state(empty_shop, before.code) == ("", "")
    assert _state(empty_shop, after.code) == ("not checked", "")
    lines = read_checklist(empty_shop, after.code).lines
    (because,) = next(line.because for line in lines if line.check.hazard == "clock-battery")
    assert "a battery under the slot (source: found on a board)" in because


@pytest.mark.parametrize(
    ("check", "after"),
    [
        (NewCheck("clock-battery", "absent", how="lamp"), ("not checked", "")),
        (NewCheck("clock-battery", "cannot tell"), ("cannot tell", "")),
        (NewCheck("clock-battery", "present"), ("present", "")),
        (
            NewCheck("clock-battery", "present", "removed", "cut off", "battery box"),
            ("present", "removed"),
        ),
        (
            NewCheck("clock-battery", "present", "accepted", reason="a dead one, potted"),
            ("present", "accepted"),
        ),
        (
            NewCheck("clock-battery", "cannot tell", "accepted", reason="no need"),
            ("not checked", ""),
        ),
    ],
)
def test_only_what_was_not_found_is_asked_for_anew(
    empty_shop: Workshop, held_board: Board, check: NewCheck, after: tuple[str, str]
) -> None:
    """A battery that was found and taken off need not be taken off again."""
    record_checks(empty_shop, boards=[held_board.code], checks=[check])
    raise_alert(empty_shop, new=ORRERY)

    assert _state(empty_shop, held_board.code) == after


def test_boards_that_were_cut_are_named_with_their_pieces(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """The harm may be out in the world already: a recall can follow at once."""
    piece = cut_circle(empty_shop, cleared_board.code, 30, 40).piece
    whole = add_board(empty_shop)
    view = raise_alert(empty_shop, new=ORRERY)

    assert piece is not None
    assert [under.board.code for under in view.cut] == [cleared_board.code]
    assert view.cut[0].pieces == ((piece.code, "rough"),)
    assert whole.code in [under.board.code for under in view.held]
    recall = open_recall(empty_shop, subject=cleared_board.code, reason=view.alert.reason)
    assert piece.code in [item.code for item in recall.items]
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_an_alert_stands_in_the_history_of_each_board(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Who wonders why a cleared board is held reads it there."""
    raise_alert(empty_shop, new=ORRERY)
    words = read_history(empty_shop, cleared_board.code)[-1].words

    assert words == "alert: clock-battery on Orrery, X2: a battery under the slot"


def test_a_board_corrected_into_the_kind_is_held(empty_shop: Workshop) -> None:
    """The maker was misread: the alert is about it after all; a further note changes nothing."""
    drop_off = add_drop_off(empty_shop)
    board = _one(empty_shop, drop_off, maker="Qrrery", model="X2").code
    clear(empty_shop, board)
    raise_alert(empty_shop, new=ORRERY)
    correct_board(empty_shop, board=board, new=BoardCorrection(maker="Orrery"), why="misread")
    held = load_board(empty_shop.conn, board).clearance
    check = NewCheck("clock-battery", "absent", how="lamp")
    record_checks(empty_shop, boards=[board], checks=[check])
    correct_board(empty_shop, board=board, new=BoardCorrection(colour="green"), why="forgot")

    assert held == "held"
    assert load_board(empty_shop.conn, board).clearance == "cleared"


def test_a_lifted_alert_holds_no_board_to_come_and_frees_none(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Those it holds are looked over all the same; it stays on the record."""
    alert = raise_alert(empty_shop, new=ORRERY).alert
    lifted = lift_alert(empty_shop, alert=short_alert(alert), reason="bulletin withdrawn")
    later = _one(empty_shop, cleared_board.drop_off, maker="Orrery", model="X2")

    assert lifted.alert.lifted == "bulletin withdrawn"
    assert _state(empty_shop, cleared_board.code) == ("not checked", "")
    assert _state(empty_shop, later.code) == ("", "")
    assert later.code not in [under.board.code for under in lifted.boards]
    with pytest.raises(Refused, match="lifted already"):
        lift_alert(empty_shop, alert=alert.id, reason="again")


def test_an_alert_raised_by_mistake_is_undone(empty_shop: Workshop, cleared_board: Board) -> None:
    """Undoing brings the earlier finding back as it was."""
    before = dump(empty_shop)["hazard_check"]
    raise_alert(empty_shop, new=ORRERY)
    undo(empty_shop, why="wrong maker")

    assert dump(empty_shop)["hazard_check"] == before
    assert list_alerts(empty_shop) == ()
    assert load_board(empty_shop.conn, cleared_board.code).clearance == "cleared"


def test_a_rebuild_gives_the_same_rows(empty_shop: Workshop, cleared_board: Board) -> None:
    """Alerts before and after boards, lifted and standing, come out alike."""
    raise_alert(empty_shop, new=ORRERY)
    add_board(empty_shop, drop_off=cleared_board.drop_off)
    alert = raise_alert(
        empty_shop,
        new=NewAlert("mercury-tilt", "x", "y", drop_off=cleared_board.drop_off),
    ).alert
    lift_alert(empty_shop, alert=alert.id, reason="z")
    before = dump(empty_shop)
    rebuild_tables(empty_shop)

    assert dump(empty_shop) == before


@pytest.mark.parametrize("raised_first", [True, False])
def test_a_board_recorded_on_another_device_is_held_when_they_meet(
    tmp_path: Path, raised_first: bool
) -> None:
    """Neither device knew of the other: the alert holds the board all the same."""
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        first, second = fleet.shops

        def record() -> Code:
            drop_off = load_board(second.conn, fleet.board.code).drop_off
            board = _one(second, drop_off, maker="Orrery", model="X2").code
            clear(second, board)
            return board

        if raised_first:
            raise_alert(first, new=ORRERY)
            board = record()
        else:
            board = record()
            raise_alert(first, new=ORRERY)
        fleet.exchange_all()
        states = [_state(shop, board) for shop in fleet.shops]
        records = fleet.records()

    assert states == [("not checked", "")] * 2
    assert records[0] == records[1]


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (NewAlert("clock-battery", "", "x", maker="a"), "what was learned"),
        (NewAlert("clock-battery", "x", " ", maker="a"), "where it was learned"),
        (NewAlert("clock-battery", "x", "y"), "every board"),
        (NewAlert("leaded-solder", "x", "y", maker="a"), "holds no board"),
        (
            NewAlert("toner", "x", "y", made_from=date(1995, 1, 1), made_to=date(1990, 1, 1)),
            "is before",
        ),
    ],
)
def test_an_alert_that_says_too_little_is_refused(
    empty_shop: Workshop, new: NewAlert, says: str
) -> None:
    """It holds boards for ever on the record: what and where from must be said."""
    with pytest.raises(BadValue, match=says):
        raise_alert(empty_shop, new=new)


def test_an_unknown_hazard_or_alert_is_not_found(empty_shop: Workshop) -> None:
    """A slip gets a suggestion."""
    with pytest.raises(NotFound):
        raise_alert(empty_shop, new=NewAlert("clock-batery", "x", "y", maker="a"))
    with pytest.raises(NotFound, match="names 0 alerts"):
        view_alert(empty_shop.conn, "ffffffff")


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("9126", date(1991, 6, 24), date(1991, 6, 30)),
        ("1991", date(1991, 1, 1), date(1991, 12, 31)),
        ("2006-07-01", date(2006, 7, 1), date(2006, 7, 1)),
    ],
)
def test_bounds_are_codes_years_or_days(text: str, first: date, last: date) -> None:
    """However the bulletin puts it."""
    assert parse_made(text, field="--from") == first
    assert parse_made(text, field="--to", last=True) == last


@pytest.mark.parametrize(("text", "says"), [("2015", "can be the year"), ("later", "no date code")])
def test_an_unclear_bound_is_asked_about(text: str, says: str) -> None:
    """2015 is a year, and week 15 of 2020: nobody guesses."""
    with pytest.raises(BadValue, match=says):
        parse_made(text, field="--to")
