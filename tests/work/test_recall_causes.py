"""What a recall may start from: each cause reaches what it must, and says what it cannot know."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.records.recalls import swapped_week, week_number
from salvage.store.lookup import load_batch, load_board, load_piece
from salvage.store.recall_reach import is_hit
from salvage.work import recall_causes as causes
from salvage.work.check import run_checks
from salvage.work.clear import NewCheck, record_checks
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.cutting import NewCut, record_cut
from salvage.work.materials import NewBatch, add_batch, use_batches, void_use
from salvage.work.pieces import set_stage
from salvage.work.recall import NewRecall, RecallView, begin_recall, view_recall
from salvage.work.record import NewBoard, record_boards, set_outline
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, circle_at, cut_circle

VARNISH = NewBatch("sealant", "varnish", maker="Harbour Coatings", lot="24-117")


def call_back(shop: Workshop, cause: causes.RecallCause) -> RecallView:
    """A recall from a cause."""
    return begin_recall(shop, new=NewRecall(cause, "mercury found"))


def cut(shop: Workshop, board: Code, x_mm: float) -> Code:
    """A piece of a board."""
    piece = cut_circle(shop, board, x_mm, 40).piece
    assert piece is not None
    return piece.code


def board_of(shop: Workshop, date_code: str) -> Code:
    """A board with a date code as somebody wrote it down."""
    new = NewBoard(
        add_drop_off(shop), "other", date_code=date_code, outline=rectangle(90, 60),
        outline_from="calipers",
    )  # fmt: skip
    return record_boards(shop, new=new)[0].code


def codes(view: RecallView) -> set[str]:
    """What a recall holds."""
    return {item.code for item in view.items}


def not_ruled_out(view: RecallView) -> dict[str, str]:
    """What a recall cannot know."""
    return {one.code: one.words for one in view.unknown}


@pytest.mark.parametrize(
    ("text", "number", "swapped"),
    [
        ("9843", 199843, None),
        ("98-43", 199843, None),
        ("0601", 200601, 200106),
        ("7001", 197001, None),
        ("6953", 206953, None),
        ("9854", None, None),
        ("4398", None, 199843),
        ("A98", None, None),
        ("", None, None),
    ],
)
def test_a_date_code_reads_as_year_and_week(
    text: str, number: int | None, swapped: int | None
) -> None:
    """Years from 70 on are of the last century; with the week first it may mean another."""
    assert (week_number(text), swapped_week(text)) == (number, swapped)


def test_the_tables_read_date_codes_as_the_record_does(empty_shop: Workshop) -> None:
    """Every code of four digits, and some that are none: the query and the reading agree."""
    texts = [f"{n:04d}" for n in range(0, 10_000, 7)] + ["98 43", "98-43", "9 843", "", "98437"]
    conn = empty_shop.conn
    board = board_of(empty_shop, "x")
    reached = {}
    cause = causes.from_date_codes("7001-6953").fields
    for text in texts:
        conn.execute("UPDATE board SET date_code = ? WHERE code = ?", (text, board))
        reached[text] = is_hit(conn, cause, board)

    assert reached == {text: week_number(text) is not None for text in texts}


def test_a_range_of_weeks_reaches_its_boards_and_their_pieces(empty_shop: Workshop) -> None:
    """First and last week count; boards without a readable code are told, not passed over."""
    inside, edge, later = (board_of(empty_shop, text) for text in ("9843", "98-40", "9953"))
    unread, swapped = board_of(empty_shop, "wk 43"), board_of(empty_shop, "4198")
    doubtful = board_of(empty_shop, "0598")
    other = add_cleared_board(empty_shop)  # 9843 as well
    piece = cut(empty_shop, other.code, 30)
    view = call_back(empty_shop, causes.from_date_codes("9840-9950"))

    assert codes(view) == {inside, edge, other.code, piece}
    assert not_ruled_out(view) == {
        unread: "its date code 'wk 43' is not read",
        swapped: "its date code '4198' is not read",
        doubtful: "its date code '0598' is not read",
    }
    assert load_board(empty_shop.conn, later).recalled == 0


def test_a_date_code_read_later_joins(empty_shop: Workshop) -> None:
    """A board of which it was not known is held as soon as somebody reads its code."""
    board_of(empty_shop, "9843")
    late = board_of(empty_shop, "")
    recall = call_back(empty_shop, causes.from_date_codes("9843")).recall.code
    correct_board(empty_shop, board=late, new=BoardCorrection(date_code="9843"), why="read it")
    view = view_recall(empty_shop.conn, recall)

    assert late in codes(view)
    assert [item.joined_at != "" for item in view.items if item.code == late] == [True]
    assert load_board(empty_shop.conn, late).recalled == 1
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_a_hazard_is_called_back_by_what_was_once_so(empty_shop: Workshop) -> None:
    """Found and removed, accepted, and cut by override; where nobody looked is told."""
    found, accepted, held, clean = (add_board(empty_shop).code for _ in range(4))
    record_checks(
        empty_shop,
        boards=[found],
        checks=[NewCheck("coin-cell", "present", "removed", "lifted", "battery box")],
    )
    record_checks(empty_shop, boards=[found], checks=[NewCheck("coin-cell", "absent")])
    record_checks(
        empty_shop,
        boards=[accepted],
        checks=[NewCheck("coin-cell", "present", "accepted", reason="glued in")],
    )
    record_checks(empty_shop, boards=[clean], checks=[NewCheck("coin-cell", "absent")])
    new = NewCut(held, circle_at(empty_shop, 30, 40), override_reason="a trial")
    piece = record_cut(empty_shop, new=new).piece
    assert piece is not None
    every = call_back(empty_shop, causes.from_hazard(empty_shop.conn, "coin-cell"))
    cause = causes.from_hazard(empty_shop.conn, "coin-cell", marks=["accept"])
    some = call_back(empty_shop, cause)

    assert codes(every) == {found, accepted, piece.code}
    assert codes(some) == {accepted}
    assert not_ruled_out(every) == {held: "coin-cell: not checked"}
    assert some.recall.subject == "hazard coin-cell (accepted)"


def test_a_hazard_found_later_joins(empty_shop: Workshop) -> None:
    """The board, and the piece that was cut from it before anybody knew."""
    first, late = add_board(empty_shop).code, add_cleared_board(empty_shop).code
    piece = cut(empty_shop, late, 30)
    present = [NewCheck("coin-cell", "present", "removed", "lifted", "box")]
    record_checks(empty_shop, boards=[first], checks=present)
    recall = call_back(empty_shop, causes.from_hazard(empty_shop.conn, "coin-cell")).recall.code
    record_checks(empty_shop, boards=[late], checks=present)

    assert codes(view_recall(empty_shop.conn, recall)) == {first, late, piece}
    assert load_piece(empty_shop.conn, piece).recalled == 1


def test_a_batch_is_called_back_with_every_piece_that_it_is_in(empty_shop: Workshop) -> None:
    """A use taken back counts no more; what was sealed with nobody knows what is told."""
    board = add_cleared_board(empty_shop).code
    inside, voided, unsaid = (cut(empty_shop, board, x_mm) for x_mm in (20, 55, 90))
    bare = cut(empty_shop, add_cleared_board(empty_shop).code, 30)
    batch = add_batch(empty_shop, new=VARNISH).batch.code
    twin = add_batch(empty_shop, new=VARNISH).batch.code
    use_batches(empty_shop, batches=[batch], pieces=[voided])
    void_use(empty_shop, batch=batch, n=1, why="the tin beside it")
    set_stage(empty_shop, pieces=[inside], stage="sealed", batches=[batch])
    set_stage(empty_shop, pieces=[unsaid], stage="sealed")
    view = call_back(empty_shop, causes.from_thing(empty_shop.conn, batch))

    assert codes(view) == {batch, inside}
    assert not_ruled_out(view) == {
        voided: "sealed on 2026-05-04, and nobody noted with what",
        unsaid: "sealed on 2026-05-04, and nobody noted with what",
        twin: "the same lot, received on 2026-05-04",
    }
    assert bare not in not_ruled_out(view)
    with pytest.raises(Refused, match="is recalled and may not be used"):
        use_batches(empty_shop, batches=[batch], pieces=[bare])
    assert load_batch(empty_shop.conn, batch).recalled == 1


def test_a_worker_is_called_back_by_stage_and_days(empty_shop: Workshop) -> None:
    """What Maren cut or sealed on those days, and nothing of anybody else."""
    board = add_cleared_board(empty_shop).code
    cut_only, sealed = cut(empty_shop, board, 20), cut(empty_shop, board, 60)
    set_stage(empty_shop, pieces=[sealed], stage="sealed")
    conn = empty_shop.conn
    day = date(2026, 5, 4)
    every = call_back(empty_shop, causes.from_worker(conn, "maren"))
    stage = call_back(empty_shop, causes.from_worker(conn, "Maren", stages=["seal"]))
    within = causes.from_worker(conn, "Maren", stages=["rough"], period=causes.Period(day, day))
    before = causes.from_worker(conn, "Maren", period=causes.Period(until=date(2026, 5, 3)))

    assert codes(every) == {cut_only, sealed}
    assert codes(stage) == {sealed}
    assert codes(call_back(empty_shop, within)) == {cut_only, sealed}
    assert within.words == "work of Maren at stage rough from 2026-05-04 until 2026-05-04"
    with pytest.raises(Refused, match="nothing came of work of Maren until 2026-05-03"):
        call_back(empty_shop, before)


def test_a_mat_or_a_way_of_measuring_is_called_back(empty_shop: Workshop) -> None:
    """Also a board that was measured anew since; a mat's number is not the start of another's."""
    one, two, three = (board_of(empty_shop, "") for _ in range(3))
    for board, words in (
        (one, "photo on mat MC1, within 0.2 mm"),
        (one, "calipers again"),
        (two, "form factor mini-itx, close; photo on mat MC12, within 0.2 mm"),
        (three, "photo on a4 mat without a serial, within 0.4 mm"),
    ):
        set_outline(empty_shop, board=board, outline=rectangle(90, 60), outline_from=words)
    mat = call_back(empty_shop, causes.from_mat("mc1"))
    way = call_back(empty_shop, causes.from_measurement("Calipers again"))

    assert codes(mat) == codes(way) == {one}
    assert three in not_ruled_out(mat)


def test_a_cause_that_is_none_is_refused(empty_shop: Workshop) -> None:
    """In one line each, with what to write instead."""
    conn = empty_shop.conn
    with pytest.raises(BadValue, match="no range of date codes"):
        causes.from_date_codes("spring 98")
    with pytest.raises(BadValue, match="ends before it begins"):
        causes.from_date_codes("0601-9843")
    with pytest.raises(NotFound, match="nobody called 'Ilva'"):
        causes.from_worker(conn, "Ilva")
    with pytest.raises(BadValue, match="no serial of a mat"):
        causes.from_mat("A4")
    with pytest.raises(BadValue, match="is before"):
        causes.from_measurement("x", period=causes.Period(date(2026, 5, 2), date(2026, 5, 1)))
    with pytest.raises(BadValue, match="say how it was measured"):
        causes.from_measurement(" ")
    with pytest.raises(NotFound):
        causes.from_hazard(conn, "dragons")
    new = NewRecall(causes.from_mat("MC1"), "x", "2026-05-09")
    with pytest.raises(BadValue, match="has not come yet"):
        begin_recall(empty_shop, new=new)
