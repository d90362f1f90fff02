"""Doors of the faces: command lines, messages to the page, and names on their way to paper."""

from __future__ import annotations

import io
import re
import shlex
from contextlib import redirect_stderr
from datetime import date
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote

from salvage.cli.app import run
from salvage.cli.contents import ENTRIES
from salvage.cli.failures import BUG
from salvage.cli.parser import build
from salvage.cli.world import World
from salvage.work.donors import NewDonor
from salvage.work.receipts import print_receipt
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock, make_shop, seeded_entropy
from tests.browser import Browser
from tests.fuzz.mutate import NUMBERS, TEXTS, change_tokens, pick
from tests.fuzz.target import Bug, Importer, Target
from tests.work.pair import Pair

_LEFT_OUT = ("demo", "page", "watch", "plan", "bench")
"""Commands that wait, serve, or search for a long time; what they take in has doors of its own."""


def _fill(folder: Path) -> None:
    with make_shop(folder) as shop:
        pair = Pair(shop)
        pair.assemble()


def open_command_line(folder: Path) -> Importer:
    """Command lines, word by word; nothing is written outside of the scratch folder."""
    _fill(folder / "shop")
    for name in ("a.csv", "a.svg", "a.json", "a.toml", "a.jpg", "a.zip", "a.pdf"):
        (folder / name).write_bytes(b"x")

    def importer(data: bytes) -> None:
        text = data.decode("utf-8", "replace")
        words = [_tame(word) for word in text.split("\x1f")]
        if words[0] in _LEFT_OUT:
            return
        out = io.StringIO()
        world = World(
            clock=SteppingClock(),
            entropy=seeded_entropy(7),
            environment={"SALVAGE_SHOP": str(folder / "shop"), "SALVAGE_TRACE": "1"},
            folder=folder,
            stdin=io.StringIO("y\n"),
            stdout=out,
            stderr=out,
        )
        if run(words, world) == BUG:
            raise Bug(out.getvalue())

    return importer


def _tame(word: str) -> str:
    """A word that cannot name a place outside of the scratch folder."""
    return re.sub(r"[/~\\]|\.\.", "", word)


def grow_command_lines(folder: Path) -> list[bytes]:
    """The example of every command, run in earnest or tried only."""
    del folder
    found = []
    for entry in ENTRIES:
        if entry.name not in _LEFT_OUT:
            found += [shlex.split(line)[1:] for line in _examples(build(entry.load(), entry.name))]
    return ["\x1f".join(_known(word) for word in words).encode() for words in found]


def _known(word: str) -> str:
    """The scratch folder's own files in the place of the example's."""
    ending = re.search(r"\.(csv|svg|json|toml|jpg|zip|pdf)$", word)
    return f"a{ending[0]}" if ending else word.replace("DC0005X", "DC0001U")


def _examples(command: Any) -> list[str]:
    if hasattr(command, "commands"):
        return [line for one in command.commands.values() for line in _examples(one)]
    return [command.example]


_OPTIONS = ("--json", "--plain", "--dry-run", "--out", "a.json", "--help", "--yes", "-", "--", "=")


def change_command_line(rng: Random, data: bytes) -> bytes:
    """A command line with a word or two changed; what it would write is mostly tried only."""
    words = data.decode("utf-8", "replace").split("\x1f")
    for _ in range(rng.choice((1, 1, 2))):
        at = rng.randrange(1, len(words) + 1)
        deed = rng.randrange(5)
        if deed == 0:
            words[at:at] = [pick(rng, NUMBERS, TEXTS, _OPTIONS)]
        elif at < len(words) and deed == 1:
            del words[at]
        elif at < len(words):
            part = words[at].encode("utf-8", "replace")
            words[at] = change_tokens(rng, part, _OPTIONS).decode("utf-8", "replace")[:20_000]
    if "--dry-run" not in words and rng.random() < 0.5:
        words.append("--dry-run")
    return "\x1f".join(words).encode("utf-8", "replace")


_PAGE_DEEDS = (
    *(
        "dropoff/add donor=Kelpie contents=boards boards=3 weight=2kg date=2026-05-02",
        "scan",
        "pair",
    ),
    *("dropoff/DC0001U/board type=motherboard count=1 width=120 height=80", "board/BC0002J/clear"),
    *("board/BC0002J/cut shape=circle width=20 x=30 y=40", "board/BC0002J/outline points=[[0,0]]"),
    *("board/BC0002J/keepout x=1 y=1 width=5 height=5 reason=port", "piece/PC0001D/price price=18"),
    *(
        "piece/PC0001D/stage stage=sealed",
        "piece/PC0001D/sell price=20",
        "piece/PC0001D/weigh mass=3g",
    ),
    *("board/BC0002J/move place=shelf", "browsers/revoke n=1", "browsers/invite role=helper"),
)
_PAGE_QUESTIONS = (
    *("?find=tern&page=2&state=held&order=newest", "find?text=BC0002J", "board/BC0002J", "pulse"),
    *("board/BC0002J/face/front/400", "piece?page=2", "piece/PC0001D", "trace/PC0001D", "outing"),
    *(
        "dropoff?page=1",
        "dropoff/DC0001U",
        "photo/BC0002J/1",
        "season",
        "static/page.css",
        "pair?code=x",
    ),
)


def open_page(folder: Path) -> Importer:
    """Messages of a paired browser: an address, a blank, and fields; or a file after a zero."""
    _fill(folder / "shop")
    browser = Browser(folder / "shop")
    keys = browser.keys("/dropoff/new")

    def importer(data: bytes) -> None:
        text, _, upload = data.partition(b"\0")
        address, *typed = text.decode("utf-8", "replace").split(" ")
        told = io.StringIO()
        path = quote(f"/{address.lstrip('/')}", safe="/?&=%;:")
        with redirect_stderr(told):
            if typed or upload:
                fields = dict(field.partition("=")[::2] for field in typed if "=" in field)
                files = {"photo": ("a/../b\x00.jpg", upload)} if upload else None
                answer = browser.client.post(path, data={**keys, **fields}, files=files)
            else:
                answer = browser.client.get(path)
        if answer.status_code == 500:
            raise Bug(told.getvalue())

    return importer


def grow_page(folder: Path) -> list[bytes]:
    """Every kind of message once, and a photo."""
    from tests.fuzz.targets_files import grow_pictures

    photos = [b"scan \0" + picture for picture in grow_pictures(folder)[:3]]
    return [line.encode() for line in (*_PAGE_DEEDS, *_PAGE_QUESTIONS)] + photos


def change_page(rng: Random, data: bytes) -> bytes:
    """A message with a part of its address or its fields changed."""
    text, zero, upload = data.partition(b"\0")
    words = ("x=", " ", "&", "=", "%00", "%ff", "%2e%2e%2f", "[", "]", "key=", "-1", "PC0001D")
    return change_tokens(rng, text, words) + zero + upload


def open_names(folder: Path) -> Importer:
    """A donor's name and words, through the record to the receipt and a label's text."""
    shop = open_workshop(folder / "shop", clock=SteppingClock(), entropy=seeded_entropy(3), by="M")

    def importer(data: bytes) -> None:
        name, _, rest = data.decode("utf-8", "replace").partition("\n")
        donor = NewDonor(name, naming="named", naming_how="by letter", described_as=rest)
        new = NewDropOff(date(2026, 5, 2), rest or "boards", notes=name, origin=rest, story=rest)
        view = log_drop_off(shop, donor=donor, new=new)
        print_receipt(shop, drop_off=view.drop_off.code, with_name=True, dry_run=True)

    return importer


def change_name(rng: Random, data: bytes) -> bytes:
    """Letters of many scripts, marks, and page description."""
    return change_tokens(rng, data, ("#", "$", "*", "_", "@", "<", "]", "\\", "//", "שלום", "سلام"))


FACE_TARGETS = (
    Target("command-line", open_command_line, change_command_line, 40, 4000, grow_command_lines),
    Target("page", open_page, change_page, 100, 4000, grow_page),
    Target("names", open_names, change_name, 8, 600),
)
"""Doors of the faces."""
