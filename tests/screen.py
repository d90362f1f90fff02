"""A screen at the page: Chromium on a page that runs as a process of its own."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from salvage.ids import Code
from salvage.work.outing_day import open_outing
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.packing import pack
from salvage.work.pieces import set_price
from salvage.work.record import add_keep_outs
from salvage.work.spots import parse_keep_out
from tests.bench import add_board, add_cleared_board, cut_circle, make_shop

# Chromium runs here as root in a container, without a graphics card, and must not call home.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
)
NAMES = ("chromium", "chromium-browser", "google-chrome")

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}


@dataclass
class Screen:
    """
    A running page and a browser.

    Args:
        folder: The workshop's folder.
        origin: Where the page is.
        link: Opens it, once.
        browser: Chromium.
        cleared: A board of 120 x 80 mm that may be cut.
        held: One that may not.
        outing: A stall that is open, with one piece in its box.
        state: The browser's cookies.
    """

    folder: Path
    origin: str
    link: str
    browser: Browser
    cleared: Code
    held: Code
    outing: Code
    state: str = ""

    def context(self, *, phone: bool = False) -> BrowserContext:
        """A paired browser window; they share one pairing."""
        own = self.browser.new_context(
            viewport=PHONE if phone else DESK,  # type: ignore[arg-type]
            has_touch=phone,
            is_mobile=phone,
            storage_state=json.loads(self.state) if self.state else None,
            reduced_motion="reduce",
        )
        own.set_default_timeout(15_000)
        return own

    def page(self, address: str = "/", *, phone: bool = False) -> Page:
        """A window at an address; mistakes of the page's scripts are kept in ``window.wrong``."""
        page = self.context(phone=phone).new_page()
        page.goto(self.origin + address)
        return page


def seed(folder: Path) -> tuple[Code, Code, Code]:
    """A small workshop: a cleared board with a cut and a keep-out, a held one, an open stall."""
    with make_shop(folder) as shop:
        cleared = add_cleared_board(shop).code
        keep_out = parse_keep_out("90,0 120,20 serial port")
        add_keep_outs(shop, board=cleared, keep_outs=[keep_out])
        piece = cut_circle(shop, cleared, 100, 60).piece
        assert piece is not None
        held = add_board(shop).code
        outing = plan_outing(shop, new=NewOuting("Lantern Fair", shop.today)).outing.code
        set_price(shop, pieces=[piece.code], price_minor=1200)
        pack(shop, outing=outing, pieces=[piece.code])
        open_outing(shop, outing=outing, float_minor=5000)
    return cleared, held, outing


@contextmanager
def running_page(folder: Path) -> Iterator[dict[str, str]]:
    """The page as a process; gives what it says on starting."""
    command = [sys.executable, "-m", "salvage", "page", "--port", "0", "--no-open", "--json"]
    command += ["--shop", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as running:
        assert running.stdout is not None
        try:
            yield json.loads(running.stdout.readline())
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(timeout=20)


@contextmanager
def open_screen(folder: Path) -> Iterator[Screen]:
    """A small workshop on a page, and Chromium before it."""
    cleared, held, outing = seed(folder)
    path = next(found for name in NAMES if (found := shutil.which(name)))
    with running_page(folder) as told, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=list(FLAGS))
        origin = told["address"].partition("/open/")[0]
        screen = Screen(folder, origin, told["address"], browser, cleared, held, outing)
        first = screen.context()
        first.new_page().goto(told["address"])
        screen.state = json.dumps(first.storage_state())
        first.close()
        yield screen
        browser.close()
