"""The cache: quick where it can be kept, out of the way where it cannot."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from salvage.store.cache import Cache


def test_what_is_kept_is_good_for_its_state_alone(tmp_path: Path) -> None:
    """Once a board has changed, what was worked out for it before is not used."""
    cache = Cache(tmp_path / "cache.db")
    cache.save_all("fit", [("BC0002J", "s1", b"one"), ("BC0003G", "s1", b"two")])
    cache.save_all("look", [("BC0002J", "s1", b"other")])
    cache.save_all("fit", [("BC0002J", "s2", b"three")])

    assert cache.load("BC0002J", "fit", state="s2") == b"three"
    assert cache.load("BC0002J", "fit", state="s1") is None
    assert cache.load("BC0002J", "look", state="s1") == b"other"
    assert cache.load("PC0001D", "fit", state="s1") is None
    assert cache.load_all("fit") == {"BC0002J": ("s2", b"three"), "BC0003G": ("s1", b"two")}


@pytest.mark.parametrize("harm", ["not a database " * 90, "folder"])
def test_a_cache_that_cannot_be_used_is_only_slower(tmp_path: Path, harm: str) -> None:
    """Damaged, or no file at all: nothing is kept and nothing fails."""
    path = tmp_path / "cache.db"
    if harm == "folder":
        path.mkdir()
    else:
        path.write_text(harm)
    cache = Cache(path)
    cache.save_all("fit", [("BC0002J", "s1", b"one")])

    assert cache.load("BC0002J", "fit", state="s1") is None
    assert cache.load_all("fit") == {}


def test_what_fails_half_way_is_not_kept(tmp_path: Path) -> None:
    """A row that the cache refuses takes the others of its batch along."""
    cache = Cache(tmp_path / "cache.db")
    nothing: bytes = None  # type: ignore[assignment]
    cache.save_all("fit", [("BC0002J", "s1", b"one"), ("BC0003G", "s1", nothing)])

    assert cache.load_all("fit") == {}


def test_a_writer_does_not_wait_long_for_the_cache(tmp_path: Path) -> None:
    """Where another holds it, the work goes on without it."""
    cache = Cache(tmp_path / "cache.db")
    cache.save_all("fit", [("BC0002J", "s1", b"one")])
    other = sqlite3.connect(tmp_path / "cache.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    cache.save_all("fit", [("BC0002J", "s2", b"two")])
    other.execute("ROLLBACK")
    other.close()

    assert cache.load("BC0002J", "fit", state="s1") == b"one"
