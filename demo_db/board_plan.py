"""
An imagined circuit board: which parts stand where, and how tracks run between them.

Nothing here is a real product. A seed decides everything, so that both sides of one board, and each
piece cut from it, always show the same board. Lengths are millimetres in board coordinates.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from random import Random
from typing import TypeAlias

GRID_MM = 0.75
"""Distance between neighbouring tracks; all pins stand on this grid."""

NAME_LETTER_MM = 1.75
"""Width to leave for each letter of a board's name."""

# Two blanks and the date code behind the name, as on the back.
_CODE_LETTERS = 6

HOLE_MM = 3.2
"""Diameter of the mounting holes, for an M3 screw; common practice, no source."""

Way: TypeAlias = tuple[int, int]
"""A direction on the grid."""


@dataclass(frozen=True, slots=True)
class Pin:
    """
    One pin and its pad.

    Args:
        x: Centre.
        y: Centre.
        wide: Of the pad, along x.
        high: Of the pad, along y.
        drilled: Whether the pin goes through the board, and its pad is round and on both sides.
        way: Out of the part; (0, 0) for a pin that tracks leave either way.
    """

    x: float
    y: float
    wide: float
    high: float
    drilled: bool
    way: Way


@dataclass(frozen=True, slots=True)
class Part:
    """
    One part on the front of a board.

    Args:
        kind: ``quad``, ``dual``, ``header``, ``terminal``, ``jack``, ``can``, ``crystal``,
            ``coil``, ``resistor`` or ``capacitor``.
        x: Centre of the body.
        y: Centre of the body.
        wide: Of the body, along x.
        high: Of the body, along y.
        tall: How far it stands up.
        pins: Its pins.
        mark: What is printed beside it, such as ``U3``.
    """

    kind: str
    x: float
    y: float
    wide: float
    high: float
    tall: float
    pins: tuple[Pin, ...]
    mark: str


@dataclass(frozen=True, slots=True)
class BoardPlan:
    """
    Everything on one board but its tracks.

    Args:
        wide: Width of the board.
        high: Height of the board.
        parts: On the front.
        holes: Centres of the mounting holes.
        name: Printed on the board.
        name_at: Lower left corner of the name; None where there is no room.
        date_code: Year and week, printed on the board.
    """

    wide: float
    high: float
    parts: tuple[Part, ...]
    holes: tuple[tuple[float, float], ...]
    name: str
    name_at: tuple[float, float] | None
    date_code: str


@lru_cache(maxsize=8)
def plan_board(seed: int, wide: float, high: float) -> BoardPlan:
    """
    The board that belongs to a seed and a size.

    Args:
        seed: Any whole number.
        wide: Width of the board, 25 to 400 mm.
        high: Height of the board, 25 to 400 mm.
    """
    dice = Random(f"plan {seed} {wide} {high}")
    inset = 4.5
    holes = tuple((x, y) for x in (inset, wide - inset) for y in (inset, high - inset))
    taken = [_around(x, y, 4.2, 4.2) for x, y in holes]
    taken.append(_around(wide - 12.0, 2.2, 3.6, 1.8))
    builder = _Builder(dice, wide, high, taken)
    name = f"{dice.choice(_NAMES)}-{dice.randint(10, 99)} REV {dice.choice('ABCD')}"
    builder.place_connectors()
    builder.place_chips()
    name_at = builder.reserve_name((len(name) + _CODE_LETTERS) * NAME_LETTER_MM)
    builder.place_small_parts()
    date_code = f"{dice.randint(11, 22):02d}{dice.randint(1, 52):02d}"
    return BoardPlan(wide, high, tuple(builder.parts), holes, name, name_at, date_code)


# Invented names, as a maker of such a board might have printed them.
_NAMES = (
    "DOME CTRL",
    "TX PANEL",
    "BEDSIDE IO",
    "PUMP LOGIC",
    "STAR DRIVE",
    "MIXER IF",
    "RELAY HUB",
)

_Box: TypeAlias = tuple[float, float, float, float]


def _around(x: float, y: float, half_wide: float, half_high: float) -> _Box:
    return x - half_wide, y - half_high, x + half_wide, y + half_high


def _snap(length: float) -> float:
    return round(length / GRID_MM) * GRID_MM


def _shifts(count: int, pitch: float) -> list[float]:
    """Places of evenly spaced pins about a middle, all of them on the grid."""
    first = _snap(-(count - 1) / 2 * pitch)
    return [first + number * pitch for number in range(count)]


class _Builder:
    """Places parts one by one where there is still room."""

    def __init__(self, dice: Random, wide: float, high: float, taken: list[_Box]) -> None:
        self.dice = dice
        self.wide = wide
        self.high = high
        self.taken = taken
        self.parts: list[Part] = []
        self.numbers: dict[str, int] = {}

    def place_connectors(self) -> None:
        """Connectors along the edges, the left one first."""
        for edge in ("left", "top", "right", "bottom"):
            length = self.high if edge in {"left", "right"} else self.wide
            along = 11.0
            while along < length - 14 and self.dice.random() < 0.86:
                kind = self.dice.choice(("header", "header", "terminal", "jack"))
                count = self.dice.randint(3, 12) if kind == "header" else self.dice.randint(2, 4)
                along += self._place_on_edge(edge, kind, count, along) + self.dice.uniform(2, 14)

    def _place_on_edge(self, edge: str, kind: str, count: int, along: float) -> float:
        pitch = {"header": 3, "terminal": 7, "jack": 5}[kind] * GRID_MM
        deep = {"header": 5.0, "terminal": 8.5, "jack": 12.0}[kind]
        tall = {"header": 8.0, "terminal": 10.0, "jack": 11.0}[kind]
        long = count * pitch + (0.8 if kind != "jack" else 2.0)
        upright = edge in {"left", "right"}
        across = {"left": 0.0, "bottom": 0.0, "right": self.wide, "top": self.high}[edge]
        inward = 1 if edge in {"left", "bottom"} else -1
        middle = _snap(across + inward * (deep / 2 + 1.0)), _snap(along + long / 2)
        x, y = middle if upright else (middle[1], middle[0])
        half = (deep / 2, long / 2) if upright else (long / 2, deep / 2)
        room = (self.high if upright else self.wide) - 9
        if along + long > room or not self._is_free(_around(x, y, half[0] + 1, half[1] + 1)):
            return long / 2
        rows = 2 if kind == "header" else 1
        pins = tuple(self._edge_pins(x, y, count, pitch, rows, upright, inward))
        self._add(kind, _around(x, y, *half), tall, pins, "J", clear=1.6)
        return long

    def _edge_pins(
        self, x: float, y: float, count: int, pitch: float, rows: int, upright: bool, inward: int
    ) -> Iterator[Pin]:
        way = (inward, 0) if upright else (0, inward)
        for row in range(rows):
            side = (row - (rows - 1) / 2) * 3 * GRID_MM + (0 if rows > 1 else inward * 1.5)
            for shift in _shifts(count, pitch):
                at = (x + side, y + shift) if upright else (x + shift, y + side)
                yield Pin(_snap(at[0]), _snap(at[1]), 1.5, 1.5, True, way)

    def reserve_name(self, long: float) -> tuple[float, float] | None:
        """Room for the printed name, given its length."""
        spot = self._find_room(long / 2, 1.9, tries=80)
        if spot is None:
            return None
        self.taken.append(_around(*spot, long / 2, 1.9))
        return spot[0] - long / 2, spot[1] - 1.6

    def place_chips(self) -> None:
        """One or more large chips with pins all round, and some with pins on two sides."""
        area = self.wide * self.high
        for _ in range(max(1, round(area / 7000))):
            for pins in (self.dice.randint(16, 24), 14, 10, 8):
                if self._place_chip(pins, pins):
                    break
        for _ in range(max(2, round(area / 1900))):
            self._place_chip(self.dice.choice((4, 7, 8, 8, 10, 14)), 0)

    def _place_chip(self, down: int, across: int) -> bool:
        pitch = GRID_MM if across else 2 * GRID_MM
        size = down * pitch + (2.2 if across else 0.8)
        high, wide = size, (size if across else self.dice.choice((4.5, 6.0, 7.5)))
        if not across and self.dice.random() < 0.5:
            wide, high, down, across = high, wide, 0, down
        spot = self._find_room(wide / 2 + 3.4, high / 2 + 3.4, tries=60)
        if spot is None:
            return False
        x, y = spot
        pins: list[Pin] = []
        for shift in _shifts(down, pitch):
            for way in (-1, 1):
                edge = _snap(x + way * (wide / 2 + 1.1))
                pins.append(Pin(edge, y + shift, 1.5, 0.55 * pitch, False, (way, 0)))
        for shift in _shifts(across, pitch):
            for way in (-1, 1):
                edge = _snap(y + way * (high / 2 + 1.1))
                pins.append(Pin(x + shift, edge, 0.55 * pitch, 1.5, False, (0, way)))
        kind = "quad" if down and across else "dual"
        self._add(kind, _around(x, y, wide / 2, high / 2), 1.8, tuple(pins), "U", clear=2.6)
        return True

    def place_small_parts(self) -> None:
        """Cans, crystals and coils, then rows of resistors and capacitors in what room is left."""
        area = self.wide * self.high
        for _ in range(max(2, round(area / 1500))):
            kind = self.dice.choice(("can", "can", "crystal", "coil"))
            half = {"can": self.dice.choice((3.0, 4.0, 5.0)), "crystal": 2.2, "coil": 4.0}[kind]
            wide = 5.4 if kind == "crystal" else half
            spot = self._find_room(wide + 1.2, half + 1.2, tries=25)
            if spot is None:
                continue
            reach = {"can": 1.5, "crystal": 2.25, "coil": 3.0}[kind]
            drilled = kind != "coil"
            pins = tuple(
                Pin(_snap(spot[0] + way * reach), spot[1], 1.5, 1.8, drilled, (way, 0))
                for way in (-1, 1)
            )
            tall = {"can": 2.6 * half, "crystal": 3.5, "coil": 4.0}[kind]
            letter = {"can": "C", "crystal": "Y", "coil": "L"}[kind]
            self._add(kind, _around(*spot, wide, half), tall, pins, letter, clear=1.0)
        for _ in range(round(area / 190)):
            self._place_row()

    def _place_row(self) -> None:
        count = self.dice.choice((1, 2, 3, 4, 6))
        lying = self.dice.random() < 0.5
        step = 4 * GRID_MM
        half = (1.9, count * step / 2) if lying else (count * step / 2, 1.9)
        spot = self._find_room(half[0] + 0.4, half[1] + 0.4, tries=6)
        if spot is None:
            return
        kind = self.dice.choice(("resistor", "capacitor"))
        for shift in _shifts(count, step):
            x, y = (spot[0], spot[1] + shift) if lying else (spot[0] + shift, spot[1])
            pins = tuple(
                Pin(x + way * 1.5, y, 0.9, 1.35, False, (way, 0))
                if lying
                else Pin(x, y + way * 1.5, 1.35, 0.9, False, (0, way))
                for way in (-1, 1)
            )
            body = _around(x, y, 1.0, 0.62) if lying else _around(x, y, 0.62, 1.0)
            self._add(kind, body, 0.6, pins, kind[0].upper(), clear=0.9)

    def _find_room(
        self, half_wide: float, half_high: float, *, tries: int
    ) -> tuple[float, float] | None:
        rim = 2.0
        if 2 * (half_wide + rim) > self.wide or 2 * (half_high + rim) > self.high:
            return None
        for _ in range(tries):
            x = _snap(self.dice.uniform(half_wide + rim, self.wide - half_wide - rim))
            y = _snap(self.dice.uniform(half_high + rim, self.high - half_high - rim))
            if self._is_free(_around(x, y, half_wide, half_high)):
                return x, y
        return None

    def _is_free(self, box: _Box) -> bool:
        return all(
            box[2] <= other[0] or other[2] <= box[0] or box[3] <= other[1] or other[3] <= box[1]
            for other in self.taken
        )

    def _add(
        self,
        kind: str,
        body: _Box,
        tall: float,
        pins: tuple[Pin, ...],
        letter: str,
        *,
        clear: float,
    ) -> None:
        number = self.numbers[letter] = self.numbers.get(letter, 0) + 1
        left, bottom, right, top = body
        for pin in pins:
            left, right = min(left, pin.x), max(right, pin.x)
            bottom, top = min(bottom, pin.y), max(top, pin.y)
        self.taken.append((left - clear, bottom - clear, right + clear, top + clear))
        middle = (body[0] + body[2]) / 2, (body[1] + body[3]) / 2
        size = body[2] - body[0], body[3] - body[1]
        self.parts.append(Part(kind, *middle, *size, tall, pins, f"{letter}{number}"))
