"""Unforeseen errors are caught in one file per face, and nowhere else."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.tree import Source, dotted, faults_in, findings, sources

ANYTHING = frozenset({"Exception", "BaseException"})


def names_in(node: ast.AST | None) -> set[str]:
    """Names of the error types in an except clause or a call; a bare clause is everything."""
    if node is None:
        return {"BaseException"}
    parts = node.elts if isinstance(node, ast.Tuple) else [node]
    return {dotted(part).removeprefix("builtins.") for part in parts}


def undoes_and_passes_on(node: ast.AST) -> bool:
    """Whether a clause for everything only undoes a half-done step and lets the error go on."""
    if not isinstance(node, ast.ExceptHandler) or names_in(node.type) != {"BaseException"}:
        return False
    last = node.body[-1]
    leaves = any(isinstance(inner, ast.Return) for inner in ast.walk(node))
    return isinstance(last, ast.Raise) and last.exc is None and not leaves


def wide_catches(source: Source) -> Iterator[str]:
    """Clauses that catch errors nobody thought of."""
    if source.path.rpartition("/")[2] == "failures.py":
        return
    for node in source.nodes:
        caught: set[str] = set()
        if isinstance(node, ast.ExceptHandler):
            caught = names_in(node.type)
        elif isinstance(node, ast.Call) and dotted(node.func).endswith("suppress"):
            caught = {name for argument in node.args for name in names_in(argument)}
        if caught & ANYTHING and not undoes_and_passes_on(node):
            yield source.at(node, "catches errors that nobody thought of; name them")


def test_only_known_errors_are_caught() -> None:
    """A fault in the program is seen at once, not stored away with the boards."""
    found = findings(wide_catches, sources("salvage", "demo_db", "tests"))

    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    ("count", "clause"),
    [
        (1, "except:"),
        (1, "except Exception:"),
        (1, "except BaseException as error:"),
        (1, "except (OSError, Exception):"),
        (1, "except builtins.Exception:"),
        (0, "except OSError:"),
        (0, "except (OSError, ValueError) as error:"),
    ],
)
def test_a_wide_clause_is_caught(count: int, clause: str) -> None:
    """Every spelling of 'whatever it was' is caught, save in the file made for it."""
    text = f"try:\n    f()\n{clause}\n    pass\n"

    assert faults_in(wide_catches, text) == count
    assert faults_in(wide_catches, text, "salvage/cli/failures.py") == 0


def test_wide_suppression_is_caught() -> None:
    """Suppressing everything is catching everything."""
    assert faults_in(wide_catches, "with contextlib.suppress(Exception): f()\n") == 1
    assert faults_in(wide_catches, "with contextlib.suppress(OSError): f()\n") == 0


def test_undoing_a_step_is_no_catch() -> None:
    """A step that stopped half way may be undone, if the error then goes on as it was."""
    text = "try:\n    f()\nexcept BaseException:\n    undo()\n"

    assert faults_in(wide_catches, text + "    raise\n") == 0
    assert faults_in(wide_catches, text) == 1
    assert faults_in(wide_catches, text + "    raise Refused('x')\n") == 1
    assert faults_in(wide_catches, text + "    if x:\n        return\n    raise\n") == 1
