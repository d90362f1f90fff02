"""The shelf, and the one field that finds anything by its code or its words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from salvage.errors import BadCode, BadFile, BadValue, NotFound
from salvage.records.choices import parse_choice
from salvage.records.region import region_of_text
from salvage.records.things import Board
from salvage.web.doors import Way, address_of
from salvage.web.visit import Answer, Done, Sheet, Visit
from salvage.work.look import identify, identify_photo
from salvage.work.next_step import NextStep
from salvage.work.reading import read_code
from salvage.work.record import BOARD_STATES
from salvage.work.shelf_search import ORDERS, ShelfQuery, search_shelf
from salvage.work.what_next import what_next

PAGE = 24
"""Boards on one page: six rows of four on a desk, and few enough for a phone to load at once."""

MOST_TO_DO = 4
"""So many steps stand above the shelf: more would push the boards off a phone's screen."""

_FOR_THE_OWNER = ("copy", "setup", "outing")

STATES = {
    "": "On the shelf",
    "cleared": "Cleared",
    "held": "Held",
    "remnant": "Remnants",
    "recalled": "Recalled",
    "retired": "Retired",
    "all": "All",
}
"""States that the shelf may be narrowed to, as they are called on the page."""


def show_shelf(visit: Visit) -> Answer:
    """The boards as pictures, page by page."""
    text = visit.text("find")
    page = _number(visit.text("page", "1"))
    query = ShelfQuery(
        text=text,
        state=_choice(visit.text("state"), tuple(BOARD_STATES), "state"),
        order=_choice(visit.text("order", "newest"), tuple(ORDERS), "order"),
        start=(page - 1) * PAGE,
        most=PAGE,
        private=visit.guest.is_owner,
    )
    found = search_shelf(visit.shop, query=query)
    pages = max(1, -(-found.total // PAGE))

    def link(**changed: object) -> str:
        words = {"find": text, "state": query.state, "order": query.order, **changed}
        return "/?" + urlencode({name: value for name, value in words.items() if value})

    facts = {
        "found": found,
        "boxes": _boxes(found.boards),
        "query": query,
        "page": page,
        "pages": pages,
        "link": link,
        "states": STATES,
        "orders": tuple(ORDERS),
        "state_of": board_state,
        "today": visit.shop.today,
        "todo": _to_do(visit) if page == 1 and not (text or query.state) else (),
    }
    return Sheet("shelf.html", "Shelf", facts)


def _to_do(visit: Visit) -> list[tuple[NextStep, str]]:
    """The first things to do, by the rule that ``salvage`` alone tells, each with its page."""
    found = what_next(visit.shop).steps
    mine = [step for step in found if visit.guest.is_owner or step.topic not in _FOR_THE_OWNER]
    return [(step, _page_of(step)) for step in mine[:MOST_TO_DO]]


def _page_of(step: NextStep) -> str:
    """Where on the page a step is done; empty where it is done on the command line."""
    if step.topic == "drop-off":
        return "/dropoff/new"
    if step.topic == "outing":
        return f"/outing/{step.codes[0]}"
    if step.codes and step.codes[0][0] in "BPD":
        return address_of(step.codes[:1])
    return ""


def _boxes(boards: Sequence[Board]) -> dict[str, Any]:
    """Sizes of boards in mm, and the largest: all are drawn to one scale, so that it is seen."""
    of = {b.code: region_of_text(b.outline).size_mm for b in boards if b.outline}
    widths, heights = [w for w, _ in of.values()], [h for _, h in of.values()]
    return {
        "of": {b.code: of.get(b.code) for b in boards},
        "width": max(widths, default=1) + 4,
        "height": max(heights, default=1) + 4,
    }


def board_state(board: Board) -> str:
    """The one word for how a board stands; the gravest where there are several."""
    if board.retired:
        return "retired"
    if board.recalled:
        return "recalled"
    return board.clearance


def find(visit: Visit) -> Answer:
    """Whatever was typed or scanned: the thing with that code, or boards with those words."""
    text = visit.text("find")
    try:
        reading = identify(visit.shop, text=text)
    except (BadCode, NotFound):
        return Done("", then="/?" + urlencode({"find": text}))
    return Done(reading.note, (reading.code,), address_of((reading.code,)))


def show_scan(visit: Visit) -> Answer:
    """A form for a photo of a label, or for its code by hand."""
    return Sheet("scan.html", "Scan a label", {})


def scan(visit: Visit) -> Answer:
    """The things whose labels a photo shows."""
    if not visit.uploads:
        raise BadFile("no photo came", hint="take one and send it again")
    upload = visit.uploads[0]
    readings = identify_photo(visit.shop, data=upload.data, name=upload.name)
    codes = tuple(reading.code for reading in readings)
    if len(codes) == 1:
        return Done("", codes, address_of(codes))
    then = "/scanned?" + urlencode([("code", code) for code in codes])
    return Done(f"{len(codes)} labels were read.", codes, then)


def show_scanned(visit: Visit) -> Answer:
    """Several labels that one photo showed."""
    codes = [read_code(visit.shop, text=text) for text in visit.several.get("code", ())]
    things = [(code, address_of((code,))) for code in codes]
    return Sheet("scanned.html", f"{len(codes)} labels", {"things": things})


def _number(text: str) -> int:
    if not re.fullmatch("[0-9]{1,6}", text) or not 1 <= int(text) <= 100_000:
        raise BadValue(f"'{text}' is no page", field="page")
    return int(text)


def _choice(text: str, choices: tuple[str, ...], field: str) -> str:
    return text if text in choices else parse_choice(text, choices, field=field)


WAYS = (
    Way("/", show_shelf),
    Way("/find", find),
    Way("/scan", show_scan),
    Way("/scan", scan, asks=True),
    Way("/scanned", show_scanned),
)
