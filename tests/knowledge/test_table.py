"""The data files: each row complete, each with a source, none from a forbidden place."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from salvage.knowledge import table
from salvage.knowledge.table import nearest_names, parse_list, read_table, source_of, tidy_name

DATA = Path(table.__file__).parent / "data"
NAMES = sorted(path.name for path in DATA.glob("*.csv"))
SOURCED = [name for name in NAMES if name != "board_types.csv"]


def test_the_data_files_are_those_we_know() -> None:
    """A file added or lost is noticed."""
    assert NAMES == [
        "age_rules.csv",
        "board_types.csv",
        "cautions.csv",
        "certificate_fields.csv",
        "form_factor_holes.csv",
        "form_factors.csv",
        "free_of.csv",
        "hazards.csv",
        "kerf.csv",
        "limits.csv",
        "mass_ranges.csv",
        "materials.csv",
        "product_rules.csv",
        "removal_list.csv",
        "sanitising.csv",
        "waste_kinds.csv",
    ]


@pytest.mark.parametrize("name", NAMES)
def test_no_row_has_too_many_or_too_few_fields(name: str) -> None:
    """A stray comma in a data file does not shift a caution into another column."""
    for row in read_table(name):
        assert None not in row
        assert None not in row.values()
        assert all(value == value.strip() for value in row.values())


@pytest.mark.parametrize("name", NAMES)
def test_a_data_file_starts_by_saying_what_it_is(name: str) -> None:
    """Who opens the file reads first what it holds and how it is kept."""
    assert (DATA / name).read_text(encoding="utf-8").startswith("# ")


@pytest.mark.parametrize("name", SOURCED)
def test_every_row_has_a_source_and_a_known_confidence(name: str) -> None:
    """No fact without its source; an unknown confidence word is refused while reading."""
    sources = [source_of(row) for row in read_table(name)]

    assert sources
    assert all(len(source.text) > 5 for source in sources)


@pytest.mark.parametrize("name", SOURCED)
def test_what_says_memory_is_marked_as_memory(name: str) -> None:
    """A row whose source text admits memory does not claim to have been read."""
    for row in read_table(name):
        source = source_of(row)
        if "from memory" in source.text:
            assert source.confidence == "memory"
        if source.text == "common practice, no source":
            assert source.confidence == "common-practice"


@pytest.mark.parametrize("name", [name for name in NAMES if name != "form_factor_holes.csv"])
def test_no_name_stands_twice(name: str) -> None:
    """Two rows never answer to one name."""
    slugs = [row["slug"] for row in read_table(name)]

    assert len(set(slugs)) == len(slugs)
    assert all(tidy_name(slug) == slug.replace("-", "") for slug in slugs)


def test_names_are_compared_without_case_and_marks() -> None:
    """Micro-ATX, micro atx and MICROATX are one name."""
    assert tidy_name("Micro-ATX") == tidy_name("micro atx") == "microatx"
    assert parse_list(" psu;; charger ") == ("psu", "charger")


def test_a_mistyped_name_is_answered_with_near_ones() -> None:
    """A beginning counts first, then what looks alike; nothing alike gives nothing."""
    known = ["coin-cell", "clock-battery", "lead-acid", "leaded-solder"]

    assert nearest_names("lead", known)[:2] == ["lead-acid", "leaded-solder"]
    assert nearest_names("kloin cel", known) == ["coin-cell"]
    assert nearest_names("zzz", known) == []


def test_importing_the_room_reads_no_file_and_loads_no_csv() -> None:
    """Starting the program stays cheap: data is read when first asked for."""
    rooms = ", ".join(
        f"salvage.knowledge.{path.stem}" for path in sorted(DATA.parent.glob("[a-z]*.py"))
    )
    probe = (
        "import sys; before = set(sys.modules)\n"
        f"import {rooms}\n"
        "print(sorted({'csv', 'difflib', 'importlib.resources'} & (set(sys.modules) - before)))"
    )
    printed = subprocess.run(
        [sys.executable, "-c", probe], check=True, capture_output=True, text=True
    ).stdout

    assert printed == "[]\n"


@pytest.mark.parametrize("name", SOURCED)
def test_what_was_read_says_when(name: str) -> None:
    """A reading has its month or day; what nobody read has none."""
    for row in read_table(name):
        for prefix in ("", "practice_"):
            if f"{prefix}confidence" in row:
                was_read = row[f"{prefix}confidence"].startswith("read-")

                assert bool(row[f"{prefix}read_on"]) == was_read, row
