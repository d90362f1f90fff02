"""A test that cannot fail, or does not run, is worse than none."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator

import pytest

from tests.architecture.tree import Source, faults_in, findings, imported, sources

LEFT_OUT = frozenset(
    {
        "skip",
        "skipif",
        "skipIf",
        "skipUnless",
        "skipTest",
        "SkipTest",
        "importorskip",
        "xfail",
        "expectedFailure",
        "collect_ignore",
        "collect_ignore_glob",
    }
)


def hollow_asserts(source: Source) -> Iterator[str]:
    """Asserts whose real condition is never looked at."""
    for node in source.nodes:
        if not isinstance(node, ast.Assert):
            continue
        if isinstance(node.test, (ast.Tuple, ast.Constant, ast.JoinedStr)):
            yield source.at(node, "this assert cannot fail, or always does")
        if isinstance(node.msg, (ast.Compare, ast.BoolOp, ast.UnaryOp)):
            yield source.at(node, "the condition stands where the message belongs")


def holds(nodes: Iterable[ast.AST], *kinds: type[ast.AST]) -> bool:
    """Whether one of the kinds of node stands anywhere in these."""
    return any(isinstance(inner, kinds) for node in nodes for inner in ast.walk(node))


def swallowed_asserts(source: Source) -> Iterator[str]:
    """
    Asserts in a try with an except, which pass when nothing is raised or eat the failure.

    Where either outcome is right, each may be judged: every except, and the else.
    """
    for node in source.nodes:
        if not isinstance(node, (ast.Try, ast.TryStar)) or not node.handlers:
            continue
        branches = [*(handler.body for handler in node.handlers), node.orelse]
        is_judged = any(holds(branch, ast.Assert) for branch in branches)
        is_whole = all(holds(branch, ast.Assert, ast.Raise) for branch in branches)
        if holds(node.body, ast.Assert) or (is_judged and not is_whole):
            yield source.at(node, "an assert inside try and except; use pytest.raises")


def left_out(source: Source) -> Iterator[str]:
    """Tests that are taken out of the run, or may fail unnoticed."""
    for node in source.nodes:
        names = {name.rpartition(".")[2] for name in imported(node)}
        if isinstance(node, ast.Attribute):
            names = {node.attr}
        elif isinstance(node, ast.Name):
            names = {node.id}
        for name in sorted(names & LEFT_OUT):
            yield source.at(node, f"{name}: every test runs, everywhere")


JUDGES = (hollow_asserts, swallowed_asserts, left_out)


@pytest.mark.parametrize("judge", JUDGES)
def test_every_test_runs_and_can_fail(judge: object) -> None:
    """A green gate means that every promise was tried."""
    assert callable(judge)
    found = findings(judge, sources("tests", "demo_db", "salvage"))

    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "assert width, height == (3, 4)\n"),
        (1, "assert (width == 3, 'too wide')\n"),
        (1, "assert width == 3, height == 4 and depth == 5\n"),
        (1, "assert width == 3, not height\n"),
        (1, "assert 'width'\n"),
        (1, "assert True\n"),
        (0, "assert width == 3, f'{width} is wrong'\n"),
        (0, "assert (width, height) == (3, 4), say(width)\n"),
    ],
)
def test_a_hollow_assert_is_caught(count: int, text: str) -> None:
    """A comma in the wrong place does not turn a check into a wish."""
    assert faults_in(hollow_asserts, text) == count


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "try:\n    f()\nexcept E as e:\n    assert e.field == 'x'\n"),
        (1, "try:\n    assert f()\nexcept AssertionError:\n    pass\n"),
        (1, "try:\n    f()\nexcept* E:\n    assert x\n"),
        (1, "try:\n    f()\nexcept E:\n    pass\nelse:\n    if y:\n        assert x\n"),
        (1, "try:\n    f()\nexcept E:\n    assert x\nelse:\n    pass\n"),
        (1, "try:\n    f()\nexcept E:\n    assert x\nexcept F:\n    pass\nelse:\n    assert y\n"),
        (1, "try:\n    assert f()\nexcept E:\n    assert x\nelse:\n    assert y\n"),
        (0, "try:\n    f()\nexcept E:\n    assert x\nelse:\n    assert y\n"),
        (0, "try:\n    f()\nexcept E:\n    pass\n"),
        (0, "try:\n    assert f()\nfinally:\n    close()\n"),
        (0, "try:\n    f()\nexcept E:\n    pass\nassert x\n"),
        (0, "with pytest.raises(E) as caught:\n    f()\nassert caught.value.field == 'x'\n"),
    ],
)
def test_a_swallowed_assert_is_caught(count: int, text: str) -> None:
    """An error that never came must turn the test red."""
    assert faults_in(swallowed_asserts, text) == count


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "pytest.skip('no printer')\n"),
        (1, "@pytest.mark.skipif(True, reason='x')\ndef test_a(): ...\n"),
        (1, "@pytest.mark.xfail\ndef test_a(): ...\n"),
        (1, "pytestmark = [pytest.mark.skip]\n"),
        (1, "numpy = pytest.importorskip('numpy')\n"),
        (1, "from unittest import SkipTest\n"),
        (1, "collect_ignore = ['test_x.py']\n"),
        (0, "text = 'pytest.skip'\nskipped = 1\n"),
    ],
)
def test_a_test_left_out_is_caught(count: int, text: str) -> None:
    """Each way of leaving a test out is caught; a word in a text is not."""
    assert faults_in(left_out, text) == count
