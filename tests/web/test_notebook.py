"""The door: codes that are good once and soon go stale, and browsers that can be shut out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from salvage.errors import BadValue, Refused
from salvage.web.notebook import MOST_TRIES, SESSION_DAYS, TOKEN_MINUTES, Notebook
from tests.browser import Browser


class Hand:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Hand:
    """The clock."""
    return Hand()


@pytest.fixture
def notebook(tmp_path: Path, clock: Hand) -> Notebook:
    """An empty notebook."""
    return Notebook(tmp_path / "page.db", clock=clock)


def test_a_code_lets_one_browser_in(notebook: Notebook) -> None:
    """A pairing code is good once; a photo of the screen taken later opens nothing."""
    token = notebook.invite(role="helper", name="Ines")
    cookie, guest = notebook.admit(f" {token[:4].lower()}-{token[4:]} ")

    assert notebook.guest_of(cookie) == guest
    assert (guest.role, guest.name) == ("helper", "Ines")
    with pytest.raises(Refused, match="not good"):
        notebook.admit(token)


def test_a_code_goes_stale(notebook: Notebook, clock: Hand) -> None:
    """A code that lay about too long opens nothing."""
    token = notebook.invite(role="owner")
    clock.now += timedelta(minutes=TOKEN_MINUTES)

    with pytest.raises(Refused, match="not good"):
        notebook.admit(token)


def test_guessing_is_slowed(notebook: Notebook, clock: Hand) -> None:
    """After a few wrong codes even the right one must wait."""
    token = notebook.invite(role="owner")
    for _ in range(MOST_TRIES):
        with pytest.raises(Refused, match="not good"):
            notebook.admit("WRONGONE")

    with pytest.raises(Refused, match="too many"):
        notebook.admit(token)
    clock.now += timedelta(minutes=TOKEN_MINUTES + 1)
    assert notebook.admit(notebook.invite(role="owner"))[1].is_owner


def test_a_browser_is_shut_out(notebook: Notebook) -> None:
    """A lost phone is shut out, and codes that were made before are worth nothing."""
    token, unused = notebook.invite(role="helper"), notebook.invite(role="helper")
    cookie, guest = notebook.admit(token)

    notebook.revoke(guest.n)

    assert notebook.guest_of(cookie) is None
    assert notebook.guests() == ()
    with pytest.raises(Refused):
        notebook.admit(unused)


def test_a_browser_that_stays_away_is_forgotten(notebook: Notebook, clock: Hand) -> None:
    """A phone that nobody used for a month pairs anew; one in use does not."""
    cookie, _ = notebook.admit(notebook.invite(role="helper"))
    clock.now += timedelta(days=SESSION_DAYS - 1)

    assert notebook.guest_of(cookie)
    clock.now += timedelta(days=SESSION_DAYS - 1)
    assert notebook.guest_of(cookie)
    clock.now += timedelta(days=SESSION_DAYS, seconds=1)
    assert notebook.guest_of(cookie) is None


def test_nothing_in_the_notebook_opens_the_door(notebook: Notebook, tmp_path: Path) -> None:
    """Whoever reads the notebook's file finds no code and no cookie in it."""
    token = notebook.invite(role="owner")
    unused = notebook.invite(role="owner")
    cookie, _ = notebook.admit(token)

    written = (tmp_path / "page.db").read_bytes()
    assert not any(secret.encode() in written for secret in (token, unused, cookie))


def test_a_role_must_exist(notebook: Notebook) -> None:
    """Nobody is let in as something that the page does not know."""
    with pytest.raises(BadValue, match="no role"):
        notebook.invite(role="king")


def test_a_helper_sees_no_names_and_no_prices(tmp_path: Path) -> None:
    """Whoever helps at the bench sees the boards, not who gave them nor what pieces cost."""
    owner = Browser(tmp_path / "shop")
    helper = Browser(tmp_path / "shop", role="helper", name="Ines", house=owner.house)
    told = {"donor": "Skerry Bay Radio", "contents": "two desks", "contact": "4 Beacon Row"}
    drop_off = owner.do("/dropoff/add", told)["then"]
    board = owner.do(f"{drop_off}/board", {"type": "other", "size": "120x80"})["then"]
    owner.do(f"{board}/clear", _all_absent(owner, board))
    cut = {"shape": "circle", "width": "30", "at": "40,40"}
    piece = helper.do(f"{board}/cut", cut)["then"]
    owner.do(f"{piece}/price", {"price": "18.50"})
    owner.do(f"{piece}/sell", {"price": "21.30"})
    donor = _donor(owner)

    for address in (drop_off, board, piece, f"/trace{donor}", "/dropoff", "/piece", "/"):
        page = helper.get(address)
        for secret in ("Skerry", "Beacon", "18.50", "21.30"):
            assert secret not in page, (address, secret)
    assert "Skerry" in owner.get(f"/trace{donor}")
    assert "21.30" in owner.get(piece)
    assert "0 boards" in helper.get("/?find=Skerry")
    assert "1 board" in owner.get("/?find=Skerry")
    for address in (f"{piece}/price", f"{piece}/return", "/browsers/invite"):
        assert helper.post(address, {"price": "1"}).status_code == 409
    with owner.house.open() as shop:
        (by,) = shop.conn.execute("SELECT by FROM cut").fetchone()
    assert by == "Ines"


def _all_absent(browser: Browser, board: str) -> dict[str, str]:
    with browser.house.open() as shop:
        rows = shop.conn.execute("SELECT hazard FROM hazard_check WHERE board = ?", (board[7:],))
        return {f"state-{slug}": "absent" for (slug,) in rows}


def _donor(browser: Browser) -> str:
    with browser.house.open() as shop:
        (code,) = shop.conn.execute("SELECT code FROM donor").fetchone()
    return f"/{code}"


def test_a_helper_learns_nothing_from_a_refusal(tmp_path: Path) -> None:
    """A helper who types a known donor's name with other words is not told what is recorded."""
    owner = Browser(tmp_path / "shop")
    helper = Browser(tmp_path / "shop", role="helper", house=owner.house)
    told = {"donor": "Skerry Bay Radio", "contents": "two desks", "source": "college"}
    owner.do("/dropoff/add", told)

    answer = helper.post("/dropoff/add", {**told, "source": "school"}, json=True)

    assert answer.status_code == 409
    assert "college" not in answer.text
