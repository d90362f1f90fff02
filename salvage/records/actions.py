"""
The codes of the printed action sheet: what to do, said by a scanner instead of a key.

They have the grammar and the check character of all our codes, and a kind letter of their own, so
that no action is ever taken for a thing. Any two of them differ in four places at least, so that
three misread characters never make another action. They are the same in every workshop and stay
what they are for ever, because a printed sheet hangs on the wall for years.
"""

from __future__ import annotations

from salvage.errors import NotFound
from salvage.frozen import dataclass
from salvage.ids import Code, parse_code

ACTION_KIND = "X"
"""Kind letter of all action codes."""


@dataclass(frozen=True, slots=True)
class Action:
    """
    One action.

    Args:
        code: What its symbol says.
        verb: What to do, one of :data:`VERBS`.
        argument: The stage for ``stage``, the number for ``quantity``, the side of a photo for
            ``side``; else empty.
        words: What is printed under the symbol and shown on the screen.
        hint: What the sheet says about it in small type; empty for nothing.
    """

    code: Code
    verb: str
    argument: str
    words: str
    hint: str = ""

    @property
    def name(self) -> str:
        """
        Verb and argument as one word.

        >>> find_action("XX1107E").name
        'stage-sanded'
        """
        return f"{self.verb}-{self.argument}" if self.argument else self.verb


def _quantity(code: str, number: int) -> Action:
    return Action(Code(code), "quantity", str(number), str(number))


def _stage(code: str, stage: str) -> Action:
    return Action(Code(code), "stage", stage, stage.capitalize())


def _side(code: str, side: str, words: str) -> Action:
    return Action(Code(code), "side", side, words, "beside the label in a photo")


# The running numbers were chosen once, in rising order, so that any two codes differ in four places
# at least; a new action takes a further number of that kind, and none is ever given away twice.
ACTIONS = (
    Action(Code("XX0001D"), "cut", "", "Cut", "as planned or reserved"),
    Action(Code("XX0115U"), "scrap", "", "Scrap", "the cut gave no piece"),
    Action(Code("XX0224K"), "next-stage", "", "Next stage", "one step on"),
    Action(Code("XX0330G"), "sold", "", "Sold"),
    Action(Code("XX0446T"), "return", "", "Taken back", "a buyer returned it"),
    Action(Code("XX0552P"), "move", "", "Move", "then scan the place"),
    Action(Code("XX0663B"), "undo", "", "Undo", "the last step"),
    Action(Code("XX0888E"), "confirm", "", "Yes"),
    Action(Code("XX0977C"), "cancel", "", "Cancel", "forget what was begun"),
    Action(Code("XX1016K"), "done", "", "Done", "end the round"),
    _stage("XX1107E", "sanded"),
    _stage("XX1238T", "sealed"),
    _stage("XX1325V", "assembled"),
    _stage("XX1451J", "ready"),
    _stage("XX1540H", "rough"),
    _quantity("XX1672U", 1),
    _quantity("XX1769C", 2),
    _quantity("XX1993X", 3),
    _quantity("XX2020C", 4),
    _quantity("XX2132X", 5),
    _quantity("XX2209N", 6),
    _quantity("XX2311R", 7),
    _quantity("XX2464U", 8),
    _quantity("XX2573K", 9),
    _quantity("XX2647G", 10),
    _side("XX2786V", "front", "Front"),
    _side("XX2955T", "back", "Back"),
    _side("XX3033N", "other", "Detail"),
)
"""All actions, in the order of the printed sheet."""

VERBS = tuple(dict.fromkeys(action.verb for action in ACTIONS))
"""What an action may ask for."""

_BY_CODE = {action.code: action for action in ACTIONS}


def is_action(code: str) -> bool:
    """Whether a code is one of the printed actions."""
    return code in _BY_CODE


def find_action(text: str) -> Action:
    """
    The action that a typed or scanned code means.

    Raises:
        BadCode: If it is no code, or not one of an action.
        NotFound: If no action has this code.

    >>> find_action("xx-0663-b").words
    'Undo'
    """
    code = parse_code(text, kind=ACTION_KIND)
    if code not in _BY_CODE:
        raise NotFound(
            f"{code} is not on the action sheet", hint="print a new one: salvage label --actions"
        )
    return _BY_CODE[code]
