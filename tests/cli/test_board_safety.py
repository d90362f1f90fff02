"""``salvage board show``, ``evidence`` and ``free``: what a board's record proves."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_board, add_cleared_board, cut_piece
from tests.faces.step import photo_bytes


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with a photo on it."""
    found = Desk(tmp_path)
    (tmp_path / "empty.png").write_bytes(photo_bytes())
    return found


def test_an_override_is_on_the_boards_page_for_ever(desk: Desk) -> None:
    """Reason and name, also after the hazards are settled, and in the trace of the piece."""
    board = add_board(desk)
    cut = f"cut {board} --shape circle --width 30 --at 30,40"
    refused = desk.run(cut)
    piece = desk.code(f'{cut} --override "a trial cut"')
    desk.do(f"board clear {board} --absent all-open --how lamp")
    shown = desk.do(f"board show {board}").out
    (kept,) = desk.do(f"board show {board} --json").value["overrides"]

    assert refused.code == 1
    assert "OVERRIDE at K" in shown
    assert "a trial cut (Maren, 2026-05-04)" in shown
    assert (kept["override_reason"], kept["by"]) == ("a trial cut", "Maren")
    assert "override: a trial cut" in desk.do(f"trace {piece}").out
    assert "OVERRIDE: a trial cut" in desk.do(f"history {board}").out


def test_an_override_without_a_name_is_refused(desk: Desk) -> None:
    """The screen says how to give one."""
    board = add_board(desk)
    desk.environment = desk.environment | {"SALVAGE_BY": ""}
    told = desk.run(f"cut {board} --shape circle --width 30 --at 30,40 --override x")

    assert told.code == 1
    assert "an override needs a name" in told.err
    assert "operator=NAME" in told.err


def test_a_photo_shows_that_the_holder_is_empty(desk: Desk) -> None:
    """It is kept with the check, and by its number for another."""
    board = add_board(desk)
    desk.do(f"board clear {board} --absent coin-cell --how lamp --photo empty.png --note empty")
    desk.do(f"board evidence {board} clock-battery --photo 1")
    told = desk.do(f"board show {board}").out

    line = "hazard coin-cell: searched, none found, lamp (Maren, 2026-05-04); evidence: photo 1"
    assert line in told
    assert "hazard clock-battery: not checked; evidence: photo 1 (Maren, 2026-05-04)" in told


def test_absent_without_a_word_on_the_search_looks_weaker(desk: Desk) -> None:
    """Somebody said so; how they looked is not on record."""
    board = add_board(desk)
    desk.do(f"board clear {board} --absent coin-cell")

    assert "how it was looked for is not on record" in desk.do(f"board show {board}").out


def test_what_is_seen_holds_the_board(desk: Desk) -> None:
    """A hazard that its type does not carry is put on the list by who sees it."""
    board = add_cleared_board(desk)
    told = desk.do(f"board clear {board} --seen mercury-relay")

    assert "still held: mercury-relay" in told.out
    assert desk.run(f"cut {board} --shape circle --width 30 --at 30,40").code == 1


def test_evidence_for_no_finding_is_misused(desk: Desk) -> None:
    """A note alone settles nothing."""
    told = desk.run(f"board clear {add_board(desk)} --note empty")

    assert told.code == 2
    assert "board evidence" in told.err


def test_a_date_code_is_read_on_the_boards_page(desk: Desk) -> None:
    """With what is doubtful about it, and nothing where the board has none."""
    board = add_board(desk, more="--date-code 0626")
    bare = add_board(desk)

    assert "2006-07-01 lies inside this week" in desk.do(f"board show {board}").out
    assert "earliest date" not in desk.do(f"board show {bare}").out


def test_the_proof_names_what_is_missing(desk: Desk) -> None:
    """And the line that would settle it before the next cut."""
    cut_piece(desk)
    board = desk.do("board list --plain").first
    told = desk.do(f"board free {board}")
    plain = desk.do(f"board free {board} --plain").out

    assert "NOT SHOWN to be free of all four" in told.out
    assert "40 CFR 261.4(a)(14)" in told.out
    assert "--absent mercury-tilt,mercury-relay,potted-clock --how" in told.err
    assert f"{board}\tnow\tnickel-cadmium\tproven" in plain
