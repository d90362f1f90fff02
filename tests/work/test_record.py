"""Recording boards: what they are, how large, what must not be cut."""

from __future__ import annotations

import pytest

from salvage.errors import BadOutline, BadValue, NotFound, Refused
from salvage.geometry.outline import map_points, rectangle
from salvage.ids import Code, next_code
from salvage.knowledge.hazards import all_hazards
from salvage.records.region import Region
from salvage.records.things import Board
from salvage.work.clear import read_checklist
from salvage.work.recall import open_recall
from salvage.work.record import (
    BOARD_STATES,
    NewBoard,
    NewKeepOut,
    add_keep_outs,
    lift_keep_out,
    list_boards,
    list_keep_outs,
    move_board,
    record_boards,
    retire_board,
    set_lead,
    set_outline,
)
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, cut_circle, dump


def _at(width_mm: float, height_mm: float, x_mm: float, y_mm: float) -> Region:
    x, y = round(x_mm * 1000), round(y_mm * 1000)
    return map_points(rectangle(width_mm, height_mm), lambda point: (point[0] + x, point[1] + y))


def test_several_like_boards_get_a_code_each(empty_shop: Workshop) -> None:
    """Fourteen cards of one box are recorded at once; each is a board of its own."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(
        drop_off, "line-card", maker="Orrery", thickness_mm=1.57, weight_g=210.5, place="shelf 2"
    )
    boards = record_boards(empty_shop, new=new, count=14)

    assert len({board.code for board in boards}) == 14
    assert {(b.thickness_um, b.weight_mg, b.place) for b in boards} == {(1570, 210_500, "shelf 2")}
    assert {board.clearance for board in boards} == {"held"}


@pytest.mark.parametrize("count", [0, -1, 501])
def test_a_count_beyond_reason_is_refused(empty_shop: Workshop, count: int) -> None:
    """No board, or more than a box can hold, is a slip of the finger."""
    with pytest.raises(BadValue, match="--count"):
        record_boards(empty_shop, new=NewBoard(add_drop_off(empty_shop), "other"), count=count)


def test_a_board_needs_its_drop_off(empty_shop: Workshop) -> None:
    """A board from nowhere cannot be recorded."""
    code, _ = next_code("D", "K", 0)
    before = dump(empty_shop)
    with pytest.raises(NotFound, match="no drop-off"):
        record_boards(empty_shop, new=NewBoard(code, "other"))

    assert dump(empty_shop) == before


@pytest.mark.parametrize("status", ["tested", "marked-lead-free"])
def test_a_reassuring_lead_status_needs_its_evidence(empty_shop: Workshop, status: str) -> None:
    """Whoever says less than the worst says what that rests on."""
    board = add_board(empty_shop)
    with pytest.raises(BadValue, match="needs its evidence"):
        record_boards(empty_shop, new=NewBoard(board.drop_off, "other", lead_status=status))
    with pytest.raises(BadValue, match="needs its evidence"):
        set_lead(empty_shop, board=board.code, lead_status=status, lead_evidence=" ")
    told = set_lead(
        empty_shop, board=board.code, lead_status=status, lead_evidence="e1 mark at the edge"
    )

    assert (told.lead_status, told.lead_evidence) == (status, "e1 mark at the edge")


def test_lead_is_unknown_until_told(held_board: Board) -> None:
    """No status is inferred, not from the date code either."""
    assert held_board.date_code == "9843"
    assert held_board.lead_status == "unknown"


@pytest.mark.parametrize("kind", ["other", "thing nobody knows"])
def test_an_unknown_type_gets_every_hazard(empty_shop: Workshop, kind: str) -> None:
    """What is not known takes the strict branch: all hazards that hold a board are looked for."""
    board = add_board(empty_shop, kind=kind)
    lines = read_checklist(empty_shop, board.code).lines

    assert {line.hazard.slug for line in lines} == {
        hazard.slug for hazard in all_hazards() if hazard.blocks_cutting
    }


def test_hazards_are_fixed_when_a_board_is_recorded(empty_shop: Workshop) -> None:
    """The event lists what was to be looked for, so that a later list changes no old board."""
    board = add_board(empty_shop, kind="memory-module")
    (body,) = empty_shop.conn.execute(
        "SELECT body FROM event WHERE kind = 'board.recorded'"
    ).fetchone()

    assert '"hazards":["data-bearing-part"]' in body
    assert [line.check.hazard for line in read_checklist(empty_shop, board.code).lines] == [
        "data-bearing-part"
    ]


def test_keep_outs_lessen_what_is_usable(empty_shop: Workshop) -> None:
    """A port of 20 x 10 mm takes itself and the cutter's room round it."""
    board = add_board(empty_shop)
    marked = add_keep_outs(
        empty_shop, board=board.code, keep_outs=[NewKeepOut(_at(20, 10, 50, 40), "serial port")]
    )
    lifted = lift_keep_out(empty_shop, board=board.code, n=1, reason="port desoldered")

    # 200 mm² and at least the band of one cutter, 2 mm, on its four sides: 120 mm².
    assert 320e6 <= board.usable_um2 - marked.usable_um2 <= 340e6
    assert lifted.usable_um2 == board.usable_um2
    assert [(k.n, k.lifted) for k in list_keep_outs(empty_shop, board.code)] == [(1, 1)]


def test_keep_outs_come_with_the_board_and_are_numbered_on(empty_shop: Workshop) -> None:
    """Known regions are marked at once; numbers are never given twice."""
    new = NewBoard(
        add_drop_off(empty_shop),
        "other",
        outline=rectangle(100, 60),
        keep_outs=(NewKeepOut(_at(5, 5, 0, 0), "hole"), NewKeepOut(_at(5, 5, 90, 0), "hole")),
    )
    board = record_boards(empty_shop, new=new)[0]
    lift_keep_out(empty_shop, board=board.code, n=2, reason="drilled out")
    add_keep_outs(empty_shop, board=board.code, keep_outs=[NewKeepOut(_at(5, 5, 0, 50), "crack")])

    assert [k.n for k in list_keep_outs(empty_shop, board.code)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("keep_out", "error", "says"),
    [
        (NewKeepOut(_at(10, 10, 130, 0), "port"), BadOutline, "wholly outside.*0,0 to 120,80"),
        (NewKeepOut(_at(10, 10, 0, 0), " "), BadValue, "needs a reason"),
    ],
)
def test_a_keep_out_lies_on_the_board_and_has_a_reason(
    empty_shop: Workshop, keep_out: NewKeepOut, error: type[Exception], says: str
) -> None:
    """A slip in the coordinates is told with the board's reach."""
    board = add_board(empty_shop)
    before = dump(empty_shop)
    good = NewKeepOut(_at(10, 10, 0, 0), "port")
    with pytest.raises(error, match=says):
        add_keep_outs(empty_shop, board=board.code, keep_outs=[good, keep_out])

    assert dump(empty_shop) == before


def test_a_keep_out_needs_an_outline(empty_shop: Workshop) -> None:
    """Before a board is measured there is no place to mark on it."""
    board = record_boards(empty_shop, new=NewBoard(add_drop_off(empty_shop), "other"))[0]
    with pytest.raises(BadOutline, match="no outline yet"):
        add_keep_outs(empty_shop, board=board.code, keep_outs=[NewKeepOut(rectangle(5, 5), "x")])

    assert (board.outline, board.outline_um2, board.usable_um2) == (None, 0, 0)


def test_lifting_needs_a_standing_keep_out_and_a_reason(empty_shop: Workshop) -> None:
    """What was lifted or never marked cannot be lifted."""
    board = add_board(empty_shop)
    add_keep_outs(empty_shop, board=board.code, keep_outs=[NewKeepOut(_at(5, 5, 0, 0), "port")])
    with pytest.raises(Refused, match=r"no keep-out 2.*1 \(port\)"):
        lift_keep_out(empty_shop, board=board.code, n=2, reason="off")
    with pytest.raises(BadValue, match="--reason"):
        lift_keep_out(empty_shop, board=board.code, n=1, reason="")
    lift_keep_out(empty_shop, board=board.code, n=1, reason="off")
    with pytest.raises(Refused, match="it has: none"):
        lift_keep_out(empty_shop, board=board.code, n=1, reason="off")


def test_an_outline_may_get_better_until_the_first_cut(empty_shop: Workshop) -> None:
    """Measured anew, the areas follow; after a cut the outline stays."""
    board = add_cleared_board(empty_shop)
    better = set_outline(
        empty_shop, board=board.code, outline=rectangle(118, 79), outline_from="calipers"
    )
    cut_circle(empty_shop, board.code, 40, 40)
    before = dump(empty_shop)
    with pytest.raises(Refused, match="has 1 cuts placed"):
        set_outline(empty_shop, board=board.code, outline=rectangle(200, 200), outline_from="x")

    assert (better.outline_um2, better.outline_from) == (118 * 79 * 10**6, "calipers")
    assert better.usable_um2 < board.usable_um2
    assert dump(empty_shop) == before


def test_an_outline_keeps_the_keep_outs(empty_shop: Workshop) -> None:
    """A better outline does not free what was marked."""
    board = add_board(empty_shop)
    marked = add_keep_outs(
        empty_shop, board=board.code, keep_outs=[NewKeepOut(_at(20, 20, 50, 30), "port")]
    )
    same = set_outline(
        empty_shop, board=board.code, outline=rectangle(120, 80), outline_from="again"
    )

    assert same.usable_um2 == marked.usable_um2


def test_a_board_moves_and_retires(empty_shop: Workshop) -> None:
    """Where it lies is known; once it is gone nothing of it is usable."""
    board = add_board(empty_shop)
    moved = move_board(empty_shop, board=board.code, place="box 7")
    with pytest.raises(BadValue, match="say why"):
        retire_board(empty_shop, board=board.code, reason="  ")
    retired = retire_board(empty_shop, board=board.code, reason="cracked through")

    assert moved.place == "box 7"
    assert (retired.retired, retired.usable_um2) == ("cracked through", 0)


def _codes(shop: Workshop, state: str) -> set[Code]:
    return {board.code for board in list_boards(shop, state=state)}


def test_boards_are_listed_by_state(empty_shop: Workshop) -> None:
    """Each board is found under the states that it is in, and only there."""
    held = add_board(empty_shop).code
    cleared = add_cleared_board(empty_shop).code
    remnant = add_cleared_board(empty_shop).code
    cut_circle(empty_shop, remnant, 40, 40)
    recalled = add_cleared_board(empty_shop).code
    open_recall(empty_shop, subject=recalled, reason="swollen capacitor")
    retired = add_board(empty_shop).code
    retire_board(empty_shop, board=retired, reason="cracked")
    found = {state: _codes(empty_shop, state) for state in BOARD_STATES}

    assert found == {
        "": {held, cleared, remnant, recalled},
        "held": {held},
        "cleared": {cleared, remnant},
        "remnant": {remnant},
        "recalled": {recalled},
        "retired": {retired},
        "all": {held, cleared, remnant, recalled, retired},
    }


def test_boards_are_listed_newest_first_and_by_drop_off(empty_shop: Workshop) -> None:
    """The board just recorded is on top; another box's boards can be left out."""
    first = add_board(empty_shop)
    second = add_board(empty_shop)
    third = add_board(empty_shop, drop_off=first.drop_off)

    assert [board.code for board in list_boards(empty_shop, most=2)] == [third.code, second.code]
    assert [board.code for board in list_boards(empty_shop, drop_off=first.drop_off)] == [
        third.code,
        first.code,
    ]


@pytest.mark.parametrize("dry_run", [True, False])
def test_a_trial_records_nothing(empty_shop: Workshop, dry_run: bool) -> None:
    """A dry run shows the board with its code, and the workshop is as before."""
    drop_off = add_drop_off(empty_shop)
    before = dump(empty_shop)
    board = record_boards(empty_shop, new=NewBoard(drop_off, "other"), dry_run=dry_run)[0]

    assert board.code[0] == "B"
    assert (dump(empty_shop) == before) is dry_run
