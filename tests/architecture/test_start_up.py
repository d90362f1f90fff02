"""Starting fast is a feature: heavy libraries are loaded by the step that needs them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.architecture.tree import (
    Source,
    faults_in,
    findings,
    imported,
    runtime_nodes,
    sources,
)

HEAVY = frozenset(
    {
        "numpy",
        "shapely",
        "PIL",
        "typst",
        "zxingcpp",
        "pyzbar",
        "svgelements",
        "sqlite_utils",
        "pi_heif",
        "defusedxml",
        "cv2",
        "cryptography",
        "matplotlib",
        "psycopg",
    }
)
# One library of the command line loads pydantic when it is there, at the price of a second start.
NOT_AT_START = HEAVY | {"pydantic"}

_IMPORT_LINE = re.compile(r"^import time:\s+\d+ \|\s+\d+ \|\s*([\w.]+)$", re.MULTILINE)


def heavy_at_the_top(source: Source) -> Iterator[str]:
    """Heavy libraries that are loaded as soon as the module is."""
    for node in runtime_nodes(source.tree, into_functions=False):
        for name in imported(node):
            if name.partition(".")[0] in HEAVY:
                yield source.at(node, f"{name} is heavy; import it where it is needed")


# A mistyped code makes the longest look-up: nothing is found, and the nearest are sought.
LOOK_UP = """
import pathlib
from salvage.errors import NotFound
from salvage.ids import parse_code
from salvage.store.lookup import load_board
from salvage.work.workshop import open_workshop
with open_workshop(pathlib.Path("shop")) as shop:
    try:
        load_board(shop.conn, parse_code("BC0002J"))
    except NotFound as told:
        print(told)
    else:
        raise SystemExit("an empty workshop held a board")
"""

EVERY_MODULE = """
import importlib, pkgutil, salvage
names = [found.name for found in pkgutil.walk_packages(salvage.__path__, "salvage.")]
for name in names:
    if not name.endswith("__main__"):
        importlib.import_module(name)
assert len(names) > 20, names
"""


def loaded_by(*words: str, home: Path) -> set[str]:
    """Top names of all modules that one run of Python loads, in an empty home folder."""
    kept = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT") if name in os.environ}
    command = [sys.executable, "-X", "importtime", *words]
    ran = subprocess.run(
        command,
        cwd=home,
        env=kept | {"HOME": str(home), "LC_ALL": "C.UTF-8"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    told = [line for line in ran.stderr.splitlines() if not line.startswith("import time:")]
    assert ran.returncode == 0, "\n".join(told)
    return {name.partition(".")[0] for name in _IMPORT_LINE.findall(ran.stderr)}


def test_heavy_libraries_are_imported_where_needed() -> None:
    """Asking for a board must not load the picture libraries."""
    found = findings(heavy_at_the_top, sources("salvage"))

    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "import numpy as np\n"),
        (1, "from shapely.geometry import Polygon\n"),
        (1, "try:\n    import cv2\nexcept ImportError:\n    cv2 = None\n"),
        (1, "class A:\n    import PIL.Image\n"),
        (1, "if TYPE_CHECKING:\n    pass\nelse:\n    import typst\n"),
        (0, "if TYPE_CHECKING:\n    import numpy\n"),
        (0, "if typing.TYPE_CHECKING:\n    import numpy\n"),
        (0, "def f():\n    import numpy\n"),
        (0, "import numpydoc\n"),
    ],
)
def test_a_heavy_import_is_caught(count: int, text: str) -> None:
    """A heavy import at the top is caught wherever it hides, and allowed inside a function."""
    assert faults_in(heavy_at_the_top, text) == count


def test_help_starts_light(tmp_path: Path) -> None:
    """The help is there before the kettle is."""
    loaded = loaded_by("-m", "salvage", "--help", home=tmp_path)

    assert "salvage" in loaded
    assert loaded & NOT_AT_START == set()


def test_a_look_up_starts_light(tmp_path: Path) -> None:
    """Looking for a board, found or not, needs no picture libraries."""
    loaded = loaded_by("-c", LOOK_UP, home=tmp_path)

    assert {"salvage", "sqlite3"} <= loaded
    assert loaded & NOT_AT_START == set()


def test_the_whole_house_starts_light(tmp_path: Path) -> None:
    """No module loads a heavy library by being there, whatever it imports in turn."""
    loaded = loaded_by("-c", EVERY_MODULE, home=tmp_path)

    assert "salvage" in loaded
    assert loaded & NOT_AT_START == set()


def test_a_heavy_start_is_seen(tmp_path: Path) -> None:
    """A library that is loaded on the way, by another one, does not slip through."""
    loaded = loaded_by("-c", "import shapely", home=tmp_path)

    assert {"shapely", "numpy"} <= loaded & NOT_AT_START
