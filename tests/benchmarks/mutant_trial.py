"""
Trying faults: one process for each, forked from one that has everything loaded.

A fault inside a function is put into the running program: the function's code is exchanged. A fault
in the module's own text (a table, a constant, a default) needs the module to be read anew, which is
done in a child that has not loaded the program yet, only the libraries that it uses.
"""

from __future__ import annotations

import ast
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import os
import resource
import shutil
import signal
import sys
import tempfile
import types
from collections.abc import Callable, Generator, Sequence
from pathlib import Path

import pytest

from tests.benchmarks.mutant_changes import Mutant, mutate

KILLED, SURVIVED, TIMED_OUT, UNSEEN = "killed", "survived", "timed out", "no test"
"""What may come of a fault; *no test* where no test runs its line."""

QUIET = ("-q", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning")
"""Options of pytest; its warning would be that a library is loaded already, which is meant."""

_LIBRARIES = (
    *("hypothesis", "numpy", "PIL.Image", "shapely", "sqlite_utils", "cryptography", "typer"),
    *("rich.console", "zipfile", "decimal", "xml.etree.ElementTree", "csv", "jinja2", "ezdxf"),
    *("cryptography.hazmat.primitives.asymmetric.ed25519", "svgelements", "defusedxml"),
)


def load_libraries() -> None:
    """Load what the program and its tests use, but nothing of them."""
    for name in _LIBRARIES:
        importlib.import_module(name)


def fork(work: Callable[[], bool], *, limit_s: int, scratch: Path) -> tuple[str, str]:
    """
    Do something in a child, which may fail in any way: what came of it, and which test failed.

    Args:
        work: Gives False where a test failed.
        limit_s: Processor seconds that it may take.
        scratch: Where the child may write; emptied afterwards.
    """
    scratch.mkdir(parents=True, exist_ok=True)
    child = os.fork()
    if child == 0:
        _be_a_child(work, limit_s, scratch)
    _, status = os.waitpid(child, 0)
    by = (scratch / _BY).read_text() if (scratch / _BY).exists() else ""
    shutil.rmtree(scratch, ignore_errors=True)
    if os.WIFSIGNALED(status):
        ended_by_time = os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGALRM, signal.SIGKILL)
        return (TIMED_OUT if ended_by_time else KILLED), by
    return (SURVIVED if os.WEXITSTATUS(status) == 0 else KILLED), by


_BY = "by"


def _be_a_child(work: Callable[[], bool], limit_s: int, scratch: Path) -> None:
    verdict = 1
    try:
        with open(os.devnull, "r+b", buffering=0) as nothing:
            for stream in (0, 1, 2):
                os.dup2(nothing.fileno(), stream)
        os.environ["TMPDIR"] = str(scratch)
        tempfile.tempdir = None
        resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s + 2))
        resource.setrlimit(resource.RLIMIT_AS, (4_000_000_000, 4_000_000_000))
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(6 * limit_s + 20)
        verdict = 0 if work() else 1
    finally:
        os._exit(verdict)


def compile_mutant(mutant: Mutant, source: str) -> types.CodeType:
    """The module's code with the fault; without one for a control, whose number is -1."""
    tree = mutate(source, mutant.number) if mutant.number >= 0 else ast.parse(source)
    return compile(tree, str(Path(mutant.file).resolve()), "exec")


def _code_of(code: types.CodeType, scope: str, line: int) -> types.CodeType | None:
    """The code of the function of a name that begins last before a line."""
    found = None
    for inner in code.co_consts:
        if not isinstance(inner, types.CodeType) or inner.co_firstlineno > line:
            continue
        if inner.co_qualname == scope:
            found = inner
        elif scope.startswith(inner.co_qualname + "."):
            found = _code_of(inner, scope, line) or found
    return found


def loaded_functions() -> dict[str, list[types.FunctionType]]:
    """The functions of the program that runs, wrapped ones too, by the files that they are from."""
    found: dict[str, list[types.FunctionType]] = {}
    for one in gc.get_objects():
        if isinstance(one, types.FunctionType):
            found.setdefault(one.__code__.co_filename, []).append(one)
    return found


def exchange(
    mutant: Mutant, source: str, loaded: dict[str, list[types.FunctionType]]
) -> Callable[[], None]:
    """
    What puts a fault inside a function into the program that runs.

    Raises:
        LookupError: If the function is not loaded.
    """
    path = str(Path(mutant.file).resolve())
    old = _code_of(compile(ast.parse(source), path, "exec"), mutant.scope, mutant.line)
    new = _code_of(compile_mutant(mutant, source), mutant.scope, mutant.line)
    functions = [one for one in loaded.get(path, ()) if one.__code__ == old]
    if old is None or new is None or not functions:
        raise LookupError(f"{mutant.file}: {mutant.scope} at line {mutant.line} is not loaded")

    def put() -> None:
        for one in functions:
            one.__code__ = new

    return put


class _Reader(importlib.abc.MetaPathFinder, importlib.abc.InspectLoader):
    """Gives one module's faulty code to whoever imports it."""

    def __init__(self, name: str, path: Path, code: types.CodeType) -> None:
        self._name, self._path, self._code = name, path, code

    def find_spec(
        self, name: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Where the module comes from, if it is the one."""
        if name != self._name:
            return None
        return importlib.util.spec_from_file_location(name, self._path, loader=self)

    def get_code(self, fullname: str) -> types.CodeType:
        """The faulty code."""
        return self._code

    def get_source(self, fullname: str) -> str:
        """The text as it was."""
        return self._path.read_text("utf-8")


def try_anew(
    mutant: Mutant, source: str, tests: Sequence[str], *, limit_s: int, scratch: Path
) -> tuple[str, str]:
    """What comes of a fault when the program is loaded with it; nothing of it may be loaded yet."""
    if any(name == "salvage" or name.startswith("salvage.") for name in sys.modules):
        raise RuntimeError("the program is loaded already")
    path = Path(mutant.file).resolve()
    name = mutant.file.removesuffix(".py").replace("/", ".")

    def work() -> bool:
        sys.meta_path.insert(0, _Reader(name, path, compile_mutant(mutant, source)))
        options = ["-x", f"--basetemp={scratch}/tests", *QUIET]
        return pytest.main([*options, *tests]) == pytest.ExitCode.OK

    return fork(work, limit_s=limit_s, scratch=scratch)


class Session:
    """
    A pytest plugin that gathers the tests and then does something else with them.

    Args:
        then: Called with the gathered tests by their names.
    """

    def __init__(self, then: Callable[[dict[str, pytest.Item]], None]) -> None:
        self._then = then

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of running them all."""
        self._then({item.nodeid: item for item in session.items})
        return True


def run_items(items: Sequence[pytest.Item], scratch: Path) -> bool:
    """Run gathered tests in this process, until one fails; True where none did."""
    from _pytest.runner import runtestprotocol

    factory = items[0].config._tmp_path_factory  # type: ignore[attr-defined]
    factory._basetemp = scratch / "tests"
    factory._basetemp.mkdir()
    for item, following in zip(items, [*items[1:], None], strict=True):
        reports = runtestprotocol(item, log=False, nextitem=following)
        if any(report.failed for report in reports):
            (scratch / _BY).write_text(item.nodeid)
            return False
    return True


def scratch_folders() -> Generator[Path, None, None]:
    """A fresh folder for each child, in memory where the system has such a place."""
    memory = Path("/dev/shm")
    top = Path(tempfile.mkdtemp(prefix="mutants-", dir=memory if memory.is_dir() else None))
    try:
        number = 0
        while True:
            number += 1
            yield top / str(number)
    finally:
        shutil.rmtree(top, ignore_errors=True)
