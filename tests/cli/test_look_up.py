"""A look-up says the same whether its words are read the short way or by the parser."""

from __future__ import annotations

import io
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.cli import look_up
from salvage.cli.front import front_page
from salvage.cli.look_up_table import LOOK_UPS
from salvage.cli.root import run_parsed
from salvage.cli.session import Session
from salvage.cli.world import system_world
from tests.desk import Desk, cut_piece

CODES = {"board": "BOARD", "piece": "PIECE", "dropoff": "DROPOFF"}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Desk, dict[str, str]]:
    """A workshop with one piece, and the codes on its way."""
    desk = Desk(tmp_path_factory.mktemp("small"))
    piece = cut_piece(desk)
    told = desk.do(f"trace {piece} --plain").out
    by_kind = {line.split("\t")[2][0]: line.split("\t")[2] for line in told.splitlines()}
    return desk, {"PIECE": piece, "BOARD": by_kind["B"], "DROPOFF": by_kind["D"]}


def _line(name: tuple[str, ...], codes: dict[str, str]) -> str:
    """A whole command line of a look-up."""
    words = " ".join(name)
    if name[-1] == "show":
        return f"{words} {codes[CODES[name[0]]]}"
    return f"{words} {codes['PIECE']}" if name[0] in ("history", "trace") else words


@pytest.mark.parametrize("more", ["", "--json", "--plain", "--no-color --json --plain"])
@pytest.mark.parametrize("name", LOOK_UPS, ids=" ".join)
def test_both_ways_say_the_same(
    shop: tuple[Desk, dict[str, str]],
    monkeypatch: pytest.MonkeyPatch,
    name: tuple[str, ...],
    more: str,
) -> None:
    """Whoever looks something up never learns which way the words went."""
    desk, codes = shop
    line = f"{_line(name, codes)} {more}".rstrip()
    short = desk.run(line)
    monkeypatch.setattr(look_up, "LOOK_UPS", {})
    parsed = desk.run(line)

    assert (short.code, short.out, short.err) == (parsed.code, parsed.out, parsed.err)
    assert short.code == 0


@pytest.mark.parametrize(
    "line",
    [
        "history",
        "history BC0002J BC0003F",
        "history XX",
        "history BC9999X",
        "board show --jsn BC0002J",
        "board --json list",
        "journal --most 0",
        "journal --most",
        "board sho BC0002J",
        "--shop",
        "history -- BC0002J",
        "history ''",
    ],
)
def test_mistakes_are_told_the_same(
    shop: tuple[Desk, dict[str, str]], monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    """What is mistyped gets the parser's answer."""
    desk, _codes = shop
    short = desk.run(line)
    monkeypatch.setattr(look_up, "LOOK_UPS", {})
    parsed = desk.run(line)

    assert (short.code, short.out, short.err) == (parsed.code, parsed.out, parsed.err)
    assert short.code != 0


def test_options_before_and_after_the_name_count(shop: tuple[Desk, dict[str, str]]) -> None:
    """The workshop may be named anywhere on the line."""
    desk, codes = shop
    folder, piece = desk.shop, codes["PIECE"]
    told = [
        desk.do(f"--shop {folder} history {piece} --json").out,
        desk.do(f"history --json --shop {folder} --by wren {piece}").out,
        desk.do(f"history {piece} --json").out,
    ]

    assert told[0] == told[1] == told[2]


@pytest.mark.parametrize("width", [40, 53, 60, 72, 80, 99, 100, 180])
def test_the_first_page_is_what_the_parser_writes(tmp_path: Path, width: int) -> None:
    """The help is written from the same words, on terminals of all widths."""
    page = io.StringIO()
    world = replace(system_world(), width=width, stdout=page, folder=tmp_path)
    session = Session(world, lambda _words, _folder: 0)

    with (
        redirect_stdout(page),
        pytest.raises(Exception, match="0"),
    ):  # the library's way to end after its help
        run_parsed(["--help"], session)

    assert page.getvalue() == front_page(width)
