"""
A stranger who does what ``salvage`` alone says, until there is a story card.

What only a person knows stands here; every command line itself is taken from the program's mouth.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

MOST = 20
"""A stranger who has no card after so many command lines gives up."""

# What the stranger puts in the place of a question, by what the step is about.
_ANSWERS: dict[str, tuple[tuple[str, str], ...]] = {
    "workshop": (("setup", "setup --name 'Tidewrack Workshop' --operator Maren --device C"),),
    "drop-off": (("add", "add --donor 'Kelpie Point Planetarium' --contents 'star projector'"),),
    "data": (("FOUND", "'none found'"),),
    "board": (("TYPE", "expansion-card"), ("WxH", "120x80")),
    "clear": (("--walk", "--absent all-open --how 'lamp and mirror'"),),
}


@dataclass(frozen=True)
class Typed:
    """
    One command line of the stranger.

    Args:
        topic: What the program said that it was about; ``look`` for the program alone.
        line: Without the program's name.
        out: What came on standard output.
    """

    topic: str
    line: str
    out: str


def first_hour(run: Callable[[str], str]) -> Iterator[Typed]:
    """
    Every command line from nothing to the first story card.

    Args:
        run: Runs a command line, without the program's name, and gives its standard output.
    """
    for _ in range(MOST):
        out = run("--json")
        yield Typed("look", "", out)
        step = json.loads(out)["steps"][0]
        topic = str(step["topic"])
        line = str(step["command"]).removeprefix("salvage ")
        for word, answer in _ANSWERS.get(topic, ()):
            line = line.replace(word, answer)
        out = run(line)
        yield Typed(topic, line, out)
        if topic == "cut":  # it was shown places; the first one is taken
            (cut, *_) = re.findall(r"salvage (cut .*)", out)
            yield Typed("cut", cut, run(cut))
        if topic == "card":
            return
