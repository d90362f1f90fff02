"""
One job through every face gives one and the same record.

The faces must not differ by a byte: the dumps hold all tables, the journal's bodies and hashes
included. A further face joins by one more entry in FACES.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from salvage.cli.root import root_command
from salvage.ids import Code
from salvage.web.app import WAYS
from salvage.work.catalogue import ON_THE_PAGE, OPERATIONS
from salvage.work.donors import list_donors
from salvage.work.workshop import open_workshop
from tests.bench import START, dump, seeded_entropy
from tests.browser import Browser, make_house
from tests.desk import Desk
from tests.faces.page_steps import PAGE_STEPS, page_step
from tests.faces.scenario import STEPS
from tests.faces.step import TABLE, TERN, Memory, photo_bytes
from tests.faces.steps_looks import after_photo, back_photo
from tests.faces.steps_measure import mat_photo, pair_photo
from tests.faces.steps_papers import WORDING
from tests.faces.steps_stock import DROPPED, phone_photo

Dump = dict[str, list[tuple[object, ...]]]


class StandingClock:
    """A clock that stands still within a step, however often it is asked."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now

    def go_on(self) -> None:
        """Let a minute pass."""
        self.now += timedelta(minutes=1)


def play_python(folder: Path) -> Dump:
    """The job through the Python API."""
    clock, memory = StandingClock(), Memory()
    with open_workshop(folder / "shop", clock=clock, entropy=seeded_entropy(), by="Maren") as shop:
        for step in STEPS:
            made = step.python(shop, memory)
            if step.made:
                memory[step.made] = Code(str(made))
            clock.go_on()
        return dump(shop)


def fill_phone_folders(folder: Path) -> None:
    """What the phone dropped, in two batches."""
    for name, files in {"phone": DROPPED, "phone-later": {"IMG_4.png": phone_photo(150)}}.items():
        (folder / name).mkdir()
        for file_name, data in files.items():
            (folder / name / file_name).write_bytes(data)


def play_command_line(folder: Path) -> Dump:
    """The job through the command line, one process's worth of work for each step."""
    clock = StandingClock()
    desk = Desk(folder, clock=clock)
    (folder / "table.csv").write_bytes(TABLE)
    (folder / "front.png").write_bytes(photo_bytes())
    (folder / "wording.toml").write_bytes(WORDING)
    (folder / "on-mat.jpg").write_bytes(mat_photo())
    (folder / "back.jpg").write_bytes(back_photo())
    (folder / "after.jpg").write_bytes(after_photo())
    (folder / "pair.jpg").write_bytes(pair_photo())
    fill_phone_folders(folder)
    files = {
        "table": folder / "table.csv",
        "photo": folder / "front.png",
        "wording": folder / "wording.toml",
        "on_mat": folder / "on-mat.jpg",
        "back": folder / "back.jpg",
        "after": folder / "after.jpg",
        "pair": folder / "pair.jpg",
        "phone": folder / "phone",
        "phone_later": folder / "phone-later",
        "tern": TERN,
    }
    memory: dict[str, object] = {**files, "out": folder}
    for step in STEPS:
        told = desk.do(f"{step.line.format_map(memory)} --plain")
        if step.made:
            memory[step.made] = told.first
        if "donor" not in memory and "drop_off" in memory:
            memory["donor"] = desk.do("donor list --plain").first
        clock.go_on()
    with open_workshop(folder / "shop", clock=clock) as shop:
        assert len(list_donors(shop)) == 2
        return dump(shop)


def play_page(folder: Path) -> Dump:
    """The job through the page's forms, the rest of it through Python on the same workshop."""
    clock, memory = StandingClock(), Memory()
    browser = Browser(folder / "shop", house=make_house(folder / "shop", clock=clock))
    for step in STEPS:
        play = page_step(step)
        if play:
            made = play(browser, memory)
        else:
            with browser.house.open() as shop:
                made = step.python(shop, memory)
        if step.made:
            memory[step.made] = Code(str(made))
        clock.go_on()
    with browser.house.open() as shop:
        return dump(shop)


FACES: dict[str, Callable[[Path], Dump]] = {"command line": play_command_line, "page": play_page}
"""Every face but Python, which the others are compared with."""


@pytest.fixture(scope="module")
def python_dump(tmp_path_factory: pytest.TempPathFactory) -> Dump:
    """The record that the Python API leaves."""
    return play_python(tmp_path_factory.mktemp("python"))


@pytest.mark.parametrize("face", FACES)
def test_every_face_leaves_the_same_record(face: str, python_dump: Dump, tmp_path: Path) -> None:
    """Whoever works, at whichever face, the workshop's record is the same to the last byte."""
    other = FACES[face](tmp_path)

    assert set(other) == set(python_dump)
    for table, rows in python_dump.items():
        if table != "page_deed":  # the page's own notes of what it sent, no part of the record
            assert other[table] == rows, table


def test_the_job_leaves_rows_everywhere(python_dump: Dump) -> None:
    """The job touches every drawer of the workshop, so the comparison compares something."""
    empty = [table for table, rows in python_dump.items() if not rows]

    # clash is filled where one device takes back what another works on; page_deed by the page only.
    assert empty == ["clash", "page_deed"]
    assert len(python_dump["event"]) > 50


def test_every_change_is_in_the_job() -> None:
    """A new operation that changes something is played through every face."""
    changing = {operation.name for operation in OPERATIONS if operation.changes}

    assert {step.operation for step in STEPS} == changing


def test_what_the_page_offers_is_played_on_it() -> None:
    """An operation that the page offers is played through the page, at an address that it has."""
    played = {step.operation for step in STEPS if page_step(step)}
    changing = {operation.name for operation in OPERATIONS if operation.changes}
    addresses = {way.address for way in WAYS if way.form}

    assert played == set(ON_THE_PAGE)
    assert set(ON_THE_PAGE) <= changing
    assert set(ON_THE_PAGE.values()) <= addresses
    for start in PAGE_STEPS:
        assert sum(step.line.startswith(start) for step in STEPS) == 1, start


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)
def test_every_operation_has_its_command(operation: Any) -> None:
    """What the catalogue promises on the command line is there."""
    command = root_command()
    context = command.make_context("salvage", ["--no-input"], resilient_parsing=True)
    for word in operation.command.split():
        command = command.get_command(context, word)

        assert command is not None, word
    assert not hasattr(command, "commands")
