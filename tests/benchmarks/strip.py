"""
The packing engine on public irregular strip-packing instances.

``python -m tests.benchmarks.strip --instances DIR [--json] [--seconds 60] [--only fu]``; the time
is processor time, as the machine may be busy. The instances are not part of this project; without
their folder the benchmark says "not run". Density is the outlines' area over height times used
length, for a layout whose overlaps have been measured on the true outlines.

Best published densities, in per cent: A. Elkeran, "A new approach for sheet nesting problem using
guided cuckoo search and pairwise clustering", European Journal of Operational Research 231 (2013)
757-769; from memory, not verified here.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from salvage.geometry.poses import Pose, Poses
from salvage.geometry.untangle import Room, Spot, Tangle
from tests.benchmarks.strip_instances import Instance, read_instance

PUBLISHED = {
    "shirts": 88.96,
    "marques": 90.59,
    "trousers": 91.00,
    "shapes0": 68.79,
    "fu": 92.41,
    "albano": 89.58,
    "mao": 85.44,
    "blaz": 84.84,
    "dagli": 89.51,
    "shapes1": 76.73,
    "swim": 75.94,
}
ROWS = 100  # of the coarse grid, roughly
FINER = 4  # steps of the fine grid for one of the coarse
COARSE_SHARE = 0.75  # of the time
Spots = list[Spot]
Points = NDArray[np.float64]


class Strip:
    """
    An instance on a grid.

    Args:
        instance: What to pack.
        rows: Steps over the strip's height.
        seed: For chance.
    """

    def __init__(self, instance: Instance, rows: int, seed: int) -> None:
        self.rows = rows
        self.step = instance.height / rows
        self.length = 0.0
        poses: list[Pose] = []
        choices: list[list[int]] = []
        self.area = 0.0
        for family, item in enumerate(instance.items):
            numbers = []
            seen: set[bytes] = set()
            for angle in item.angles:
                outline = _turn(item.points / self.step, angle // 90 % 4)
                key = _look(outline)
                if key not in seen and np.ptp(outline[:, 1]) <= rows + 1e-6:
                    seen.add(key)
                    numbers.append(len(poses))
                    poses.append(Pose(outline, family, angle // 90 % 4))
            choices += [numbers] * item.quantity
            self.area += item.quantity * float(shapely.Polygon(item.points / self.step).area)
        self.low = [pose.outline.min(axis=0) for pose in poses]
        self.high = [pose.outline.max(axis=0) for pose in poses]
        self.poses = poses
        self.tangle = Tangle(Poses(poses), self.room, choices, np.random.default_rng(seed))

    def room(self, pose: int) -> Room:
        """Places of a pose on the strip as long as it is now."""
        left, bottom = (math.ceil(value - 1e-6) for value in -self.low[pose])
        right = math.floor(self.length - self.high[pose][0] + 1e-6)
        top = math.floor(self.rows - self.high[pose][1] + 1e-6)
        return Room(left, bottom, top - bottom + 1, right - left + 1)

    def spots(self) -> Spots:
        """A copy of all spots."""
        return [spot for spot in self.tangle.kept() if spot]

    def used(self) -> float:
        """Length in use, in steps."""
        return max(spot.x + float(self.high[spot.pose][0]) for spot in self.spots())

    def density(self, length: float) -> float:
        """Per cent of the strip that is covered."""
        return 100 * self.area / (self.rows * length)

    def construct(self) -> None:
        """Largest first, each as far left as it goes."""
        tangle = self.tangle
        widest = max(float(h[0] - w[0]) for h, w in zip(self.high, self.low, strict=True))
        self.length = 2.5 * self.area / self.rows + widest + 1
        areas = [shapely.Polygon(pose.outline).area for pose in self.poses]
        for item in sorted(range(len(tangle.choices)), key=lambda n: -areas[tangle.choices[n][0]]):
            found = []
            for pose in tangle.choices[item]:
                looked = tangle.depths(item, pose)
                assert looked is not None
                left, bottom, depth = looked
                x, y = divmod(int((depth.T == 0).argmax()), depth.shape[0])
                reach = left + x + float(self.high[pose][0])
                found.append((reach, x, y, Spot(pose, left + x, bottom + y)))
            tangle.spots[item] = min(found, key=lambda entry: entry[:3])[3]

    def shrink(self, go_on: Callable[[], bool], *, reach: int | None, pace: float) -> None:
        """
        Shorten the strip and pull the outlines apart, again and again.

        Args:
            go_on: False ends it.
            reach: As :meth:`Tangle.separate`.
            pace: Share of the length to take away at first; less after failures.
        """
        best, length = self.spots(), self.used()
        slowest = 0.5 / length
        failures = 0
        while go_on():
            self.length = length * (1 - max(pace, slowest))
            self.tangle.spots = [Spot(spot.pose, spot.x, spot.y) for spot in best]
            if failures > 1 and not reach:
                self._swap()
            self._push_in()
            if self.tangle.separate(go_on, patience=40 if pace > 0.01 else 120, reach=reach):
                best, length, failures = self.spots(), self.used(), 0
            else:
                failures += 1
                pace = max(pace / 2, slowest)
                if reach and failures > 8:
                    break
        self.tangle.spots = list(best)
        self.length = length

    def _swap(self) -> None:
        """Two items of different outlines change places."""
        spots, chance = self.tangle.spots, self.tangle.chance
        one, other = chance.choice(len(spots), 2, replace=False).tolist()
        a, b = spots[one], spots[other]
        if a and b and self.tangle.choices[one] != self.tangle.choices[other]:
            a.x, a.y, b.x, b.y = b.x, b.y, a.x, a.y

    def _push_in(self) -> None:
        for spot in self.spots_now():
            room = self.room(spot.pose)
            spot.x = min(max(spot.x, room.left), room.left + room.columns - 1)
            spot.y = min(max(spot.y, room.bottom), room.bottom + room.rows - 1)

    def spots_now(self) -> Spots:
        """The spots themselves, to be moved."""
        return [spot for spot in self.tangle.spots if spot]

    def overlap(self) -> float:
        """Largest area that two outlines share, or that one has off the strip, in strip units."""
        placed = [
            shapely.Polygon((self.poses[s.pose].outline + np.array([s.x, s.y])) * self.step)
            for s in self.spots()
        ]
        tree = shapely.STRtree(placed)
        ones, others = tree.query(placed, predicate="intersects")
        shared = [
            placed[a].intersection(placed[b]).area
            for a, b in zip(ones.tolist(), others.tolist(), strict=True)
            if a < b
        ]
        strip = shapely.box(0, 0, self.used() * self.step, self.rows * self.step)
        return float(max([*shared, *(p.difference(strip).area for p in placed)]))


def _turn(points: Points, quarters: int) -> Points:
    for _ in range(quarters):
        points = np.stack([-points[:, 1], points[:, 0]], axis=1)
    return points


def _look(outline: Points) -> bytes:
    """The same for outlines that cover the same ground when moved."""
    settled = np.round(outline - outline.min(axis=0), 6) + 0.0
    return bytes(settled[np.lexsort(settled.T)].tobytes())


def choose_rows(instance: Instance) -> int:
    """Whole steps to a unit where the instance is drawn on a small grid."""
    height = instance.height
    if height <= 120 and height == round(height):
        return round(height) * max(1, round(ROWS / height))
    return ROWS


def measure(instance: Instance, seconds: float, seed: int) -> dict[str, float | str]:
    """Pack one instance and check the layout on its true outlines."""
    start = time.process_time()
    rows = choose_rows(instance)
    coarse = Strip(instance, rows, seed)
    coarse.construct()
    first, first_s = coarse.density(coarse.used()), time.process_time() - start

    def spent(share: float) -> bool:
        return time.process_time() - start >= share * seconds

    coarse.shrink(lambda: not spent(COARSE_SHARE), reach=None, pace=0.03)
    fine = Strip(instance, rows * FINER, seed)
    fine.tangle.spots = [Spot(s.pose, s.x * FINER, s.y * FINER) for s in coarse.spots()]
    fine.shrink(lambda: not spent(1.0), reach=3 * FINER, pace=0.004)
    density = fine.density(fine.used())
    published = PUBLISHED[instance.name]
    return {
        "instance": instance.name,
        "pieces": len(fine.spots()),
        "first": round(first, 2),
        "first_s": round(first_s, 2),
        "coarse": round(coarse.density(coarse.used()), 2),
        "density": round(density, 2),
        "published": published,
        "ratio": round(density / published, 4),
        "seconds": round(time.process_time() - start, 1),
        "moves": coarse.tangle.moves + fine.tangle.moves,
        "overlap": fine.overlap(),
        "largest_area": max(float(shapely.Polygon(item.points).area) for item in instance.items),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Packing density on public instances.")
    parser.add_argument("--instances", type=Path, help="folder of the instances, XML or JSON")
    parser.add_argument("--only", nargs="*", help="names of instances; all if left out")
    parser.add_argument("--seconds", type=float, default=60.0, help="processor time for each")
    parser.add_argument("--seed", type=int, default=0, help="for chance")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    options = parser.parse_args()
    known = {p.stem: p for p in (options.instances or Path()).glob("*.*") if p.stem in PUBLISHED}
    if not options.instances or not known:
        print("not run: give the folder of the instances with --instances")
        return
    names = [name for name in PUBLISHED if name in known and name in (options.only or known)]
    rows = []
    for name in names:
        rows.append(measure(read_instance(known[name]), options.seconds, options.seed))
        if not options.json:
            print("  ".join(f"{key} {value}" for key, value in rows[-1].items()), flush=True)
    mean = statistics.mean(float(row["ratio"]) for row in rows)
    if options.json:
        print(json.dumps({"benchmark": "strip", "rows": rows, "mean_ratio": mean}, indent=2))
    else:
        print(f"mean ratio {mean:.4f} of {len(rows)} instances")


if __name__ == "__main__":
    main()
