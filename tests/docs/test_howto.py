"""Every command in the documents is read by the parser, and those of the howtos are run."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from salvage.ids import parse_code
from tests.docs.pages import DOCS
from tests.docs.readers import HOWTO, blocks_of, inline_of, lay_out, misread, run_page
from tests.docs.walk import PAGES as WALKED

_STOCK = tuple(
    f"cut BC0003H --shape circle --width 14 --at {x},{y}"
    for y in (45, 65)
    for x in (15, 35, 55, 75, 95)
)
_FOR_SALE = ("piece price PC0001D PC0002B 24", "piece stage PC0001D PC0002B ready")

# What a page takes for granted beyond the reader's usual workshop.
BEFORE: dict[str, tuple[str, ...]] = {
    "add-a-card-design.md": _FOR_SALE,
    "add-a-hazard.md": (),
    "add-a-shape.md": (),
    "assemble-an-article.md": (),
    "backup-and-move.md": (),
    "call-back.md": (
        *_FOR_SALE,
        "piece sell PC0001D --venue 'Quay Market'",
        "recall open PC0001D --reason 'the ring may break'",
    ),
    "cards-and-tags.md": (
        *_FOR_SALE,
        "outing plan 'Lantern Fair' 2026-11-28",
        "outing pack lantern --ready",
    ),
    "certify-data.md": ("setup contact='Quay Street 4'",),
    "day-at-the-fair.md": (
        *_STOCK,
        "piece price PIECES 24",
        "piece stage PIECES ready",
    ),
    "find-a-board.md": (
        "board clear BC0002J --absent all-open --how lamp",
        "reserve BC0002J --shape circle --width 20 --at 20,20 --for 'order 9'",
    ),
    "lead-and-children.md": ("material add finding 'ear hook'",),
    "measure-from-a-photo.md": (),
    "note-what-went-in.md": (),
    "papers.md": (),
    "publish-dossiers.md": (),
    "quote-and-hand-over.md": (),
    "several-workshops.md": (),
    "the-bench-page.md": (),
    "the-phone-at-the-bench.md": (),
    "tools.md": (),
    "verify-a-story-card.md": (),
    "waste.md": (),
    "work-on-two-devices.md": (),
}

# What a page shows although it is refused where it is typed: the page says so, or it is for another
# computer, or it waits for a photo that only a reader has.
REFUSED: dict[tuple[str, str], str] = {
    ("certify-data.md", "dropoff close"): "has open data-bearing parts: 1",
    ("day-at-the-fair.md", "outing close"): "are neither sold nor home",
    ("day-at-the-fair.md", "device merge"): "was written on this device",
    ("lead-and-children.md", "gate audience"): "it lacks evidence",
    ("papers.md", "wording set"): "is so already",
    ("work-on-two-devices.md", "device start"): "there is a workshop in",
    ("work-on-two-devices.md", "device settle"): "there is no clash",
    ("measure-from-a-photo.md", "measure"): "one.jpg is not there",
}

PAGES = tuple(sorted([DOCS.parent / "README.md", *DOCS.rglob("*.md")]))


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workshop and the files of every reader."""
    folder = tmp_path_factory.mktemp("table")
    lay_out(folder)
    return folder


def test_every_howto_has_its_reader() -> None:
    """A new page is typed as well, or it is walked through with its output."""
    walked = {page.name for page in WALKED if page.parent == HOWTO}

    assert set(BEFORE) | walked == {page.name for page in HOWTO.glob("*.md")}
    assert {name for name, _ in REFUSED} <= set(BEFORE)


@pytest.mark.parametrize("name", BEFORE)
def test_the_commands_of_a_howto_do_what_the_page_says(
    name: str, table: Path, tmp_path: Path
) -> None:
    """Who types a page from top to bottom is refused nowhere but where the page says so."""
    folder = tmp_path / "reader"
    shutil.copytree(table, folder)
    refused = {start: says for (page, start), says in REFUSED.items() if page == name}
    wrong = []
    seen = set()
    for line, told in run_page(name, folder, BEFORE[name]):
        if told.code == 0:
            continue
        starts = [start for start in refused if line.startswith(f"salvage {start}")]
        if starts and refused[starts[0]] in told.err:
            seen.add(starts[0])
        else:
            wrong.append((line, told.err))

    assert wrong == []
    assert seen == set(refused)  # nothing is excused that went well


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_command_of_a_page_is_read_by_the_parser(page: Path) -> None:
    """No option on a page is one that the program has not, in a block or in a sentence."""
    text = page.read_text(encoding="utf-8")
    wrong = [(line, misread(line)) for line in (*blocks_of(text), *inline_of(text))]

    assert [(line, why) for line, why in wrong if why] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_codes_on_a_page_are_codes(page: Path) -> None:
    """Who types a code from a page is not told that it is mistyped."""
    found = re.findall(r"\b[A-Z]C[0-9]{4}[A-Z]\b", page.read_text(encoding="utf-8"))

    assert [parse_code(code) for code in found] == found


def test_a_misread_command_is_noticed() -> None:
    """The check above would see a strange command and a strange option."""
    wrong = [
        "salvage bord list",
        "salvage shape add tern tern.svg --wide 3",
        "salvage card --shiny",
    ]

    assert [line for line in wrong if not misread(line)] == []
    assert not misread("salvage --shop x board list --json")
