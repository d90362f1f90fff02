"""Every room and file bears the name of a thing, and the house has no rooms but its own."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePosixPath

from tests.architecture.tree import house_files

EMPTY_NAMES = frozenset(
    {
        "util",
        "utils",
        "helper",
        "helpers",
        "common",
        "misc",
        "manager",
        "managers",
        "handler",
        "handlers",
        "base",
    }
)
TOP = frozenset(
    {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "salvage",
        "tests",
        "schema",
        "demo_db",
        "docs",
        ".ci",
        ".gitignore",
        "LICENSE",
        "CHANGELOG.md",
    }
)
NEEDED = frozenset({"README.md", "DEVELOPERS.md", "LICENSE", "tests/all", ".ci/run"})


def empty_names(paths: Iterable[str]) -> list[str]:
    """Python files and folders of them whose name says nothing."""
    return [
        path
        for path in paths
        if path.endswith(".py")
        and EMPTY_NAMES & {part.strip("_") for part in PurePosixPath(path).with_suffix("").parts}
    ]


def strangers(paths: Iterable[str]) -> set[str]:
    """Files and folders at the top that have no place there."""
    return {path.partition("/")[0] for path in paths} - TOP


def test_every_module_is_named_for_a_thing() -> None:
    """A drawer marked 'misc' is where tools get lost."""
    assert empty_names(house_files()) == []


def test_the_top_folder_holds_only_its_own() -> None:
    """What lies in the hall was put there on purpose."""
    assert strangers(house_files()) == set()


def test_what_the_house_needs_is_there() -> None:
    """A newcomer finds the readme, the licence, the one test command and the gate."""
    assert NEEDED - set(house_files()) == set()


def test_tests_are_no_package() -> None:
    """Tests of one name may live in different rooms, so their folders are no packages."""
    found = [path for path in house_files() if path.startswith("tests/")]

    assert [path for path in found if path.endswith("__init__.py")] == []


def test_an_empty_name_is_caught() -> None:
    """A name that says nothing is caught as file and as folder, and within no other word."""
    bad = ["salvage/work/utils.py", "salvage/helpers/x.py", "tests/_base.py"]

    assert empty_names(bad) == bad
    assert empty_names(["salvage/work/baseline.py", "docs/misc.txt"]) == []


def test_a_stranger_is_caught() -> None:
    """A file or folder laid in the hall is told by its name."""
    assert strangers(["notes.txt", "scratch/x.py", "salvage/x.py"]) == {"notes.txt", "scratch"}
