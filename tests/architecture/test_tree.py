"""The eyes of the gates see the right files and names."""

from __future__ import annotations

import ast

from tests.architecture.tree import (
    Source,
    dotted,
    findings,
    house_files,
    imported,
    is_one_of,
    runtime_nodes,
    sources,
)


def test_the_gates_see_the_ground() -> None:
    """The gate reads the files of the house, and only those asked for."""
    paths = [source.path for source in sources("salvage/errors.py", "salvage/records")]

    assert "salvage/errors.py" in paths
    assert "salvage/records/region.py" in paths
    assert "salvage/units.py" not in paths
    assert "pyproject.toml" in house_files()


def test_a_gate_without_files_is_a_fault() -> None:
    """A check that judged nothing has proved nothing."""
    found = findings(lambda source: iter(()), [])

    assert found == ["no file was judged"]


def test_what_only_the_type_checker_reads_does_not_run() -> None:
    """An import for annotations costs no time at the bench."""
    text = "if TYPE_CHECKING:\n    import a\nelse:\n    import b\ndef f():\n    import c\n"
    tree = ast.parse(text)

    all_names = [name for node in runtime_nodes(tree) for name in imported(node)]
    top_names = [
        name for node in runtime_nodes(tree, into_functions=False) for name in imported(node)
    ]

    assert all_names == ["b", "c"]
    assert top_names == ["b"]


def test_names_are_read_in_full() -> None:
    """A chain of names is read as it is written, and matched by whole words."""
    call = ast.parse("shop.clock.now()", mode="eval").body
    assert isinstance(call, ast.Call)

    assert dotted(call.func) == "shop.clock.now"
    assert dotted(call) == "?"
    assert is_one_of("datetime.datetime.now", frozenset({"datetime.now"}))
    assert not is_one_of("my_datetime.now", frozenset({"datetime.now"}))
    assert Source("a.py", "x = 1").at(call, "wrong") == "a.py:1: wrong"
