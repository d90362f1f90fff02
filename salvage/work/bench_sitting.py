"""A sitting at the bench: lines come in, deeds go into the record, answers come out."""

from __future__ import annotations

from dataclasses import replace

from salvage.errors import SalvageError
from salvage.work.bench import advance, rest, settle
from salvage.work.bench_deeds import do_deed
from salvage.work.bench_sight import Sighting, resume, see, sight
from salvage.work.bench_state import MODES, Bench, Step
from salvage.work.bench_words import NO_CODE, ActionSeen, Answer, BoardSeen, Deed
from salvage.work.workshop import Workshop


class Sitting:
    """
    One sitting; everything that is done is in the record before the next line is read.

    Args:
        shop: The open workshop.
        yes: Every question is answered with yes at once; for lines that nobody watches.
        dry_run: Do everything, then roll back.
    """

    def __init__(self, shop: Workshop, *, yes: bool = False, dry_run: bool = False) -> None:
        from salvage.codes.key_presses import Repeats

        self.shop = shop
        self.bench: Bench = resume(shop)
        self.is_over = False
        self._yes = yes
        self._dry_run = dry_run
        self._layouts: set[str] = set()
        self._repeats = Repeats()

    def play(self, line: str, *, at_s: float | None = None) -> tuple[Answer, ...]:
        """
        What a line brings about, thing by thing; never raises for what people or scanners type.

        Args:
            line: As typed or scanned.
            at_s: When, in seconds of any clock that goes on evenly; None where a line's time says
                nothing, as in a pipe.
        """
        answers: list[Answer] = []
        for sighting in sight(self.shop, line=line):
            answers += self._note_layout(sighting)
            if at_s is not None and self._is_repeat(sighting, at_s):
                words = f"{sighting.scanned} came twice within a second and counts once"
                answers.append(Answer("told", words, MODES[self.bench.mode]))
                continue
            before = self.bench.question
            answers += self._take(advance(self.bench, sighting.seen))
            if self.bench.question not in ((), before) and not self._yes:
                break  # what stands behind it in the line was scanned before it was asked
        return tuple(answers)

    def forget(self) -> None:
        """Go back to looking after a while without a scan."""
        self.bench = rest(self.bench)

    def _is_repeat(self, sighting: Sighting, at_s: float) -> bool:
        return bool(sighting.scanned) and self._repeats.is_repeat(sighting.scanned, at_s=at_s)

    def _note_layout(self, sighting: Sighting) -> list[Answer]:
        """Say once for each layout which one the computer seems to be set to."""
        if not sighting.layout or sighting.layout in self._layouts:
            return []
        self._layouts.add(sighting.layout)
        words = f"the scanner types as on a {sighting.layout} keyboard; its codes are put right"
        return [Answer("told", words, "set scanner and computer to the same country")]

    def _take(self, step: Step) -> list[Answer]:
        self.bench, self.is_over = step.bench, step.leave
        if step.deeds:
            return self._do(step.deeds)
        if self.bench.question and self._yes:
            return [step.answer, *self._take(advance(self.bench, ActionSeen("confirm")))]
        return [step.answer]

    def _do(self, deeds: tuple[Deed, ...]) -> list[Answer]:
        told: list[str] = []
        for deed in deeds:
            try:
                done = do_deed(self.shop, deed=deed, dry_run=self._dry_run)
            except SalvageError as error:
                so_far = f"{'; '.join(told)}; then: " if told else ""
                refused = Answer("refused", f"{so_far}{error.message}", error.hint)
                return [replace(refused, seen=self._again(deed).seen)]
            told.append(done.words)
            if not self._dry_run:
                self.bench = settle(self.bench, deed, done)
        return [replace(self._again(deeds[-1]), words="; ".join(told))]

    def _again(self, deed: Deed) -> Answer:
        """The thing as it is now, and what follows for it."""
        hint = MODES[self.bench.mode]
        if deed.code == NO_CODE:
            return Answer("done", "", hint)
        try:
            seen = see(self.shop, deed.code)
        except SalvageError:  # somebody took it back meanwhile; the answer itself tells
            return Answer("done", "", hint)
        if isinstance(seen, BoardSeen) and deed.verb in ("cut", "spoil") and seen.held:
            hint = f"{len(seen.held)} more reserved on {seen.code}: scan it again"
        return Answer("done", "", hint, seen)
