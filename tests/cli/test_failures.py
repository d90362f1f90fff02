"""Errors become one clear line and an exit code."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import typer

from salvage.cli.failures import Misuse, describe, run_guarded
from salvage.cli.world import World
from salvage.errors import BadValue, ManyMistakes, NotFound
from salvage.work.clock import system_clock, system_entropy
from tests.desk import Desk, add_board


def make_world(folder: Path, *, stdout: io.StringIO | None = None, trace: str = "") -> World:
    """A world without terminal."""
    environment = {"SALVAGE_TRACE": trace} if trace else {}
    return World(
        system_clock,
        system_entropy,
        environment,
        folder,
        io.StringIO(),
        stdout or io.StringIO(),
        io.StringIO(),
    )


def raising(error: BaseException) -> Callable[[], None]:
    """A command that ends in *error*."""

    def call() -> None:
        raise error

    return call


class TornPipe(io.StringIO):
    """Standard output whose reader has gone."""

    def flush(self) -> None:
        """Fail as a pipe does."""
        raise BrokenPipeError


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (BadValue("'x' is no date", hint="write 2026-05-04", field="--date"), 1, "--date: 'x' is"),
        (NotFound("no board", nearest=["BC0002J"]), 1, "nearest: BC0002J"),
        (Misuse("give --at"), 2, "give --at"),
        (typer.BadParameter("not a number"), 2, "not a number"),
        (typer.Exit(5), 5, ""),
        (typer.Abort(), 130, "interrupted"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (EOFError(), 130, "interrupted"),
        (PermissionError(13, "Permission denied", "/a/b"), 1, "/a/b: Permission denied"),
        (OSError("odd disk"), 1, "odd disk"),
        (sqlite3.OperationalError("odd table"), 1, "the database says: odd table"),
        (KeyError("wall"), 70, "this is a bug, not your mistake (KeyError: 'wall')"),
        (RecursionError(), 70, "RecursionError"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else "",
)
def test_every_error_has_its_line_and_code(
    tmp_path: Path, error: BaseException, code: int, words: str
) -> None:
    """Whatever happens, the maker reads what it was, and a script reads the code."""
    world = make_world(tmp_path)
    ended = run_guarded(raising(error), world)
    told = world.stderr.getvalue()  # type: ignore[attr-defined]

    assert ended == code
    assert words in told
    assert "Traceback" not in told
    assert not told or "salvage: " in told


def test_a_bug_shows_its_trace_only_when_asked(tmp_path: Path) -> None:
    """Who reports a bug can see where it is; nobody else has to."""
    world = make_world(tmp_path, trace="1")
    run_guarded(raising(KeyError("wall")), world)

    told = world.stderr.getvalue()  # type: ignore[attr-defined]
    assert "Traceback" in told
    assert told.rstrip().endswith("report it")


def test_a_reader_that_has_seen_enough_is_no_fault(tmp_path: Path) -> None:
    """Piping into head ends quietly."""
    world = make_world(tmp_path, stdout=TornPipe())

    assert run_guarded(lambda: None, world) == 0
    assert world.stderr.getvalue() == ""  # type: ignore[attr-defined]


def test_many_mistakes_are_a_list() -> None:
    """Each mistake stands on its own line, the mend below."""
    several = ManyMistakes([BadValue("a"), BadValue("b", field="--b")], hint="mend them")

    assert describe(several) == "salvage: 2 mistakes:\n  a\n  --b: b\nmend them"


def test_an_error_cannot_steer_the_terminal(tmp_path: Path) -> None:
    """A value that holds control characters is shown without them."""
    world = make_world(tmp_path)
    run_guarded(raising(BadValue("'\x1b[31m' is no date")), world)

    assert "\x1b" not in world.stderr.getvalue()  # type: ignore[attr-defined]


def test_a_file_whose_name_begins_with_a_tilde_is_a_file(tmp_path: Path) -> None:
    """Programs name their scratch files so; it is nobody's home folder."""
    desk = Desk(tmp_path)
    code = add_board(desk)

    told = desk.run(f"photo {code} '~$draft.jpg'")

    assert told.code == 1
    assert "~$draft.jpg is not there" in told.err


def test_a_long_mend_is_broken_between_words(tmp_path: Path) -> None:
    """On a terminal no board type is torn in two; in a pipe the line stays whole."""
    line = "board add DC0005X --type TYPE --size WxH"
    desk = Desk(tmp_path, terminal=True, width=60, environment={"NO_COLOR": "1"})
    desk.do("setup --device C --name Quay")
    told, piped = desk.run(line), Desk(tmp_path).run(line)

    assert max(map(len, told.err.splitlines())) <= 60
    assert "'WxH' is not a size; write width x height such as 175x107" in " ".join(told.err.split())
    assert told.err.split() == piped.err.split()
    assert max(map(len, piped.err.splitlines())) > 100
