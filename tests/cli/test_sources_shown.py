"""
Every screen and document that uses a row of the base shows that row's source.

The first test finds every file that reads the base, so that a new screen is named here or fails;
the others play the screens and look for the sources of the rows that they use.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

import salvage
from salvage.knowledge.cautions import card_cautions, cautions_for, closing_line
from salvage.knowledge.form_factors import find_form_factor, form_factors
from salvage.knowledge.hazards import all_hazards, find_hazard, hazards_expected
from salvage.knowledge.lead import lead_caution
from salvage.knowledge.limits import limits
from salvage.knowledge.materials import find_material_fact, kerfs_for, material_facts
from salvage.knowledge.removal import free_of_list, removal_list
from salvage.knowledge.source import Source
from salvage.records.choices import LEAD_STATUSES
from salvage.work.dust import bench_cautions
from salvage.work.workshop import open_workshop
from tests.bench import START
from tests.desk import Desk, add_cleared_board, add_drop_off
from tests.paper import printed

ROOT = Path(salvage.__file__).parent
HERE = Path(__file__)

TESTED_HERE = {
    "cli/alert.py": "board types only, no fact",
    "cli/board_marks.py": "lead",
    "cli/board_safety.py": "free of",
    "cli/board_words.py": "board show, date codes",
    "cli/clear.py": "checklist",
    "cli/correct.py": "board types only, no fact",
    "cli/cut.py": "kerf",
    "cli/cutting_view.py": "scan",
    "cli/facts.py": "limits, materials, removal, capacitor, date, dust",
    "cli/hazard_words.py": "checklist",
    "cli/knowledge.py": "hazards, formats",
    "cli/measured_view.py": "see tests/cli/test_measure.py",
    "cli/new_board.py": "board types and words for lead, no fact",
    "cli/records.py": "the words of a source themselves",
    "records/recalls.py": "named in a comment",
    "web/dropoff.py": "board types only, no fact",
    "work/clear.py": "checklist",
    "work/cutting.py": "kerf",
    "work/dust.py": "bench, setup sheet, dust",
    "work/expecting.py": "checklist, the reason of each check",
    "work/first_outline.py": "board show, outline",
    "work/form_match.py": "see tests/cli/test_measure.py",
    "work/free_of.py": "free of",
    "work/own_facts.py": "see tests/work/test_own_facts.py",
    "work/own_rows.py": "see tests/work/test_own_facts.py",
    "work/recall_causes.py": "the name of a hazard only, no fact",
    "work/wishes.py": "board types only, no fact",
    "work/card_words.py": "a date code is read; no figure of the base",
    "work/papers.py": "no figure of the base, see the test of the card",
}
"""Files that read the base, by the screen that shows what they use."""

TESTED_BY_THEIR_OWN = {
    "cli/assay_typed.py",
    "cli/board_lead.py",
    "cli/custody_sanitise.py",
    "cli/dropoff.py",
    "cli/duties.py",
    "cli/gate.py",
    "cli/waste.py",
    "web/board_deeds.py",
    "work/assays.py",
    "work/balance.py",
    "work/card_claims.py",
    "work/certificate.py",
    "work/duties.py",
    "work/gate.py",
    "work/gate_steps.py",
    "work/dossier_facts.py",
    "work/impact.py",
    "work/recall_papers.py",
    "work/reports.py",
    "work/mass_lines.py",
    "work/sanitising.py",
    "work/settings.py",
    "work/touchable.py",
    "work/waste.py",
}
"""Files of custody, waste, tests and the gate, whose screens have such tests beside their own."""


def test_no_file_reads_the_base_unnoticed() -> None:
    """Who adds a screen with a fact names it here, and shows its source."""
    readers = {
        str(path.relative_to(ROOT))
        for path in ROOT.rglob("*.py")
        if "knowledge" not in path.parts[len(ROOT.parts) :]
        and re.search(r"salvage\.knowledge", path.read_text(encoding="utf-8"))
    }

    assert readers - TESTED_HERE.keys() - TESTED_BY_THEIR_OWN == set()


def squeezed(text: str) -> str:
    """Text without blanks, marks of cautions and line ends, since screens wrap."""
    return re.sub(r"\s+", "", text)


def missing(text: str, sources: Iterable[Source]) -> list[str]:
    """Sources that a screen does not show."""
    told = squeezed(text)
    return [source.text for source in sources if squeezed(source.words) not in told]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A workshop with a reserved place on a cleared board, and a board that is held."""
    found = Desk(tmp_path_factory.mktemp("shop"), width=100)
    board = add_cleared_board(found)
    found.do(f"reserve {board} --shape circle --width 20 --at 30,40 --for 'order 7'")
    found.code(f"board add {add_drop_off(found)} --type network-board --form mini-itx")
    return found


def _cleared(desk: Desk) -> str:
    return desk.do("board list --state cleared --plain").first


def _held(desk: Desk) -> str:
    return desk.do("board list --state held --plain").first


def _cautions(topic: str) -> list[Source]:
    return [one.source for one in cautions_for(topic) if one != closing_line()]


def _exposure() -> list[Source]:
    return [one.source for one in limits(topic="exposure") if one.state_on(START.date())]


def _network_board() -> list[Source]:
    rows = hazards_expected("network-board")
    return [source for row in rows for source in (row.source, row.practice)]


SCREENS: dict[str, tuple[Callable[[Desk], str], Callable[[], list[Source]]]] = {
    "hazards": (
        lambda desk: "hazards",
        lambda: [source for row in all_hazards() for source in (row.source, row.practice)],
    ),
    "formats": (lambda desk: "formats", lambda: [form.source for form in form_factors()]),
    "limits": (lambda desk: "facts limits", lambda: [limit.source for limit in limits()]),
    "materials": (lambda desk: "facts materials", lambda: [f.source for f in material_facts()]),
    "removal": (lambda desk: "facts removal", lambda: [item.source for item in removal_list()]),
    "capacitor": (
        lambda desk: "facts capacitor --height 20 --diameter 10",
        lambda: [find_hazard("large-capacitor").source],
    ),
    "oil capacitor": (
        lambda desk: "facts capacitor --oil",
        lambda: [find_hazard("pcb-oil-capacitor").source],
    ),
    "dust": (
        lambda desk: "facts dust 100",
        lambda: [find_material_fact("fr4-density").source, *_exposure()],
    ),
    "checklist": (
        lambda desk: f"board clear {_held(desk)}",
        lambda: [*_network_board(), *_cautions("clearing")],
    ),
    "scan": (lambda desk: f"scan {_cleared(desk)}", lambda: _cautions("cutting")),
    "kerf": (
        lambda desk: (
            f"cut {_cleared(desk)} --shape circle --width 9 --at 90,40 --tool saw --dry-run"
        ),
        lambda: [kerfs_for("saw")[0].source],
    ),
    "free of": (
        lambda desk: f"board free {_cleared(desk)}",
        lambda: [item.source for item in free_of_list()],
    ),
    "board show, outline": (
        lambda desk: f"board show {_held(desk)}",
        lambda: [find_form_factor("mini-itx").source],
    ),
    **{
        f"lead {status}": (
            lambda desk, status=status: (  # type: ignore[misc]
                f"board lead {_cleared(desk)} {status} --evidence x --dry-run"
            ),
            lambda status=status: [lead_caution(status).source],  # type: ignore[misc]
        )
        for status in LEAD_STATUSES
    },
}
"""By screen: the command line that shows it, and the sources that it must show."""


@pytest.mark.parametrize("name", SCREENS)
def test_a_screen_shows_the_sources_of_its_rows(desk: Desk, name: str) -> None:
    """Who reads a figure or a caution reads where it comes from, and how far it may be trusted."""
    line, sources = SCREENS[name]
    told = desk.do(line(desk))
    wanted = sources()

    assert wanted
    assert missing(told.out + told.err.replace("\n  ", " "), wanted) == []


@pytest.mark.parametrize("line", ["hazards", "facts limits", "facts materials", "facts removal"])
def test_json_gives_the_source_with_each_row(desk: Desk, line: str) -> None:
    """A script that hands a figure on can hand its source on as well."""
    rows = desk.do(f"{line} --json").value

    assert rows
    assert [row for row in rows if not row["source"] or "source_is_weak" not in row] == []


def test_the_setup_sheet_shows_the_sources_of_cautions_dust_and_limits(desk: Desk) -> None:
    """The paper beside the machine stands alone: its sources are on its last page."""
    desk.do(f"handover {_cleared(desk)} --form sheet --out sheet.pdf")
    text = squeezed(printed.letters((desk.folder / "sheet.pdf").read_bytes()))
    wanted = [*_cautions("cutting"), *_exposure(), find_material_fact("fr4-density").source]

    assert [one.text for one in wanted if squeezed(one.words) not in text] == []


def test_the_bench_shows_its_sources_in_short(desk: Desk) -> None:
    """A live screen has little room: each caution names its source, and where to read more."""
    with open_workshop(desk.shop, clock=desk.clock) as shop:
        told = bench_cautions((), shop.today)

    for caution in cautions_for("cutting"):
        if caution != closing_line():
            assert f"{caution.text} ({caution.source.short_words})" in told
    assert "US federal at most 50 ug/m3 (29 CFR 1910.1025(c))" in " ".join(told)
    assert "California at most 10 ug/m3 (8 CCR 5198)" in " ".join(told)
    assert told[-1] == closing_line().text


def test_a_card_gives_no_figure_of_the_base() -> None:
    """It has no room for sources, so its cautions name no limit and no amount."""
    texts = [caution.text for caution in card_cautions()]
    texts += [lead_caution(status).text for status in LEAD_STATUSES]

    assert [text for text in texts if re.search("[0-9]", text)] == []


def test_a_screen_without_its_source_is_caught() -> None:
    """The comparison is one that can fail."""
    source = Source("29 CFR 1910.1025(c)", "read-secondary", "2026-11")

    assert missing("at most 50 ug/m3", [source]) == ["29 CFR 1910.1025(c)"]
    assert missing(f"at most 50 ug/m3 ({source.words})", [source]) == []
