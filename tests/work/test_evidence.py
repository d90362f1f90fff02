"""Evidence of checks: a photo or a note, by whom and when."""

from __future__ import annotations

import pytest

from salvage.errors import BadFile, BadValue, NotFound, Refused
from salvage.records.things import Board
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.evidence import NewEvidence, add_evidence, evidence_of
from salvage.work.photos import NewPhoto, add_photo, list_photos
from salvage.work.workshop import Workshop
from tests.faces.step import photo_bytes

ABSENT = NewCheck("coin-cell", "absent", how="lamp and mirror")


def _photo() -> NewPhoto:
    return NewPhoto(photo_bytes(), "empty.png", side="other", caption="empty holder")


def test_a_check_keeps_its_photo(empty_shop: Workshop, held_board: Board) -> None:
    """One photo, kept once, shows two findings; it stands beside each of them."""
    checks = [ABSENT, NewCheck("clock-battery", "absent", how="lamp")]
    new = NewEvidence("both sides", _photo())
    (checklist,) = record_checks(empty_shop, boards=[held_board.code], checks=checks, evidence=new)
    shown = {line.check.hazard: line.evidence for line in checklist.lines if line.evidence}

    assert set(shown) == {"coin-cell", "clock-battery"}
    assert [one.photo for (one,) in shown.values()] == [1, 1]
    (one,) = shown["coin-cell"]
    assert (one.note, one.by) == ("both sides", "Maren")
    assert len(list_photos(empty_shop, held_board.code)) == 1


def test_a_photo_that_is_there_is_named_by_its_number(
    empty_shop: Workshop, held_board: Board
) -> None:
    """The intake photo shows the empty holder: it need not be taken again."""
    photo = add_photo(empty_shop, code=held_board.code, new=_photo())
    kept = add_evidence(
        empty_shop,
        board=held_board.code,
        hazards=["coin cell"],
        evidence=NewEvidence(photo_n=photo.n),
    )

    assert [(one.hazard, one.photo) for one in kept] == [("coin-cell", photo.n)]


def test_evidence_stays_when_the_finding_is_revised(
    empty_shop: Workshop, held_board: Board
) -> None:
    """What was seen was seen; a later look adds to it."""
    board = held_board.code
    record_checks(empty_shop, boards=[board], checks=[ABSENT], evidence=NewEvidence("empty"))
    seen = NewCheck("coin-cell", "present")
    record_checks(empty_shop, boards=[board], checks=[seen], evidence=NewEvidence("under a card"))

    assert [one.note for one in evidence_of(empty_shop.conn, board)] == ["empty", "under a card"]


@pytest.mark.parametrize(
    ("new", "error", "says"),
    [
        (NewEvidence(" "), BadValue, "a photo or a note"),
        (NewEvidence(photo=_photo(), photo_n=1), BadValue, "not both"),
        (NewEvidence(photo_n=7), NotFound, "no photo 7"),
        (NewEvidence(photo=NewPhoto(b"no picture", "x.jpg")), BadFile, "x.jpg"),
    ],
)
def test_what_shows_nothing_is_no_evidence(
    empty_shop: Workshop, held_board: Board, new: NewEvidence, error: type[Exception], says: str
) -> None:
    """Nothing is recorded then, the finding neither."""
    with pytest.raises(error, match=says):
        record_checks(empty_shop, boards=[held_board.code], checks=[ABSENT], evidence=new)

    lines = read_checklist(empty_shop, held_board.code).lines
    assert {line.check.finding for line in lines} == {"not checked"}


def test_evidence_belongs_to_a_check_of_the_board(empty_shop: Workshop, held_board: Board) -> None:
    """Nobody asked this board for a cathode ray tube."""
    with pytest.raises(Refused, match="not checked for cathode-ray-tube"):
        add_evidence(
            empty_shop,
            board=held_board.code,
            hazards=["cathode-ray-tube"],
            evidence=NewEvidence("x"),
        )


def test_a_dry_run_keeps_no_photo(empty_shop: Workshop, held_board: Board) -> None:
    """Neither row nor file."""
    record_checks(
        empty_shop,
        boards=[held_board.code],
        checks=[ABSENT],
        evidence=NewEvidence("x", _photo()),
        dry_run=True,
    )

    assert evidence_of(empty_shop.conn, held_board.code) == ()
    assert list(empty_shop.files.kept()) == []
