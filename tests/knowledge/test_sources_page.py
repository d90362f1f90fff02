"""The page of sources tells the truth about the data files."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from salvage.knowledge import table
from salvage.knowledge.source import CONFIDENCES
from salvage.knowledge.table import read_table

PAGE = Path(__file__).parents[2] / "docs" / "sources.md"
DATA = Path(table.__file__).parent / "data"


def test_the_page_counts_the_rows_as_they_are() -> None:
    """Who adds a fact, or finds a better source, mends the count on the page."""
    text = PAGE.read_text(encoding="utf-8")
    told = {
        match[1]: [int(count) for count in match[2].split("|")]
        for match in re.finditer(r"^\| (\w+\.csv) \| ([0-9 |]+) \|$", text, re.MULTILINE)
    }
    counted = {}
    for path in DATA.glob("*.csv"):
        words = Counter(row.get("confidence", "") for row in read_table(path.name))
        if "" not in words:
            counted[path.name] = [words.total(), *(words[word] for word in CONFIDENCES)]

    assert told == counted


def test_the_page_explains_every_confidence_word() -> None:
    """The words on the screen are explained, in order of strength."""
    text = PAGE.read_text(encoding="utf-8")
    explained = re.findall(r"^\| ([a-z-]+) \| [a-z]", text, re.MULTILINE)

    assert [word for word in explained if word in CONFIDENCES] == list(CONFIDENCES)
