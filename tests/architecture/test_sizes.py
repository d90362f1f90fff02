"""Files, functions and parameter lists stay small enough to be read at one sitting."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.tree import (
    FUNCTIONS,
    ROOT,
    Function,
    Source,
    dotted,
    faults_in,
    findings,
    house_files,
    sources,
)

FILE_LINES = 400
FUNCTION_LINES = 50
PARAMETERS = 7
# Each option of a command is a parameter of its function.
COMMAND_PARAMETERS = 20

# Data, prose and licences are as long as they are.
CODE_ENDINGS = (".py", ".sql", ".typ", ".html", ".css", ".js", ".sh", "tests/all", ".ci/run")


def is_command(source: Source, function: Function) -> bool:
    """Whether the function is a command, or the options before one, of the command line."""
    called = [node for node in function.decorator_list if isinstance(node, ast.Call)]
    names = {dotted(node.func).rpartition(".")[2] for node in called}
    return source.path.startswith("salvage/cli/") and bool(names & {"command", "callback"})


def count_parameters(function: Function, *, is_method: bool) -> int:
    """Parameters of every sort, without the object or class that a method belongs to."""
    arguments = function.args
    count = len(arguments.posonlyargs) + len(arguments.args) + len(arguments.kwonlyargs)
    count += (arguments.vararg is not None) + (arguments.kwarg is not None)
    is_static = any(dotted(node) == "staticmethod" for node in function.decorator_list)
    return count - (is_method and not is_static)


def oversized(source: Source) -> Iterator[str]:
    """Functions that are too long or take too much."""
    methods = {
        inner for node in source.nodes if isinstance(node, ast.ClassDef) for inner in node.body
    }
    for node in source.nodes:
        if not isinstance(node, FUNCTIONS):
            continue
        lines = (node.end_lineno or node.lineno) - node.lineno + 1
        if lines > FUNCTION_LINES:
            yield source.at(node, f"{node.name} has {lines} lines, over {FUNCTION_LINES}")
        most = COMMAND_PARAMETERS if is_command(source, node) else PARAMETERS
        count = count_parameters(node, is_method=node in methods)
        if count > most:
            yield source.at(node, f"{node.name} takes {count} parameters, over {most}")


def overlong(path: str, text: str) -> list[str]:
    """The finding for a file that is too long, or none."""
    lines = len(text.splitlines())
    return [f"{path} has {lines} lines, over {FILE_LINES}"] if lines > FILE_LINES else []


def test_functions_stay_small() -> None:
    """Whoever opens a function at the bench sees all of it on one screen."""
    found = findings(oversized, sources("salvage", "demo_db", "tests"))

    assert found == [], "\n".join(found)


def test_files_stay_small() -> None:
    """A file holds one idea; a long one holds two."""
    code = [path for path in house_files() if path.endswith(CODE_ENDINGS)]

    found = [
        fault
        for path in code
        for fault in overlong(path, (ROOT / path).read_text(encoding="utf-8"))
    ]

    assert "tests/all" in code
    assert found == [], "\n".join(found)


def test_a_long_file_is_caught() -> None:
    """The four hundred and first line is one too many."""
    assert overlong("x.py", "x = 1\n" * 400) == []
    assert overlong("x.py", "x = 1\n" * 401) == ["x.py has 401 lines, over 400"]


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (0, "def f():\n" + "    x = 1\n" * 49),
        (1, "def f():\n" + "    x = 1\n" * 50),
        (1, "class A:\n    async def f(self):\n" + "        x = 1\n" * 50),
        (0, "def f(a, b, c, d, e, f, g): ...\n"),
        (1, "def f(a, b, c, d, e, f, g, h): ...\n"),
        (1, "def f(a, /, b, *, c, d, e, f, g, h): ...\n"),
        (1, "def f(a, b, c, d, e, f, *g, **h): ...\n"),
        (0, "class A:\n    def f(self, a, b, c, d, e, f, g): ...\n"),
        (1, "class A:\n    @staticmethod\n    def f(a, b, c, d, e, f, g, h): ...\n"),
    ],
)
def test_a_large_function_is_caught(count: int, text: str) -> None:
    """Fifty lines and seven parameters pass, one more does not, however it is written."""
    assert faults_in(oversized, text) == count


def test_commands_may_have_more_options() -> None:
    """A command of the command line may take twenty options; its neighbours may not."""
    many = ", ".join(f"a{number}" for number in range(20))
    command = f"@app.command('add')\ndef add({many}): ...\n"

    assert faults_in(oversized, command, "salvage/cli/board.py") == 0
    assert faults_in(oversized, command, "salvage/work/board.py") == 1
    assert faults_in(oversized, command.replace("a0", "a0, z"), "salvage/cli/board.py") == 1
    assert faults_in(oversized, f"def add({many}): ...\n", "salvage/cli/board.py") == 1
