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


def _loaded(*words: str, shop: Path) -> set[str]:
    """Top names of all modules that a command line loads."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "salvage", *words],
        env=os.environ | {"SALVAGE_SHOP": str(shop)},
        capture_output=True,
        text=True,
        check=True,
    )
    names = re.findall(r"^import time:[^|]*\|[^|]*\|\s*([A-Za-z_0-9.]+)$", done.stderr, re.M)
    return {name.split(".")[0] for name in names}


@pytest.mark.parametrize("command", ["history", "trace"])
def test_a_look_up_loads_nothing_heavy(tmp_path: Path, command: str) -> None:
    """Asking where a piece is from opens the record and nothing else."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    loaded = _loaded(command, piece, shop=desk.shop)

    assert "sqlite3" in loaded
    assert loaded & HEAVY == set()


def test_a_check_does_load_the_geometry(tmp_path: Path) -> None:
    """The list above would notice: the self-check needs the geometry and loads it."""
    desk = Desk(tmp_path)
    cut_piece(desk)

    assert "shapely" in _loaded("check", shop=desk.shop) & HEAVY
