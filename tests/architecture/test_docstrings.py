"""Every public thing says in its first line what it gives."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from typing import TypeAlias

import pytest

from tests.architecture.tree import (
    FUNCTIONS,
    Source,
    dotted,
    faults_in,
    findings,
    sources,
)

Definition: TypeAlias = ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef

# The first form of an overload, and the writing half of a property, are described by the other.
TOLD_ELSEWHERE = ("overload", ".setter", ".deleter")


def public_definitions(node: ast.AST) -> Iterator[Definition]:
    """Public classes, functions and methods; what stands inside a function is private to it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, (ast.ClassDef, *FUNCTIONS)):
            yield from public_definitions(child)
        elif not child.name.startswith("_"):
            yield child
            if isinstance(child, ast.ClassDef):
                yield from public_definitions(child)


def fault_of(docstring: str | None) -> str:
    """What is wrong with a docstring; empty if nothing."""
    first, *_ = (docstring or "").strip().splitlines() or [""]
    if not first:
        return "has no docstring"
    if not first.endswith(".") or " " not in first:
        return f"its first line is no sentence with a full stop: {first!r}"
    return ""


def undescribed(source: Source) -> Iterator[str]:
    """Public modules, classes, functions and methods without a sentence."""
    if fault := fault_of(ast.get_docstring(source.tree)):
        yield source.at(source.tree, fault)
    for node in public_definitions(source.tree):
        decorators = [dotted(decorator) for decorator in node.decorator_list]
        if any(name.endswith(TOLD_ELSEWHERE) for name in decorators):
            continue
        if fault := fault_of(ast.get_docstring(node)):
            yield source.at(node, f"{node.name}: {fault}")


def undescribed_tests(source: Source) -> Iterator[str]:
    """Tests without a sentence about the workshop."""
    for node in source.nodes:
        if not isinstance(node, FUNCTIONS) or not node.name.startswith("test"):
            continue
        if fault := fault_of(ast.get_docstring(node)):
            yield source.at(node, f"{node.name}: {fault}")


def test_everything_public_is_described() -> None:
    """Whoever asks what a function gives is answered in its first line."""
    found = findings(undescribed, sources("salvage", "demo_db"))

    assert found == [], "\n".join(found)


def test_every_test_is_a_sentence() -> None:
    """A red test tells in plain words which promise to the workshop is broken."""
    found = findings(undescribed_tests, sources("tests"))

    assert found == [], "\n".join(found)


GOOD = '"""The board, told."""\n'


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (0, GOOD),
        (0, '"""\nThe board, told.\n\nMore.\n"""\n'),
        (1, "x = 1\n"),
        (1, '"""The board, told"""\n'),
        (1, '"""Board."""\n'),
        (1, GOOD + "def f(): ...\n"),
        (0, GOOD + "def _f(): ...\n"),
        (1, GOOD + "async def f():\n    '''No stop'''\n"),
        (2, GOOD + "class A:\n    def f(self): ...\n"),
        (0, GOOD + "class _A:\n    def f(self): ...\n"),
        (0, GOOD + "class _A:\n    def __init__(self): ...\n"),
        (1, GOOD + "if x:\n    def f(): ...\n"),
        (0, GOOD + "@overload\ndef f(): ...\n"),
    ],
)
def test_a_missing_sentence_is_caught(count: int, text: str) -> None:
    """What is public and undescribed is caught; what is private may keep silent."""
    assert faults_in(undescribed, text) == count


def test_a_test_without_a_sentence_is_caught() -> None:
    """A test must say what it promises, also inside a class."""
    text = "class TestA:\n    def test_a(self): ...\n    def lay(self): ...\n"

    assert faults_in(undescribed_tests, text) == 1
