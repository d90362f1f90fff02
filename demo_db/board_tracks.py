"""
Tracks between the pins of an imagined board: straight runs and 45 degree bends on a grid.

No electrical sense is claimed. What counts is that tracks on one side never cross, as on any board.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from random import Random
from typing import TypeAlias

from .board_plan import GRID_MM, HOLE_MM, BoardPlan, Pin, plan_board

Node: TypeAlias = tuple[int, int]
"""A place on the grid."""

_FARTHEST_MM = 70.0
_LEAST_AHEAD_MM = 3.0
_PARTNERS_TRIED = 7

# Steps from the middle of a pad until a track is clear of it.
_OUT = 2


@dataclass(frozen=True, slots=True)
class Track:
    """
    One track.

    Args:
        side: ``front`` or ``back``.
        points: Its corners, in mm.
        wide: Its width in mm.
    """

    side: str
    points: tuple[tuple[float, float], ...]
    wide: float


@dataclass(frozen=True, slots=True)
class Wiring:
    """
    All tracks of a board, and the plated holes that join its sides.

    Args:
        tracks: On both sides.
        vias: Centres of the plated holes, in mm.
    """

    tracks: tuple[Track, ...]
    vias: tuple[tuple[float, float], ...]


@lru_cache(maxsize=8)
def wire_board(seed: int, wide: float, high: float) -> Wiring:
    """The wiring of the board that :func:`demo_db.board_plan.plan_board` makes of these."""
    plan = plan_board(seed, wide, high)
    router = _Router(plan, Random(f"tracks {seed}"))
    router.join_pins()
    router.stitch_rim()
    return Wiring(tuple(router.tracks), tuple(router.vias))


class _Router:
    """Lays one track after another where the grid is still free."""

    def __init__(self, plan: BoardPlan, dice: Random) -> None:
        self.plan = plan
        self.dice = dice
        self.across = int(plan.wide / GRID_MM)
        self.up = int(plan.high / GRID_MM)
        self.tracks: list[Track] = []
        self.vias: list[tuple[float, float]] = []
        self.taken: dict[str, set[Node]] = {"front": set(), "back": set()}
        for x, y in plan.holes:
            self._block(x, y, HOLE_MM / 2 + 1.6, HOLE_MM / 2 + 1.6, both=True)
        for part in plan.parts:
            for pin in part.pins:
                self._block(pin.x, pin.y, pin.wide / 2, pin.high / 2, both=pin.drilled)
                # The way out of each pad stays free for its own track.
                self._block(*_place(_leave(pin, 1)[-1]), 0.0, 0.0, both=pin.drilled)

    def _block(self, x: float, y: float, half_wide: float, half_high: float, *, both: bool) -> None:
        half_wide, half_high = (max(0.0, half - 0.2) for half in (half_wide, half_high))
        left, right = _node(x - half_wide), _node(x + half_wide)
        bottom, top = _node(y - half_high), _node(y + half_high)
        nodes = {(i, j) for i in range(left, right + 1) for j in range(bottom, top + 1)}
        self.taken["front"] |= nodes
        if both:
            self.taken["back"] |= nodes

    def join_pins(self) -> None:
        """A track from every pin to a near one of another part, or else to a plated hole."""
        pins = [(number, pin) for number, part in enumerate(self.plan.parts) for pin in part.pins]
        free = {rank: (pin.x, pin.y, owner) for rank, (owner, pin) in enumerate(pins)}
        for place, (owner, pin) in enumerate(pins):
            if place not in free:
                continue
            for rank in _nearest(pin, owner, free):
                if self._join(pin, pins[rank][1]):
                    del free[place], free[rank]
                    break
        for rank in free:
            self._drop(pins[rank][1])

    def _join(self, one: Pin, other: Pin) -> bool:
        wide = self.dice.choice((0.32, 0.32, 0.36, 0.5))
        sides = ("front", "back") if self.dice.random() < 0.6 else ("back", "front")
        for side in sides:
            for path in self._paths(one, other, side):
                # The first and last steps lie on the pins' own pads.
                if self._is_clear(path[_OUT:-_OUT], side) and self._may_change(
                    path, one, other, side
                ):
                    self._change(path, one, other, side)
                    self._lay(path, side, wide)
                    return True
        return False

    def _paths(self, one: Pin, other: Pin, side: str) -> Iterator[list[Node]]:
        """Ways to run from one pin to another: out of each, then straight and at 45 degrees."""
        for out in (_OUT, _OUT + 1, _OUT + 3):
            start, end = _leave(one, out), _leave(other, out)
            if self._is_clear(start[_OUT:], side) and self._is_clear(end[_OUT:], side):
                for middle in _bends(start[-1], end[-1]):
                    yield [*start[:-1], *middle, *reversed(end[:-1])]

    def _may_change(self, path: list[Node], one: Pin, other: Pin, side: str) -> bool:
        """On the back, a pin that is not drilled is reached through a plated hole beside it."""
        ends = ((one, path[_OUT]), (other, path[-_OUT - 1]))
        return side == "front" or all(
            pin.drilled or node not in self.taken["front"] for pin, node in ends
        )

    def _change(self, path: list[Node], one: Pin, other: Pin, side: str) -> None:
        if side == "front":
            return
        if not other.drilled:
            self._change_at(other, path[-_OUT - 1])
            del path[-_OUT:]
        if not one.drilled:
            self._change_at(one, path[_OUT])
            del path[:_OUT]

    def _change_at(self, pin: Pin, node: Node) -> None:
        self._via(node)
        self.tracks.append(Track("front", ((pin.x, pin.y), _place(node)), 0.3))

    def _is_clear(self, nodes: list[Node], side: str, *, before: Node | None = None) -> bool:
        taken = self.taken[side]
        for node in nodes:
            i, j = node
            if node in taken or not (1 < i < self.across - 1 and 1 < j < self.up - 1):
                return False
            # Two slanting tracks would cross between four places of the grid.
            slants = before is not None and before[0] != i and before[1] != j
            if before and slants and (before[0], j) in taken and (i, before[1]) in taken:
                return False
            before = node
        return True

    def _lay(self, path: list[Node], side: str, wide: float) -> None:
        self.taken[side].update(path)
        self.tracks.append(Track(side, tuple(_place(node) for node in _corners(path)), wide))

    def _via(self, node: Node) -> None:
        self.vias.append(_place(node))
        for side in self.taken.values():
            side.add(node)

    def _drop(self, pin: Pin) -> None:
        start = _node(pin.x), _node(pin.y)
        turn = self.dice.choice((-1, 0, 1))
        for length in (self.dice.randint(2, 5), 2):
            path = [start]
            for step in range(length):
                slant = turn if step >= 1 else 0
                dx, dy = pin.way[0] or slant, pin.way[1] or slant
                path.append((path[-1][0] + dx, path[-1][1] + dy))
            if (
                self._is_clear(path[2:], "front", before=path[1])
                and path[-1] not in self.taken["back"]
            ):
                self._lay(path, "front", 0.3)
                self._via(path[-1])
                return

    def stitch_rim(self) -> None:
        """Plated holes all along the edge, and some strewn over what is free."""
        step = 8
        rim = [(i, j) for i in range(4, self.across - 3, step) for j in (3, self.up - 3)]
        rim += [(i, j) for j in range(4, self.up - 3, step) for i in (3, self.across - 3)]
        strewn = [
            (self.dice.randint(5, self.across - 5), self.dice.randint(5, self.up - 5))
            for _ in range(self.across * self.up // 160)
        ]
        for i, j in (*rim, *strewn):
            near = {(i + a, j + b) for a in (-1, 0, 1) for b in (-1, 0, 1)}
            if not near & self.taken["front"] and not near & self.taken["back"]:
                self._via((i, j))


def _node(length: float) -> int:
    return round(length / GRID_MM)


def _place(node: Node) -> tuple[float, float]:
    return node[0] * GRID_MM, node[1] * GRID_MM


def _nearest(pin: Pin, owner: int, free: dict[int, tuple[float, float, int]]) -> list[int]:
    """Ranks of the free pins of other parts that a pin faces, the nearest first."""
    here_x, here_y, (out_x, out_y) = pin.x, pin.y, pin.way
    found = []
    for rank, (x, y, another) in free.items():
        dx, dy = x - here_x, y - here_y
        ahead = dx * out_x + dy * out_y
        if _LEAST_AHEAD_MM < ahead < _FARTHEST_MM and another != owner:
            found.append((dx * dx + dy * dy, rank))
    return [rank for _, rank in heapq.nsmallest(_PARTNERS_TRIED, found)]


def _leave(pin: Pin, steps: int) -> list[Node]:
    nodes = [(_node(pin.x), _node(pin.y))]
    for _ in range(steps):
        nodes.append((nodes[-1][0] + pin.way[0], nodes[-1][1] + pin.way[1]))
    return nodes


def _bends(first: Node, last: Node) -> Iterator[list[Node]]:
    dx, dy = last[0] - first[0], last[1] - first[1]
    ways = (dx > 0) - (dx < 0), (dy > 0) - (dy < 0)
    slanting = min(abs(dx), abs(dy))
    straight = max(abs(dx), abs(dy)) - slanting
    along = (ways[0], 0) if abs(dx) >= abs(dy) else (0, ways[1])
    shares = (0.5, 0.0, 1.0, 0.25, 0.75)
    for before in dict.fromkeys(round(straight * share) for share in shares):
        steps = [along] * before + [ways] * slanting + [along] * (straight - before)
        path = [first]
        for step in steps:
            path.append((path[-1][0] + step[0], path[-1][1] + step[1]))
        yield path


def _corners(path: list[Node]) -> list[Node]:
    """The nodes where a path turns, with its ends."""
    kept = [path[0]]
    for before, here, after in zip(path, path[1:], path[2:], strict=False):
        if (here[0] - before[0], here[1] - before[1]) != (after[0] - here[0], after[1] - here[1]):
            kept.append(here)
    return [*kept, path[-1]]
