"""The live bench: key presses in, a whole screen out, nothing kept back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.cli.bench_screen import Row, Screen, draw_screen
from salvage.cli.key_reader import NO_ENTER, KeyReader
from salvage.cli.session import Session
from salvage.cli.show import note, paint
from salvage.work.bench_words import Answer
from salvage.work.clock import stopwatch

if TYPE_CHECKING:
    from salvage.codes.key_presses import KeyPresses
    from salvage.work.bench_sitting import Sitting
    from salvage.work.bench_words import Seen

REST_S = 300.0
"""After so long without a scan the bench only looks again, so that nobody sells by looking."""

_TICK_S = 0.25
_BELL = "\a"
_MODE_STYLE = "7;1"


class _Live:
    """
    What the loop remembers between two key presses.

    Args:
        session: The run.
        sitting: The bench.
        is_silent: Ring no bell.
    """

    def __init__(self, session: Session, sitting: Sitting, *, is_silent: bool) -> None:
        from salvage.work.dust import bench_cautions
        from salvage.work.own_facts import own_limits

        self.session = session
        self.sitting = sitting
        self.is_silent = is_silent
        self.answers: Sequence[Answer] = [_welcome(sitting)]
        self.seen: Seen | None = None
        shop = sitting.shop
        self._cautions = bench_cautions(own_limits(shop.conn), shop.today)
        self._shown: object = None

    def play(self, line: str) -> bool:
        """Play one line; gives True where what was typed ahead must not answer."""
        before = self.sitting.bench.question
        self.answers = self.sitting.play(line, at_s=stopwatch())
        for answer in self.answers:
            self.seen = answer.seen or self.seen
        if any(answer.kind == "refused" for answer in self.answers):
            self.ring()
        asked = self.sitting.bench.question
        return bool(asked) and asked != before

    def tell(self, answer: Answer, *, rings: bool = False) -> None:
        """Show an answer that no line brought about."""
        self.answers = [answer]
        if rings:
            self.ring()

    def ring(self) -> None:
        """Ring the terminal's bell."""
        if not self.is_silent:
            self.session.world.stdout.write(_BELL)

    def draw(self, typed: str) -> None:
        """Draw the screen where anything has changed."""
        from rich.console import Console

        size = Console(file=self.session.world.stdout).size  # asks the terminal, every time
        screen = Screen(
            self.sitting.bench,
            self.answers,
            self.seen,
            typed,
            self.sitting.shop.by,
            self._cautions,
            plain_map=not self.session.world.has_blocks,
        )
        if (screen, size) == self._shown:
            return
        self._shown = (screen, size)
        rows = draw_screen(screen, width=size.width, height=size.height)
        painted = "\r\n".join(f"\x1b[2K{_paint(self.session, row)}" for row in rows)
        self.session.world.stdout.write(f"\x1b[H{painted}\x1b[J")
        self.session.world.stdout.flush()


def _paint(session: Session, row: Row) -> str:
    if row.style == "mode":
        return f"\x1b[{_MODE_STYLE}m{row.text}\x1b[0m" if session.has_color else row.text
    return paint(session, row.text, row.style) if row.style else row.text


def _welcome(sitting: Sitting) -> Answer:
    done = sitting.bench.done
    if not done:
        return Answer("told", "the bench is open", "scan a board or a piece; ? + Enter for help")
    words = f"the bench is open again; last at {done[-1].at} UTC: {done[-1].words}"
    return Answer("told", words, "scan on; u + Enter takes the last back; ? + Enter for help")


def run_live(session: Session, sitting: Sitting, *, is_silent: bool) -> None:
    """
    Run the bench on the terminal until it is closed.

    Args:
        session: The run.
        sitting: The bench.
        is_silent: Ring no bell on a refusal.
    """
    from rich.console import Console

    from salvage.codes.key_presses import KeyPresses

    console = Console(file=session.world.stdout, force_terminal=True)
    live = _Live(session, sitting, is_silent=is_silent)
    try:
        with KeyReader(session.world.stdin) as reader, console.screen(hide_cursor=True):
            _loop(live, reader, KeyPresses())
    finally:
        mine = [one for one in sitting.bench.done if not one.before]
        for one in mine[-5:]:
            note(session, f"done: {one.words}")
        note(session, f"the bench is closed; {len(mine)} done and in the record")


def _loop(live: _Live, reader: KeyReader, keys: KeyPresses) -> None:
    last_s = stopwatch()
    while not live.sitting.is_over and not keys.has_ended:
        live.draw(keys.pending)
        text = reader.read(within_s=_TICK_S)
        if text is None:
            return
        now_s = stopwatch()
        if text:
            last_s = now_s
            _take(live, reader, keys, text)
        elif keys.is_stuck(at_s=now_s):
            words = f"'{keys.pending}' waits for its Enter"
            live.tell(Answer("told", words, NO_ENTER), rings=True)
        elif now_s - last_s > REST_S and live.sitting.bench.mode != "look":
            live.sitting.forget()
            live.tell(Answer("told", "the bench looks again, nobody scanned for a while"))


def _take(live: _Live, reader: KeyReader, keys: KeyPresses, text: str) -> None:
    """Play the lines that a read completes, up to the first that is asked about."""
    lines = keys.feed(text, at_s=stopwatch())
    for place, line in enumerate(lines, 1):
        is_asked = live.play(line)
        if live.sitting.is_over:
            return
        if is_asked:
            # Drawn first, so that nobody answers what is not on the screen yet.
            dropped = bool(keys.forget()) or place < len(lines)
            live.draw("")
            reader.forget()
            if dropped:
                told = Answer("told", "what was scanned before this question is dropped")
                live.answers = [told, *live.answers]
            return
