"""
A dossier in a real browser without a network: it checks its own proof, and finds forged ones out.

The signatures are made by the cryptography library, so the page's own Ed25519 (RFC 8032) and SHA-2
(FIPS 180-4) are held against it and against hashlib, by which every hash of the journal is made.
"""

from __future__ import annotations

import json
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from salvage.ids import Code
from salvage.work.cards import print_card
from salvage.work.donors import NewDonor
from salvage.work.dossier import write_dossiers
from salvage.work.receive import NewDropOff, log_drop_off
from tests.bench import START, add_board, clear, cut_circle, make_shop
from tests.work.pair import Pair

_EMBEDDED = re.compile(r'(<script type="application/json" id="proof">)(.*?)(</script>)')


@pytest.fixture(name="browser", scope="module")
def _browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium")
    assert chromium, "install it with: apt-get install chromium"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(name="site", scope="module")
def _site(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Code, Code]:
    """A folder of pages: one of a piece whose donor is named, one of an article."""
    folder = tmp_path_factory.mktemp("site")
    with make_shop(tmp_path_factory.mktemp("shop")) as shop:
        donor = NewDonor("Harbour Radio ☂ & Søns", naming="named")
        box = NewDropOff(START.date(), "boards", story='It said "ahoy" \\ at </script> noon')
        drop_off = log_drop_off(shop, donor=donor, new=box).drop_off.code
        board = add_board(shop, drop_off=drop_off).code
        clear(shop, board)
        piece = cut_circle(shop, board, 40, 40).piece
        assert piece is not None
        article = Pair(shop).assemble()
        print_card(shop, piece=article)
        made = write_dossiers(shop, pieces=[piece.code, article], with_workers=True)
    for code, page in made.written.items():
        (folder / code).mkdir()
        (folder / code / "index.html").write_bytes(page)
    (folder / "index.html").write_bytes(made.index)
    return folder, piece.code, article


def _open(browser: Browser, address: str, *, offline: bool = True) -> tuple[Page, list[str]]:
    """A page in a browser of its own, and all that it asked for beyond itself."""
    asked: list[str] = []
    page = browser.new_context(offline=offline, viewport={"width": 390, "height": 800}).new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: asked.append(str(error)))
    page.on("console", lambda message: asked.append(message.text))
    page.goto(address)
    return page, [url for url in asked if not url.startswith("data:") and url != address]


def _verdict(page: Page) -> str:
    return page.inner_text("#verdict")


def test_a_page_checks_itself_without_a_network(
    browser: Browser, site: tuple[Path, Code, Code]
) -> None:
    """From a stick, with the network off: entries, line, sealed name and signature hold."""
    folder, piece, _ = site
    page, asked = _open(browser, (folder / piece / "index.html").as_uri())
    verdict = _verdict(page)

    assert asked == []
    assert "✗" not in verdict
    assert "are in the signed journal, unchanged" in verdict
    assert f"lead from {piece} to 1 cut" in verdict
    assert "sealed: Harbour Radio ☂ & Søns" in verdict
    assert "Signed on 2026-05-04 with the key" in verdict


def test_an_articles_page_checks_all_its_parts(
    browser: Browser, site: tuple[Path, Code, Code]
) -> None:
    """Both cuts of the earrings."""
    folder, _, article = site
    page, asked = _open(browser, (folder / article / "index.html").as_uri())

    assert asked == []
    assert f"lead from {article} to 2 cuts" in _verdict(page)
    assert page.locator("img").count() == 3  # two maps and the lineage


def test_every_picture_is_shown_and_nothing_runs_over_the_edge(
    browser: Browser, site: tuple[Path, Code, Code]
) -> None:
    """On a telephone: each picture has pixels, and the page does not scroll sideways."""
    folder, _, article = site
    page, _ = _open(browser, (folder / article / "index.html").as_uri())
    widths = page.evaluate("Array.from(document.images, (i) => i.naturalWidth)")
    sizes = page.evaluate("[document.body.scrollWidth, window.innerWidth]")

    assert min(widths) > 0
    assert sizes[0] <= sizes[1]


def test_a_plain_web_host_serves_what_the_card_leads_to(
    browser: Browser, site: tuple[Path, Code, Code]
) -> None:
    """Over plain HTTP by a name, where a browser lends no hashing: the page checks itself."""
    folder, piece, _ = site
    answer = partial(_Quiet, directory=str(folder))
    with ThreadingHTTPServer(("127.0.0.1", 0), answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        page, _ = _open(browser, f"http://127.0.0.1:{server.server_port}/{piece}", offline=False)
        verdict = _verdict(page)
        page.goto(f"http://127.0.0.1:{server.server_port}/")
        page.click(f"text={piece}")
        title = page.title()
        server.shutdown()

    assert "Signed on" in verdict
    assert piece in title


class _Quiet(SimpleHTTPRequestHandler):
    """Any web host, without its log."""

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""


def _other_text(value: Any) -> None:
    event = next(one for one in value["events"] if '"cut.made"' in one.get("body", ""))
    event["body"] = event["body"].replace("circle", "kite")


def _other_path(value: Any) -> None:
    value["events"][0]["path"][0] = "00" * 32


def _short_path(value: Any) -> None:
    value["events"][0]["path"].pop()


def _other_name(value: Any) -> None:
    value["opened"][0]["value"] = "Harbour Television"


def _other_place(value: Any) -> None:
    value["events"][0]["n"] += 1


def _other_piece(value: Any) -> None:
    value["piece"] = "PX0001D"


def _other_day(value: Any) -> None:
    value["checkpoint"]["signed"]["at"] = "2020-01-01T00:00:00.000Z"


def _other_signature(value: Any) -> None:
    signature = value["checkpoint"]["signature"]
    value["checkpoint"]["signature"] = f"{int(signature[0], 16) ^ 1:x}{signature[1:]}"


def _other_scalar(value: Any) -> None:
    signature = value["checkpoint"]["signature"]
    flipped = f"{int(signature[64], 16) ^ 1:x}"
    value["checkpoint"]["signature"] = signature[:64] + flipped + signature[65:]


def _other_key(value: Any) -> None:
    value["checkpoint"]["signed"]["public_key"] = "d75a980182b10ab7d54bfed3c964073a" * 2


def _no_signature(value: Any) -> None:
    value["checkpoint"]["signature"] = "00" * 64


@pytest.mark.parametrize(
    "forge",
    [
        _other_text,
        _other_path,
        _short_path,
        _other_name,
        _other_place,
        _other_piece,
        _other_day,
        _other_signature,
        _other_scalar,
        _other_key,
        _no_signature,
    ],
)
def test_a_forged_proof_is_found_out(
    browser: Browser,
    site: tuple[Path, Code, Code],
    tmp_path: Path,
    forge: Callable[[Any], None],
) -> None:
    """Whatever is altered in the proof, the page says that it does not hold, and nothing else."""
    folder, piece, _ = site
    text = (folder / piece / "index.html").read_text("utf-8")
    found = _EMBEDDED.search(text)
    assert found
    value = json.loads(found[2])
    forge(value)
    forged = json.dumps(value).replace("<", "\\u003c")
    other = tmp_path / "forged.html"
    other.write_text(text[: found.start(2)] + forged + text[found.end(2) :], "utf-8")
    page, _ = _open(browser, other.as_uri())

    assert _verdict(page).startswith("✗ This proof does not hold: ")
    assert "✓" not in _verdict(page)


def test_without_scripts_the_page_still_tells_all(
    browser: Browser, site: tuple[Path, Code, Code]
) -> None:
    """A reader who lets no script run has the words, and is told how to check by hand."""
    folder, piece, _ = site
    page = browser.new_context(offline=True, java_script_enabled=False).new_page()
    page.goto((folder / piece / "index.html").as_uri())

    assert "where scripts may run" in page.locator("#verdict").inner_text()
    assert "Given by Harbour Radio" in page.locator("main").inner_text()


def test_it_prints_on_paper(browser: Browser, site: tuple[Path, Code, Code]) -> None:
    """As PDF on A4, without what only a screen can do."""
    folder, piece, _ = site
    page, _ = _open(browser, (folder / piece / "index.html").as_uri())
    pdf = page.pdf(prefer_css_page_size=True)
    page.emulate_media(media="print")

    assert pdf.startswith(b"%PDF")
    assert not page.locator("text=Save the proof").first.is_visible()
