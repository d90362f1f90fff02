"""A message that is sent twice makes one record."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser import Browser


@pytest.fixture
def browser(tmp_path: Path) -> Browser:
    """The owner's browser in a new workshop."""
    return Browser(tmp_path / "shop")


def drop_offs(browser: Browser) -> int:
    """How many drop-offs there are."""
    with browser.house.open() as shop:
        return int(shop.conn.execute("SELECT count(*) FROM drop_off").fetchone()[0])


def test_the_same_form_twice_is_one_record(browser: Browser) -> None:
    """The phone lost the answer and sends again: the box is logged once, and she sees it."""
    keys = browser.keys("/dropoff/new")
    fields = {**keys, "donor": "Kelpie Point", "contents": "a box"}

    first = browser.do("/dropoff/add", fields)
    second = browser.do("/dropoff/add", fields)

    assert drop_offs(browser) == 1
    assert first["then"] == second["then"]
    assert "recorded already" in second["words"]


def test_other_words_are_another_record(browser: Browser) -> None:
    """She goes back, changes the words and sends: that is a second box."""
    keys = browser.keys("/dropoff/new")
    browser.do("/dropoff/add", {**keys, "donor": "Kelpie Point", "contents": "a box"})

    browser.do("/dropoff/add", {**keys, "donor": "Kelpie Point", "contents": "another"})

    assert drop_offs(browser) == 2


def test_two_browsers_are_two_records(browser: Browser) -> None:
    """Two people who log alike boxes at the same time log two."""
    other = Browser(browser.house.folder, name="Ines", house=browser.house)
    same = {"key": "k" * 30, "donor": "Kelpie Point", "contents": "a box"}

    browser.do("/dropoff/add", same)
    other.do("/dropoff/add", same)

    assert drop_offs(browser) == 2


def test_a_refused_form_may_be_sent_again(browser: Browser) -> None:
    """What was refused was not recorded, so the mended form is."""
    keys = browser.keys("/dropoff/new")
    wrong = {**keys, "donor": "Kelpie Point", "contents": "a box", "weight": "heavy"}

    refused = browser.post("/dropoff/add", wrong)

    assert refused.status_code == 422
    assert "<title>Error: New drop-off" in refused.text
    assert 'value="heavy"' in refused.text
    browser.do("/dropoff/add", {**wrong, "weight": "3 kg"})
    assert drop_offs(browser) == 1


def test_a_card_may_be_fetched_twice(browser: Browser) -> None:
    """A story card that was asked for twice comes twice and is recorded once."""
    board = _cleared_board(browser)
    piece = browser.do(f"{board}/cut", {"shape": "circle", "width": "30", "at": "40,40"})["then"]
    keys = browser.keys(piece)

    cards = [browser.post(f"{piece}/card", keys, page=piece) for _ in range(2)]

    assert [card.content[:5] for card in cards] == [b"%PDF-"] * 2
    with browser.house.open() as shop:
        (printed,) = shop.conn.execute("SELECT cards_printed FROM piece").fetchone()
    assert printed == 1


def _cleared_board(browser: Browser) -> str:
    drop_off = browser.do("/dropoff/add", {"donor": "A", "contents": "b"})["then"]
    board = browser.do(f"{drop_off}/board", {"type": "other", "size": "120x80"})["then"]
    with browser.house.open() as shop:
        rows = shop.conn.execute("SELECT hazard FROM hazard_check").fetchall()
    browser.do(f"{board}/clear", {f"state-{slug}": "absent" for (slug,) in rows})
    return str(board)
