"""The page in a real browser: each job at the desk's size or the phone's, with mouse and keys."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from salvage.codes.draw import draw_qr, symbol_png
from salvage.store.lookup import load_board
from salvage.web.notebook import Notebook
from salvage.work.clock import system_clock
from salvage.work.record import list_keep_outs
from salvage.work.workshop import open_workshop
from tests.screen import PHONE, Screen, open_screen


@pytest.fixture(scope="module")
def screen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Screen]:
    """A small workshop on the page, and a browser."""
    with open_screen(tmp_path_factory.mktemp("flows") / "shop") as opened:
        yield opened


def at(page: Page, x_mm: float, y_mm: float) -> tuple[float, float]:
    """Where on the screen a place of the board is."""
    found = page.evaluate(
        "([x, y]) => { const m = document.getElementById('board-frame').getScreenCTM();"
        " const p = new DOMPoint(x, y).matrixTransform(m); return [p.x, p.y]; }",
        [x_mm, y_mm],
    )
    return float(found[0]), float(found[1])


def drag_finger(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Put a finger on the screen, move it as a hand does, and lift it."""
    finger = page.context.new_cdp_session(page)
    steps = [
        (start[0] + (end[0] - start[0]) * k / 3, start[1] + (end[1] - start[1]) * k / 3)
        for k in range(4)
    ]
    for number, (x, y) in enumerate(steps):
        kind = "touchMove" if number else "touchStart"
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        page.wait_for_timeout(40)
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def keep_outs(screen: Screen) -> dict[str, tuple[int, int, int, int]]:
    """Keep-outs of the cleared board that stand: their bounds in mm, by reason."""
    from salvage.records.region import region_of_text

    with open_workshop(screen.folder) as shop:
        found = [k for k in list_keep_outs(shop, screen.cleared) if not k.lifted]
    bounds = {k.reason: region_of_text(k.region).bounds_um for k in found}
    return {reason: tuple(v // 1000 for v in box) for reason, box in bounds.items()}  # type: ignore[misc]


def test_the_first_screen_says_what_comes_next(screen: Screen) -> None:
    """The same rule as the command line's; each step leads to where it is done."""
    context = screen.context()
    page = context.new_page()
    page.goto(f"{screen.origin}/")
    step = page.get_by_role("link", name=f"{screen.held} is held until somebody has looked")
    step.click()

    expect(page).to_have_url(f"{screen.origin}/board/{screen.held}")
    page.goto(f"{screen.origin}/?state=held")
    expect(page.get_by_text("What comes next")).to_have_count(0)
    context.close()


def test_the_shelf_shows_boards_and_finds_them(screen: Screen) -> None:
    """Boards stand on the shelf as pictures; a code typed into the one field opens its board."""
    page = screen.page()
    expect(page.locator(".tray")).to_have_count(2)
    expect(page.locator(".tray").first).to_contain_text("held")

    page.get_by_role("link", name="Cleared").click()
    expect(page.locator(".tray")).to_have_count(1)
    page.get_by_label("Find by code or words").fill(screen.held)
    page.keyboard.press("Enter")

    expect(page).to_have_url(re.compile(f"/board/{screen.held}$"))


def test_what_the_command_line_writes_appears(screen: Screen) -> None:
    """Somebody moves the board at the command line; the open page shows it without a touch."""
    page = screen.page(f"/board/{screen.held}")
    expect(page.locator("[data-live=verdict]")).to_contain_text("not said")

    command = [sys.executable, "-m", "salvage", "--shop", str(screen.folder)]
    command += ["board", "move", screen.held, "loft 7"]
    subprocess.run(command, check=True, capture_output=True)

    expect(page.locator("[data-live=verdict]")).to_contain_text("loft 7")


def test_a_keep_out_is_drawn_with_the_mouse(screen: Screen) -> None:
    """She drags a box over the connector, says why, and it is kept free from then on."""
    page = screen.page(f"/board/{screen.cleared}")
    page.get_by_role("button", name="Draw a box").click()
    page.mouse.move(*at(page, 2, 2))
    page.mouse.down()
    page.mouse.move(*at(page, 8, 10), steps=4)
    page.mouse.move(*at(page, 12, 16), steps=4)
    page.mouse.up()
    page.get_by_label("Why it is kept free").fill("power socket")
    page.get_by_role("button", name="Mark the keep-out").click()
    expect(page.locator("#told")).to_contain_text("Keep-out 'power socket' is marked")

    left, bottom, right, top = keep_outs(screen)["power socket"]
    assert (left, bottom) == pytest.approx((2, 2), abs=1)
    assert (right, top) == pytest.approx((12, 16), abs=1)


def test_a_keep_out_is_drawn_with_keys_alone(screen: Screen) -> None:
    """Without a mouse the arrows move the pen, Enter puts corners, and Tab leads to the words."""
    page = screen.page(f"/board/{screen.cleared}")
    page.get_by_role("button", name="Draw corners").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#board-svg")).to_be_focused()
    for keys in (
        ["Shift+ArrowLeft", "Enter"],
        ["Shift+ArrowDown", "Shift+ArrowDown", "Enter"],
        ["ArrowLeft", "ArrowLeft", "Alt+ArrowUp", "Enter"],
    ):
        for key in keys:
            page.keyboard.press(key)
    expect(page.get_by_label("Corners", exact=True)).to_have_value("50,40 50,20 48,20.1")
    page.get_by_label("Why it is kept free").focus()
    page.keyboard.type("scratch")
    page.keyboard.press("Enter")
    expect(page.locator("#told")).to_contain_text("Keep-out 'scratch' is marked")

    assert keep_outs(screen)["scratch"] == (48, 20, 50, 40)


def test_a_keep_out_is_pulled_into_shape_with_a_finger(screen: Screen) -> None:
    """On the phone a corner of a keep-out is pulled with the finger; old and new stay on record."""
    page = screen.page(f"/board/{screen.cleared}", phone=True)
    page.get_by_role("button", name=re.compile("Redraw keep-out 1,")).tap()
    start, end = at(page, 90, 20), at(page, 80, 26)
    drag_finger(page, start, end)
    expect(page.get_by_label("Corners", exact=True)).to_have_value(re.compile(" 8[01],2[567]$"))
    page.get_by_role("button", name="Keep it as it is now").tap()
    expect(page.locator("#told")).to_contain_text("drawn anew")

    left, bottom, right, top = keep_outs(screen)["serial port"]
    assert (left, top) == pytest.approx((80, 26), abs=1)
    assert (bottom, right) == (0, 120)


def test_a_shape_follows_and_is_judged(screen: Screen) -> None:
    """A shape follows the mouse, is judged on the way, and is cut after she has confirmed it."""
    page = screen.page(f"/board/{screen.cleared}")
    page.get_by_label("Shape", exact=True).select_option("oval")
    page.get_by_label("Width in mm").fill("14")
    page.keyboard.press("Tab")
    verdict = page.locator("#fit-verdict")
    expect(verdict).to_contain_text("It fits")
    middle = page.get_by_label("Middle at x,y").input_value().split(",")
    page.mouse.move(*at(page, float(middle[0]), float(middle[1])))
    page.mouse.down()
    page.mouse.move(*at(page, 118, 70), steps=12)
    expect(verdict).to_contain_text("reaches over the edge")
    page.mouse.move(*at(page, 40, 60), steps=12)
    page.mouse.up()
    expect(verdict).to_contain_text("mm of room to the")
    expect(page.locator(".draft-shape")).to_have_attribute("data-fits", "yes")
    page.get_by_role("button", name="Record the cut").first.click()
    expect(page.get_by_role("dialog")).to_contain_text("oval at 40")
    page.get_by_role("dialog").get_by_role("button", name="Record the cut").click()

    expect(page).to_have_url(re.compile("/piece/P"))
    expect(page.locator("#told")).to_contain_text("is cut from")


def test_places_are_suggested(screen: Screen) -> None:
    """She asks where a shape goes best, and takes the first place with a press of a button."""
    page = screen.page(f"/board/{screen.cleared}")
    page.get_by_label("Shape", exact=True).select_option("circle")
    page.get_by_label("Width in mm").fill("16")
    page.get_by_role("button", name="Suggest places").click()
    expect(page.locator("#suggestions button").first).to_be_visible()
    expect(page.locator("#fit-verdict")).to_contain_text("It fits")

    page.get_by_label("Or hold the place for").fill("order 12")
    page.get_by_role("button", name="Hold it").click()

    expect(page.locator("#told")).to_contain_text("holds the place for order 12")


def test_hazards_are_ticked_off_on_the_phone(screen: Screen) -> None:
    """With the phone in one hand the hazards are settled, and the board may be cut."""
    page = screen.page(f"/board/{screen.held}", phone=True)
    expect(page.get_by_role("heading", name="Not to be cut now")).to_be_visible()
    for choice in page.get_by_role("radio", name="Absent").all():
        choice.check()
    page.get_by_role("button", name="Record what was found").tap()
    expect(page.locator("#told")).to_contain_text("the board is cleared")

    with open_workshop(screen.folder) as shop:
        assert load_board(shop.conn, screen.held).clearance == "cleared"


def test_a_drop_off_survives_a_lost_connection(screen: Screen) -> None:
    """The phone loses the network while it sends; it goes on by itself, and one box is logged."""
    page = screen.page("/dropoff/new", phone=True)
    page.get_by_label("Who brought it").fill("Skerry Bay Community Radio")
    page.get_by_label("What arrived").fill("a crate of dimmers")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log the drop-off").tap()
    expect(page.get_by_role("button", name="No connection: trying again")).to_be_visible()
    page.context.set_offline(False)
    expect(page).to_have_url(re.compile("/dropoff/D"))

    with open_workshop(screen.folder) as shop:
        rows = shop.conn.execute("SELECT 1 FROM drop_off WHERE contents LIKE '%dimmers'")
        assert len(rows.fetchall()) == 1


def test_the_camera_is_looked_through_where_there_is_one(screen: Screen) -> None:
    """At the computer itself the browser gives the camera; it looks until it is stopped."""
    page = screen.page("/scan")
    page.get_by_role("button", name="Look with the camera").click()
    expect(page.locator("#live-words")).to_contain_text("Hold the label")
    expect(page.get_by_role("button", name="Stop looking")).to_be_visible()
    with page.expect_response("**/scan") as answer:
        assert answer.value.status == 415  # a moving test picture shows no label
    page.get_by_role("button", name="Stop looking").click()

    expect(page.locator("#live-view")).to_be_hidden()


def test_a_phone_is_paired_and_photographs_a_label(screen: Screen) -> None:
    """The phone is let in by its code, photographs a label, and the board opens."""
    token = Notebook(screen.folder / "page.db", clock=system_clock).invite(role="helper")
    context = screen.browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{screen.origin}/pair?code={token}")
    page.get_by_label("Your name").fill("Ines")
    page.get_by_role("button", name="Pair").tap()
    expect(page.get_by_role("heading", name="Shelf")).to_be_visible()
    expect(page.get_by_role("link", name="Phones")).to_have_count(0)
    page.get_by_role("link", name="Scan").tap()
    photo = symbol_png(draw_qr(screen.cleared), dots=12)
    files = [{"name": "label.png", "mimeType": "image/png", "buffer": photo}]
    page.get_by_label("Photograph the label").set_input_files(files)  # type: ignore[arg-type]
    page.get_by_role("button", name="Read the label").tap()

    expect(page).to_have_url(re.compile(f"/board/{screen.cleared}$"))
    context.close()


def test_the_till_is_worked_with_a_thumb(screen: Screen) -> None:
    """At the stall a tap puts the piece into the basket, the sum is told, a press sells it."""
    page = screen.page(f"/outing/{screen.outing}", phone=True)
    page.locator(".goods").first.tap()
    expect(page.locator("#sum")).to_contain_text("1 in the basket: to pay 12.00 EUR")
    page.get_by_label("In the basket").press("End")
    page.get_by_label("In the basket").press_sequentially(" given:20")
    page.keyboard.press("Tab")
    expect(page.locator("#sum")).to_contain_text("change 8.00 EUR")
    page.get_by_role("button", name="Sell", exact=True).tap()

    expect(page.locator("#told")).to_contain_text("to pay 12.00 EUR by cash")
    expect(page.locator(".goods")).to_have_count(0)


def test_a_refused_form_says_why(screen: Screen) -> None:
    """A form that cannot be taken says why in its own words, and keeps what was typed."""
    page = screen.page("/dropoff/new")
    page.get_by_label("Who brought it").fill("Kelpie Point Planetarium")
    page.get_by_label("What arrived").fill("a crate")
    page.get_by_label("Weight").fill("heavy")
    page.get_by_role("button", name="Log the drop-off").click()

    expect(page.get_by_role("alert")).to_contain_text("heavy")
    expect(page.get_by_label("Weight")).to_have_value("heavy")
    expect(page).to_have_title(re.compile("^Error: "))
