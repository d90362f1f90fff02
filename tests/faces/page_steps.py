"""
The steps of the job that the page plays, told as the forms that a browser sends.

A step is found by the beginning of its command line. What is not here is done through
Python on the same workshop, as on a day on which not everything is done at the page.
"""

from __future__ import annotations

from collections.abc import Callable

from salvage.ids import Code
from tests.browser import Browser
from tests.faces.step import Memory, Step, photo_bytes

PageStep = Callable[[Browser, Memory], object]

_DROP_OFF = {
    "donor": "Kelpie Point Planetarium",
    "contents": "dome boards",
    "boards": "14",
    "weight": "6.2kg",
    "source": "public body",
    "naming": "described",
    "naming-how": "said at the counter",
    "described-as": "a planetarium",
    "contact": "4 Beacon Row",
    "date": "2026-05-02",
    "channel": "collected",
    "origin": "the north shore",
    "origin-country": "ie",
    "notes": "two boxes",
    "story": "They turned the stars for thirty years.",
    "data-hard disk": "2",
    "data-memory card": "1",
}

_MOTHERBOARD = {
    "type": "motherboard",
    "form": "Mini ITX",
    "maker": "Orrery",
    "model": "X2",
    "date-code": "9843",
    "colour": "green",
    "thickness": "1.6",
    "weight": "410g",
    "lead": "marked",
    "lead-evidence": "logo on the back",
    "place": "shelf 2",
    "notes": "bent bracket",
    "keepout": "0,150 40,170 serial port",
}

_KEEP_OUTS = "10,10 r6 coil\n60,0 80,0 70,12.5 torn corner"


def _post(address: str, **fields: str) -> PageStep:
    """A form for a thing whose code is remembered; underlines in names stand for hyphens."""

    def play(browser: Browser, memory: Memory) -> Code:
        given = {name.replace("_", "-"): text.format_map(memory) for name, text in fields.items()}
        told = browser.do(address.format_map(memory), given)
        return Code(str(told["codes"][0]))

    return play


def _log(browser: Browser, memory: Memory) -> Code:
    return Code(str(browser.do("/dropoff/add", _DROP_OFF)["codes"][0]))


def _motherboard(browser: Browser, memory: Memory) -> Code:
    told = browser.do(f"/dropoff/{memory['drop_off']}/board", _MOTHERBOARD)
    return Code(str(told["codes"][0]))


def _clear(browser: Browser, memory: Memory) -> None:
    fields = {
        "state-coin-cell": "removed",
        "how-coin-cell": "lifted out",
        "goes-to-coin-cell": "battery box",
        **{
            f"state-{slug}": "absent"
            for slug in _open(browser, memory["board"])
            if slug != "coin-cell"
        },
    }
    browser.do(f"/board/{memory['board']}/clear", fields)


def _clear_card(browser: Browser, memory: Memory) -> None:
    fields: dict[str, str] = {}
    for slug in _open(browser, memory["card"]):
        fields |= {f"state-{slug}": "absent", f"how-{slug}": "lamp and mirror"}
    browser.do(f"/board/{memory['card']}/clear", fields)


def _open(browser: Browser, board: Code) -> tuple[str, ...]:
    from salvage.work.clear import open_hazards

    with browser.house.open() as shop:
        return open_hazards(shop, [board])


def _photo_of_box(browser: Browser, memory: Memory) -> None:
    address = f"/dropoff/{memory['drop_off']}/photo"
    files = {"photo": ("front.png", photo_bytes(), "image/png")}
    browser.do(address, {"side": "other", "caption": "the box"}, files=files)


def _both(address: str, **fields: str) -> PageStep:
    """A form for the two pieces that are ticked in the list."""

    def play(browser: Browser, memory: Memory) -> None:
        browser.do(address, fields, ticked={"piece": [memory["piece"], memory["oval"]]})

    return play


def _assembled(browser: Browser, memory: Memory) -> None:
    browser.do("/piece/stage", {"stage": "assembled"}, ticked={"piece": [memory["oval"]]})


def _card(browser: Browser, memory: Memory) -> None:
    answer = browser.post(f"/piece/{memory['piece']}/card", {"large": "yes"})
    assert answer.content.startswith(b"%PDF-"), answer.text


PAGE_STEPS: dict[str, PageStep] = {
    'dropoff add --donor "Kelpie Point Planetarium"': _log,
    'dropoff add --donor "kelpie point planetarium"': _post(
        "/dropoff/add",
        donor="kelpie point planetarium",
        contents="one more box",
        date="2026-05-03",
    ),
    "board add {drop_off} --type mainboard": _motherboard,
    "board add {drop_off} --type expansion-card --size 120x80 --count 2": _post(
        "/dropoff/{drop_off}/board", type="expansion-card", size="120x80", count="2"
    ),
    "board outline {bare}": _post("/board/{bare}/outline", size="90x60"),
    "board keepout {card}": _post("/board/{card}/keepout", keepout=_KEEP_OUTS),
    "board lift {card} 1": _post("/board/{card}/lift", n="1", reason="coil is off"),
    "board redraw {card} 2": _post(
        "/board/{card}/redraw", n="2", corners="60,0 80,0 70,15", reason="torn corner"
    ),
    "board lead {card}": _post(
        "/board/{card}/lead", lead="tested", lead_evidence="XRF, 0.02 %, no lead"
    ),
    "board move {card}": _post("/board/{card}/move", place="box 4"),
    "board clear {board}": _clear,
    "board clear {card}": _clear_card,
    "dropoff photo {drop_off}": _photo_of_box,
    "reserve {board} --shape tern": _post(
        "/board/{board}/reserve", **{"for": "order 12"}, shape="tern", at="60,60", angle="15"
    ),
    "reserve {board} --shape circle": _post(
        "/board/{board}/reserve",
        **{"for": "order 13"},
        shape="circle",
        width="20",
        at="140,140",
        angle="10",
        side="back",
    ),
    "release {freed}": _post(
        "/board/{board}/release", reservation="{freed}", reason="order withdrawn"
    ),
    "cut {board} --reservation {held}": _post("/board/{board}/cut", reservation="{held}"),
    "cut {board} --shape oval": _post(
        "/board/{board}/cut",
        shape="oval",
        width="20",
        height="30",
        at="130,60",
        angle="-22.5",
        side="back",
        tool="saw",
        reason="by hand",
    ),
    "cut {board} --shape circle": _post(
        "/board/{board}/cut",
        shape="circle",
        width="10mm",
        at="100,100",
        tool="shears",
        scrap="yes",
        reason="cracked",
    ),
    "piece stage {oval} assembled": _assembled,
    "piece weigh {piece}": _post("/piece/{piece}/weigh", weight="4.2g"),
    "piece price {piece} {oval}": _both("/piece/price", price="18.50"),
    "card {piece} --large": _card,
    "piece sell {piece} --price 20 --venue": _post(
        "/piece/{piece}/sell", price="20", venue="Lantern Fair", date="2026-05-04"
    ),
    "piece return {piece}": _post("/piece/{piece}/return", reason="pin loose"),
    "outing pack {outing} {piece}": _post("/outing/{outing}/pack", pieces="{piece}"),
    "outing open lantern": _post("/outing/{outing}/open", float="50"),
    "outing sell ?small_kite": _post(
        "/outing/{outing}/sell", words="?small_kite=12 -10%", paid_by="card"
    ),
    "outing home lantern": _post("/outing/{outing}/home", pieces="{piece}"),
    "board retire {bare}": _post("/board/{bare}/retire", retire_reason="used up"),
}
"""By the beginning of the step's command line."""


def page_step(step: Step) -> PageStep | None:
    """How the page plays a step; None where it does not."""
    fits = [play for start, play in PAGE_STEPS.items() if step.line.startswith(start)]
    return fits[0] if fits else None
