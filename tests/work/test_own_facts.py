"""Rows of the workshop's own: with their own source, merged and kept like everything else."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

from salvage.errors import BadFile, BadValue, ManyMistakes, NotFound, Refused
from salvage.ids import Code
from salvage.knowledge.limits import find_limit
from salvage.work.check import rebuild_tables
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.history import undo
from salvage.work.own_facts import (
    add_own_facts,
    find_known_hazard,
    list_own_facts,
    own_hazards,
    own_limits,
    own_materials,
    withdraw_own_fact,
)
from salvage.work.own_rows import read_rows
from salvage.work.workshop import Workshop
from tests.bench import add_board, dump
from tests.faces.steps_safety import THERMAL_LINK
from tests.work.fleet import Fleet

LIMIT = {
    "topic": "exposure",
    "jurisdiction": "Norway",
    "subject": "lead in air, permissible limit",
    "operator": "<=",
    "value": "50",
    "unit": "ug/m3",
    "effective": "2011-12-06",
    "source": "the labour inspection's leaflet, from memory",
}


def _add(shop: Workshop, **changed: str) -> None:
    add_own_facts(shop, kind="hazard", rows=[("Thermal link", THERMAL_LINK | changed)])


def test_an_own_hazard_is_looked_for_on_boards_to_come(empty_shop: Workshop) -> None:
    """It holds a board of its type until it is settled, like one of ours."""
    before = add_board(empty_shop, kind="power-supply")
    _add(empty_shop)
    after = add_board(empty_shop, kind="power-supply")
    elsewhere = add_board(empty_shop, kind="memory-module")

    def listed(board: Code) -> set[str]:
        return {line.check.hazard for line in read_checklist(empty_shop, board).lines}

    assert "own-thermal-link" in listed(after.code)
    assert "own-thermal-link" not in listed(before.code) | listed(elsewhere.code)
    (one,) = record_checks(
        empty_shop,
        boards=[after.code],
        checks=[NewCheck("thermal link", "absent", how="lamp")],
    )
    assert one.lines[-1].check.hazard == "own-thermal-link"


def test_an_own_row_says_whose_it_is_and_where_from(empty_shop: Workshop) -> None:
    """It never looks like a row that came with the program."""
    _add(empty_shop)
    (hazard,) = own_hazards(empty_shop.conn)

    assert hazard.source.is_own
    assert hazard.source.words == (
        "leaflet of the fire brigade, 2025"
        " (the workshop's own row, read in the official text or page, 2026-04-30)"
    )
    assert hazard.board_types == ("power-supply", "ups-board")


def test_a_row_that_nobody_read_is_weak(empty_shop: Workshop) -> None:
    """Without a word on how it was come by, it counts as from memory."""
    add_own_facts(empty_shop, kind="limit", rows=[("lead in air", LIMIT)])
    (limit,) = own_limits(empty_shop.conn)

    assert limit.source.is_weak
    assert limit.source.marked_words.startswith("weak: ")
    assert find_limit("own-lead-in-air", own=[limit]).mg_per_m3 == pytest.approx(0.05)


def test_an_own_figure_of_a_material_is_kept(empty_shop: Workshop) -> None:
    """Such as the density of the boards that come from one donor."""
    row = {"name": "ceramic board, density", "value": "3.8", "unit": "g/cm3", "source": "weighed"}
    add_own_facts(empty_shop, kind="material", rows=[("alumina", row)])
    (fact,) = own_materials(empty_shop.conn)

    assert (fact.slug, fact.value, fact.unit) == ("own-alumina", 3.8, "g/cm3")


def test_a_row_written_anew_takes_the_place_of_the_old(empty_shop: Workshop) -> None:
    """Both stand in the journal; the newer counts."""
    _add(empty_shop)
    _add(empty_shop, note="only in heaters")
    (fact,) = list_own_facts(empty_shop)

    assert fact.columns["note"] == "only in heaters"
    undo(empty_shop)
    (fact,) = list_own_facts(empty_shop)
    assert fact.columns["note"] == ""


def test_a_withdrawn_row_counts_no_longer_and_is_still_known(empty_shop: Workshop) -> None:
    """A check that rests on it can still be read and settled."""
    _add(empty_shop)
    board = add_board(empty_shop, kind="power-supply")
    withdraw_own_fact(empty_shop, slug="thermal-link", reason="they are harmless")
    later = add_board(empty_shop, kind="power-supply")

    assert own_hazards(empty_shop.conn) == ()
    assert find_known_hazard(empty_shop.conn, "thermal link").slug == "own-thermal-link"
    hazards = {line.check.hazard for line in read_checklist(empty_shop, board.code).lines}
    assert "own-thermal-link" in hazards
    hazards = {line.check.hazard for line in read_checklist(empty_shop, later.code).lines}
    assert "own-thermal-link" not in hazards
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_own_fact(empty_shop, slug="thermal-link", reason="again")
    with pytest.raises(BadValue, match="why it no longer counts"):
        withdraw_own_fact(empty_shop, slug="thermal-link", reason="")


def test_own_rows_merge_between_devices_and_survive_a_rebuild(tmp_path: Path) -> None:
    """Added on the tablet at the fair, they hold boards at the bench."""
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        _add(fleet.shops[1])
        add_own_facts(fleet.shops[0], kind="limit", rows=[("lead", LIMIT)])
        fleet.exchange_all()
        records = fleet.records()
        before = dump(fleet.shops[0])
        rebuild_tables(fleet.shops[0])

        assert dump(fleet.shops[0]) == before
    assert records[0] == records[1]
    assert [row[1] for row in records[0]["own_fact"]] == ["own-thermal-link", "own-lead"]


@pytest.mark.parametrize(
    ("kind", "changed", "says"),
    [
        ("hazard", {"source": ""}, "say its source"),
        ("hazard", {"colour": "red"}, "has no 'colour'"),
        ("hazard", {"confidence": "sure"}, "not a confidence word"),
        ("hazard", {"read_on": "last week"}, "no day or month"),
        ("hazard", {"board_types": "spaceship"}, "not a board type"),
        ("hazard", {"blocks_cutting": "maybe"}, "not yes or no"),
        ("limit", {"operator": "about"}, "binds nothing"),
        ("limit", {"value": "fifty"}, "no figure"),
        ("limit", {"unit": ""}, "needs its unit"),
        ("limit", {"effective": "soon"}, "no day"),
    ],
)
def test_a_careless_row_is_refused(
    empty_shop: Workshop, kind: str, changed: dict[str, str], says: str
) -> None:
    """What does not fit is named, and nothing is written."""
    row = (THERMAL_LINK if kind == "hazard" else LIMIT) | changed
    with pytest.raises((BadValue, NotFound), match=says):
        add_own_facts(empty_shop, kind=kind, rows=[("x", row)])

    assert list_own_facts(empty_shop) == ()


def test_a_table_is_added_as_a_whole_or_not_at_all(empty_shop: Workshop) -> None:
    """All its mistakes are told at once."""
    table = (
        b"# our own limits\n"
        b"slug,topic,jurisdiction,subject,operator,value,unit,source\n"
        b"a,exposure,Norway,lead,<=,50,ug/m3,leaflet\n"
        b"b,exposure,,lead,<=,fifty,ug/m3,\n"
        b"!,exposure,Norway,lead,<=,1,ug/m3,leaflet\n"
    )
    rows = read_rows(table, name="limits.csv")
    with pytest.raises(ManyMistakes) as caught:
        add_own_facts(empty_shop, kind="limit", rows=rows)

    assert len(caught.value.mistakes) == 3
    assert list_own_facts(empty_shop) == ()
    added = add_own_facts(empty_shop, kind="limit", rows=rows[:1])
    assert [fact.slug for fact in added] == ["own-a"]


@pytest.mark.parametrize(
    "data",
    [b"", b"name,value\na,b\n", b"slug,value\na\n", b"slug,value\na,b,c\n", b"\xff\xfeslug"],
)
def test_what_is_no_table_is_refused(data: bytes) -> None:
    """A photo, an empty file, a row with a cell too few."""
    with pytest.raises(BadFile, match=r"limits\.csv"):
        read_rows(data, name="limits.csv")


def test_an_unknown_row_is_answered_with_the_nearest(empty_shop: Workshop) -> None:
    """A slip gets a suggestion."""
    _add(empty_shop)
    with pytest.raises(NotFound) as caught:
        withdraw_own_fact(empty_shop, slug="thermal-lnk", reason="x")

    assert caught.value.nearest == ("own-thermal-link",)
