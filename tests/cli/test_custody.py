"""Custody on the command line, as somebody types it at the door."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_drop_off

SANITISE = (
    '--tool "bench shredder 2.1" --verify looked --verified-by Ilva --title "bench lead"'
    " --place workshop --contact 'line 5'"
)


def test_from_the_door_to_the_certificate(tmp_path: Path) -> None:
    """Two disks: one shredded, one returned; then the drop-off is closed and the paper printed."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    first = desk.do(f"custody describe {drop_off} 1 --maker Orrery --serial 7A-113")
    refused = desk.run(f"dropoff close {drop_off}")
    desk.do(f"custody hand {drop_off} 2 donor --to Ilva --place 'at the counter'")
    shred = f"custody sanitise {drop_off} 1 --method destroy --technique shred {SANITISE}"
    desk.do(f"custody describe {drop_off} 1 --maker Orrery --serial 7A-114")
    told = desk.do(shred)
    closed = desk.do(f"dropoff close {drop_off}")
    page = desk.do(f"custody certificate {drop_off} --out data.pdf")

    assert f"{drop_off}-2  1 x hard disk: open; Orrery, serial 7A-113" in first.out
    assert refused.code == 1
    assert "has open data-bearing parts: 1 (hard disk), 2 (hard disk)" in refused.err
    assert "only where the memory die itself is destroyed" in told.err
    assert "closed on 2026-05-04 by Maren" in closed.out
    assert (tmp_path / "data.pdf").read_bytes().startswith(b"%PDF")
    assert "to be signed by hand" in page.out
    assert desk.do(f"custody show {drop_off} --plain").out.startswith(f"{drop_off}\tclosed on")
    assert "closed on" in desk.do(f"dropoff show {drop_off}").out


def test_all_wrong_words_are_told_at_once(tmp_path: Path) -> None:
    """Method, technique, verification and day: one refusal names all four."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    told = desk.run(
        f"custody sanitise {drop_off} 1 --method wish --technique prayer --verify maybe"
        " --date 2031-01-01"
    )

    assert told.code == 1
    for flag in ("--method", "--technique", "--verify", "--date"):
        assert f"  {flag}: " in told.err


def test_the_short_form_says_what_cutting_does_not_do(tmp_path: Path) -> None:
    """Who types 'destroyed' in a word is told of the die, and of the form that keeps it all."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    told = desk.do(f"dropoff data {drop_off} 1 destroyed --how 'cut in two'")
    said = " ".join(told.err.split())

    assert "only where the memory die itself is destroyed" in said
    assert f"salvage custody sanitise {drop_off}" in said


def test_a_dash_is_no_file(tmp_path: Path) -> None:
    """Who means the terminal by a dash is told so, and finds no file of that name later."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    told = desk.run(f"custody certificate {drop_off} --out -")

    assert told.code == 1
    assert "'-' would be a file of that name" in told.err
    assert not (tmp_path / "-").exists()


@pytest.mark.parametrize("role", ["carrier", "sanitiser", "recycler", "other"])
def test_other_hands_have_a_name(tmp_path: Path, role: str) -> None:
    """A chain of custody with a nameless carrier in it is broken there."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    told = desk.run(f"custody hand {drop_off} 1 {role}")
    named = desk.run(f"custody hand {drop_off} 1 {role} --to 'Quay Street yard'")

    assert told.code == 1
    assert told.err.startswith("salvage: --to: say who")
    assert named.code == 0
