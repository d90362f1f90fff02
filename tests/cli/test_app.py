"""The entry: help that teaches, the version, and what is not there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from salvage import __version__
from salvage.cli.contents import ENTRIES
from salvage.cli.parser import CODES, FILES
from salvage.cli.root import root_command
from salvage.ids import parse_code
from tests.desk import Desk, add_drop_off


def command_paths() -> Iterator[tuple[str, ...]]:
    """The words of every command and group."""
    root = root_command()
    context: Any = root.make_context("salvage", ["--no-input"], resilient_parsing=True)
    for entry in ENTRIES:
        yield (entry.name,)
        command = root.get_command(context, entry.name)
        for name in getattr(command, "commands", {}):
            yield entry.name, name


PATHS = tuple(command_paths())


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_shows_the_job_in_order(tmp_path: Path, flag: str) -> None:
    """A newcomer reads an example first, then the commands along the job."""
    told = Desk(tmp_path).do(flag)
    places = [told.out.index(f"\n  {entry.name} ") for entry in ENTRIES]

    assert told.out.startswith("Example: salvage demo\n")
    assert places == sorted(places)
    assert told.err == ""


def test_a_group_alone_shows_its_help(tmp_path: Path) -> None:
    """A group typed alone explains itself; the program alone tells what to do next."""
    desk = Desk(tmp_path)

    assert desk.do("").out == desk.do("next").out
    assert desk.do("board").out == desk.do("board --help").out


@pytest.mark.parametrize("words", PATHS, ids=" ".join)
def test_every_help_starts_with_its_example(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Each command shows first how it is typed, and says what it does in a sentence."""
    line = " ".join(words)
    told = Desk(tmp_path).do(f"{line} --help")
    first, _, rest = told.out.partition("\n")

    assert first.startswith(f"Example: salvage {words[0]}")
    assert "Usage: salvage " + line in rest
    assert re.search(r"\n  [A-Z][^\n]*", rest)


@pytest.mark.parametrize("words", PATHS, ids=" ".join)
def test_every_example_is_read_by_the_parser(tmp_path: Path, words: tuple[str, ...]) -> None:
    """An example can be typed as it stands: it is refused for its codes at most, never misused."""
    line = Desk(tmp_path).do(f"{' '.join(words)} --help").out.split("\n", 1)[0]
    example = line.removeprefix("Example: salvage ")
    if words in (("demo",), ("page",)):  # building and serving have their own tests
        example = f"{words[0]} --help"
    told = Desk(tmp_path).run(example)

    assert told.code in (0, 1), told.err
    assert "bug" not in told.err


def test_the_table_of_contents_says_what_the_commands_say(tmp_path: Path) -> None:
    """Each line of the help's contents ends like a sentence and fits the terminal."""
    assert all(entry.words.endswith(".") and len(entry.words) < 70 for entry in ENTRIES)
    assert len({entry.name for entry in ENTRIES}) == len(ENTRIES)


def test_the_version_is_told(tmp_path: Path) -> None:
    """Who asks for help can say which version they have."""
    assert Desk(tmp_path).do("--version").out == f"salvage {__version__}\n"


def test_an_unknown_command_offers_the_nearest(tmp_path: Path) -> None:
    """A slip of the finger gets the command that was meant."""
    told = Desk(tmp_path).run("bord list")

    assert told.code == 2
    assert "there is no command 'bord'; nearest: board" in told.err
    assert told.out == ""


@pytest.mark.parametrize("line", ["--wat", "board list --wat", "board nosuch", "board show"])
def test_misuse_ends_with_two(tmp_path: Path, line: str) -> None:
    """What cannot be read is told in one line, with the help to look at."""
    told = Desk(tmp_path).run(line)

    assert told.code == 2
    assert told.err.startswith("salvage: ")
    assert "--help" in told.err


def test_what_is_shared_may_stand_before_or_after(tmp_path: Path) -> None:
    """Options of all commands are taken wherever they are typed."""
    desk = Desk(tmp_path)
    other = tmp_path / "other"

    desk.do(f"--shop {other} --by Ada setup place=Quay")
    desk.do(f"setup place=Pier --shop {other} --by Bea")

    assert "Pier" in desk.do(f"setup --shop {other}").out
    people = [line["by"] for line in desk.do(f"journal --shop {other} --json").value]
    assert people == ["Ada", "Ada", "Bea"]


def test_the_environment_names_the_workshop_and_the_maker(tmp_path: Path) -> None:
    """Nobody types the folder each time."""
    desk = Desk(tmp_path)
    add_drop_off(desk)

    assert (tmp_path / "shop" / "workshop.db").exists()
    assert {line["by"] for line in desk.do("journal --json").value} == {"Maren"}


def test_a_folder_without_workshop_is_not_turned_into_one(tmp_path: Path) -> None:
    """A mistyped folder is told, not filled."""
    told = Desk(tmp_path).run("board list --shop nowhere")

    assert told.code == 1
    assert "there is no workshop in" in told.err
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("words", PATHS, ids=" ".join)
def test_examples_hold_good_codes(tmp_path: Path, words: tuple[str, ...]) -> None:
    """A code in an example passes its own check character, as a printed one would."""
    told = Desk(tmp_path).do(f"{' '.join(words)} --help").out
    found = re.findall(r"\b[A-Z]C[0-9]{4}[A-Z]\b", told)

    assert [parse_code(code) for code in found] == found


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("report year 1800", "salvage: YEAR: '1800' is not a year\n  from 1950 to"),
        ("alert show 12345678", "'salvage alert list' lists them"),
        ("board add DC0005X --type motherboard --form nosuch", "'salvage formats' lists them"),
        ("mat picture --out mat.jpg", "salvage: --out: mat.jpg would be a PNG under another name"),
    ],
)
def test_a_refusal_names_what_was_typed_and_the_way_on(
    tmp_path: Path, line: str, says: str
) -> None:
    """Not an option that nobody gave, and never without a next step."""
    desk = Desk(tmp_path)
    desk.do("setup name=Quay")
    told = desk.run(line)

    assert told.code == 1
    assert says in told.err
    assert not (tmp_path / "mat.jpg").exists()


@pytest.mark.parametrize("words", PATHS, ids=" ".join)
def test_every_option_and_argument_is_explained(words: tuple[str, ...]) -> None:
    """No help leaves a line blank: each thing to type has a sentence or a list of its choices."""
    command: Any = root_command()
    context = command.make_context("salvage", ["--no-input"], resilient_parsing=True)
    for word in words:
        command = command.get_command(context, word)
    records = [param.get_help_record(context) for param in command.params]
    silent = [record[0] for record in records if record and not re.search(r"[.…\]]$", record[1])]

    assert (command.help or "").strip()
    assert silent == []


def test_the_help_of_a_command_ends_with_exit_codes_and_files(tmp_path: Path) -> None:
    """A script's author finds what a command ends with, and where the record lies."""
    lines = Desk(tmp_path, width=80).do("board add --help").out.splitlines()

    assert lines[-2:] == [CODES, FILES]
    assert max(map(len, lines[-2:])) <= 100


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("dropoff add --doner Ada", "there is no option '--doner'; nearest: --donor"),
        ("card --desing folded", "there is no option '--desing'; nearest: --design"),
        ("--shp x", "there is no option '--shp'; nearest: --shop"),
        ("board list --zzzz", "there is no option '--zzzz'\n"),
        ("dropoff ad", "'ad'"),
    ],
)
def test_a_misspelt_option_offers_the_nearest(tmp_path: Path, line: str, says: str) -> None:
    """A slip of the finger gets the option that was meant, and no other."""
    told = Desk(tmp_path).run(line)

    assert told.code == 2
    assert says in told.err
