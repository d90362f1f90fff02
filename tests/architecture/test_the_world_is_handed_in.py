"""Rooms below the faces are handed files, time and words; they do not fetch them."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.tree import (
    Source,
    dotted,
    faults_in,
    findings,
    imported,
    is_one_of,
    runtime_nodes,
    sources,
)

GROUND = ("errors", "ids", "units", "heif", "canonical", "records", "knowledge")
CRAFTS = ("geometry", "photo", "codes", "paper")

FILE_MODULES = frozenset(
    {
        "os",
        "pathlib",
        "subprocess",
        "shutil",
        "tempfile",
        "glob",
        "fileinput",
        "socket",
        "sqlite3",
        "urllib.request",
        "http",
    }
)
HARMLESS = frozenset({"pathlib.PurePath", "pathlib.PurePosixPath"})
# The type-setter takes only a folder, so this one file may make a short-lived one.
TYPESETTER = "salvage/paper/typeset.py"
FOR_TYPESETTER = frozenset({"pathlib", "tempfile"})
# The second code reader can abort its whole process, so this one file may give it one of its own.
SECOND_READER = "salvage/codes/zbar.py"
FOR_SECOND_READER = frozenset({"subprocess"})
# That process itself is spoken to through its own standard streams.
ITS_PROCESS = "salvage/codes/zbar_child.py"
ITS_STREAMS = frozenset({"sys.stdin", "sys.stdout"})
FILE_CALLS = frozenset({"open", "io.open"})
FILE_METHODS = frozenset({"write_text", "write_bytes"})

TALK = frozenset({"print", "input", "breakpoint", "sys.stdout", "sys.stderr", "sys.stdin"})
TALK_MODULES = frozenset({"getpass", "rich", "typer", "click"})
ENVIRONMENT = frozenset({"os.environ", "os.environb", "os.getenv"})
TIME = frozenset(
    {
        "datetime.now",
        "datetime.utcnow",
        "datetime.today",
        "date.today",
        "time.time",
        "time.time_ns",
        "time.localtime",
        "time.gmtime",
        "time.monotonic",
        "time.perf_counter",
    }
)


def touches_files(source: Source) -> Iterator[str]:
    """Ways to the disk, to other programs and to the network."""
    is_typesetter = source.path == TYPESETTER
    refused = FILE_MODULES - FOR_TYPESETTER if is_typesetter else FILE_MODULES
    if source.path == SECOND_READER:
        refused = refused - FOR_SECOND_READER
    for node in runtime_nodes(source.tree):
        for name in imported(node):
            if name not in HARMLESS and any(f"{name}.".startswith(f"{bad}.") for bad in refused):
                yield source.at(node, f"{name} reaches the disk; take bytes and give bytes")
        if isinstance(node, ast.Call) and dotted(node.func) in FILE_CALLS:
            yield source.at(node, "opens a file; take bytes and give bytes")
        if isinstance(node, ast.Attribute) and node.attr in FILE_METHODS and not is_typesetter:
            yield source.at(node, f"{node.attr} writes a file; give bytes")
        if isinstance(node, ast.Name) and node.id == "__file__":
            yield source.at(node, "asks where it lies; use importlib.resources")


def asks_the_world(source: Source) -> Iterator[str]:
    """Talk with the user, the environment and the time, other than through the clock module."""
    if source.path.endswith("/clock.py"):
        return
    refused = TALK | ENVIRONMENT | TIME
    if source.path == ITS_PROCESS:
        refused = refused - ITS_STREAMS
    for node in runtime_nodes(source.tree):
        for name in imported(node):
            if name.partition(".")[0] in TALK_MODULES or is_one_of(name, ENVIRONMENT | TIME):
                yield source.at(node, f"{name} asks the world; have it handed in")
        name = dotted(node) if isinstance(node, (ast.Name, ast.Attribute)) else ""
        if any(f".{name}".endswith(f".{bad}") for bad in refused if "." in bad) or name in refused:
            yield source.at(node, f"{name} asks the world; have it handed in")


def test_ground_and_crafts_touch_no_files() -> None:
    """A craft is handed the picture's bytes and gives bytes back, so it can be tried anywhere."""
    rooms = [f"salvage/{room}" for room in (*CRAFTS, *GROUND)]
    rooms += [f"salvage/{room}.py" for room in GROUND]

    found = findings(touches_files, sources(*rooms))

    assert found == [], "\n".join(found)


def test_only_the_faces_talk() -> None:
    """An operation gives a result; the faces show it, and the workshop's clock tells the time."""
    rooms = [f"salvage/{room}" for room in ("work", "store", *CRAFTS, *GROUND)]
    rooms += [f"salvage/{room}.py" for room in GROUND]

    found = findings(asks_the_world, sources(*rooms))

    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "open('x')\n"),
        (1, "import os\n"),
        (1, "def f():\n    from os import path\n"),
        (1, "from pathlib import Path\n"),
        (1, "import urllib.request\n"),
        (1, "import subprocess as s\n"),
        (1, "import tempfile\n"),
        (1, "spot.write_bytes(b'')\n"),
        (1, "here = __file__\n"),
        (0, "if TYPE_CHECKING:\n    from pathlib import Path\n"),
        (0, "from pathlib import PurePosixPath\n"),
        (0, "from importlib.resources import files\nfiles('salvage').read_text()\n"),
        (0, "from PIL import Image\nImage.open(stream)\n"),
    ],
)
def test_a_way_to_the_disk_is_caught(count: int, text: str) -> None:
    """Each way to the disk is caught; package data and pictures in memory are free."""
    assert faults_in(touches_files, text) == count


def test_the_typesetter_has_a_short_lived_folder() -> None:
    """Only the type-setter may make a passing folder, and it may not run programs."""
    text = "import tempfile\nfrom pathlib import Path\nPath('x').write_bytes(b'')\n"

    assert faults_in(touches_files, text, TYPESETTER) == 0
    assert faults_in(touches_files, text, "salvage/paper/card.py") == 3
    assert faults_in(touches_files, "import subprocess\n", TYPESETTER) == 1


def test_the_second_reader_may_start_a_process_and_nothing_more() -> None:
    """A reader that can abort lives in a process of its own; its file opens nothing else."""
    assert faults_in(touches_files, "import subprocess\n", SECOND_READER) == 0
    assert faults_in(touches_files, "import os\nopen('x')\n", SECOND_READER) == 2
    assert faults_in(touches_files, "import subprocess\n", "salvage/codes/cascade.py") == 1


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "print('done')\n"),
        (1, "answer = input()\n"),
        (1, "say = print\n"),
        (1, "sys.stdout.write('x')\n"),
        (1, "from rich.console import Console\n"),
        (1, "home = os.environ['HOME']\n"),
        (1, "from os import getenv\n"),
        (1, "now = datetime.now(UTC)\n"),
        (1, "now = dt.datetime.now(UTC)\n"),
        (1, "today = date.today()\n"),
        (1, "from time import time\n"),
        (1, "time.time()\n"),
        (0, "now = shop.clock.now()\n"),
        (0, "self.print(time)\n"),
        (0, "from datetime import UTC, date, datetime\nday = date(2026, 1, 1)\n"),
    ],
)
def test_asking_the_world_is_caught(count: int, text: str) -> None:
    """Each question to the world is caught, save in the clock, which is there to ask."""
    assert faults_in(asks_the_world, text) == count
    assert faults_in(asks_the_world, text, "salvage/work/clock.py") == 0
