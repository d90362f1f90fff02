"""The bench as it stands between two scans, and what may follow from one."""

from __future__ import annotations

from dataclasses import dataclass, replace

from salvage.work.bench_words import ASK_FIRST, Answer, Deed, Done, PieceSeen, Seen

MODES = {
    "look": "scan a board or a piece to see it, or an action to begin",
    "cut": "scan a board: its next reserved place is cut",
    "scrap": "scan a board whose next cut gave no piece, or a piece to withdraw",
    "next-stage": "scan pieces: each goes one stage on",
    "stage": "scan pieces: each goes to this stage",
    "sold": "scan the pieces that were sold",
    "return": "scan the pieces that came back",
    "move": "scan the boards that lie here now",
}
"""Modes of the bench, with what to scan in each."""

MOST_DONE = 50
"""Deeds that the bench remembers for undo."""

YES_OR_NO = "y + Enter or the card Yes; n + Enter or the card Cancel"
"""How a question is answered."""


@dataclass(frozen=True, slots=True)
class Bench:
    """
    The bench as it stands.

    Args:
        mode: Key of :data:`MODES`.
        argument: The stage or the place that the mode works with.
        quantity: How many the next cut is for.
        question: Deeds that wait for a yes.
        priced: The sold piece whose price is asked for.
        asks_place: Whether the place is asked for.
        done: Deeds of this session, the newest last.
    """

    mode: str = "look"
    argument: str = ""
    quantity: int = 1
    question: tuple[Deed, ...] = ()
    priced: PieceSeen | None = None
    asks_place: bool = False
    done: tuple[Done, ...] = ()

    @property
    def title(self) -> str:
        """
        The mode in words for the banner.

        >>> Bench("move", "shelf 2").title
        'MOVE to shelf 2'
        """
        words = self.mode.replace("-", " ").upper()
        if self.mode == "stage":
            return f"STAGE {self.argument.upper()}"
        if self.mode == "move" and self.argument:
            return f"{words} to {self.argument}"
        return f"{words} x {self.quantity}" if self.quantity > 1 else words


@dataclass(frozen=True, slots=True)
class Step:
    """
    What follows from a scan.

    Args:
        bench: The bench then.
        answer: What to show.
        deeds: To be done now, in order; the first that is refused ends them.
        leave: Whether the maker goes.
    """

    bench: Bench
    answer: Answer
    deeds: tuple[Deed, ...] = ()
    leave: bool = False


def hint(bench: Bench) -> str:
    """What to scan in the mode that the bench is in."""
    return MODES[bench.mode]


def ask(bench: Bench, *deeds: Deed, seen: Seen | None = None) -> Step:
    """Ask before something is done."""
    words = "; ".join(deed.words for deed in deeds)
    bench = replace(bench, question=deeds)
    return Step(bench, Answer("asked", f"{words}?", YES_OR_NO, seen))


def do(bench: Bench, deed: Deed, seen: Seen) -> Step:
    """Do at once what may be done without asking."""
    assert deed.verb not in ASK_FIRST
    return Step(bench, Answer("told", deed.words, hint(bench), seen), (deed,))
