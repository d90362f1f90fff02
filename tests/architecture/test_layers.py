"""Data flows one way: the contract of pyproject.toml holds, and it catches what it should."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.architecture.tree import (
    ROOT,
    Source,
    dotted,
    faults_in,
    findings,
    imported,
    is_one_of,
    runtime_nodes,
    sources,
)

ROOMS = (
    "cli",
    "web",
    "work",
    "store",
    "geometry",
    "photo",
    "codes",
    "paper",
    "knowledge",
    "records",
)
GROUND = ("canonical", "ids", "units", "heif", "errors", "frozen")
DYNAMIC = frozenset({"__import__", "importlib.import_module", "import_module"})


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the contract of *folder* over the package that lies there."""
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def build_house(folder: Path, extra: dict[str, str]) -> Path:
    """An empty house under our own contract, with *extra* modules put in."""
    house = folder / "salvage"
    for room in ROOMS:
        (house / room).mkdir(parents=True)
        (house / room / "__init__.py").touch()
    for name in ("__init__", *GROUND):
        (house / f"{name}.py").touch()
    for name, text in extra.items():
        (house / name).write_text(text, encoding="utf-8")
    contract = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (folder / "pyproject.toml").write_text(contract, encoding="utf-8")
    return folder


def dynamic_imports(source: Source) -> Iterator[str]:
    """Imports by text, which no contract can see."""
    for node in runtime_nodes(source.tree):
        names = [*imported(node), dotted(node.func) if isinstance(node, ast.Call) else ""]
        if any(is_one_of(name, DYNAMIC) for name in names):
            yield source.at(node, "imports by text, hidden from the layer contract")


def test_data_flows_one_way() -> None:
    """No room of the house imports what stands beside or above it, and every room has a place."""
    ran = lint(ROOT)

    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_an_empty_house_keeps_the_contract(tmp_path: Path) -> None:
    """The bad houses below are refused for what was put in, not for being empty."""
    ran = lint(build_house(tmp_path, {"work/plan.py": "from salvage.geometry import fit\n"}))

    assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.mark.parametrize(
    "extra",
    [
        {"units.py": "def parse():\n    from salvage.work import plan\n    return plan\n"},
        {"photo/mat.py": "from salvage.geometry import outline\n"},
        {"photo/mat.py": "def draw():\n    import salvage.codes.payload\n"},
        {"ids.py": "from salvage import units\n"},
        {"store/journal.py": "import salvage.cli\n"},
        {"attic.py": ""},
    ],
    ids=["up, in a function", "beside", "beside, in a function", "ground", "face", "no place"],
)
def test_a_bad_house_is_refused(tmp_path: Path, extra: dict[str, str]) -> None:
    """An arrow back is refused wherever it is written, and so is a room without a place."""
    ran = lint(build_house(tmp_path, extra))

    assert ran.returncode == 1, ran.stdout + ran.stderr
    assert "BROKEN" in ran.stdout


def test_nothing_is_imported_by_text() -> None:
    """No import hides from the contract."""
    found = findings(dynamic_imports, sources("salvage"))

    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        "import importlib\nimportlib.import_module('salvage.work')\n",
        "from importlib import import_module\n",
        "def f():\n    return __import__('salvage.work')\n",
    ],
)
def test_an_import_by_text_is_caught(text: str) -> None:
    """Each way to import by text is caught; reading package data is not one of them."""
    assert faults_in(dynamic_imports, text) == 1
    assert faults_in(dynamic_imports, "from importlib.resources import files\nfiles('x')\n") == 0
