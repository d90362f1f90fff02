"""The checklist on the command line."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_board, add_drop_off


def test_without_findings_the_checklist_teaches(tmp_path: Path) -> None:
    """For each open hazard: how to spot it, how it comes off, where it goes, and the source."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    told = desk.do(f"board clear {code}")

    assert "[ ] coin-cell: not checked" in told.out
    for name in ("look for:", "comes off:", "goes to:", "source:", "practice:"):
        assert name in told.out
    assert "Local codes and licensed practice come first" in " ".join(told.err.split())
    assert f"next: salvage board clear {code} --walk" in told.err


def test_findings_clear_a_board(tmp_path: Path) -> None:
    """What was removed, what was not there, what may stay: then the board may be cut."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    first = desk.do(
        f"board clear {code} --removed 'coin cell' --how 'lifted out' --goes-to 'battery box'"
        " --unsure supercapacitor"
    )
    second = desk.do(
        f"board clear {code} --accepted supercapacitor --reason 'measured, empty'"
        " --absent clock-battery,lithium-pack --absent all-open"
    )
    settled = desk.do(f"board clear {code}")

    assert "still held: " in first.out
    assert "supercapacitor" in first.out
    assert "cleared, may be cut" in second.out
    assert "[x] coin-cell: present, removed" in settled.out
    assert "all hazards settled" in settled.out


def test_how_belongs_to_what_was_removed(tmp_path: Path) -> None:
    """What was lifted out is not told of what was never there."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(
        f"board clear {code} --removed coin-cell --how 'lifted out' --goes-to box --absent all-open"
    )
    checks = desk.do(f"board clear {code} --json").value[0]["checks"]

    assert {c["hazard"]: c["how"] for c in checks}.pop("coin-cell") == "lifted out"
    assert {c["how"] for c in checks if c["finding"] == "absent"} == {""}


def test_several_boards_alike_are_cleared_at_once(tmp_path: Path) -> None:
    """Three boards of one kind take one line; boards that differ are a question."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    codes = desk.do(f"board add {drop_off} --type expansion-card --count 3 --plain").out.split()
    told = desk.do(f"board clear {' '.join(codes)} --absent all-open")
    other = desk.code(f"board add {drop_off} --type power-supply")
    refused = desk.run(f"board clear {codes[0]} {other} --absent all-open")

    assert told.out.count("cleared, may be cut") == 3
    assert refused.code == 1
    assert "different open hazards" in refused.err


def test_unknown_hazards_are_gathered_with_the_nearest(tmp_path: Path) -> None:
    """Two mistyped hazards are told together."""
    desk = Desk(tmp_path)
    told = desk.run(f"board clear {add_board(desk)} --absent coin-sell,lithum-pack")

    assert told.code == 1
    assert "2 mistakes" in told.err
    assert "coin-cell" in told.err
    assert "lithium-pack" in told.err


def test_what_is_removed_needs_its_words(tmp_path: Path) -> None:
    """A battery that is off went somewhere."""
    desk = Desk(tmp_path)
    code = add_board(desk)

    assert "--how" in desk.run(f"board clear {code} --removed coin-cell").err
    assert "--reason" in desk.run(f"board clear {code} --accepted coin-cell").err


def test_a_walk_asks_for_each_open_hazard(tmp_path: Path) -> None:
    """At the bench the maker goes from hazard to hazard and answers in a word."""
    desk = Desk(tmp_path, terminal=True, environment={"TERM": "dumb"})
    code = add_board(desk)
    open_before = desk.do(f"board clear {code} --json").value[0]["open"]
    typed = "absent\nlamp\nremoved\n\nlifted out\n\nskip\ncannot tell\n\n"
    told = desk.do(f"board clear {code} --walk", typed=typed + "accepted\nempty\n" * 9)
    (checklist,) = desk.do(f"board clear {code} --json").value

    assert f"1 of {open_before}: " in told.err
    assert "an answer is needed here" in told.err
    assert checklist["open"] == 2
    outcomes = {check["outcome"] for check in checklist["checks"]}
    assert outcomes == {"", "removed", "accepted"}
    removed = next(c for c in checklist["checks"] if c["outcome"] == "removed")
    assert removed["goes_to"] == removed["usually_goes_to"]


def test_hints_and_questions_break_between_words(tmp_path: Path) -> None:
    """On a narrow terminal nothing is cut in the middle of a word, the questions neither."""
    desk = Desk(tmp_path, terminal=True, environment={"TERM": "dumb"}, width=50)
    code = add_board(desk)
    told = desk.run(f"board clear {code} --walk", typed="skip\n" * 20).err
    lines = told.replace("]: ", "]:\n").splitlines()
    hazards = desk.do("hazards --json").value
    texts = (text for hazard in hazards for text in hazard.values())
    words = " ".join(text for text in texts if isinstance(text, str))
    hints = [line.split() for line in lines if line.startswith(" " * 13)]

    assert max(map(len, lines)) <= 50
    assert len(hints) > 10
    assert {first for first, *_ in hints} <= set(words.split())
    assert "Found (absent, removed, accepted, cannot tell,\n  skip) [skip]: \n2 of " in told


def test_a_walk_needs_somebody(tmp_path: Path) -> None:
    """A script cannot look at a board."""
    desk = Desk(tmp_path)
    told = desk.run(f"board clear {add_board(desk)} --walk")

    assert told.code == 2
    assert "--absent" in told.err


def test_plain_is_one_hazard_a_line(tmp_path: Path) -> None:
    """A script reads board, hazard, finding and outcome."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    rows = [line.split("\t") for line in desk.do(f"board clear {code} --plain").out.splitlines()]

    assert {row[0] for row in rows} == {code}
    assert {row[2] for row in rows} == {"not checked"}
    assert all(len(row) == 4 for row in rows)
