"""A plot is one file with every figure in words, whatever the names are, and the same each time."""

from __future__ import annotations

import builtins
import io
from collections.abc import Mapping
from typing import Any

import pytest
from defusedxml.ElementTree import fromstring
from PIL import Image

from salvage.errors import BadValue, MissingTool
from salvage.paper.plots import Bar, Panel, Plot, draw_plot

NAMES = ("tern", "$\\frac{1}{2}$ <kite> & co_#", "مصباح البحر", "灯台", "a fern leaf " * 9)
VALUES = (1200, -350, 0, None, 300)

HOURLY = Plot(
    "time",
    "What an hour brings",
    "earned, less tax",
    NAMES,
    (
        Panel("minutes", tuple(Bar(v, "not known" if v is None else f"{v}") for v in VALUES)),
        Panel("earned", tuple(Bar(v, f"{v} EUR") for v in VALUES), mark=400, mark_words="rate"),
        Panel("sold", tuple(Bar(v, f"{v} %") for v in VALUES), whole=100),
    ),
)


def _with_bars(*values: float) -> Plot:
    bars = tuple(Bar(value, f"{value}") for value in values)
    rows = tuple(f"row {n}" for n in range(len(values)))
    return Plot("x", "Title", "words", rows, (Panel("figure", bars),))


@pytest.mark.parametrize("form", ["png", "svg"])
def test_the_same_plot_is_the_same_file(form: str) -> None:
    """Nobody wonders what changed where nothing did: no date, no random names."""
    assert draw_plot(HOURLY, form=form) == draw_plot(HOURLY, form=form)


def test_a_bitmap_is_large_enough_for_paper_and_says_what_it_shows() -> None:
    """9.6 inches at 160 dots; the text inside tells all figures to who cannot see them."""
    picture = Image.open(io.BytesIO(draw_plot(HOURLY)))

    assert (picture.format, picture.width) == ("PNG", 1536)
    assert picture.info["Title"] == "What an hour brings"
    assert "tern: minutes 1200, earned 1200 EUR" in picture.info["Description"]
    assert "Software" not in picture.info


def test_a_vector_drawing_is_sound_and_needs_no_font() -> None:
    """Hostile names are text, and letters are drawn as outlines."""
    drawing = draw_plot(HOURLY, form="svg")
    root = fromstring(drawing)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}

    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert {"path", "title"} <= tags
    assert not {"text", "script", "image", "foreignObject"} & tags
    assert b"<dc:date>" not in drawing


def _deep_lengths(data: bytes) -> list[int]:
    """Pixels of each bar, read from the picture row by row."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    lengths: list[int] = []
    for y in range(picture.height):
        row = [picture.getpixel((x, y)) for x in range(picture.width)]
        count = row.count((0x12, 0x3F, 0x4C))
        if count > 20 and (not lengths or abs(lengths[-1] - count) > 2):
            lengths.append(count)
    return lengths


def test_bars_are_as_long_as_their_figures() -> None:
    """Read back from the picture: 400 is twice 200 and four times 100."""
    longest, middle, shortest = _deep_lengths(draw_plot(_with_bars(400, 200, 100)))

    assert middle / longest == pytest.approx(1 / 2, abs=0.01)
    assert shortest / longest == pytest.approx(1 / 4, abs=0.01)


def test_what_is_below_zero_differs_in_grey_too() -> None:
    """A loss is hatched: printed in grey it is no even field like a gain."""
    loss = Image.open(io.BytesIO(draw_plot(_with_bars(-400)))).convert("L")
    gain = Image.open(io.BytesIO(draw_plot(_with_bars(400)))).convert("L")
    dark = [sum(value < 90 for value in one.tobytes()) for one in (loss, gain)]

    assert dark[0] < dark[1] / 3


@pytest.mark.parametrize("plot", [Plot("x", "T", "w", (), ()), _with_bars(0), _with_bars(-5, -1)])
def test_a_plot_of_little_or_nothing_is_drawn(plot: Plot) -> None:
    """An empty season, a zero and only losses leave a page that says so."""
    assert draw_plot(plot).startswith(b"\x89PNG")


def test_another_form_is_refused() -> None:
    """Only the two forms that every machine opens."""
    with pytest.raises(BadValue, match="'gif'"):
        draw_plot(HOURLY, form="gif")


def test_without_the_library_one_line_tells_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who did not install it is told the line to type."""
    real = builtins.__import__

    def without(
        name: str,
        globals: Mapping[str, object] | None = None,
        locals: Mapping[str, object] | None = None,
        fromlist: tuple[str, ...] = (),
        level: int = 0,
    ) -> Any:  # Any: whatever module it is
        if name.partition(".")[0] == "matplotlib":
            raise ImportError(name)
        return real(name, globals, locals, fromlist, level)

    monkeypatch.setattr(builtins, "__import__", without)

    with pytest.raises(MissingTool, match="not installed") as told:
        draw_plot(HOURLY)
    assert "salvage[plots]" in str(told.value.hint)
