"""
A look-up starts light: it loads no heavy library.

How much time that saves is measured by ``python -m tests.benchmarks.startup``, never by a test.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.desk import Desk, cut_piece

HEAVY = {
    "PIL", "cv2", "defusedxml", "ezdxf", "numpy", "pi_heif", "pyzbar", "rich", "shapely",
    "sqlite_utils", "svgelements", "typst", "zxingcpp",
}  # fmt: skip

# What costs more than a look-up: the parser's library, the source reader that it and the standard
# dataclasses load, the machine's cryptography, and packers.
DEAR = HEAVY | {"typer", "dataclasses", "inspect", "hashlib", "tempfile", "bz2", "cryptography"}

# Bare Python here takes some 10 ms, sqlite3 with json, pathlib and datetime 14 more; each of our
# modules some 0.4. So many keep a look-up under six times bare Python.
MOST_OWN = {"--help": 25, "history": 60, "journal": 60, "trace": 60, "list": 95}


def _modules(*words: str, shop: Path) -> set[str]:
    """All modules that a command line loads."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "salvage", *words],
        env=os.environ | {"SALVAGE_SHOP": str(shop)},
        capture_output=True,
        text=True,
        check=True,
    )
    return set(re.findall(r"^import time:[^|]*\|[^|]*\|\s*([A-Za-z_0-9.]+)$", done.stderr, re.M))


def _loaded(*words: str, shop: Path) -> set[str]:
    """Top names of all modules that a command line loads."""
    return {name.split(".")[0] for name in _modules(*words, shop=shop)}


@pytest.fixture(scope="module")
def shop_and_piece(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A workshop with one piece, and the piece's code."""
    desk = Desk(tmp_path_factory.mktemp("small"))
    return desk.shop, cut_piece(desk)


@pytest.mark.parametrize(
    "line",
    ["--help", "history PIECE", "journal", "trace PIECE", "board list", "piece list", "donor list"],
)
def test_a_look_up_loads_nothing_dear(shop_and_piece: tuple[Path, str], line: str) -> None:
    """Asking where a piece is from opens the record and nothing else."""
    shop, piece = shop_and_piece
    words = line.replace("PIECE", piece).split()
    modules = _modules(*words, shop=shop)
    own = {name for name in modules if name.startswith("salvage")}
    loaded = {name.split(".")[0] for name in modules}

    assert ("sqlite3" in loaded) == (line != "--help")
    assert loaded & DEAR == set()
    assert len(own) <= MOST_OWN[next(word for word in words if word in MOST_OWN)]


def test_a_check_does_load_the_geometry(tmp_path: Path) -> None:
    """The list above would notice: the self-check needs the geometry and loads it."""
    desk = Desk(tmp_path)
    cut_piece(desk)

    assert "shapely" in _loaded("check", shop=desk.shop) & HEAVY
