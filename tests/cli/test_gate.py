"""Assays, the gate and duties, as somebody types them before a fair."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, cut_piece

XRF = '--analyte lead --method xrf --instrument "handheld XRF 3"'


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A workshop that sells in the union and in California."""
    found = Desk(tmp_path)
    found.do("setup markets=EU,US-CA")
    return found


def test_from_a_held_pendant_to_its_sale(desk: Desk) -> None:
    """Held with its reason and source, tested, answered for where nobody tested, sold."""
    piece = cut_piece(desk)
    board = desk.do("board list --plain").first
    desk.do(
        f"gate describe {piece} pendant --solder absent --components absent --metal absent"
        " --coating absent --findings absent"
    )
    held = desk.run(f"piece stage {piece} ready")
    shown = desk.do(f"gate show {piece}")
    told = desk.do(f'assay add {board} --part laminate --value "120 ppm" {XRF}')
    desk.do(f"gate accept {piece} sealing --reason 'worn over a shirt'")
    desk.do(f"piece stage {piece} ready")
    sold = desk.do(f"piece sell {piece} --price 20")
    after = desk.do(f"gate show {piece} --json").value

    assert held.code == 1
    assert f"{piece} is not for sale yet: lead in laminate (present), below 0.05 % w/w" in held.err
    assert f"salvage gate show {piece}" in held.err
    assert "STOPS  eu-jewellery-lead:laminate" in shown.out
    assert "REACH (Regulation (EC) 1907/2006)" in shown.out
    assert "ask your local authority" in shown.err
    assert "meets (no uncertainty given): eu-jewellery-lead" in told.out
    assert "exceeds: us-children-lead" in told.out
    assert "sold for 20.00 EUR" in sold.out
    assert [each["reason"] for each in after["accepted"]] == ["worn over a shirt"]


def test_not_for_children_is_told_with_every_gap(desk: Desk) -> None:
    """The refusal lists what is missing, part by part."""
    piece = cut_piece(desk)
    desk.do(f"gate describe {piece} ornament")
    told = desk.run(f"gate audience {piece} child --reason 'looks harmless'")

    assert told.code == 1
    assert "stays marked 'not for children'" in told.err
    for part in ("laminate", "solder", "component", "coating", "finding"):
        assert f" in {part} (" in told.err


def test_all_mistakes_of_an_assay_are_told_at_once(desk: Desk) -> None:
    """Analyte, method, value, part and day in one refusal."""
    board = cut_piece(desk) and desk.do("board list --plain").first
    told = desk.run(
        f"assay add {board} --analyte wood --method nose --value much --part whole"
        " --date 2031-01-01"
    )

    assert told.code == 1
    for flag in ("--analyte", "--method", "--value", "--part", "--date"):
        assert f"  {flag}: " in told.err


def test_not_detected_needs_the_detection_limit(desk: Desk) -> None:
    """'ND' alone says nothing; with its limit it is 'below' that."""
    board = cut_piece(desk) and desk.do("board list --plain").first
    bare = desk.run(f"assay add {board} --part laminate --value nd {XRF}")
    told = desk.do(
        f"assay add {board} --part laminate --value nd --detection-limit 10ppm {XRF} --json"
    )
    listed = desk.do(f"assay list {board}")

    assert "give --detection-limit" in bare.err
    assert (told.value["figure"], told.value["is_below"]) == ("10", True)
    assert "lead (content) below 10 ppm" in listed.out
    assert desk.do(f"assay list {board} --plain").out.split("\t")[:3] == [board, "1", "laminate"]


def test_a_board_tells_what_its_date_and_marks_can_and_cannot_show(desk: Desk) -> None:
    """Without a status the command shows; with one it records as before."""
    board = cut_piece(desk) and desk.do("board list --plain").first
    desk.do(f"correct board {board} --date-code 0626 --why 'read again'")
    told = desk.do(f"board lead {board}")

    assert f"{board}  lead: unknown" in told.out
    assert "the RoHS day 2006-07-01 lies inside this week" in told.out
    assert "weak: common practice, no source" in told.out
    assert desk.do(f"board lead {board} --plain").out == f"{board}\tunknown\t\n"
    assert "assumed-leaded" in desk.do(f"board lead {board} assumed").out


def test_duties_are_listed_with_their_sources(desk: Desk) -> None:
    """Each row with its document, and the advice below."""
    told = desk.do("duties --market US-CA,NZ --topic waste")
    rows = desk.do("duties --market US-CA --topic waste --json").value

    assert "22 CCR 66273.74(a)(1)" in told.out
    assert "NZ: no row in our list" in told.err
    assert "Ask your local authority" in " ".join(told.err.split())
    assert all(row["source"] for row in rows)


def test_without_a_market_nothing_is_called_fit_for_sale(tmp_path: Path) -> None:
    """Nothing was held against a limit, so the line claims nothing."""
    desk = Desk(tmp_path)
    shown = desk.do(f"gate show {cut_piece(desk)}").out.splitlines()[0]

    assert "no market chosen: held against no limit, which clears nothing" in shown
    assert "may be sold" not in shown
