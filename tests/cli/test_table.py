"""Tables for people look the same whether they are set here or by the library that folds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.cli import table
from salvage.cli.table import table_lines

CELLS = st.text(alphabet="abcXYZ 019.-äß", max_size=8).map(lambda text: " ".join(text.split()))


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[str], list[list[str]]]:
    """Titles and rows of one width."""
    columns = draw(st.integers(1, 4))
    row = st.lists(CELLS, min_size=columns, max_size=columns)
    titles = draw(st.lists(CELLS.filter(bool), min_size=columns, max_size=columns))
    return titles, draw(st.lists(row, min_size=1, max_size=4))


@given(tables(), st.booleans())
def test_a_table_that_fits_looks_as_the_library_sets_it(
    told: tuple[list[str], list[list[str]]], has_color: bool
) -> None:
    """Whoever reads a list on a wide terminal sees no difference."""
    titles, rows = told

    found = table_lines(titles, rows, width=80, has_color=has_color)

    assert found == table._folded(titles, rows, width=80, has_color=has_color)


@pytest.mark.parametrize(("words", "width"), [("planetarium of the point", 20), ("潮の鐘", 80)])
def test_what_does_not_fit_is_folded(
    monkeypatch: pytest.MonkeyPatch, words: str, width: int
) -> None:
    """Long words on a narrow terminal, and characters two columns wide, are left to the library."""
    asked: list[int] = []
    monkeypatch.setattr(table, "_folded", lambda *_words, width, **_named: asked.append(width))

    table_lines(["code", "donor"], [["G", words]], width=width, has_color=False)

    assert asked == [width]
