"""Deliveries on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.work.donors import NewDonor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import open_workshop
from tests.desk import Desk, add_drop_off


def test_a_delivery_tells_code_donor_and_next_step(tmp_path: Path) -> None:
    """The maker reads what was logged, what is still open, and what to type next."""
    told = Desk(tmp_path).do(
        'dropoff add --donor "Kelpie Point Planetarium" --contents "dome boards" --boards 14'
        ' --weight 6.2kg --naming described --described-as "a planetarium" --data "hard disk:2"'
    )

    assert "drop-off logged: dome boards, 14 boards, 6.2 kg, received 2026-05-04" in told.out
    assert "donor Kelpie Point Planetarium; cards say: a planetarium" in told.out
    assert "data-bearing part 1: 2 x hard disk, open" in told.out
    code = told.out.split()[0]
    assert told.err == f"next: salvage board add {code} --type motherboard --form atx\n"


def test_all_mistakes_are_told_at_once(tmp_path: Path) -> None:
    """A form with four mistakes is refused once, with all four named by their options."""
    told = Desk(tmp_path).run(
        "dropoff add --donor X --contents Y --weight '6 stones' --source moon --boards none"
        " --naming described --date 2031-01-01"
    )

    assert told.code == 1
    for flag in ("--weight", "--source", "--boards", "--described-as", "--date"):
        assert f"  {flag}: " in told.err
    assert "5 mistakes" in told.err
    assert "DT" not in Desk(tmp_path).do("dropoff list --plain").out


def test_a_known_donor_is_used_again(tmp_path: Path) -> None:
    """The same name in any case is the same donor."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    desk.do('dropoff add --donor "KELPIE point  planetarium" --contents "one more"')

    assert len(desk.do("donor list --json").value) == 1
    assert len(desk.do("dropoff list --json").value) == 2


def test_a_known_donor_told_otherwise_is_a_question(tmp_path: Path) -> None:
    """A donor who wished to be described does not become named by a flag."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    for wish in ("named", "anonymous"):
        told = desk.run(
            f'dropoff add --donor "Kelpie Point Planetarium" --contents x --naming {wish}'
        )

        assert told.code == 1
        assert f"recorded as 'described', not '{wish}'" in told.err
        assert "salvage donor naming" in told.err


def test_a_donor_may_be_named_by_code(tmp_path: Path) -> None:
    """A code is as good as a name, and an unknown one offers the nearest."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    code = desk.do("donor list --plain").first
    desk.do(f"dropoff add --donor {code.lower()} --contents more")
    told = desk.run("dropoff add --donor GT0001F --contents more")

    assert len(desk.do("donor list --json").value) == 1
    assert told.code == 1


def test_without_a_terminal_what_is_missing_is_named(tmp_path: Path) -> None:
    """In a script nobody waits for an answer that never comes."""
    for line in ("dropoff add", "dropoff add --donor X", "dropoff add --no-input"):
        told = Desk(tmp_path).run(line)

        assert told.code == 2
        assert "--contents" in told.err
    assert not (tmp_path / "shop").exists()


ANSWERS = "Kelpie Point\ndome boards\n14\n6 stones\n6.2 kg\nhard disk:2\n\npublic body\nnamed\n"


def test_alone_on_a_terminal_it_asks(tmp_path: Path) -> None:
    """At the door the maker answers a few questions, and a wrong answer is asked again."""
    desk = Desk(tmp_path, terminal=True, environment={"NO_COLOR": "1"})
    told = desk.do("dropoff add", typed=ANSWERS)

    assert "Who brought it: " in told.err
    assert "(empty: nobody looked)" in told.err
    assert "'stones' is not a unit known here" in told.err
    assert told.err.count("Weight with unit") == 2
    (logged,) = desk.do("dropoff list --json").value
    assert logged["weight_g"] == 6200.0
    assert logged["donor_public"] == "Kelpie Point"
    assert [part["count"] for part in logged["data_parts"]] == [2]


def test_a_described_donor_is_asked_for_the_words(tmp_path: Path) -> None:
    """Who wants to be described is asked how."""
    desk = Desk(tmp_path, terminal=True)
    typed = "Ada\n\nradio\n\n\n\nyesterday\ntoday\n\ndescribed\n\na neighbour\n"
    told = desk.do("dropoff add", typed=typed)

    assert "what arrived is needed" in told.err
    assert "'yesterday' is not a date" in told.err
    assert desk.do("donor list --json").value[0]["public"] == "a neighbour"


def test_a_known_donor_is_not_asked_again(tmp_path: Path) -> None:
    """The second delivery of the same donor takes five answers."""
    desk = Desk(tmp_path, terminal=True)
    desk.do("dropoff add", typed=ANSWERS)
    told = desk.do("dropoff add", typed="kelpie point\nmore\n\n\n\n\n")

    assert "Kind of source" not in told.err
    assert len(desk.do("donor list --json").value) == 1


def test_stopping_half_way_writes_nothing(tmp_path: Path) -> None:
    """Ctrl-D at a question ends it like an interrupt."""
    desk = Desk(tmp_path, terminal=True)
    told = desk.run("dropoff add", typed="Ada\n")

    assert told.code == 130
    assert desk.do("dropoff list --json").value == []


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    """Trying a line out leaves no trace but its words."""
    desk = Desk(tmp_path)
    told = desk.do("dropoff add --donor X --contents Y --dry-run")

    assert told.out.startswith("dry run: D")
    assert told.err == "nothing was recorded, and no file was written (--dry-run)\n"
    assert desk.do("dropoff list --json").value == []


@pytest.mark.parametrize("option", ["--source school", "--contact 'quay 3'"])
def test_a_known_donor_is_not_told_otherwise(tmp_path: Path, option: str) -> None:
    """What is on record is mended by its own command, not by the next delivery."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    (donor,) = desk.do("donor list --json").value
    told = desk.run(f"dropoff add --donor 'Kelpie Point Planetarium' --contents x {option}")

    assert told.code == 1
    assert f"'salvage correct donor {donor['code']}'" in told.err
    assert len(desk.do("dropoff list --json").value) == 1


def test_custody_of_data_ends_with_its_method(tmp_path: Path) -> None:
    """A hard disk is open until it is said how it was settled."""
    desk = Desk(tmp_path)
    code = add_drop_off(desk)
    refused = desk.run(f"dropoff data {code} 1 destroyed")
    told = desk.do(f"dropoff data {code} 1 destroyed --how drilled")

    assert (refused.code, "--how" in refused.err) == (1, True)
    assert "hard disk destroyed: drilled; 0 still open" in told.out
    assert "destroyed (drilled)" in desk.do(f"dropoff show {code}").out


def test_a_table_is_taken_whole_or_not_at_all(tmp_path: Path) -> None:
    """One bad row refuses the table, unless the good rows are wanted."""
    desk = Desk(tmp_path)
    rows = "received_on,donor,contents\n2026-05-01,Ada,radio\n2031-05-01,Bea,phone\n"
    (tmp_path / "t.csv").write_text(rows, encoding="utf-8")
    refused = desk.run("dropoff import t.csv")
    told = desk.do("dropoff import t.csv --keep-good")

    assert refused.code == 1
    assert "line 3, received_on" in refused.err
    assert "1 drop-off logged" in told.out
    assert "left out: line 3" in told.err


def test_a_receipt_is_written_once(tmp_path: Path) -> None:
    """A receipt never replaces another file by accident."""
    desk = Desk(tmp_path)
    code = add_drop_off(desk)
    desk.do(f"dropoff receipt {code}")
    again = desk.run(f"dropoff receipt {code}")

    assert (tmp_path / f"receipt-{code}.pdf").read_bytes().startswith(b"%PDF")
    assert again.code == 1
    assert "--force" in again.err
    desk.do(f"dropoff receipt {code} --force --with-name")


@pytest.mark.parametrize("note", ["[red]held[/b]", "[/b]", "a\x1b[31mb", "tab\tand\nline"])
def test_words_of_people_are_only_words(tmp_path: Path, note: str) -> None:
    """A note is printed as it was typed, and never steers the terminal."""
    desk = Desk(tmp_path, terminal=True)
    quoted = "'" + note + "'"
    told = desk.do(f"dropoff add --donor Ada --contents {quoted} --notes {quoted} --plain")
    listed = desk.do("dropoff list").out
    shown = desk.do(f"dropoff show {told.first}").out

    expected = " ".join(note.split()).replace("\x1b", "�")
    assert expected in listed
    assert expected in " ".join(shown.split())
    assert "\x1b[31m" not in listed + shown


def test_two_donors_of_one_name_are_asked_apart(tmp_path: Path) -> None:
    """Where two neighbours share a name, the maker picks the code; a wrong one is asked again."""
    desk = Desk(tmp_path, terminal=True)
    desk.do("dropoff add --donor Ada --contents radio")
    desk.do("dropoff add --donor Bea --contents phone")
    ada, bea = (donor["code"] for donor in desk.do("donor list --json").value)
    with open_workshop(tmp_path / "shop", clock=desk.clock) as shop:
        log_drop_off(shop, donor=NewDonor("Ada"), new=NewDropOff(shop.today, "a third"))
    told = desk.do("dropoff add", typed=f"ada\n{bea}\n{ada}\nmore\n\n\n\n\n")
    scripted = desk.run("dropoff add --donor Ada --contents x")

    assert f"2 donors have this name ({ada}, " in told.err
    assert f"'{bea}' is not a choice here" in told.err
    assert desk.do("dropoff list --json").value[0]["donor"] == ada
    assert scripted.code == 1
    assert ada in scripted.err
