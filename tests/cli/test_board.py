"""Boards on the command line: recorded, measured, marked, found."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.knowledge.form_factors import find_form_factor
from tests.desk import Desk, add_board, add_cleared_board, add_drop_off


def test_a_new_board_is_held_and_says_what_comes_next(tmp_path: Path) -> None:
    """A board out of the box may not be cut, and the next step is its checklist."""
    desk = Desk(tmp_path)
    told = desk.do(f"board add {add_drop_off(desk)} --type 'network card' --size 175x107")

    code = told.out.split()[0]
    assert "recorded, held, usable" in told.out
    assert told.err == f"next: salvage board clear {code}\n"


def test_a_form_factor_keeps_its_published_holes_free(tmp_path: Path) -> None:
    """
    Each published mounting hole becomes a round keep-out.

    Holes: the table of form factors, with its sources. 8 mm: common practice, no source.
    """
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    code = desk.code(f"board add {drop_off} --type motherboard --form atx")
    bare = desk.code(f"board add {drop_off} --type motherboard --form atx --no-holes")
    keep_outs = desk.do(f"board show {code} --json").value["keep_outs"]
    holes = find_form_factor("atx").holes

    assert [k["reason"] for k in keep_outs] == [f"mounting hole {hole.label}" for hole in holes]
    for keep_out, hole in zip(keep_outs, holes, strict=True):
        xs = [x / 1000 for x, _ in keep_out["region"][0]]
        assert max(xs) - min(xs) == pytest.approx(8.0, abs=0.01)
        assert (max(xs) + min(xs)) / 2 == pytest.approx(hole.x_mm, abs=0.01)
    assert desk.do(f"board show {bare} --json").value["keep_outs"] == []


def test_the_outline_may_be_drawn(tmp_path: Path) -> None:
    """A drawing gives edge and holes true to size."""
    (tmp_path / "b.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" viewBox="0 0 100 50">'
        '<path d="M5 5H85V45H5Z M20 20H30V30H20Z" fill="black" fill-rule="evenodd"/></svg>',
        encoding="utf-8",
    )
    desk = Desk(tmp_path)
    code = desk.code(f"board add {add_drop_off(desk)} --type other --svg b.svg")
    shown = desk.do(f"board show {code} --json").value

    assert (shown["width_mm"], shown["height_mm"]) == (80.0, 40.0)
    assert shown["outline_mm2"] == pytest.approx(80 * 40 - 10 * 10)
    assert shown["outline_from"] == "drawing b.svg"


def test_all_mistakes_of_a_board_are_told_at_once(tmp_path: Path) -> None:
    """A line with five slips is refused once, and nothing is written."""
    desk = Desk(tmp_path)
    told = desk.run(
        f"board add {add_drop_off(desk)} --type toaster --size 0x10 --thickness thick"
        " --weight 3cows --lead maybe --keepout '1,1 why'"
    )

    assert told.code == 1
    for flag in ("--type", "--size", "--thickness", "--weight", "--lead", "--keepout"):
        assert f"  {flag}: " in told.err
    assert desk.do("board list --json").value == []


def test_two_ways_of_telling_the_outline_are_misuse(tmp_path: Path) -> None:
    """A board has one outline."""
    desk = Desk(tmp_path)
    told = desk.run(f"board add {add_drop_off(desk)} --type other --size 10x10 --form atx")

    assert told.code == 2
    assert "give one of --form, --size and --svg" in told.err


def test_several_alike_get_a_code_each(tmp_path: Path) -> None:
    """Three boards of a kind are one line, and three codes."""
    desk = Desk(tmp_path)
    told = desk.do(f"board add {add_drop_off(desk)} --type other --count 3 --plain")

    assert len(set(told.out.split())) == 3


def test_a_keep_out_comes_and_goes_by_number(tmp_path: Path) -> None:
    """A connector that is off may be cut again, with the reason on record."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    before = desk.do(f"board show {code} --json").value["usable_mm2"]
    desk.do(f"board keepout {code} '0,0 40,40 serial port' '100,60 r6 coil'")
    less = desk.do(f"board show {code} --json").value["usable_mm2"]
    refused = desk.run(f"board lift {code} 7 --reason off")
    desk.do(f"board lift {code} 1 --reason 'connector is off'")
    desk.do(f"board lift {code} 2 --reason off")
    after = desk.do(f"board show {code} --json").value["usable_mm2"]

    assert less < before - 1600
    assert after == before
    assert refused.code == 1
    assert "it has: 1 (serial port), 2 (coil)" in refused.err


def test_where_it_lies_and_why_it_is_closed(tmp_path: Path) -> None:
    """A board can be found by its shelf, and is out of the list when it is closed."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    moved = desk.do(f"board move {code} 'shelf 3'")
    listed = desk.do("board list")
    desk.do(f"board retire {code} --reason 'cracked through'")

    assert f"{code}  lies at shelf 3" in moved.out
    assert "shelf 3" in listed.out
    assert desk.do("board list --plain").out == ""
    assert desk.do("board list --state retired --plain").first == code
    assert "retired: cracked through" in desk.do(f"board show {code}").out


def test_lead_is_told_with_its_caution(tmp_path: Path) -> None:
    """A lead-free mark never reads as a promise."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    bare = desk.run(f"board lead {code} tested")
    told = desk.do(f"board lead {code} marked-lead-free --evidence 'logo on the back'")

    assert "--lead-evidence" in bare.err
    assert "does not show that a piece meets the limit" in told.out


def test_an_outline_can_be_bettered_until_the_first_cut(tmp_path: Path) -> None:
    """Cuts lie on an outline, so it stays from then on."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"board outline {code} --size 130x90")
    nothing = desk.run(f"board outline {code}")
    desk.do(f"cut {code} --shape circle --width 30 --at 40,40")
    late = desk.run(f"board outline {code} --size 120x80")

    assert "outline set from measured width and height" in told.out
    assert nothing.code == 2
    assert (late.code, "undo them first" in late.err) == (1, True)


def test_lists_are_narrowed(tmp_path: Path) -> None:
    """Held, cleared and cut boards are found apart."""
    desk = Desk(tmp_path)
    held, cleared = add_board(desk), add_cleared_board(desk)
    source = desk.do(f"board show {held} --json").value["drop_off"]

    assert desk.do("board list --state held --plain").first == held
    assert desk.do("board list --state cleared --plain").first == cleared
    assert desk.do(f"board list --dropoff {source} --plain").out.count("\n") == 1
    assert desk.do("board list --most 1 --plain").out.count("\n") == 1
    assert "no such boards" in desk.do("board list --state remnant").err
    assert desk.run("board list --state wet").code == 1


def test_a_map_is_written_as_a_picture(tmp_path: Path) -> None:
    """The map is a PNG of the board's proportions."""
    from PIL import Image

    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board map {code} --out m.png")
    again = desk.run(f"board map {code} --out m.png")

    with Image.open(tmp_path / "m.png") as picture:
        assert picture.format == "PNG"
        assert picture.width > 400
    assert again.code == 1


def test_plain_rows_keep_their_columns(tmp_path: Path) -> None:
    """A script finds the same field in the same place, though a title is long."""
    desk = Desk(tmp_path, width=40)
    drop_off = add_drop_off(desk)
    code = desk.code(f"board add {drop_off} --type other --maker '{'M' * 90}' --place 'a  b'")
    (line,) = desk.do("board list --plain").out.splitlines()

    cells = line.split("\t")
    assert cells == [code, f"{'M' * 90} other", "held", "0.0", "0", "a b", drop_off]
    assert all(len(row) <= 40 for row in desk.do("board list").out.splitlines())
