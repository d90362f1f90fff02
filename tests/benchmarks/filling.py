"""
How many of a shape a fresh board yields: in a second, in ten, and in a long run.

``python -m tests.benchmarks.filling [--json] [--long 600]``. The board is 305 x 244 mm with the
usual keep-outs (four mounting holes, a bank of connectors, a socket). That such a board gives 8 to
10 easily fitted shapes of about 75 mm and 15 to 18 of about 50 mm is common practice, no source.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Mapping
from importlib.resources import files

from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import centre, circle, rectangle, scale_to
from salvage.geometry.pack import Demand, PackBoard, gap_of_rules, pack
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.geometry.svg import one_outline
from salvage.records.region import Region

RULES = Rules(tool_mm=1.0, wall_mm=1.0, least_mm=15.0)
WIDTH_MM, HEIGHT_MM = 305, 244
SHORT_S, MIDDLE_S = 1.0, 10.0


def fresh_board() -> PackBoard:
    """The ground of a fresh board with its usual keep-outs."""
    spots = [(6, 6), (299, 6), (6, 238), (299, 238)]
    taken = [
        Taken("keep-out", "hole", place(circle(7), Placement(x * 1000, y * 1000))) for x, y in spots
    ]
    for label, size, at in (("bank", (150, 18), (90, 9)), ("socket", (55, 20), (200, 130))):
        spot = Placement(at[0] * 1000, at[1] * 1000)
        taken.append(Taken("keep-out", label, place(rectangle(*size), spot)))
    return PackBoard(
        "BFRESH", account(rectangle(WIDTH_MM, HEIGHT_MM), taken, RULES).layers["usable"]
    )


def shapes() -> Mapping[str, Region]:
    """Easy shapes of the rule, and harder ones of the workshop's own."""
    folder = files("demo_db") / "shapes"
    own = {
        f"{name} {width}": centre(
            scale_to(one_outline((folder / f"{name}.svg").read_bytes()), width_mm=width)
        )
        for name, width in (("tern", 60), ("fern-leaf", 30))
    }
    return {
        "round 75": circle(75),
        "round 50": circle(50),
        "drop 40": built_in_shape("teardrop", width_mm=40),
        **own,
    }


def count(shape: Region, seconds: float) -> tuple[int, float]:
    """Pieces that find a place in so many seconds, and the seconds of the processor it took."""
    start = time.process_time()
    found = pack(
        fresh_board(),
        [Demand("piece", shape)],
        gap_mm=gap_of_rules(RULES),
        patience=Patience(seconds, time.process_time),
    )
    return len(found.pieces), time.process_time() - start


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="How many of a shape a fresh board yields.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--long", type=float, default=600.0, help="seconds of the long run")
    options = parser.parse_args()
    rows = []
    for name, shape in shapes().items():
        row: dict[str, object] = {"shape": name}
        for key, seconds in (("short", SHORT_S), ("middle", MIDDLE_S), ("long", options.long)):
            row[key], row[f"{key}_cpu_s"] = count(shape, seconds)
        rows.append(row)
        print("  ".join(f"{key} {value}" for key, value in row.items()), file=sys.stderr)
    if options.json:
        print(
            json.dumps({"benchmark": "filling", "long_s": options.long, "shapes": rows}, indent=2)
        )


if __name__ == "__main__":
    main()
