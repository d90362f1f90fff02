"""Codes offered by the tab key."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from salvage.cli.options import completer
from salvage.cli.session import Session
from salvage.cli.world import system_world
from tests.desk import Desk, cut_piece


@dataclass
class Shell:
    """A context as the shell's completion makes it: it knows the session, and nothing else."""

    session: Session

    def find_object(self, kind: type) -> Any:
        """The session, whatever kind is asked for."""
        assert kind is Session
        return self.session


def complete(folder: Path, kinds: str, typed: str) -> list[str]:
    """What is offered for *typed* on the workshop in *folder*."""
    session = Session(system_world(), lambda words, place: 0, shop=str(folder))
    context: Any = Shell(session)
    return completer(kinds)(context, typed)


@pytest.fixture
def piece(tmp_path: Path) -> str:
    """The only piece of the workshop."""
    return cut_piece(Desk(tmp_path))


def test_codes_of_the_kind_are_offered(tmp_path: Path, piece: str) -> None:
    """Where a piece is wanted, pieces are offered, and no board."""
    assert complete(tmp_path / "shop", "P", "") == [piece]
    assert complete(tmp_path / "shop", "P", piece[:3]) == [piece]
    assert complete(tmp_path / "shop", "P", "B") == []
    assert len(complete(tmp_path / "shop", "BP", "")) == 2


def test_the_case_as_typed_is_kept(tmp_path: Path, piece: str) -> None:
    """The shell replaces only what follows, so the beginning stays as it was typed."""
    assert complete(tmp_path / "shop", "P", piece[:2].lower()) == [piece[:2].lower() + piece[2:]]


def test_trouble_stays_silent(tmp_path: Path) -> None:
    """Where there is no workshop, or no database of ours, nothing is offered and nothing said."""
    (tmp_path / "odd").mkdir()
    (tmp_path / "odd" / "workshop.db").write_text("no database", encoding="utf-8")

    assert complete(tmp_path / "nowhere", "P", "P") == []
    assert complete(tmp_path / "odd", "P", "P") == []
    assert not (tmp_path / "nowhere").exists()
