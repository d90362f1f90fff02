"""The self-check: green on a healthy workshop, and the right line red for each harm done to it."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.canonical import Json
from salvage.errors import StoreTrouble
from salvage.ids import Code
from salvage.store.change import Change
from salvage.store.journal import read_events_about
from salvage.work.cards import print_card
from salvage.work.check import CHECKS, compare_with_rebuild, rebuild_tables, run_checks
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.cutting import NewCut, record_cut, release
from salvage.work.donors import set_naming
from salvage.work.history import undo
from salvage.work.library import add_shape, choose_shape
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import retire_board
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import (
    PLANETARIUM,
    START,
    add_cleared_board,
    add_drop_off,
    circle_at,
    cut_circle,
    dump,
)
from tests.work.harms import HARMS as OLD_HARMS
from tests.work.harms import rechain, sql, without_guards
from tests.work.harms_folder import FOLDER_HARMS
from tests.work.harms_safety import SAFETY_HARMS
from tests.work.harms_waste import WASTE_HARMS
from tests.work.snapshots import phone_jpeg
from tests.work.stock import Stock

KITE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20">'
    b'<polygon points="10,0 20,10 10,20 0,10"/></svg>'
)


HARMS = {**OLD_HARMS, **WASTE_HARMS, **SAFETY_HARMS, **FOLDER_HARMS}


@pytest.fixture
def shop(empty_shop: Workshop) -> Workshop:
    """A workshop in which one of everything has happened, a card, a photo and an override too."""
    stock = Stock(empty_shop)
    add_photo(empty_shop, code=stock.board, new=NewPhoto(phone_jpeg(), "front.jpg"))
    print_card(empty_shop, piece=stock.piece)
    cut = NewCut(stock.board, circle_at(empty_shop, 95, 60), override_reason="a trial")
    record_cut(empty_shop, new=cut)
    return empty_shop


def _red(shop: Workshop) -> dict[str, str]:
    return {line.name: "\n".join(line.faults) for line in run_checks(shop) if not line.ok}


@pytest.mark.parametrize("name", HARMS)
def test_each_harm_turns_its_line_red(shop: Workshop, name: str) -> None:
    """Whatever is done to database or files, the invariant that it breaks is named."""
    assert _red(shop) == {}
    harm, line, says = HARMS[name]
    harm(shop)
    red = _red(shop)

    assert line in red
    assert says in red[line]


@pytest.mark.parametrize(
    "name",
    [
        "two cuts in one place",
        "a cut before clearing",
        "a photo gone",
        "a photo changed",
        "a card that names without consent",
        "a name exchanged",
        "the tail cut off",
        "more out than in",
        "a guard taken off",
    ],
)
def test_a_harm_turns_no_other_line_red(shop: Workshop, name: str) -> None:
    """Even a journal forged throughout, with hashes that fit, fails by its sense alone."""
    harm, line, _ = HARMS[name]
    harm(shop)

    assert set(_red(shop)) == {line}


def test_every_line_has_a_harm() -> None:
    """No invariant is merely believed to be checked."""
    assert {line for _, line, _ in HARMS.values()} == set(CHECKS)


@pytest.mark.parametrize(
    "table",
    ["board", "piece", "cut", "drop_off", "donor", "hazard_check", "event", "device", "file"],
)
def test_a_table_emptied_ends_in_red_lines(shop: Workshop, table: str) -> None:
    """However much is gone, the check goes through to its end."""
    without_guards(f"DELETE FROM {table}")(shop)

    assert len(run_checks(shop)) == len(CHECKS)
    assert _red(shop) != {}


def test_checking_changes_nothing(shop: Workshop) -> None:
    """A look is no touch; each line is announced before it runs."""
    before = dump(shop)
    announced: list[str] = []
    lines = run_checks(shop, progress=announced.append)

    assert dump(shop) == before
    assert announced == list(CHECKS) == [line.name for line in lines]


def test_notes_tell_the_figures(shop: Workshop) -> None:
    """The head of the chain can be compared with what is printed on paper."""
    shop.files.save(b"an orphan")
    notes = {line.name: line.note for line in run_checks(shop)}
    ((count, digest),) = shop.conn.execute("SELECT max(seq), hash FROM event")

    assert notes["the journal's chain verifies"] == f"{count} events, head D{count}-{digest[:8]}"
    assert notes["every photo and shape file is as it was"] == (
        "1 files, 1 more that no event mentions"
    )


def test_rebuilt_tables_are_the_same(shop: Workshop) -> None:
    """All rows, from the journal alone; and tampered rows are put right by it."""
    undo(shop, why="a slip")
    before = dump(shop)
    count = rebuild_tables(shop)
    same = dump(shop)
    sql("UPDATE board SET clearance = 'cleared'", "DELETE FROM sale")(shop)
    harmed = list(compare_with_rebuild(shop.conn))
    rebuild_tables(shop)

    assert count == len(before["event"])
    assert same == before
    assert {line.split(":")[0] for line in harmed} == {"board", "sale"}
    assert dump(shop) == before


def test_a_forged_journal_is_not_built_upon(shop: Workshop) -> None:
    """Where the chain does not verify, the tables stay as they are."""
    without_guards("UPDATE event SET body = replace(body, 'Maren', 'Marek') WHERE seq = 5")(shop)
    before = dump(shop)
    with pytest.raises(StoreTrouble, match="event 5"):
        rebuild_tables(shop)

    assert dump(shop) == before
    assert not shop.conn.in_transaction


def test_an_event_of_a_newer_version_is_said(shop: Workshop) -> None:
    """A kind that this version does not know stops the rebuild in one line, and changes nothing."""

    def change(bodies: list[dict[str, object]]) -> None:
        bodies[-1]["kind"] = "board.painted"

    before = dump(shop)
    with pytest.raises(StoreTrouble, match=r"board\.painted"):
        rechain(shop, change)

    assert dump(shop)["board"] == before["board"]
    assert "board.painted" in _red(shop)["the tables equal a rebuild from the journal"]


def test_a_shape_taken_back_is_still_checked_where_it_was_cut(shop: Workshop) -> None:
    """The drawing behind an old cut must still be there."""
    add_shape(shop, name="kite-two", data=KITE, file_name="kite.svg")
    ((operation,),) = shop.conn.execute("SELECT operation FROM event ORDER BY seq DESC LIMIT 1")
    ((board,),) = shop.conn.execute("SELECT code FROM board WHERE cut_count > 0")
    spot = type(circle_at(shop, 0, 0))(choose_shape(shop, name="kite-two"), 15_000, 66_000)
    cut = record_cut(shop, new=NewCut(Code(board), spot)).cut
    undo(shop, operation=operation)
    healthy = _red(shop)
    shop.files.path(cut.shape_sha256).unlink()

    assert healthy == {}
    assert "is not in" in _red(shop)["every photo and shape file is as it was"]


def test_a_workshop_stays_healthy_through_changes(shop: Workshop) -> None:
    """Settings, a wish taken back, a board retired: none of it breaks an invariant."""
    change_settings(shop, typed={"wall-mm": "4", "least-mm": "9", "tool-mm": "3"})
    ((board, donor),) = shop.conn.execute(
        "SELECT board.code, donor FROM board JOIN drop_off ON drop_off.code = board.drop_off"
        " WHERE cut_count > 0"
    )
    set_naming(shop, donor=Code(donor), naming="anonymous", naming_how="by letter")
    for (held,) in shop.conn.execute(
        "SELECT code FROM reservation WHERE state = 'held'"
    ).fetchall():
        release(shop, reservation=Code(held))
    retire_board(shop, board=Code(board), reason="used up")

    assert _red(shop) == {}


def test_an_empty_workshop_is_healthy(empty_shop: Workshop, tmp_path: Path) -> None:
    """Before anything has happened nothing can be wrong."""
    assert _red(empty_shop) == {}
    assert (tmp_path / "shop" / "workshop.db").exists()


def test_boards_cut_by_override_are_counted(shop: Workshop) -> None:
    """Nobody reads a green line without being told of the boards that were cut all the same."""
    notes = {line.name: line.note for line in run_checks(shop)}

    assert notes["hazards were settled before the first cut"] == "1 board cut by override"


def test_more_out_of_one_drop_off_than_came_is_red(empty_shop: Workshop) -> None:
    """Boxes that were not weighed hide no slip in one that was."""
    weighed = add_drop_off(empty_shop)  # 6200 g
    log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a box"))

    def steps(change: Change) -> None:
        code = change.new_code("C")
        sent: dict[str, Json] = {
            "receiver": "Recycler",
            "contents": "x",
            "sent_on": "2026-05-04",
            "document": "",
        }
        data = {**sent, "weight_mg": 6_400_000, "drop_off": weighed}
        change.append("consignment.sent", (code, weighed), data, made=(code,))

    empty_shop.commit("send consignment", steps)

    assert _red(empty_shop) == {
        "mass is accounted for": f"6.4 kg of {weighed} were sent off, and 6.2 kg came in"
    }


def test_a_cut_after_a_type_was_corrected_needs_the_new_hazards_settled(
    empty_shop: Workshop,
) -> None:
    """A forged cut of a board that is held for its right type's hazards is found out."""
    board = add_cleared_board(empty_shop).code
    cut_circle(empty_shop, board, 40, 40)
    new = BoardCorrection(type="power-supply")
    correct_board(empty_shop, board=board, new=new, why="took it for a card")
    healthy = _red(empty_shop)
    (made,) = [event for event in read_events_about(empty_shop.conn, board) if "cut" in event.kind]

    def steps(change: Change) -> None:
        codes = (change.new_code("K"), change.new_code("P"))
        change.append("cut.made", (codes[0], board, codes[1]), made.data, made=codes)

    empty_shop.commit("cut piece", steps)

    assert healthy == {}
    assert "was cut before" in _red(empty_shop)["hazards were settled before the first cut"]
