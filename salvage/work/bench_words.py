"""What the bench speaks of: what was scanned, what is to be done, what was answered."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from salvage.ids import Code

if TYPE_CHECKING:
    from salvage.work.look import BoardLook

KEYS = {
    "c": "cut",
    "x": "scrap",
    "n": "next-stage",
    "s": "sold",
    "r": "return",
    "m": "move",
    "u": "undo",
    "y": "confirm",
    "k": "cancel",
    "d": "done",
}
"""Single letters, each followed by Enter, that say the same as the action sheet."""

YES, NO, HELP, QUIT = ("y", "yes"), ("n", "no"), ("?", "h", "help"), ("q", "quit", "exit")
"""Words that are typed, never scanned; only these and the card ``Yes`` are a yes."""


@dataclass(frozen=True, slots=True)
class HeldPlace:
    """
    A place on a board that is to be cut.

    Args:
        reservation: Its code.
        words: What goes there, where, and for whom.
    """

    reservation: Code
    words: str


@dataclass(frozen=True, slots=True)
class BoardSeen:
    """
    A board that was scanned.

    Args:
        code: Its code.
        title: What it is.
        go: Whether it may be cut now.
        bars: What forbids the cut, in words.
        mend: What to do about the gravest.
        place: Where it is recorded to lie.
        held: Places that are reserved, next first.
        look: What one screen shows of it.
    """

    code: Code
    title: str
    go: bool
    bars: tuple[str, ...] = ()
    mend: str = ""
    place: str = ""
    held: tuple[HeldPlace, ...] = ()
    look: BoardLook | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class PieceSeen:
    """
    A piece that was scanned.

    Args:
        code: Its code.
        shape: What it is.
        stage: One of :data:`salvage.records.choices.STAGES`.
        now: Where it is, in words.
        price_minor: The marked price; None while it has none.
        currency: Of the price, or the workshop's.
        board: The board that it was cut from; all of them for an article.
        recalled: Whether it is called back.
    """

    code: Code
    shape: str
    stage: str
    now: str
    price_minor: int | None = None
    currency: str = "EUR"
    board: str = ""
    recalled: bool = False


@dataclass(frozen=True, slots=True)
class ThingSeen:
    """Another thing of ours, such as a drop-off: what it is, in words."""

    code: Code
    words: str


@dataclass(frozen=True, slots=True)
class PlaceSeen:
    """A label of a place in the workshop."""

    place: str


@dataclass(frozen=True, slots=True)
class ActionSeen:
    """An action of the printed sheet, or its key."""

    verb: str
    argument: str = ""


@dataclass(frozen=True, slots=True)
class TypedSeen:
    """
    A line that is no code of ours.

    Args:
        text: As typed.
        trouble: Why it is none, in words.
    """

    text: str
    trouble: str = ""


NO_CODE = Code("")
"""Stands for no thing."""

Seen = BoardSeen | PieceSeen | ThingSeen | PlaceSeen | ActionSeen | TypedSeen
"""Anything that comes in."""


@dataclass(frozen=True, slots=True)
class Deed:
    """
    One thing to be done to the record.

    Args:
        verb: ``cut``, ``spoil``, ``withdraw``, ``stage``, ``sell``, ``take back``, ``move`` or
            ``undo``.
        words: What it does, in a line.
        code: The board or piece; empty for an undo.
        reservation: The place that is cut.
        stage: The stage that is reached.
        price_minor: What was paid, where the piece has no price.
        place: Where it goes.
        operation: The operation that is taken back.
    """

    verb: str
    words: str
    code: Code = NO_CODE
    reservation: Code = NO_CODE
    stage: str = ""
    price_minor: int | None = None
    place: str = ""
    operation: str = ""


ASK_FIRST = frozenset({"cut", "spoil", "withdraw", "take back", "undo"})
"""Deeds that are never done without a question that was on the screen before; so are sales at a
typed price."""


@dataclass(frozen=True, slots=True)
class Done:
    """
    A deed that is in the record.

    Args:
        operation: Id of its operation.
        words: What was done.
        at: When, as ``HH:MM`` in UTC, or empty for now.
        before: Whether it was done before this bench was opened.
    """

    operation: str
    words: str
    at: str = ""
    before: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """
    What the bench says to a scan.

    Args:
        kind: ``shown``, ``asked`` for a yes, ``wanted`` for a price or place to be typed, ``told``,
            ``done`` or ``refused``.
        words: It, in a line.
        hint: What to do next.
        seen: The board or piece to be shown with it.
    """

    kind: str
    words: str
    hint: str = ""
    seen: Seen | None = None
