"""
Seeded copper, dense here and sparse there: fan-outs, buses, single tracks, pads and silk.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

Place: TypeAlias = tuple[float, float]
Trace: TypeAlias = tuple[tuple[Place, ...], float]
"""A track: its corners, and its width; all in millimetres."""

Pad: TypeAlias = tuple[float, float, float, float, bool]
"""Centre x and y, width, height, and whether it is round."""

_BODIES = ((34, 34, 36), (40, 40, 44), (52, 52, 56))
_OTHERS = (
    (228, 226, 218),
    (30, 30, 30),
    (196, 176, 128),
    (52, 84, 150),
    (150, 152, 156),
    (190, 120, 60),
    (40, 110, 70),
)


@dataclass(frozen=True, slots=True)
class Part:
    """A component's body: centre, width, depth, height in mm, colour, and whether it is a can."""

    x: float
    y: float
    wide: float
    deep: float
    tall: float
    colour: tuple[int, int, int]
    is_round: bool = False


@dataclass(frozen=True, slots=True)
class Artwork:
    """What is etched, plated and printed on one side, and the parts that it was made for."""

    traces: tuple[Trace, ...]
    pads: tuple[Pad, ...]
    silk: tuple[Trace, ...]
    parts: tuple[Part, ...]


class _Sheet:
    """The artwork while it grows."""

    def __init__(self, dice: random.Random, width: float, height: float) -> None:
        self.dice = dice
        self.width, self.height = width, height
        self.traces: list[Trace] = []
        self.pads: list[Pad] = []
        self.silk: list[Trace] = []
        self.parts: list[Part] = []

    def is_free(self, x: float, y: float, wide: float, deep: float) -> bool:
        """Whether a body there stays on the board and touches no other."""
        inside = wide / 2 < x < self.width - wide / 2 and deep / 2 < y < self.height - deep / 2
        return inside and all(
            abs(x - part.x) > (wide + part.wide) / 2 + 0.8
            or abs(y - part.y) > (deep + part.deep) / 2 + 0.8
            for part in self.parts
        )


def draw_artwork(dice: random.Random, width: float, height: float) -> Artwork:
    """
    Copper, silk and parts for one side.

    Args:
        dice: Source of chance.
        width: Of the board, in millimetres.
        height: Of the board, in millimetres.
    """
    sheet = _Sheet(dice, width, height)
    # Chips crowd round one spot: a board has busy and quiet quarters.
    busy = dice.uniform(0.25, 0.75) * width, dice.uniform(0.3, 0.7) * height
    for _ in range(max(1, round(width * height / 3500))):
        _add_chip(sheet, busy)
    for _ in range(dice.randint(1, 3)):
        _add_bus(sheet, busy)
    for _ in range(round(width * height / 260)):
        _add_track(sheet, busy)
    for _ in range(round(width * height / 110)):
        _add_small_part(sheet, busy)
    for _ in range(dice.randint(1, 5)):
        _add_large_part(sheet)
    _add_words(sheet)
    return Artwork(tuple(sheet.traces), tuple(sheet.pads), tuple(sheet.silk), tuple(sheet.parts))


def _near(sheet: _Sheet, busy: Place, spread: float) -> Place:
    """A place drawn round the busy spot, or anywhere one time in four."""
    dice = sheet.dice
    if dice.random() < 0.25:
        return dice.uniform(0, sheet.width), dice.uniform(0, sheet.height)
    return (
        dice.gauss(busy[0], spread * sheet.width),
        dice.gauss(busy[1], spread * sheet.height),
    )


def _add_chip(sheet: _Sheet, busy: Place) -> None:
    """A square chip with leads on four sides, or a grid of balls, and its fan-out."""
    dice = sheet.dice
    side = dice.uniform(8, 24)
    for _ in range(12):
        x, y = _near(sheet, busy, 0.2)
        if sheet.is_free(x, y, side + 3, side + 3):
            break
    else:
        return
    if dice.random() < 0.35:
        _add_balls(sheet, x, y, side)
    else:
        _add_leads(sheet, x, y, side, dice.choice((0.5, 0.65, 0.8, 1.0)))
    sheet.parts.append(Part(x, y, side, side, dice.uniform(1.0, 2.8), dice.choice(_BODIES)))
    _add_frame(sheet, x, y, side + 3, side + 3)


def _add_leads(sheet: _Sheet, x: float, y: float, side: float, pitch: float) -> None:
    dice = sheet.dice
    count = int((side - 1.5) / pitch)
    reach = dice.uniform(3, 11)
    for turn in range(4):
        cos, sin = (1, 0, -1, 0)[turn], (0, 1, 0, -1)[turn]

        def at(out: float, along: float, cos: int = cos, sin: int = sin) -> Place:
            return x + out * cos - along * sin, y + out * sin + along * cos

        for i in range(count):
            along = (i - (count - 1) / 2) * pitch
            px, py = at(side / 2 + 0.9, along)
            thin, long = 0.55 * pitch, 1.6
            sheet.pads.append((px, py, *((long, thin) if cos else (thin, long)), False))
            if dice.random() < 0.88:
                first = 0.6 + 0.9 * abs(along) / side
                bend = along * dice.uniform(0.1, 0.5)
                knee = side / 2 + 1.7 + first
                end = knee + abs(bend) + reach * dice.uniform(0.2, 1)
                slope = at(knee, along), at(knee + abs(bend), along + bend)
                way = (at(side / 2 + 0.9, along), *slope, at(end, along + bend))
                sheet.traces.append((way, dice.choice((0.15, 0.2))))
                sheet.pads.append((*way[-1], 0.6, 0.6, True))


def _add_balls(sheet: _Sheet, x: float, y: float, side: float) -> None:
    dice = sheet.dice
    pitch = dice.choice((0.8, 1.0, 1.27))
    count = int((side - 1) / pitch)
    half = (count - 1) / 2
    for row in range(count):
        for column in range(count):
            dx, dy = (column - half) * pitch, (row - half) * pitch
            sheet.pads.append((x + dx, y + dy, 0.5, 0.5, True))
            if max(abs(dx), abs(dy)) < side / 5:
                continue
            # A dog's leg between the balls, then straight out of the field.
            kx, ky = dx + pitch / 2, dy + pitch / 2
            out = side / 2 + dice.uniform(2, 9)
            end = (
                (math.copysign(out, dx), ky) if abs(dx) >= abs(dy) else (kx, math.copysign(out, dy))
            )
            way = ((x + dx, y + dy), (x + kx, y + ky), (x + end[0], y + end[1]))
            sheet.traces.append((way, 0.13))


def _add_bus(sheet: _Sheet, busy: Place) -> None:
    """Many tracks side by side with 45-degree bends."""
    dice = sheet.dice
    x, y = _near(sheet, busy, 0.15)
    count, pitch = dice.randint(8, 28), dice.choice((0.36, 0.4, 0.5, 0.63))
    run = dice.uniform(0.25, 0.6) * sheet.width * dice.choice((-1, 1))
    jog = dice.uniform(4, 16) * dice.choice((-1, 1))
    for i in range(count):
        dy = (i - count / 2) * pitch
        # Bends move along with the lane, so that the lanes stay parallel in the slope too.
        slip = dy * 0.414 * (-1 if (jog > 0) == (run > 0) else 1)
        first = x + run / 2 + slip
        last = first + math.copysign(abs(jog), run)
        way = (
            (x, y + dy),
            (first, y + dy),
            (last, y + jog + dy),
            (x + run + last - first, y + jog + dy),
        )
        sheet.traces.append((way, pitch * 0.42))


def _add_track(sheet: _Sheet, busy: Place) -> None:
    """One track that wanders along eight directions, between two vias."""
    dice = sheet.dice
    at = _near(sheet, busy, 0.28)
    way, turn = [at], dice.randrange(8)
    for _ in range(dice.randint(2, 5)):
        length = dice.uniform(1.5, 14)
        angle = turn * math.pi / 4
        at = at[0] + length * math.cos(angle), at[1] + length * math.sin(angle)
        way.append(at)
        turn += dice.choice((-1, 1))
    sheet.traces.append((tuple(way), dice.choice((0.2, 0.2, 0.25, 0.3, 0.5, 1.2))))
    for end in (way[0], way[-1]):
        sheet.pads.append((*end, 0.7, 0.7, True))


def _add_small_part(sheet: _Sheet, busy: Place) -> None:
    """A chip resistor or capacitor with its two pads."""
    dice = sheet.dice
    x, y = _near(sheet, busy, 0.3)
    long, thin, tall = dice.choice(((1.6, 0.8, 0.5), (2.0, 1.25, 0.7), (3.2, 1.6, 1.1)))
    if dice.random() < 0.5:
        wide, deep = long, thin
        ends = ((x - long / 2, y), (x + long / 2, y))
    else:
        wide, deep = thin, long
        ends = ((x, y - long / 2), (x, y + long / 2))
    if not sheet.is_free(x, y, wide + 0.6, deep + 0.6):
        return
    for px, py in ends:
        sheet.pads.append((px, py, thin, thin, False))
    colour = dice.choice(((30, 30, 32), (150, 118, 82), (176, 150, 112)))
    sheet.parts.append(Part(x, y, wide, deep, tall, colour))


def _add_large_part(sheet: _Sheet) -> None:
    """A connector, coil or can, anywhere."""
    dice = sheet.dice
    is_round = dice.random() < 0.45
    wide = dice.uniform(4, 12)
    deep = wide if is_round else dice.uniform(5, 14)
    for _ in range(8):
        x, y = dice.uniform(0, sheet.width), dice.uniform(0, sheet.height)
        if sheet.is_free(x, y, wide + 1, deep + 1):
            tall = dice.uniform(3, 12)
            colour = dice.choice(_OTHERS)
            sheet.parts.append(Part(x, y, wide, deep, tall, colour, is_round))
            _add_frame(sheet, x, y, wide + 1, deep + 1)
            return


def _add_frame(sheet: _Sheet, x: float, y: float, wide: float, deep: float) -> None:
    a, b, c, d = x - wide / 2, y - deep / 2, x + wide / 2, y + deep / 2
    sheet.silk.append((((a, b), (c, b), (c, d), (a, d), (a, b)), 0.15))


def _add_words(sheet: _Sheet) -> None:
    """Strokes that look like small print without saying anything."""
    dice = sheet.dice
    for _ in range(round(sheet.width * sheet.height / 320)):
        x, y = dice.uniform(2, sheet.width - 2), dice.uniform(2, sheet.height - 2)
        for i in range(dice.randint(2, 4)):
            sheet.silk.append((tuple(_letter(dice, x + 1.1 * i, y)), 0.15))


def _letter(dice: random.Random, x: float, y: float) -> Iterator[Place]:
    for _ in range(4):
        yield x + 0.8 * dice.randint(0, 1), y + 0.65 * dice.randint(0, 2)
