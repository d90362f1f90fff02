"""
What the bench page costs: the start, a page of a large shelf, a dragged shape, a photo, a crowd.

Run it with ``python -m tests.benchmarks.page --json``. Pages and photos are asked in this process
and told in processor time, the test's own client included. The drag is measured in Chromium, from
the pointer's event to the words on the screen. The crowd is eight browsers and the command line on
one running page.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from salvage.ids import Code
from salvage.work.donors import NewDonor
from salvage.work.first_outline import outline_of_size
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards
from tests.bench import make_shop
from tests.benchmarks.boards import SIZES_MM
from tests.browser import Browser
from tests.crowd import crowd
from tests.screen import open_screen, running_page

# The same framework with one page that says nothing.
BARE = """
import socket, uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
app = Starlette(routes=[Route("/", lambda request: PlainTextResponse(""))])
ears = socket.create_server(("127.0.0.1", 0))
config = uvicorn.Config(app, http="h11", ws="none", lifespan="off", log_level="critical")
server = uvicorn.Server(config)
started = server.startup
async def startup(sockets=None):
    await started(sockets=sockets)
    print("listening", flush=True)
server.startup = startup
server.run(sockets=[ears])
"""

MAKERS = ("Orrery", "Skerry", "Tidal", "Kelpie", "Beacon")
COLOURS = ("green", "blue", "red", "black", "purple")


def percentile(times: list[float], share: float) -> float:
    """The time that so large a share of the times stay under."""
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def facts(times_ms: list[float]) -> dict[str, float]:
    """Median and 95th percentile in milliseconds."""
    return {
        "median": round(statistics.median(times_ms), 1),
        "p95": round(percentile(times_ms, 0.95), 1),
        "count": len(times_ms),
    }


def measure_start(folder: Path, *, rounds: int) -> dict[str, float]:
    """From the call to a listening page, and the same for a bare page of the framework."""
    ours, bare = [], []
    for _ in range(rounds):
        begun = time.perf_counter()
        with subprocess.Popen([sys.executable, "-c", BARE], stdout=subprocess.PIPE) as running:
            assert running.stdout is not None
            running.stdout.readline()
            bare.append((time.perf_counter() - begun) * 1000)
            running.terminate()
        begun = time.perf_counter()
        with running_page(folder):
            ours.append((time.perf_counter() - begun) * 1000)
    ratio = statistics.median(a / b for a, b in zip(ours, bare, strict=True))
    return {
        "ms": round(statistics.median(ours), 1),
        "bare_ms": round(statistics.median(bare), 1),
        "ratio": round(ratio, 2),
    }


def build_shelf(folder: Path, count: int, *, seed: int = 1) -> list[Code]:
    """A shelf of so many boards of many sizes, and the codes of some of them."""
    chance = random.Random(seed)
    codes: list[Code] = []
    with make_shop(folder) as shop:
        donor: Code | NewDonor = NewDonor("Kelpie Point Planetarium", "public body")
        new = NewDropOff(date(2026, 5, 1), "dome boards")
        while len(codes) < count:
            view = log_drop_off(shop, donor=donor, new=new)
            donor = view.donor.donor.code
            width, height = chance.choice(SIZES_MM)
            outline = outline_of_size(f"{width}x{height}")
            board = NewBoard(
                view.drop_off.code,
                "other",
                maker=chance.choice(MAKERS),
                model=f"X{chance.randrange(900)}",
                colour=chance.choice(COLOURS),
                place=f"shelf {chance.randrange(40)}",
                outline=outline.region,
                outline_from=outline.outline_from,
            )
            many = min(50, count - len(codes))
            codes += [made.code for made in record_boards(shop, new=board, count=many)]
    return codes


def measure_pages(folder: Path, codes: list[Code], *, rounds: int) -> dict[str, Any]:
    """The server's time for the pages of a large shelf."""
    browser, chance = Browser(folder), random.Random(2)
    last = -(-len(codes) // 24)
    pages: dict[str, Callable[[], str]] = {
        "shelf": lambda: "/",
        "shelf, any page": lambda: f"/?page={chance.randint(1, last)}",
        "shelf, largest first": lambda: f"/?order=largest&page={chance.randint(1, last)}",
        "shelf, two words": lambda: f"/?find={chance.choice(MAKERS)}+{chance.choice(COLOURS)}",
        "shelf, no such word": lambda: "/?find=lighthouse",
        "board": lambda: f"/board/{chance.choice(codes)}",
        "pieces": lambda: "/piece",
        "drop-offs": lambda: "/dropoff",
        "pulse": lambda: "/pulse",
    }
    found = {}
    for name, address in pages.items():
        browser.get(address())
        asked = [address() for _ in range(rounds)]
        found[name] = facts([timed(partial(browser.get, one)) for one in asked])
    return found


def timed(call: Callable[[], object]) -> float:
    """Processor time that a call takes in this process, in milliseconds."""
    begun = time.process_time()
    call()
    return (time.process_time() - begun) * 1000


def measure_drag(folder: Path, *, rounds: int) -> dict[str, Any]:
    """From the pointer's event to the verdict on the screen, while a shape is dragged about."""
    with open_screen(folder) as screen:
        page = screen.page(f"/board/{screen.cleared}")
        page.get_by_label("Shape", exact=True).select_option("teardrop")
        page.get_by_label("Width in mm").fill("14")
        page.keyboard.press("Tab")
        page.wait_for_timeout(1000)
        box = page.locator("#board-svg").bounding_box()
        assert box is not None
        middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(*middle)
        page.mouse.down()
        for number in range(rounds):
            page.mouse.move(middle[0] + 120 * ((number * 7) % 11 - 5) / 5, middle[1] + number % 60)
            page.wait_for_timeout(20)
        page.wait_for_timeout(500)
        took = page.evaluate("performance.getEntriesByName('verdict').map(each => each.duration)")
    return facts([float(each) for each in took])


def label_photo(code: Code) -> bytes:
    """A photo of 12 megapixels: a grained bench, and a label that takes a tenth of its width."""
    import numpy as np
    from PIL import Image

    from salvage.codes.draw import draw_qr, symbol_png

    grain = np.random.default_rng(1).integers(90, 160, (3000, 4000, 3), dtype=np.uint8)
    picture = Image.fromarray(grain)
    label = Image.open(io.BytesIO(symbol_png(draw_qr(code), dots=14))).convert("RGB")
    picture.paste(label.rotate(11, expand=True, fillcolor=(120, 120, 120)), (1500, 1100))
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=88)
    return stream.getvalue()


def measure_photo(folder: Path, code: Code, *, rounds: int) -> dict[str, Any]:
    """From a sent photo of 12 megapixels to the board that its label names."""
    browser, data = Browser(folder), label_photo(code)

    def send() -> None:
        files = {"photo": ("label.jpg", data, "image/jpeg")}
        told = browser.do("/scan", files=files)
        assert told["codes"] == [code], told

    send()
    return {**facts([timed(send) for _ in range(rounds)]), "bytes": len(data)}


def main() -> None:
    """Measure everything and print it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--json", action="store_true", help="one JSON object")
    options.add_argument("--boards", type=int, default=10_000)
    options.add_argument("--rounds", type=int, default=40)
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        codes = build_shelf(folder / "shelf", given.boards)
        result = {
            "boards": given.boards,
            "start": measure_start(folder / "shelf", rounds=7),
            "pages_ms": measure_pages(folder / "shelf", codes, rounds=given.rounds),
            "drag_ms": measure_drag(folder / "drag", rounds=120),
            "photo_ms": measure_photo(folder / "shelf", codes[0], rounds=8),
            "crowd": crowd(folder / "crowd", browsers=8, each=10),
        }
    print(json.dumps(result, indent=None if given.json else 2))


if __name__ == "__main__":
    main()
