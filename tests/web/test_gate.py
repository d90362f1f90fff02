"""
Strangers at the page: what must not come through is refused, each by its own words.

Checked against the OWASP web security testing guide (4.2): host header injection (WSTG-INPV-17),
cross-site request forgery (WSTG-SESS-05), session fixation (WSTG-SESS-03), directory traversal
(WSTG-ATHZ-01), role bypass (WSTG-ATHZ-02), reflected and stored scripts (WSTG-INPV-01 and -02),
unexpected file types (WSTG-BUSL-08). The numbers are from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from salvage.web.app import WAYS, build_app
from salvage.web.gate import MOST_FORM_BYTES
from tests.bench import add_board, make_shop
from tests.browser import HOST, ORIGIN, Browser, make_house

FORM = "application/x-www-form-urlencoded"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    """The owner's browser, in a workshop with one board."""
    folder = tmp_path_factory.mktemp("gate") / "shop"
    with make_shop(folder) as shop:
        add_board(shop)
    return Browser(folder)


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example:8417", "127.0.0.1", "127.0.0.1:80", "", "[::1]:8417"],
)
def test_a_foreign_name_is_refused(browser: Browser, host: str) -> None:
    """A web site that points its own name at this computer gets nothing."""
    answer = browser.client.get("/", headers={"host": host})

    assert answer.status_code == 400
    assert "BC0001" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9000"},
        {"origin": "https://127.0.0.1:8417"},
        {"origin": ""},
        {"origin": ORIGIN, "sec-fetch-site": "cross-site"},
        {"origin": ORIGIN, "sec-fetch-site": "same-site"},
    ],
)
def test_a_form_of_another_page_is_refused(browser: Browser, headers: dict[str, str]) -> None:
    """Another page in the same browser cannot send a form here, key or no key."""
    fields = {**browser.keys("/dropoff/new"), "donor": "Nobody", "contents": "nothing"}
    sent = {"content-type": FORM, **headers}

    answer = browser.client.post("/dropoff/add", content=urlencode(fields), headers=sent)

    assert answer.status_code == 403


@pytest.mark.parametrize("key", ["", "x", "é"])
def test_a_form_without_its_secret_is_refused(browser: Browser, key: str) -> None:
    """A form must bring back the secret that its page was given."""
    answer = browser.post("/dropoff/add", {"form-key": key, "donor": "A", "contents": "b"})

    assert answer.status_code == 409
    assert "too old" in answer.text


def test_a_message_without_a_key_is_refused(browser: Browser) -> None:
    """What could be recorded twice is not recorded at all."""
    answer = browser.post("/dropoff/add", {"key": "", "donor": "A", "contents": "b"})

    assert answer.status_code == 409


@pytest.mark.parametrize("way", WAYS, ids=lambda way: f"{way.method} {way.address}")
def test_nobody_comes_in_unpaired(browser: Browser, way: object) -> None:
    """Every address but the door's own shows nothing to a browser that was not let in."""
    from salvage.web.doors import Way

    assert isinstance(way, Way)
    stranger = TestClient(build_app(browser.house), base_url=ORIGIN, follow_redirects=False)
    address = way.address.replace("{code}", "BC0001").replace("{n}", "1")
    address = address.replace("{side}", "front").replace("{size}", "small")
    headers = {"origin": ORIGIN, "cookie": f"{browser.house.cookie}=guess"}

    answer = stranger.request(way.method, address, headers=headers)

    assert answer.status_code == 401
    assert "Orrery" not in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2fpyproject.toml",
        "/static/....//app.py",
        "/static/",
        "/static",
        "/photo/BC0001/..%2f..%2fworkshop.db",
        "/workshop.db",
        "/page.db",
        "/files/",
        "/static/bench.css%00.py",
    ],
)
def test_no_path_leads_out(browser: Browser, path: str) -> None:
    """No address leads to a file that is not one of the page's own, and nothing is listed."""
    answer = browser.client.get(path)

    assert answer.status_code in (404, 422)
    assert "import" not in answer.text


def test_too_much_is_refused(browser: Browser) -> None:
    """A message that would fill the memory is refused by its announced size."""
    answer = browser.client.post(
        "/dropoff/add", content=b"x" * (MOST_FORM_BYTES + 1), headers={"content-type": FORM}
    )

    assert answer.status_code == 413


def test_too_much_is_refused_though_it_was_not_announced(browser: Browser) -> None:
    """A message that grows while it is sent is cut off."""

    def pour() -> Iterator[bytes]:
        for _ in range(MOST_FORM_BYTES // 50_000 + 2):
            yield b"x" * 50_000

    answer = browser.client.post("/dropoff/add", content=pour(), headers={"content-type": FORM})

    assert answer.status_code == 413


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(browser: Browser, method: str) -> None:
    """Only reading and sending forms is understood."""
    assert browser.client.request(method, "/").status_code == 405


def test_every_answer_carries_the_policy(browser: Browser) -> None:
    """The browser is told to run nothing that stands in a page, and to load only our own files."""
    for address in ("/", "/static/bench.css", "/nowhere", "/pair"):
        headers = browser.client.get(address).headers

        assert "script-src 'self';" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
    assert browser.client.get("/").headers["cache-control"] == "no-store"


def test_no_page_holds_a_script_or_a_style(browser: Browser) -> None:
    """What the policy would block stands in no page."""
    for address in ("/", "/dropoff/new", "/scan", "/browsers", "/pair"):
        page = browser.get(address)

        assert "<style" not in page
        assert " style=" not in page
        assert " onclick=" not in page
        assert page.count("<script") == page.count('<script type="module" src="/static/')


def test_what_people_write_is_text(browser: Browser) -> None:
    """A note that is written like a page stays a note, wherever it is shown."""
    evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{ 7*7 }}"
    done = browser.do("/dropoff/add", {"donor": evil, "contents": evil, "notes": evil})

    for address in (done["then"], "/dropoff", "/?" + urlencode({"find": evil})):
        page = browser.get(address)

        assert "<script>alert" not in page
        assert "<img src=x" not in page
    assert "{{ 7*7 }}" in browser.get(done["then"])


def test_a_page_that_is_no_photo_is_refused(browser: Browser) -> None:
    """A web page that calls itself a photo is not kept."""
    board = "/board/" + _first_board(browser)
    files = {"photo": ("x.jpg", b"<html><script>alert(1)</script>", "image/jpeg")}

    answer = browser.post(f"{board}/photo", {"side": "front"}, files=files)

    assert answer.status_code == 415


def _first_board(browser: Browser) -> str:
    with browser.house.open() as shop:
        (code,) = shop.conn.execute("SELECT code FROM board").fetchone()
    return str(code)


def test_the_cookie_is_out_of_reach(tmp_path: Path) -> None:
    """The cookie is kept from scripts and from other sites, and is not known beforehand."""
    house = make_house(tmp_path / "shop")
    client = TestClient(build_app(house), base_url=ORIGIN, follow_redirects=False)
    client.cookies.set(house.cookie, "chosen-by-the-attacker")
    token = house.notebook.invite(role="owner")

    answer = client.get(f"/open/{token}")

    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "chosen-by-the-attacker" not in cookie
    assert (tmp_path / "shop" / "page.db").stat().st_mode & 0o077 == 0
    assert HOST in house.hosts


def test_a_length_of_thousands_of_digits_is_refused(browser: Browser) -> None:
    """A number that Python itself refuses to read ends in the same plain answer."""
    answer = browser.client.post("/dropoff/add", headers={"content-length": "1" * 5000})

    assert answer.status_code == 413


@pytest.mark.parametrize("n", ["9" * 19, "9" * 5000, "²", "-1", "1.0"])
def test_a_browsers_number_that_is_none_is_refused(browser: Browser, n: str) -> None:
    """A number beyond what the database holds is no browser's."""
    answer = browser.post("/browsers/revoke", {"n": n}, page="/browsers")

    assert answer.status_code == 422
