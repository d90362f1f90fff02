"""Doors for text: what is typed, scanned, or written in a small file of words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from random import Random

from salvage.codes.payload import unwrap, wrap
from salvage.codes.reading import Reading
from salvage.codes.wedge import parse_scans
from salvage.geometry.shapes import built_in_shape
from salvage.ids import parse_code
from salvage.knowledge.product_rules import parse_markets
from salvage.paper.designs import parse_design, shipped_designs
from salvage.paper.sheet import TypedSheet, parse_sheet
from salvage.paper.stock import parse_stock
from salvage.paper.typeset import tidy_text
from salvage.paper.wording import DOCUMENTS, parse_words, write_words
from salvage.records.choices import CHANNELS, parse_choice
from salvage.units import (
    parse_country,
    parse_currency,
    parse_date,
    parse_from_zero_mm,
    parse_length_mm,
    parse_mass_g,
    parse_money,
    parse_thousandths,
)
from salvage.work.alerts import parse_made
from salvage.work.amounts import parse_rate
from salvage.work.bench import advance
from salvage.work.bench_sight import sight
from salvage.work.bench_state import Bench
from salvage.work.checkpoints import sign_checkpoint, verify_checkpoint
from salvage.work.handing_over import parse_side
from salvage.work.import_drop_offs import parse_count, parse_data_parts
from salvage.work.library import tidy_shape_name
from salvage.work.look import identify
from salvage.work.own_facts import add_own_facts
from salvage.work.own_rows import KINDS, read_rows
from salvage.work.places import tidy_place
from salvage.work.plans import parse_day
from salvage.work.settings import SETTING_NAMES, parse_settings
from salvage.work.spots import (
    parse_angle_mdeg,
    parse_corners_px,
    parse_keep_out,
    parse_point_um,
    parse_size_mm,
)
from salvage.work.till_words import parse_discount, read_sale
from salvage.work.times import parse_minutes
from salvage.work.wishes import parse_angles, parse_demand
from salvage.work.workshop import Workshop
from salvage.work.year_mass import parse_year
from tests.bench import add_cleared_board, make_shop
from tests.fuzz.mutate import change_json, text_mutator
from tests.fuzz.target import Importer, Target

TODAY = date(2026, 5, 4)


def _typed(shop: Workshop) -> dict[str, Callable[[str], object]]:
    """Every reader of typed text, by the word that an input of this door begins with."""
    readers: dict[str, Callable[[str], object]] = {
        "length": parse_length_mm,
        "from-zero": lambda text: parse_from_zero_mm(text, most_mm=50),
        "mass": parse_mass_g,
        "money": lambda text: parse_money(text, currency="EUR"),
        "yen": lambda text: parse_money(text, currency="JPY"),
        "amount": parse_thousandths,
        "date": lambda text: parse_date(text, today=TODAY),
        "day": parse_day,
        "made": lambda text: parse_made(text, field="--to"),
        "year": lambda text: parse_year(text, today=TODAY),
        "minutes": parse_minutes,
        "rate": parse_rate,
        "count": parse_count,
        "parts": parse_data_parts,
        "country": parse_country,
        "currency": parse_currency,
        "markets": parse_markets,
        "choice": lambda text: parse_choice(text, CHANNELS),
        "code": parse_code,
        "point": parse_point_um,
        "size": parse_size_mm,
        "angle": parse_angle_mdeg,
        "angles": parse_angles,
        "corners": parse_corners_px,
        "keep-out": parse_keep_out,
        "side": parse_side,
        "stock": parse_stock,
        "sheet": lambda text: parse_sheet("own", TypedSheet(*text.split(";")[:8])),
        "place": tidy_place,
        "shape": tidy_shape_name,
        "built-in": lambda text: built_in_shape(text, width_mm=20),
        "demand": lambda text: parse_demand(shop, text),
        "discount": lambda text: parse_discount(text, currency="EUR"),
        "sale": lambda text: read_sale(shop, words=text.split()),
        "address": lambda text: wrap("BC0002J", web_address=text),
        "print": tidy_text,
    }
    return readers | {f"set-{name}": _setting(name) for name in SETTING_NAMES}


def _setting(name: str) -> Callable[[str], object]:
    return lambda text: parse_settings({name: text})


def open_typed(folder: Path) -> Importer:
    """Typed text: the reader's word, a blank, and what is typed."""
    readers = _typed(make_shop(folder / "shop"))

    def importer(data: bytes) -> None:
        word, _, text = data.decode("utf-8", "replace").partition(" ")
        reader = readers.get(word) or list(readers.values())[len(data) % len(readers)]
        reader(text)

    return importer


def open_scans(folder: Path) -> Importer:
    """Lines of a scanner, at the bench and anywhere else."""
    shop = make_shop(folder / "shop")
    add_cleared_board(shop)

    def importer(data: bytes) -> None:
        text = data.decode("utf-8", "replace")
        unwrap(text)
        _ = Reading(text, "QR", (), "reader").code
        parse_scans(text)
        bench = Bench()
        for line in text.split("\n")[:6]:
            for sighting in sight(shop, line=line):
                bench = advance(bench, sighting.seen).bench
        identify(shop, text=text)

    return importer


def open_own_rows(folder: Path) -> Importer:
    """Tables of the workshop's own rows of knowledge; the first byte chooses the kind."""
    shop = make_shop(folder / "shop")

    def importer(data: bytes) -> None:
        kind = KINDS[(data[:1] or b"0")[0] % len(KINDS)]
        rows = read_rows(data[1:], name="own.csv")
        add_own_facts(shop, kind=kind, rows=rows, dry_run=True)

    return importer


def open_wording(folder: Path) -> Importer:
    """Words of a document; the first byte chooses it."""
    del folder

    def importer(data: bytes) -> None:
        document = DOCUMENTS[(data[:1] or b"0")[0] % len(DOCUMENTS)]
        write_words(document, parse_words(document, data[1:]))

    return importer


def open_design(folder: Path) -> Importer:
    """Heads of page descriptions of the workshop's own."""
    del folder
    return lambda data: void(parse_design("own", data.decode("utf-8", "replace"), own=True))


def void(value: object) -> None:
    """Look at a value no further."""
    del value


def open_checkpoint(folder: Path) -> Importer:
    """Checkpoints and proofs from outside."""
    shop = make_shop(folder / "shop")
    add_cleared_board(shop)
    sign_checkpoint(shop)

    def importer(data: bytes) -> None:
        verify_checkpoint(shop, data=data, name="june.json")

    return importer


def grow_checkpoints(folder: Path) -> list[bytes]:
    """The checkpoint of a workshop."""
    with make_shop(folder / "signing") as shop:
        add_cleared_board(shop)
        return [sign_checkpoint(shop).data]


def grow_typed(folder: Path) -> list[bytes]:
    """One sound text for each reader."""
    with make_shop(folder / "typing") as shop:
        words = list(_typed(shop))
    usual = ("12.5", "0,5 in", "1.2 kg", "2026-05-04", "57x32mm", "10,20", "BC0002J", "circle@40:6")
    return [f"{word} {usual[i % len(usual)]}".encode() for i, word in enumerate(words)]


def grow_wordings(folder: Path) -> list[bytes]:
    """Our own words of every document."""
    del folder
    return [bytes([i]) + write_words(name, {}).encode()[:1500] for i, name in enumerate(DOCUMENTS)]


def grow_designs(folder: Path) -> list[bytes]:
    """Our own designs."""
    del folder
    return [design.source.encode()[:4000] for design in shipped_designs().values()]


_MARKS = ("x", "mm", "in", "kg", "@", ":", ";", ",", "%", "=", "-", "today", "EUR", "h", "cm", '"')
_CODES = (
    "BC0002J",
    "DC0001U",
    "GC0001R",
    "]C1",
    "BCàààéJ",
    "/C/",
    "\t",
    "\n",
    "y",
    "?",
    "HTTPS://",
)
_TOML = ("[[", "]]", '"""', "'''", "= {", "1979-05-27T07:32:00", "\\u0000", "language", "months")
_TYP = ("#let paper = ", "#let trim = (", "import ", '"@preview/x:1.0"', "eval(", "plugin(", "mm)")


def change_typed(rng: Random, data: bytes) -> bytes:
    """Another text for the same reader."""
    word, _, rest = data.partition(b" ")
    return word + b" " + text_mutator(*_MARKS)(rng, rest)


def change_behind(change: Callable[[Random, bytes], bytes]) -> Callable[[Random, bytes], bytes]:
    """Changes of all but the first byte, and of that at times."""

    def changed(rng: Random, data: bytes) -> bytes:
        first = data[:1] if rng.random() < 0.9 else bytes([rng.randrange(256)])
        return first + change(rng, data[1:])

    return changed


TEXT_TARGETS = (
    Target("typed", open_typed, change_typed, 2200, 400, grow_typed),
    Target("scans", open_scans, text_mutator(*_CODES), 500, 200),
    Target(
        "own-rows",
        open_own_rows,
        change_behind(text_mutator(",", "\n", '"', "slug", "own-", "yes")),
        900,
        1500,
    ),
    Target("wording", open_wording, change_behind(text_mutator(*_TOML)), 1300, 3000, grow_wordings),
    Target("design", open_design, text_mutator(*_TYP), 1100, 5000, grow_designs),
    Target("checkpoint", open_checkpoint, change_json, 1100, 3000, grow_checkpoints),
)
"""Doors for text."""
