"""Correcting from the command line: what is left out stays, '' and none empty a field."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_board, add_drop_off


def test_a_correction_tells_old_and_new(tmp_path: Path) -> None:
    """The answer is the line that the history keeps."""
    desk = Desk(tmp_path)
    code = add_drop_off(desk)
    line = (
        f'correct dropoff {code} --weight 7kg --boards none --story "" --why "misread the scales"'
    )
    tried = desk.do(f"{line} --dry-run")
    told = desk.do(line)
    found = desk.do(f"dropoff show {code} --json").value

    assert "would be corrected" in tried.out
    assert told.out.startswith(f"{code}  drop-off corrected: board count 14 -> not known")
    assert "weight 6.2 kg -> 7 kg" in told.out
    assert (found["weight_g"], found["board_count"]) == (7000, None)
    assert found["contents"] == "dome boards"


def test_a_board_of_another_type_is_held(tmp_path: Path) -> None:
    """The hazards of the new type are named at once."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board clear {code} --absent all-open --how 'lamp and mirror'")
    told = desk.do(f'correct board {code} --type "power supply" --why "read the wrong side"')

    assert "type 'expansion-card' -> 'power-supply'" in told.out
    assert "now to be checked as well:" in told.out
    assert desk.do("board list --state held --plain").first == code


def test_every_mistake_of_the_line_is_told(tmp_path: Path) -> None:
    """A correction with two slips of its own names both, and nothing is written."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    before = desk.do("journal --json").value
    told = desk.run(f"correct board {code} --thickness thick --weight 4 --why x")
    silent = desk.run(f"correct board {code} --maker Orrery")

    assert (told.code, silent.code) == (1, 1)
    assert "--thickness" in told.err
    assert "'4' has no unit" in told.err
    assert "--reason" in silent.err
    assert desk.do("journal --json").value == before


def test_a_donors_name_is_mended_out_of_sight(tmp_path: Path) -> None:
    """The new name is in the list of donors and nowhere in history or journal."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    code = desk.do("donor list --plain").first
    told = desk.do(f'correct donor {code} --name "Skerry Dome" --why misspelt')

    assert "name changed (sealed): misspelt" in told.out
    assert desk.do("donor list --json").value[0]["name"] == "Skerry Dome"
    assert "Skerry" not in desk.do(f"history {code} --json").out
    assert "Skerry" not in desk.do("journal --json").out


@pytest.mark.parametrize("name", ["--why", "--reason"])
def test_a_reason_is_taken_under_either_name(tmp_path: Path, name: str) -> None:
    """Scripts of the first year go on; help shows one of the two."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do(f"board retire {board} {name} broken")
    desk.do(f"undo --yes {name}='wrong board'")
    journal = desk.do("history --json " + board).out
    shown = desk.do("undo --help").out

    assert "broken" in journal
    assert "wrong board" in desk.do("journal --json").out
    assert "--reason TEXT" in shown
    assert "--why" not in shown
