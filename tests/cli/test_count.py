"""One thing, two things, and lists that are too long to be read."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_board, add_drop_off


def test_one_thing_is_one(tmp_path: Path) -> None:
    """A noun follows its number on every screen that counts."""
    desk = Desk(tmp_path)
    told = desk.do("dropoff add --donor Ada --contents radio --boards 1 --date 2026-05-02").out
    (tmp_path / "one.csv").write_text("received_on,donor,contents\n2026-05-02,Ada,tuner\n")
    code = add_board(desk)

    assert "radio, 1 board, received" in told
    assert desk.do("dropoff import one.csv").out.startswith("1 drop-off logged: D")
    assert "1 thing, held" in desk.do(f"recall open {code} --reason mercury").out


@pytest.mark.parametrize("count", [12, 13])
def test_a_long_list_of_codes_is_shortened_for_people(tmp_path: Path, count: int) -> None:
    """More than twelve boards are one line; a script still reads each code."""
    desk = Desk(tmp_path)
    line = f"board add {add_drop_off(desk)} --type expansion-card --count {count}"
    codes = desk.do(f"{line} --plain").out.split()
    told = desk.do(line)
    rows = told.out.splitlines()
    cleared = desk.do(f"board clear {' '.join(codes)} --absent all-open").out.splitlines()
    undone = desk.do("undo --yes").out

    assert len(codes) == count
    assert (len(rows), len(cleared)) == ((12, 12) if count == 12 else (1, 1))
    if count == 13:
        assert cleared[0] == f"{codes[0]} to {codes[-1]}, 13 in all  cleared, may be cut"
        assert rows[0].endswith("13 in all  expansion card recorded, held, no outline yet")
        assert len(undone.splitlines()) < 13
        assert f"undone: clear board, {codes[0]} to {codes[-1]}, 13 in all" in undone
    assert max(map(len, told.err.splitlines())) < 150
