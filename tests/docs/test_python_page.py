"""The reference of the Python interface: its example runs, and nothing in it is left unsaid."""

from __future__ import annotations

import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

from salvage.work.catalogue import OPERATIONS
from salvage.work.operation import Operation
from tests.docs.pages import DOCS
from tests.docs.python_page import SAME_EVERYWHERE, Doc, arguments, signature

PAGE = DOCS / "reference" / "python.md"


def test_the_example_runs_as_it_stands(tmp_path: Path) -> None:
    """A script of somebody who reads only this page logs a drop-off, and is told a mistake."""
    (code,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    lines = done.stdout.splitlines()

    assert re.fullmatch(r"D[A-Z][0-9]{4}[A-Z] 2026-05-02", lines[0])
    assert any("-> board add D" in line for line in lines)
    assert lines[-1] == "say what arrived"


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)
def test_every_argument_is_explained(operation: Operation) -> None:
    """Whoever calls an operation reads what each value means, not only its type."""
    doc = Doc(operation.function.__doc__ or "")
    silent = [name for name, words in arguments(operation.function) if not words]

    assert doc.words.endswith((".", ":"))
    assert [name for name in silent if f"*{name}*" not in doc.words] == []


def test_no_word_is_kept_that_nobody_takes() -> None:
    """The words that mean the same everywhere are taken somewhere."""
    taken = {name for one in OPERATIONS for name in inspect.signature(one.function).parameters}

    assert set(SAME_EVERYWHERE) <= taken


def test_a_signature_is_broken_where_it_is_long() -> None:
    """One line where it fits, one for each value where it does not."""
    (short,) = [signature(one.function) for one in OPERATIONS if one.name == "what_next"]
    (long,) = [signature(one.function) for one in OPERATIONS if one.name == "log_drop_off"]

    assert short == "what_next(shop: Workshop) -> WhatNext"
    assert long.splitlines()[1:4] == [
        "    shop: Workshop,",
        "    *,",
        "    donor: Code | NewDonor,",
    ]
