"""
A synthetic workshop of any size, written through the program's own append, for the trace benchmark.

Donors, drop-offs and boards as a long-lived workshop has them; each board is cut into as many
pieces as asked for; most are sealed from a batch, every third is sold, every fiftieth board had a
hazard found, and one piece in twenty goes into a pair.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial

from salvage.canonical import Json
from salvage.ids import Code
from salvage.store.change import Change
from salvage.work.workshop import Workshop

BOARDS_PER_DROP_OFF = 5
DROP_OFFS_PER_DONOR = 5
PIECES_PER_BATCH = 250
HAZARDS = ("coin-cell", "mercury-tilt", "mercury-relay")

_RING: list[Json] = [[0, 0], [20_000, 0], [20_000, 12_000], [10_000, 18_000], [0, 12_000]]


@dataclass
class World:
    """
    What was made, and how long it took.

    Args:
        seed: For the choices.
        boards: How many boards.
        pieces: How many pieces of them, articles not counted.
    """

    boards: int
    pieces: int
    seed: int = 1
    donors: list[Code] = field(default_factory=list)
    drop_offs: list[Code] = field(default_factory=list)
    board_codes: list[Code] = field(default_factory=list)
    piece_codes: list[Code] = field(default_factory=list)
    batches: list[Code] = field(default_factory=list)
    articles: list[Code] = field(default_factory=list)
    events: int = 0
    seconds: float = 0.0


Step = Callable[[Change], None]


def build(shop: Workshop, world: World, *, most_s: float, per_commit: int = 400) -> None:
    """
    Write the workshop, many boards' steps to a commit; stops when *most_s* of wall time is over.

    Args:
        shop: An empty workshop.
        world: Its size; what was made is noted in it.
        most_s: Wall time after which no further commit is begun.
        per_commit: Steps in one commit.
    """
    before = time.process_time()
    began = time.monotonic()
    steps = _steps(world)
    done = False
    while not done and time.monotonic() - began < most_s:
        chunk = [step for _, step in zip(range(per_commit), steps, strict=False)]
        done = len(chunk) < per_commit

        def whole(change: Change, chunk: list[Step] = chunk) -> int:
            for step in chunk:
                step(change)
            return len(change.events)

        world.events += shop.commit("bulk", whole)
    world.seconds = time.process_time() - before


def _steps(world: World) -> Iterator[Step]:
    chance = random.Random(world.seed)
    each = world.pieces // world.boards
    for number in range(world.boards):
        if number % (BOARDS_PER_DROP_OFF * DROP_OFFS_PER_DONOR) == 0:
            yield partial(_donor, world=world)
        if number % BOARDS_PER_DROP_OFF == 0:
            yield partial(_drop_off, world=world)
        date_code = f"{chance.randrange(90, 100)}{chance.randrange(1, 53):02d}"
        hazard = HAZARDS[number % 3] if number % 50 == 0 else ""
        yield partial(_board, world=world, date_code=date_code, hazard=hazard)
        for start in range(0, each, 25):
            count = min(25, each - start)
            yield partial(_pieces, world=world, count=count)


def _donor(change: Change, world: World) -> None:
    code = change.new_code("G")
    data: dict[str, Json] = {
        "source_kind": "school", "described_as": "a school", "naming": "described",
        "naming_how": "", "name_seal": None, "contact_seal": None,
    }  # fmt: skip
    change.append("donor.added", (code,), data, made=(code,))
    world.donors.append(code)


def _drop_off(change: Change, world: World) -> None:
    code, donor = change.new_code("D"), world.donors[-1]
    data: dict[str, Json] = {
        "donor": donor, "received_on": "2026-05-02", "channel": "by hand", "contents": "a box",
        "board_count": BOARDS_PER_DROP_OFF, "weight_mg": None, "origin": "", "origin_country": "",
        "story": "", "notes": "", "data_parts": [],
    }  # fmt: skip
    change.append("dropoff.logged", (code, donor), data, made=(code,))
    world.drop_offs.append(code)


def _board(change: Change, world: World, date_code: str, hazard: str) -> None:
    code, drop_off = change.new_code("B"), world.drop_offs[-1]
    data: dict[str, Json] = {
        "drop_off": drop_off, "type": "motherboard", "maker": "Orrery", "model": "X2",
        "date_code": date_code, "colour": "green", "thickness_um": 1600, "weight_mg": None,
        "lead_status": "unknown", "lead_evidence": "", "place": "shelf 1", "notes": "",
        "outline": [[[0, 0], [300_000, 0], [300_000, 240_000], [0, 240_000]]],
        "outline_from": "calipers", "outline_um2": 72_000_000_000, "usable_um2": 72_000_000_000,
        "hazards": ["coin-cell"],
    }  # fmt: skip
    change.append("board.recorded", (code, drop_off), data, made=(code,))
    world.board_codes.append(code)
    found: dict[str, Json] = {
        "hazard": hazard or "coin-cell", "finding": "present" if hazard else "absent",
        "outcome": "removed" if hazard else "", "how": "lifted out", "goes_to": "", "reason": "",
    }  # fmt: skip
    change.append("hazard.checked", (code,), found)


def _pieces(change: Change, world: World, count: int) -> None:
    made = [_cut(change, world) for _ in range(count)]
    first = len(world.piece_codes)
    world.piece_codes += made
    if not world.batches or first // PIECES_PER_BATCH >= len(world.batches):
        world.batches.append(_batch(change))
    for piece in made:
        change.append("piece.staged", (piece,), {"stage": "sealed", "note": "two coats"})
    batch = world.batches[-1]
    use: dict[str, Json] = {"n": first + 1, "stage": "sealed", "each_milli": 500, "note": ""}
    change.append("batch.used", (batch, *made), use)
    for number, piece in enumerate(made):
        if number % 3 == 0:
            sale: dict[str, Json] = {
                "n": 1, "price_minor": 1800, "currency": "EUR", "venue": "Quay Market",
                "sold_on": "2026-05-03",
            }  # fmt: skip
            change.append("piece.sold", (piece,), sale)
    if count >= 3:
        world.articles.append(_article(change, world.board_codes[-1], made[1:3]))


def _cut(change: Change, world: World) -> Code:
    cut, piece, board = change.new_code("K"), change.new_code("P"), world.board_codes[-1]
    data: dict[str, Json] = {
        "outcome": "piece", "side": "front", "tool": "router", "shape": "kite",
        "shape_sha256": "", "x_um": 40_000, "y_um": 40_000, "angle_mdeg": 0, "mirrored": False,
        "kerf_um": 1500, "region": [_RING], "area_um2": 300_000_000,
        "usable_before_um2": 71_000_000_000, "usable_after_um2": 70_000_000_000,
        "override_reason": "", "reservation": "", "reason": "", "custody": "identity preserved",
    }  # fmt: skip
    change.append("cut.made", (cut, board, piece), data, made=(cut, piece))
    return piece


def _batch(change: Change) -> Code:
    code = change.new_code("V")
    data: dict[str, Json] = {
        "material": "sealant", "name": "clear varnish", "maker": "Harbour Coatings", "lot": code,
        "received_on": "2026-05-01", "pack_milli": 250_000, "unit": "ml", "cost_minor": 1240,
        "currency": "EUR", "notes": "",
    }  # fmt: skip
    change.append("batch.received", (code,), data, made=(code,))
    return code


def _article(change: Change, board: Code, parts: list[Code]) -> Code:
    code = change.new_code("P")
    data: dict[str, Json] = {
        "name": "kite earrings", "parts": [*parts], "measured": "area", "note": "",
        "shares": [{"board": board, "share_ppm": 1_000_000}], "custody": "identity preserved",
    }  # fmt: skip
    change.append("article.assembled", (code, *parts), data, made=(code,))
    return code
