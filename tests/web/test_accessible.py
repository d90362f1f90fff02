"""
Every page for everybody: no fault that axe-core knows, at the desk's size and the phone's.

axe-core (Deque, MPL 2.0) tests the part of WCAG 2.2 at levels A and AA that a machine can check.
What it cannot see, such as the order of focus, the other tests and eyes look at.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files

import pytest
from playwright.sync_api import Page

from tests.screen import Screen, open_screen

MAIN = ("/", "/dropoff/new", "/scan")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def screen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Screen]:
    """A small workshop on the page, and a browser."""
    with open_screen(tmp_path_factory.mktemp("accessible") / "shop") as opened:
        yield opened


def addresses(screen: Screen) -> list[str]:
    """Each kind of page once."""
    from salvage.work.workshop import open_workshop

    with open_workshop(screen.folder) as shop:
        (piece,) = shop.conn.execute("SELECT code FROM piece").fetchone()
        (drop_off,) = shop.conn.execute("SELECT code FROM drop_off LIMIT 1").fetchone()
    boards = [f"/board/{screen.cleared}", f"/board/{screen.held}"]
    things = [f"/piece/{piece}", f"/dropoff/{drop_off}", f"/trace/{drop_off}"]
    plain = ["/", "/?find=zzz", "/piece", "/dropoff", "/dropoff/new", "/scan", "/browsers", "/pair"]
    plain += ["/outing", "/season", f"/outing/{screen.outing}"]
    return [*plain, *boards, *things, "/board/BC0000X"]


def faults(page: Page) -> list[str]:
    """What axe-core finds, one line each."""
    source = files("axe_playwright_python") / "axe.min.js"
    page.evaluate(source.read_text("utf-8"))
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS)
    assert len(found["passes"]) > 10  # it ran
    return [
        f"{each['id']} ({each['impact']}): {node['html'][:160]}"
        for each in found["violations"]
        for node in each["nodes"]
    ]


@pytest.mark.parametrize("look", ["desk", "phone", "dark desk"])
def test_no_page_shuts_anybody_out(screen: Screen, look: str) -> None:
    """Names, roles, contrast, order of headings and size of targets hold on every page."""
    context = screen.context(phone=look == "phone")
    page = context.new_page()
    page.emulate_media(color_scheme="dark" if "dark" in look else "light", reduced_motion="reduce")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    every = addresses(screen)
    found = {}
    chosen = [
        each for each in every if look == "desk" or each in MAIN or each[7:] == screen.cleared
    ]
    for address in chosen:
        page.goto(screen.origin + address)
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        found[address] = faults(page)
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, f"{address} scrolls sideways by {wide} px"
    context.close()

    assert {address: lines for address, lines in found.items() if lines} == {}
    assert [url for url in asked if not url.startswith(screen.origin)] == []


def test_the_smallest_phone_scrolls_one_way(screen: Screen) -> None:
    """At 320 pixels, which is also a desk's page at 400 %, nothing is cut off (WCAG 1.4.10)."""
    page = screen.page()
    page.set_viewport_size({"width": 320, "height": 640})
    for address in addresses(screen):
        page.goto(screen.origin + address)

        assert page.evaluate("document.documentElement.scrollWidth") <= 320, address


def test_the_first_key_leads_to_the_content(screen: Screen) -> None:
    """Whoever works with keys alone skips the header with one key."""
    page = screen.page()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    assert page.evaluate("document.activeElement.id") == "main"


def test_axe_would_see_a_fault(screen: Screen) -> None:
    """The examiner itself is examined: a picture without words and pale text are told."""
    page = screen.page()
    page.evaluate(
        "document.querySelector('h1').style.color = '#ddd';"
        "document.querySelector('main').append(new Image())"
    )

    told = " ".join(faults(page))
    assert "color-contrast" in told
    assert "image-alt" in told
