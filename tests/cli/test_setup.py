"""``salvage setup``: asked for on a terminal, one option for each question, nothing half begun."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_drop_off

ANSWERS = "Tidewrack Workshop\nMaren\ngbp\ninch\nletter\n{folder}\ncounter\n57x32mm\n203\nc\n"


def desk_at(folder: Path, *, terminal: bool = True) -> Desk:
    """A desk at which somebody sits."""
    return Desk(folder, terminal=terminal, environment={"NO_COLOR": "1"})


def test_a_new_workshop_is_asked_for(tmp_path: Path) -> None:
    """Name, maker, currency, units, paper, copies, printer and letter, each kept."""
    desk = desk_at(tmp_path)
    told = desk.do("setup", typed=ANSWERS.format(folder=tmp_path / "copies"))
    kept = desk.do("setup --json").value

    assert kept["name"] == "Tidewrack Workshop"
    assert (kept["operator"], kept["currency"], kept["units"]) == ("Maren", "GBP", "inch")
    assert (kept["paper"], kept["printer"], kept["device"]) == ("letter", "counter", "C")
    assert kept["backup-folder"] == str(tmp_path / "copies")
    assert desk.do("printer list --json").value[0]["stock"] == "57x32mm"
    assert told.out.splitlines()[0] == "name = Tidewrack Workshop"
    assert "next: salvage dropoff add" in told.err


def test_each_question_is_an_option(tmp_path: Path) -> None:
    """A script sets up the same workshop without being asked."""
    asked, given = desk_at(tmp_path / "asked"), desk_at(tmp_path / "given", terminal=False)
    for desk in (asked, given):
        desk.folder.mkdir()
    asked.do("setup", typed=ANSWERS.format(folder=tmp_path / "copies"))
    given.do(
        "setup --name 'Tidewrack Workshop' --operator Maren --currency gbp --units inch"
        f" --paper letter --backup {tmp_path / 'copies'} --printer counter --stock 57x32mm"
        " --dpi 203 --device c"
    )

    for look in ("setup --json", "printer list --json"):
        first, second = asked.do(look).value, given.do(look).value
        if isinstance(first, dict):
            first.pop("folder"), second.pop("folder")
        assert first == second


def test_a_slip_is_told_and_asked_again(tmp_path: Path) -> None:
    """A wrong currency, size and letter cost one more line each."""
    desk = desk_at(tmp_path)
    typed = "Quay\n\neuros\nEUR\n\n\n/no/such/copies\n\ncounter\n57\n\nx\n300\n5\nc\n"
    told = desk.do("setup", typed=typed)

    assert "euros" in told.err
    assert "there is no folder /no/such" in told.err
    assert "'x' is no number of dots" in told.err
    assert "'5' is no letter for a device" in told.err
    assert desk.do("setup --json").value["device"] == "C"


@pytest.mark.parametrize(
    ("line", "typed", "code"),
    [
        ("setup", "Quay\nMaren\n", 130),
        ("setup --currency euros", "", 1),
        ("setup --device 5", "", 1),
        ("setup --printer counter --stock wide", "", 1),
        ("setup --printer counter --dpi 204", "", 1),
        ("setup --stock 57x32mm", "", 2),
        ("setup name=Quay --name Pier", "", 2),
        ("setup nme=Quay", "", 1),
        ("setup Quay", "", 2),
    ],
)
def test_a_mistake_begins_no_workshop(tmp_path: Path, line: str, typed: str, code: int) -> None:
    """Ctrl-C on the way, or a wrong value: nothing lies in the folder afterwards."""
    desk = desk_at(tmp_path)
    told = desk.run(line, typed=typed)

    assert told.code == code, told.err
    assert told.err.strip().splitlines()[-1] != ""
    assert not desk.shop.exists()


def test_looking_begins_no_workshop(tmp_path: Path) -> None:
    """Nobody sits at the terminal: the settings of a workshop that is not there cannot be shown."""
    desk = desk_at(tmp_path, terminal=False)
    told = desk.run("setup")

    assert (told.code, told.out) == (1, "")
    assert "begin one with 'salvage setup'" in told.err
    assert not desk.shop.exists()


def test_a_workshop_with_a_name_is_shown_and_asked_again_only_on_demand(tmp_path: Path) -> None:
    """The questions come with what is set as their defaults; empty answers change nothing."""
    desk = desk_at(tmp_path)
    desk.do("setup", typed=ANSWERS.format(folder=tmp_path / "copies"))
    before = desk.do("setup --json").value
    shown = desk.do("setup")
    desk.do("setup --ask", typed="\n" * 7)

    assert "Tidewrack Workshop" in shown.out
    assert desk.do("setup --json").value == before


def test_the_letter_is_given_once(tmp_path: Path) -> None:
    """Codes on labels bear it: another one is refused, the same one passes."""
    desk = desk_at(tmp_path)
    desk.do("setup --device C --name Quay")
    told = desk.run("setup --device D")

    assert told.code == 1
    assert "this device has the letter C" in told.err
    assert desk.run("setup --device c").code == 0


@pytest.mark.parametrize("terminal", [True, False])
def test_the_end_is_true_to_the_workshop(tmp_path: Path, terminal: bool) -> None:
    """After a set-up in the middle of the work it does not send anybody back to the door."""
    desk = desk_at(tmp_path, terminal=terminal)
    first = desk.do("setup --name Quay")
    drop_off = add_drop_off(desk)
    later = desk.do("setup currency=GBP")

    assert "next: salvage dropoff add" in first.err
    assert f"next: salvage board add {drop_off} --type TYPE" in later.err


def test_copies_go_where_the_workshop_says(tmp_path: Path) -> None:
    """With a folder set, 'salvage backup' needs no word; without one it says how to set it."""
    desk = desk_at(tmp_path)
    add_drop_off(desk)
    nowhere = desk.run("backup")
    desk.do(f"setup --backup {tmp_path / 'copies'}")
    told = desk.do("backup")

    assert nowhere.code == 2
    assert "salvage setup backup-folder=FOLDER" in nowhere.err
    assert f"copy written: {tmp_path / 'copies'}" in told.out
    assert (tmp_path / "copies" / "workshop.db").exists()


def test_a_misspelt_setting_gets_the_nearest(tmp_path: Path) -> None:
    """One line, not the list of all settings."""
    told = desk_at(tmp_path).run("setup curency=EUR")

    assert told.err == ("salvage: there is no setting 'curency'\n  nearest: currency\n")
