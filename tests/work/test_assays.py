"""Assays: one part each, exactly as reported, and held against the markets of the workshop."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from salvage.errors import BadCode, BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.knowledge.amounts import parse_amount
from salvage.records.things import Board
from salvage.work.assays import NewAssay, list_assays, record_assay, void_assay
from salvage.work.history import undo
from salvage.work.materials import NewBatch, add_batch
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import dump

LEAD = NewAssay(
    "lead",
    parse_amount("120 ppm"),
    "x-ray fluorescence",
    part="laminate",
    uncertainty=parse_amount("20 ppm"),
    instrument="handheld XRF 3",
)


def _verdicts(shop: Workshop, code: Code, new: NewAssay) -> dict[str, str]:
    view = record_assay(shop, code=code, new=new)
    return {rule.limit.slug: judgement.word for rule, judgement in view.verdicts}


def test_a_result_is_held_against_the_chosen_markets(
    empty_shop: Workshop, held_board: Board
) -> None:
    """120 ppm: enough for a pendant in the union, too much for a child in the States."""
    change_settings(empty_shop, typed={"markets": "EU"})
    union = _verdicts(empty_shop, held_board.code, LEAD)
    change_settings(empty_shop, typed={"markets": "US-CA"})
    states = _verdicts(empty_shop, held_board.code, LEAD)

    assert union == {"eu-jewellery-lead": "meets", "eu-mouthable-lead": "meets"}
    assert states == {
        "us-children-lead": "exceeds",
        "ca-children-lead": "exceeds",
        "ca-jewellery-lead": "meets",
        "ca-jewellery-plastic-lead": "meets",
    }


def test_where_no_market_is_chosen_all_rows_speak(empty_shop: Workshop, held_board: Board) -> None:
    """Nobody said where it is sold, so nothing is left out."""
    assert set(_verdicts(empty_shop, held_board.code, LEAD)) >= {
        "eu-jewellery-lead",
        "ca-jewellery-lead",
        "us-children-lead",
    }


def test_an_own_test_shows_nothing_where_a_laboratory_is_asked_for(
    empty_shop: Workshop, held_board: Board
) -> None:
    """15 USC 1278a asks for a third party; a supplier's word is none either."""
    change_settings(empty_shop, typed={"markets": "US"})
    low = replace(LEAD, amount=parse_amount("20 ppm"), uncertainty=parse_amount("5 ppm"))
    own = _verdicts(empty_shop, held_board.code, low)
    lab = _verdicts(empty_shop, held_board.code, replace(low, lab="Quay lab"))
    word = replace(low, method="supplier declaration", lab="Quay lab")
    supplier = _verdicts(empty_shop, held_board.code, word)

    assert [own, lab, supplier] == [
        {"us-children-lead": "cannot tell"},
        {"us-children-lead": "meets"},
        {"us-children-lead": "cannot tell"},
    ]


def test_the_figure_stays_as_it_was_reported(empty_shop: Workshop, held_board: Board) -> None:
    """Nothing is rounded or converted on its way into the record."""
    new = replace(
        LEAD,
        amount=parse_amount("<0.0010 %"),
        detection_limit=parse_amount("10 ppm"),
        uncertainty=None,
        lab="Quay lab",
        tested_on=date(2026, 5, 3),
        document="L-204",
    )
    assay = record_assay(empty_shop, code=held_board.code, new=new).assay

    assert (assay.figure, assay.unit, assay.is_below) == ("0.0010", "%", 1)
    assert (assay.detection_limit, assay.uncertainty) == ("10 ppm", "")
    assert (assay.lab, assay.tested_on, assay.document) == ("Quay lab", "2026-05-03", "L-204")
    assert [view.assay for view in list_assays(empty_shop)] == [assay]


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"part": "whole piece"}, "limits hold for each part"),
        ({"part": ""}, "limits hold for each part"),
        ({"part": "finding"}, "limits hold for each part"),
        ({"uncertainty": parse_amount("1 ug/cm2/week")}, "do not go together"),
        ({"detection_limit": parse_amount("1 ug/dm2")}, "do not go together"),
        ({"measure": "release"}, "no unit for release"),
        ({"instrument": " "}, "what it was measured with"),
        ({"tested_on": date(2026, 6, 1)}, "is before the test"),
    ],
)
def test_what_says_nothing_is_refused(
    empty_shop: Workshop, held_board: Board, changed: dict[str, object], says: str
) -> None:
    """No average over a piece, no units that do not go together, no test from tomorrow."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=says):
        record_assay(empty_shop, code=held_board.code, new=replace(LEAD, **changed))  # type: ignore[arg-type]

    assert dump(empty_shop) == before


def test_a_batch_speaks_for_the_part_that_it_becomes(empty_shop: Workshop) -> None:
    """A hook is a finding, a varnish a coating, and a filter goes into no piece."""
    codes = {
        material: add_batch(empty_shop, new=NewBatch(material, material)).batch.code
        for material in ("finding", "sealant", "filter")
    }
    bare = replace(LEAD, part="")
    parts = {
        material: record_assay(empty_shop, code=codes[material], new=bare).assay.part
        for material in ("finding", "sealant")
    }

    assert parts == {"finding": "finding", "sealant": "coating"}
    with pytest.raises(BadValue, match="goes into a piece as nothing"):
        record_assay(empty_shop, code=codes["filter"], new=bare)
    with pytest.raises(BadValue, match="as coating, not as laminate"):
        record_assay(empty_shop, code=codes["sealant"], new=LEAD)


def test_a_voided_result_stays_with_its_reason(empty_shop: Workshop, held_board: Board) -> None:
    """The wrong board lay on the table; everybody can read that for ever."""
    record_assay(empty_shop, code=held_board.code, new=LEAD)
    view = void_assay(empty_shop, code=held_board.code, n=1, why="wrong board")

    assert view.assay.voided == "wrong board"
    with pytest.raises(Refused, match="voided already: wrong board"):
        void_assay(empty_shop, code=held_board.code, n=1, why="again")
    with pytest.raises(Refused, match="it has: 1"):
        void_assay(empty_shop, code=held_board.code, n=2, why="again")
    with pytest.raises(BadValue, match="say why"):
        void_assay(empty_shop, code=held_board.code, n=1, why="")
    undo(empty_shop, why="it was the right one")
    assert list_assays(empty_shop, code=held_board.code)[0].assay.voided == ""


def test_only_what_is_there_is_tested(empty_shop: Workshop, held_board: Board) -> None:
    """A drop-off is a box, and a code that was never given is nothing."""
    with pytest.raises(BadValue, match="assays are of boards, pieces and batches"):
        record_assay(empty_shop, code=held_board.drop_off, new=LEAD)
    with pytest.raises((NotFound, BadCode)):
        record_assay(empty_shop, code=Code("BC9999J"), new=LEAD)
