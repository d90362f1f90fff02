"""
The demo workshop: one spring at Tidewrack Workshop, a small coastal repair-and-craft workshop.

Everything in it is invented. It is built through the same operations that a maker uses, with a
clock of its own and seeded randomness, so that every build gives the same database.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date
from importlib.resources import files
from pathlib import Path

from salvage.work.library import add_shape
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop, open_workshop

from .spring import basement, hospital, planetarium, radio
from .steps import DemoClock

SHAPES = ("fern-leaf", "kite", "lighthouse", "tern", "tide-bell")
"""The workshop's own shapes; each is an SVG file beside this one."""

_TOUR_TEXT = """
dropoff add --donor "Skerry Bay Community Radio" --contents "two boards of a mixing desk"
    --boards 2 --weight 1.4kg --source "public body" --data "none found"
board add DT0011B --type control-board --size 160x100 --colour green --thickness 1.6
    --date-code 9914 --keepout "0,0 30,14 fader connector"
label BT0026E --stock roll-57x32
scan BT0026E
board clear BT0026E --absent all-open --how "looked with lamp and mirror"
scan BT0026E
cut BT0026E --shape tern --at 60,60 --angle 20
piece stage PT0021G ready
piece price PT0021G 26
card PT0021G
piece sell PT0021G --venue "Lantern Fair"
trace PT0021G
check
"""

TOUR = tuple(_TOUR_TEXT.strip().replace("\n    ", " ").splitlines())
"""The main job from drop-off to story card, as command lines for the demo workshop."""


def build_workshop(folder: Path, *, progress: Callable[[str], None] = lambda words: None) -> None:
    """
    Build the demo workshop in an empty folder.

    Args:
        folder: Where the database and files go.
        progress: Called with a few words before each chapter.
    """
    clock = DemoClock()
    entropy = random.Random(20260214).randbytes
    with open_workshop(folder, clock=clock, entropy=entropy, by="Maren", device="T") as shop:
        for words, chapter in (
            ("setting up the workshop", _set_up),
            ("the planetarium's projector boards", planetarium),
            ("the hospital's telemetry rack", hospital),
            ("the radio station's transmitter room", radio),
            ("a box from somebody's basement", basement),
        ):
            progress(words)
            chapter(shop, clock)


def _set_up(shop: Workshop, clock: DemoClock) -> None:
    clock.turn_to(date(2026, 2, 14))
    change_settings(
        shop,
        typed={
            "name": "Tidewrack Workshop",
            "place": "Harbour Lane, Skerry Bay",
            "contact": "hello@tidewrack.example",
            "web-address": "https://tidewrack.example/s",
            "operator": "Maren",
            "kerf-mm": "1.5",
            "tool-mm": "1.5",
        },
    )
    for name in SHAPES:
        data = (files(__package__) / "shapes" / f"{name}.svg").read_bytes()
        add_shape(shop, name=name, data=data, file_name=f"{name}.svg")
