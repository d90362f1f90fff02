"""
The bench: what a scan means in the mode that the bench is in.

Nothing here reads or writes the record. :func:`advance` takes the bench as it stands and what was
scanned, and gives the bench as it stands then, the answer, and the deeds to be done, if any. What
cannot be seen again, such as a cut, is done only after a question that was answered with a typed
``y`` or the card ``Yes``: the code of a thing is never a yes.
"""

from __future__ import annotations

from dataclasses import replace

from salvage.errors import BadValue
from salvage.records.actions import ACTIONS
from salvage.units import format_money, parse_money
from salvage.work.bench_modes import (
    BOARD_MODES,
    PIECE_MODES,
    board_where_pieces_go,
    piece_where_boards_go,
)
from salvage.work.bench_state import MOST_DONE, YES_OR_NO, Bench, Step, ask, hint
from salvage.work.bench_words import (
    HELP,
    KEYS,
    NO,
    QUIT,
    YES,
    ActionSeen,
    Answer,
    BoardSeen,
    Deed,
    Done,
    PieceSeen,
    PlaceSeen,
    Seen,
    ThingSeen,
    TypedSeen,
)

_MOST_QUANTITY = 99
_BY_NAME = {action.name: action for action in ACTIONS}
_BY_NAME |= {f"{action.argument}": action for action in ACTIONS if action.verb == "stage"}


def advance(bench: Bench, seen: Seen) -> Step:
    """
    What a scan or a typed line means now.

    Args:
        bench: As it stands.
        seen: What came in.
    """
    if bench.question:
        return _answer_question(bench, seen)
    seen = _key(bench, seen)
    if isinstance(seen, TypedSeen):
        return _typed(bench, seen)
    if isinstance(seen, ActionSeen):
        return _act(replace(bench, priced=None), seen)
    bench = replace(bench, priced=None)
    if isinstance(seen, PlaceSeen):
        return _go_to_place(bench, seen.place)
    if isinstance(seen, ThingSeen):
        return Step(bench, Answer("shown", f"{seen.code}  {seen.words}", seen=seen))
    if isinstance(seen, BoardSeen):
        return BOARD_MODES.get(bench.mode, board_where_pieces_go)(bench, seen)
    return PIECE_MODES.get(bench.mode, piece_where_boards_go)(bench, seen)


def settle(bench: Bench, deed: Deed, done: Done) -> Bench:
    """The bench after a deed is in the record."""
    if deed.verb == "undo":
        return replace(
            bench, done=tuple(one for one in bench.done if one.operation != deed.operation)
        )
    return replace(bench, done=(*bench.done, done)[-MOST_DONE:])


def rest(bench: Bench) -> Bench:
    """
    The bench after a while without a scan: whoever comes next looks first.

    A question is not answered by waiting, so it goes too.
    """
    return Bench(done=bench.done)


def _key(bench: Bench, seen: Seen) -> Seen:
    """A typed letter or word as the action that it stands for."""
    if not isinstance(seen, TypedSeen):
        return seen
    text = " ".join(seen.text.lower().split())
    if bench.asks_place and text != "k":
        return seen
    if text in KEYS:
        return ActionSeen(KEYS[text])
    action = _BY_NAME.get(text.replace(" ", "-"))
    if action and action.verb not in ("quantity", "side"):
        return ActionSeen(action.verb, action.argument)
    if not bench.priced and text.isascii() and text.isdecimal() and len(text) <= 2:
        return ActionSeen("quantity", text)
    return ActionSeen("confirm") if text in YES else seen


def _answer_question(bench: Bench, seen: Seen) -> Step:
    asked, bench = bench, replace(bench, question=())
    typed = seen.text.strip().lower() if isinstance(seen, TypedSeen) else ""
    keyed = _key(bench, seen)
    verb = keyed.verb if isinstance(keyed, ActionSeen) else ""
    if typed in YES or verb == "confirm":
        words = "; ".join(deed.words for deed in asked.question)
        return Step(bench, Answer("told", words), asked.question)
    left = f"not done: {asked.question[0].words}"
    if typed in NO or verb in ("cancel", "done"):
        return Step(bench, Answer("told", left, hint(bench)))
    if typed in HELP or (typed not in QUIT and isinstance(keyed, TypedSeen)):
        kind = "told" if typed in HELP else "refused"
        return Step(asked, Answer(kind, "the question waits for a yes or a no", YES_OR_NO))
    step = advance(bench, seen)
    return replace(step, answer=replace(step.answer, words=f"{left}. {step.answer.words}"))


def _typed(bench: Bench, seen: TypedSeen) -> Step:
    text = seen.text.strip()
    if text.lower() in QUIT:
        return Step(bench, Answer("told", "the bench is closed"), leave=True)
    if text.lower() in HELP:
        return Step(bench, Answer("told", "help"))
    if bench.asks_place:
        return _go_to_place(bench, text)
    if bench.priced:
        return _price(bench, bench.priced, text)
    return Step(bench, Answer("refused", seen.trouble or f"'{text}' is not known here", _HELP))


_HELP = "scan again, or ? + Enter for help"


def _act(bench: Bench, seen: ActionSeen) -> Step:
    if seen.verb == "quantity":
        return _count(bench, int(seen.argument))
    if seen.verb == "undo":
        return _ask_undo(bench)
    if seen.verb == "confirm":
        return Step(bench, Answer("refused", "there is no question to say yes to", hint(bench)))
    if seen.verb in ("cancel", "done"):
        return _go_to(bench, "look")
    if seen.verb == "move":
        step = _go_to(bench, "move")
        bench = replace(step.bench, asks_place=True)
        return Step(bench, Answer("wanted", "move where?", "scan the place, or type it + Enter"))
    if seen.verb == "side":
        words = "this card says which side a photo shows"
        return Step(bench, Answer("refused", words, "lay it beside the label, then take the photo"))
    return _go_to(bench, seen.verb, seen.argument)


def _go_to(bench: Bench, mode: str, argument: str = "") -> Step:
    kept = bench.quantity if mode in ("cut", "scrap") else 1
    bench = Bench(mode, argument, kept, done=bench.done)
    return Step(bench, Answer("told", bench.title, hint(bench)))


def _count(bench: Bench, quantity: int) -> Step:
    if not 1 <= quantity <= _MOST_QUANTITY:
        return Step(bench, Answer("refused", f"{quantity} is no count", "1 to 99"))
    if bench.mode not in ("look", "cut", "scrap"):
        words = f"a count of {quantity} means nothing here: each has its own code"
        return Step(bench, Answer("refused", words, hint(bench)))
    bench = replace(bench, quantity=quantity)
    then = hint(bench) if bench.mode != "look" else "scan Cut, then the board"
    return Step(bench, Answer("told", f"count: {quantity}", then))


def _ask_undo(bench: Bench) -> Step:
    if not bench.done:
        words = "this bench has done nothing that could be undone"
        return Step(bench, Answer("refused", words, "'salvage journal' lists everything"))
    last = bench.done[-1]
    since = " (from before this bench was opened)" if last.before else ""
    return ask(bench, Deed("undo", f"undo: {last.words}{since}", operation=last.operation))


def _go_to_place(bench: Bench, place: str) -> Step:
    place = " ".join(place.split())
    if not place:
        return Step(bench, Answer("refused", "say which place", "scan it, or type it + Enter"))
    bench = Bench("move", place, done=bench.done)
    return Step(bench, Answer("told", bench.title, hint(bench)))


def _price(bench: Bench, piece: PieceSeen, text: str) -> Step:
    try:
        price_minor = parse_money(text, currency=piece.currency)
    except BadValue as error:
        return Step(bench, Answer("refused", error.message, f"what was paid for {piece.code}?"))
    words = f"sell {piece.code} {piece.shape} for {format_money(price_minor, piece.currency)}"
    deed = Deed("sell", words, piece.code, price_minor=price_minor)
    return ask(replace(bench, priced=None), deed, seen=piece)
