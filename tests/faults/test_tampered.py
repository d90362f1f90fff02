"""Whoever changes the record behind the workshop's back is noticed, however they do it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from salvage.errors import StoreTrouble
from salvage.work.workshop import DATABASE_NAME, open_workshop
from tests.benchmarks.tamper import KINDS, is_noticed, make_template, tamper

COUNT = int(os.environ.get("SALVAGE_TAMPERS", "200"))
"""How many changes; the benchmark tries a thousand."""


def test_every_change_of_an_answer_is_noticed(tmp_path: Path) -> None:
    """Rows, events, hashes, tails and photos: what changes an answer turns a line red."""
    tally = tamper(tmp_path, count=COUNT, seed=20261125)

    assert tally.missed == []
    assert tally.tried == COUNT
    assert set(tally.noticed) == set(KINDS)


def test_an_untouched_workshop_is_green(tmp_path: Path) -> None:
    """The check does not cry wolf, or noticing would mean nothing."""
    make_template(tmp_path / "shop")

    assert not is_noticed(tmp_path / "shop")


def test_a_table_whose_definition_is_no_text_is_told_in_one_line(tmp_path: Path) -> None:
    """SQLite's complaint then holds bytes that are no text; the maker reads a sentence."""
    make_template(tmp_path)
    path = tmp_path / DATABASE_NAME
    data = path.read_bytes()
    data = data.replace(b"triggerevent_no_update", b"trigger\xd5vent_no_update", 1)
    path.write_bytes(data.replace(b"CREATE TRIGGER event_no", b"CREATE TRIGXER event_no", 1))

    with pytest.raises(StoreTrouble, match="it is damaged"):
        open_workshop(tmp_path, create=False)
