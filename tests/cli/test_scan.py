"""Before a cut: go or no-go by code, scanner or photo."""

from __future__ import annotations

import io
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.cli.app import run
from salvage.cli.world import system_world
from tests.desk import Desk, add_board, add_cleared_board, add_drop_off, cut_piece


def test_a_held_board_is_a_no_go(tmp_path: Path) -> None:
    """The first line says no, the reasons follow with what to do, and the exit code agrees."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    told = desk.run(f"scan {code}")
    lines = told.out.splitlines()

    assert told.code == 1
    assert lines[0] == f"NO-GO: {code}  expansion card"
    assert "  - coin-cell: not checked" in lines
    assert f"    do: salvage board clear {code}" in lines


def test_a_cleared_board_is_a_go_with_what_is_left(tmp_path: Path) -> None:
    """Usable area, the largest circle that fits, the map with its legend, and the cautions."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"scan {code}")

    assert told.out.startswith(f"GO: {code}  expansion card\n")
    assert "9 569 mm² (99 % of 9 600 mm²), 0 cuts" in told.out
    assert "circle 80 mm at" in told.out
    assert "box 120 x 80 mm" in told.out
    assert "· usable" in told.out
    assert "fibre" in told.err


def test_numbers_for_programs(tmp_path: Path) -> None:
    """JSON holds the verdict, the layers that add up to the outline, and the fragments."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    desk.do(f"cut {code} --shape circle --width 30 --at 60,40")
    look = desk.do(f"scan {code} --json").value

    assert look["go"] is True
    assert sum(look["layers_mm2"].values()) == pytest.approx(120 * 80, rel=0.001)
    assert look["layers_mm2"]["cut"] == pytest.approx(3.14159 * 15**2, rel=0.002)
    assert look["usable_mm2"] == pytest.approx(look["board"]["usable_mm2"], abs=0.01)
    (row,) = desk.do(f"scan {code} --plain").out.splitlines()
    assert row.split("\t")[:3] == [code, "board", "go"]


@pytest.mark.parametrize("colour", [True, False])
def test_the_verdict_does_not_rest_on_colour(tmp_path: Path, colour: bool) -> None:
    """With colour or without, the words are the same."""
    environment = {"TERM": "xterm-256color"} if colour else {"NO_COLOR": "1", "TERM": "xterm"}
    desk = Desk(tmp_path, terminal=True, environment=environment)
    told = desk.run(f"scan {add_board(desk)}")

    assert ("\x1b[" in told.out) is colour
    assert "NO-GO" in told.out.splitlines()[0]


@pytest.mark.parametrize(
    ("environment", "more"), [({"TERM": "dumb"}, ""), ({"NO_COLOR": "1"}, ""), ({}, "--no-color")]
)
def test_colour_is_left_out_when_asked(
    tmp_path: Path, environment: dict[str, str], more: str
) -> None:
    """NO_COLOR, --no-color and a dumb terminal each keep the answer plain."""
    desk = Desk(tmp_path, terminal=True, environment=environment)

    assert "\x1b" not in desk.run(f"scan {add_board(desk)} {more}").out


def test_a_scanner_types_line_by_line(tmp_path: Path) -> None:
    """Each line gets its answer, also the misread one, and the worst of them is the exit code."""
    desk = Desk(tmp_path)
    cleared = add_cleared_board(desk)
    good = desk.run("scan -", typed=f"{cleared}\n\n]C1{cleared.lower()}\r\n")
    mixed = desk.run("scan", typed=f"{cleared}\nBT9999X\n{cleared[:-1]}B\n{cleared}\n")

    assert (good.code, good.out.count(f"GO: {cleared}")) == (0, 2)
    assert (mixed.code, mixed.out.count(f"GO: {cleared}")) == (1, 2)
    assert mixed.err.count("salvage: ") == 2
    assert f"nearest: {cleared}" in mixed.err


def test_a_scanner_on_another_keyboard_is_understood(tmp_path: Path) -> None:
    """A French keyboard types à for 0; the answer says so."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    typed = code.translate(str.maketrans("0123456789", "à&é\"'(-è_ç"))
    told = desk.run("scan", typed=f"{typed}\n")

    assert told.code == 0
    assert "French" in told.err


def test_a_photo_of_a_label_is_as_good_as_its_code(tmp_path: Path) -> None:
    """A phone's picture of a label answers like the typed code."""
    from PIL import Image

    from salvage.codes.draw import draw_qr, symbol_png

    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    with Image.open(io.BytesIO(symbol_png(draw_qr(code), dots=8))) as symbol:
        page = Image.new("L", (600, 600), 255)
        page.paste(symbol.convert("L"), (150, 150))
        page.save(tmp_path / "label.png")
    told = desk.do("scan label.png")

    assert told.out.startswith(f"GO: {code}")


@pytest.mark.parametrize("name", ["a.jpg", "photos/A.JPEG", "/nosuch/label.png"])
def test_a_photo_that_is_not_there_is_named(tmp_path: Path, name: str) -> None:
    """A mistyped file name is no mistyped code."""
    desk = Desk(tmp_path)
    add_board(desk)
    told = desk.run(f"scan {name}")
    line = desk.run("scan", typed=f"{name}\n")

    assert (told.code, line.code) == (1, 1)
    assert f"salvage: {name} is not there\n" in told.err
    assert f"{name} is not there" in line.err


def test_a_photo_that_is_none_is_named(tmp_path: Path) -> None:
    """A text with a photo's name is refused by its name."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    (tmp_path / "text.jpg").write_text("no photo")

    assert "text.jpg" in desk.run("scan text.jpg").err
    assert "text.jpg" in desk.run(f"photo {code} text.jpg").err


def test_other_things_tell_what_they_are(tmp_path: Path) -> None:
    """A piece shows where it came from."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.do(f"scan {code}")

    assert f"> {code}  piece: circle, rough" in told.out
    assert "donor: a planetarium (private: Kelpie Point Planetarium)" in told.out


def test_the_map_goes_to_a_file(tmp_path: Path) -> None:
    """The picture of the map is written beside the answer."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"scan {code} --map m.png")

    assert (tmp_path / "m.png").read_bytes().startswith(b"\x89PNG")
    assert "map written" in told.err
    assert desk.run(f"scan {code} --map m.png").code == 1


def test_a_reader_that_leaves_does_not_lose_the_map(tmp_path: Path) -> None:
    """``salvage scan … --map m.png | head -1`` writes the picture all the same."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)

    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "w", buffering=1) as out, (tmp_path / "err").open("w") as err:
        world = replace(
            system_world(),
            stdout=out,
            stderr=err,
            environment=desk.environment,
            folder=tmp_path,
        )
        ended = run(["scan", code, "--map", "m.png"], world)

    assert ended == 0
    assert (tmp_path / "m.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("form", ["--json", "--plain"])
def test_the_map_is_written_for_programs_too(tmp_path: Path, form: str) -> None:
    """A script that asks for the map gets it with the answer in its form."""
    desk = Desk(tmp_path)
    desk.do(f"scan {add_cleared_board(desk)} {form} --map m.png")

    assert (tmp_path / "m.png").read_bytes().startswith(b"\x89PNG")


def test_the_photo_shows_only_where_colours_are_true(tmp_path: Path) -> None:
    """On a fine terminal the photo stands above the verdict; elsewhere it is said why not."""
    from PIL import Image

    fine = {"COLORTERM": "truecolor", "TERM": "xterm"}
    desk = Desk(tmp_path, terminal=True, environment=fine)
    code = add_cleared_board(desk)
    none = desk.do(f"scan {code} --picture")
    Image.new("RGB", (120, 80), (10, 120, 60)).save(tmp_path / "p.png")
    desk.do(f"photo {code} p.png")
    shown = desk.do(f"scan {code} --picture")
    desk.terminal = False
    poor = desk.do(f"scan {code} --picture")

    assert "no photo yet" in none.err
    assert "\x1b[38;2;10;120;60;48;2;10;120;60m▀" in shown.out
    assert "shows no pictures" in poor.err
    assert "▀" not in poor.out


def test_a_terminal_without_blocks_gets_plain_letters(tmp_path: Path) -> None:
    """An old terminal shows the map in ASCII."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    desk.do(f"cut {code} --shape circle --width 30 --at 60,40")
    raw = io.BytesIO()
    stdout = io.TextIOWrapper(raw, encoding="ascii", errors="replace")
    world = replace(system_world(), stdout=stdout, environment=desk.environment, folder=tmp_path)
    ended = run(["scan", code], world)
    stdout.flush()

    assert ended == 0
    assert b"# cut" in raw.getvalue()
    assert b". usable" in raw.getvalue()


def test_a_scanner_feeds_a_program_line_by_line(tmp_path: Path) -> None:
    """With --json each line's answer is one line."""
    desk = Desk(tmp_path)
    cleared, held = add_cleared_board(desk), add_board(desk)
    told = desk.run("scan --json", typed=f"{cleared}\n{held}\n")
    answers = [json.loads(line) for line in told.out.splitlines()]

    assert [(answer["code"], answer["go"]) for answer in answers] == [
        (cleared, True),
        (held, False),
    ]
    assert (told.code, told.err) == (1, "")


def test_a_photo_of_two_labels_answers_for_both(tmp_path: Path) -> None:
    """Two boards on one photo are two answers, and the worse one is the exit code."""
    from PIL import Image

    from salvage.codes.draw import draw_qr, symbol_png

    desk = Desk(tmp_path)
    codes = {add_cleared_board(desk), add_board(desk)}
    page = Image.new("L", (900, 500), 255)
    for place, code in enumerate(codes):
        with Image.open(io.BytesIO(symbol_png(draw_qr(code), dots=8))) as symbol:
            page.paste(symbol.convert("L"), (50 + 420 * place, 100))
    page.save(tmp_path / "two.png")
    told = desk.run("scan two.png --json")
    words = desk.run("scan two.png")

    assert {answer["code"] for answer in told.value} == codes
    assert (told.code, words.code) == (1, 1)
    assert words.err.count("glass fibre") == 1


@pytest.mark.parametrize("height", [30, 44])
def test_the_verdict_stays_on_the_screen(tmp_path: Path, height: int) -> None:
    """On a terminal the map shrinks until verdict and map are seen together."""
    desk = Desk(tmp_path, terminal=True, environment={"NO_COLOR": "1"}, height=height)
    told = desk.do(f"scan {add_cleared_board(desk)}")

    assert len(told.out.splitlines()) < height
    assert len(told.out.splitlines()) >= 16
    assert told.out.count("GO: ") == 1


@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "xterm"}])
def test_a_verdict_that_scrolled_off_is_said_again(
    tmp_path: Path, environment: dict[str, str]
) -> None:
    """On a terminal of 80 by 24 the last line says go or no-go, and how many reasons there are."""
    desk = Desk(tmp_path, terminal=True, environment=environment, width=80, height=24)
    cleared, held = add_cleared_board(desk), _unknown_board(desk)
    reasons = len(desk.run(f"scan {held} --json").value["obstacles"])
    go = desk.do(f"scan {cleared}").out
    desk.height = 16
    go_again = desk.do(f"scan {cleared}").out.splitlines()
    no_go = desk.run(f"scan {held}").out.splitlines()

    assert go.count("GO") == 1
    assert "GO" in go_again[-1]
    assert "NO-GO" not in go_again[-1]
    assert cleared in go_again[-1]
    assert "NO-GO" in no_go[-1]
    assert no_go[-1].endswith(f"{reasons} reasons, above")


def _unknown_board(desk: Desk) -> str:
    """A board of a type that nobody knows: every hazard is asked for."""
    return desk.code(f"board add {add_drop_off(desk)} --type unknown --size 120x80")


def test_many_unchecked_hazards_are_one_line(tmp_path: Path) -> None:
    """More than six that nobody looked for are counted; what was found stays by itself."""
    desk = Desk(tmp_path)
    code = _unknown_board(desk)
    desk.do(f"board clear {code} --unsure coin-cell")
    opened = desk.do(f"board clear {code} --json").value[0]["open"]
    lines = desk.run(f"scan {code}").out.splitlines()
    settled = [
        check["hazard"]
        for check in desk.do(f"board clear {code} --json").value[0]["checks"]
        if check["finding"] == "not checked"
    ]
    desk.do(f"board clear {code} --absent {','.join(settled[6:])}")
    few = desk.run(f"scan {code}").out

    assert opened > 7
    assert lines[1] == "  - coin-cell: cannot tell"
    assert lines[2].startswith(f"  - {opened - 1} hazards not checked: ")
    assert lines[3] == f"    do: salvage board clear {code}"
    assert few.count(": not checked") == 6


def test_open_data_parts_are_said_on_the_screen(tmp_path: Path) -> None:
    """A disk of the same delivery that nobody settled does not forbid the cut, but it is told."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"scan {code}")

    assert "  ! " in told.out
    assert "hard disk" in told.out
    assert desk.do(f"scan {code} --json").value["warnings"]


def test_a_revised_check_is_said(tmp_path: Path) -> None:
    """Who settles a hazard otherwise than before reads what it was."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"board clear {code} --unsure coin-cell --how 'looks like one'")

    assert "coin-cell was absent" in told.out
