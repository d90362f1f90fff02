"""What the pages name as a proof can be found, and run."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.docs.pages import DOCS

TOP = DOCS.parent
A_FILE = re.compile(r"`(?:pytest )?(tests/[\w/.-]+)`")
A_COMMAND = re.compile(r"python -m (tests\.[\w.]+)")


def _pages() -> list[Path]:
    return [TOP / "README.md", TOP / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]


@pytest.mark.parametrize("page", _pages(), ids=lambda page: page.name)
def test_every_proof_that_a_page_names_is_there(page: Path) -> None:
    """A test that was renamed is renamed on the page that promises by it, too."""
    text = page.read_text(encoding="utf-8")
    files = [name for name in A_FILE.findall(text) if not (TOP / name).exists()]
    commands = [name for name in A_COMMAND.findall(text) if find_spec(name.rstrip(".")) is None]

    assert files + commands == []


def test_the_promises_name_proofs() -> None:
    """The page of promises is not empty of them."""
    text = (DOCS / "promises.md").read_text(encoding="utf-8")

    assert len(set(A_FILE.findall(text))) > 20
