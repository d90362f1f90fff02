"""Key presses from scanners that stutter, end as they like, or never end."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.codes.key_presses import IDLE_S, REPEAT_S, KeyPresses, Repeats

CODE = "BC0002J"


def gather(*parts: str) -> tuple[list[str], KeyPresses]:
    """Lines of parts that come 0.3 s apart, and what is left."""
    keys = KeyPresses()
    lines = [line for n, part in enumerate(parts) for line in keys.feed(part, at_s=0.3 * n)]
    return lines, keys


@pytest.mark.parametrize(
    "ending", ["\r", "\n", "\r\n", "\t", "\x1d", "\x1d\r\n", "\x1e\x04", "\n\n"]
)
def test_a_scan_ends_as_its_scanner_likes(ending: str) -> None:
    """Enter, line feed, both, Tab or a group separator: one scan, and no empty one behind it."""
    lines, keys = gather(CODE + ending)

    assert lines == [CODE]
    assert keys.pending == ""


@given(
    data=st.data(),
    lines=st.lists(st.from_regex(r"[BP]C[0-9]{4}J", fullmatch=True), min_size=1, max_size=4),
    ending=st.sampled_from(["\r", "\n", "\r\n", "\t"]),
)
def test_a_scan_may_be_cut_anywhere(data: st.DataObject, lines: list[str], ending: str) -> None:
    """However the key presses come in, the lines are the same."""
    whole = ending.join(lines) + ending
    cuts = sorted(data.draw(st.sets(st.integers(0, len(whole)), max_size=5)))
    parts = [whole[i:j] for i, j in zip([0, *cuts], [*cuts, len(whole)], strict=True)]
    found, keys = gather(*parts)

    assert found == lines
    assert keys.pending == ""


def test_arrow_keys_and_pasting_leave_no_trace() -> None:
    """Arrow keys and the marks round pasted text are no part of a code, even cut in two."""
    lines, _ = gather("\x1b[A\x1b[20", "0~BC00\x1b[1;5D02J\x1b[201~\r", "\x1bOP\r")

    assert lines == [CODE]


def test_slips_of_the_finger_are_mended() -> None:
    """Backspace takes one character back, Ctrl-U all of them."""
    lines, _ = gather("XX\x15BC0003\x7f2J\r")

    assert lines == [CODE]


def test_ctrl_d_ends_only_where_nothing_is_typed() -> None:
    """Ctrl-D in the middle of a code ends the line; alone it ends the input."""
    lines, keys = gather(CODE + "\x04")

    assert lines == [CODE]
    assert not keys.has_ended
    keys.feed("\x04", at_s=1)
    assert keys.has_ended


def test_a_scan_without_its_enter_is_told_once() -> None:
    """After two idle seconds the maker is told, once, and again only after more keys."""
    keys = KeyPresses()
    keys.feed(CODE, at_s=10.0)

    told = [keys.is_stuck(at_s=10.0 + s) for s in (IDLE_S / 2, IDLE_S, IDLE_S + 1)]

    assert told == [False, True, False]
    keys.feed("X", at_s=20.0)
    assert keys.is_stuck(at_s=20.0 + IDLE_S)


def test_what_is_forgotten_is_gone() -> None:
    """Half a scan that was dropped does not stick to the next one."""
    keys = KeyPresses()
    keys.feed("BC00", at_s=0)

    assert keys.forget() == "BC00"
    assert keys.feed(CODE + "\r", at_s=1) == (CODE,)


def test_a_stream_without_an_end_does_not_grow() -> None:
    """A cat on the keyboard fills no memory."""
    _, keys = gather("x" * 100_000)

    assert len(keys.pending) <= 500


def test_a_trigger_held_too_long_counts_once() -> None:
    """The same code within a second is a repeat, however long the trigger is held."""
    repeats = Repeats()
    times = (5.0, 5.2, 5.2 + REPEAT_S, 8.0)

    assert [repeats.is_repeat(CODE, at_s=at) for at in times] == [False, True, True, False]
    assert not repeats.is_repeat("BC0003H", at_s=8.1)
    assert not repeats.is_repeat(CODE, at_s=8.2)
