"""
The work tree as the gates see it: its files, their syntax trees, and how to walk them.

A file counts when git tracks it or would track it, so that a fault is told before the commit.
"""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TypeAlias

ROOT = Path(__file__).resolve().parents[2]
"""Top folder of the work tree."""

Function: TypeAlias = ast.FunctionDef | ast.AsyncFunctionDef
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


@dataclass(frozen=True)
class Source:
    """
    One Python file.

    Args:
        path: From the top folder, with forward slashes.
        text: What the file holds.
    """

    path: str
    text: str

    @property
    def tree(self) -> ast.Module:
        """The syntax tree."""
        return _parse(self.text)

    @property
    def nodes(self) -> tuple[ast.AST, ...]:
        """All nodes of the syntax tree, level by level."""
        return _walk(self.text)

    def at(self, node: ast.AST, fault: str) -> str:
        """One finding: file, line and what is wrong there."""
        return f"{self.path}:{getattr(node, 'lineno', 1)}: {fault}"


@cache
def _parse(text: str) -> ast.Module:
    return ast.parse(text)


@cache
def _walk(text: str) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(_parse(text)))


@cache
def house_files() -> tuple[str, ...]:
    """Paths of all files that git tracks or would track, sorted."""
    # safe.directory: a clone that belongs to another user is still only read here.
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    command += ["--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return tuple(sorted({path for path in listed.split("\0") if (ROOT / path).is_file()}))


def sources(*tops: str) -> list[Source]:
    """The Python files under folders or files such as ``salvage/work``."""
    return [
        Source(path, (ROOT / path).read_text(encoding="utf-8"))
        for path in house_files()
        if path.endswith(".py") and any(path == top or path.startswith(f"{top}/") for top in tops)
    ]


def findings(judge: Callable[[Source], Iterator[str]], judged: list[Source]) -> list[str]:
    """Everything *judge* finds in the files; none to judge is a fault of the gate itself."""
    if not judged:
        return ["no file was judged"]
    return [fault for source in judged for fault in judge(source)]


def faults_in(judge: Callable[[Source], Iterator[str]], text: str, path: str = "x.py") -> int:
    """How many faults *judge* finds in a snippet."""
    return len(list(judge(Source(path, text))))


def runtime_nodes(node: ast.AST, *, into_functions: bool = True) -> Iterator[ast.AST]:
    """All nodes below *node* that run, so without blocks that only the type checker reads."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and dotted(child.test).endswith("TYPE_CHECKING"):
            for other in child.orelse:
                yield other
                yield from runtime_nodes(other, into_functions=into_functions)
        elif into_functions or not isinstance(child, (*FUNCTIONS, ast.Lambda)):
            yield child
            yield from runtime_nodes(child, into_functions=into_functions)


def imported(node: ast.AST) -> list[str]:
    """
    Full names that an import statement brings; empty for any other node.

    >>> imported(ast.parse("from os import path, sep").body[0])
    ['os.path', 'os.sep']
    """
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom) and node.module:
        return [f"{node.module}.{alias.name}" for alias in node.names]
    return []


def dotted(node: ast.AST) -> str:
    """
    A chain of names as text; anything else in the chain is a question mark.

    >>> dotted(ast.parse("datetime.date.today", mode="eval").body)
    'datetime.date.today'
    """
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return "?"


def is_one_of(name: str, wanted: frozenset[str]) -> bool:
    """
    Whether a dotted name is, ends in, or lies under one of *wanted*.

    >>> is_one_of("datetime.date.today", frozenset({"date.today"}))
    True
    """
    return any(f".{want}." in f".{name}." for want in wanted)
