"""What the journal's page tells an inspector to run."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from salvage.work.workshop import Workshop
from tests.bench import add_drop_off
from tests.docs.pages import DOCS


def _inspect(shop: Workshop) -> subprocess.CompletedProcess[str]:
    page = (DOCS / "explanation" / "journal.md").read_text(encoding="utf-8")
    (lines,) = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    return subprocess.run(
        [sys.executable, "-I", "-c", lines],
        cwd=shop.folder,
        env={"PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )


def test_an_inspector_checks_the_chain_without_our_program(empty_shop: Workshop) -> None:
    """The lines on the page run on nothing but Python and the database."""
    add_drop_off(empty_shop)
    result = _inspect(empty_shop)

    assert (result.returncode, result.stderr) == (0, "")


@pytest.mark.parametrize("letter", ["14 boards", "planetarium"])
def test_the_inspector_sees_an_altered_journal(empty_shop: Workshop, letter: str) -> None:
    """One altered word in an old event makes the lines on the page fail."""
    add_drop_off(empty_shop)
    empty_shop.conn.execute("DROP TRIGGER event_no_update")
    empty_shop.conn.execute(
        "UPDATE event SET body = replace(body, ?, ?)", (letter, letter.swapcase() + "!")
    )
    result = _inspect(empty_shop)

    assert result.returncode == 1
    assert "the journal was altered" in result.stderr
