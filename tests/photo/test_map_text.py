from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from salvage.photo.map_text import fit_text, font_of_height, tidy_text


@given(text=st.text(max_size=200), width_px=st.floats(0, 500))
def test_fitted_words_are_one_line_of_the_room_given(text: str, width_px: float) -> None:
    """Whatever a maker types as a label, it stays in its place."""
    font = font_of_height(16)

    shown = fit_text(text, font, width_px)

    assert "\n" not in shown
    assert font.getlength(shown) <= max(width_px, font.getlength("…"))


def test_words_that_fit_are_left_alone() -> None:
    """A short label is printed as typed."""
    assert fit_text("fern leaf [red]", font_of_height(16), 400) == "fern leaf [red]"


def test_words_that_do_not_fit_end_in_an_ellipsis() -> None:
    """The reader sees that something is missing."""
    shown = fit_text("a very long note about this place", font_of_height(16), 90)

    assert shown.startswith("a very")
    assert shown.endswith("…")


@given(text=st.text(max_size=100))
def test_tidy_text_stays_tidy(text: str) -> None:
    """Tidying twice changes nothing."""
    once = tidy_text(text)

    assert tidy_text(once) == once


def test_letters_have_the_height_asked_for() -> None:
    """The typeface is the shipped one, in both cuts."""
    assert font_of_height(20).getname() == ("Noto Sans", "Regular")
    assert font_of_height(20, bold=True).getname() == ("Noto Sans", "Bold")
    assert font_of_height(40).getlength("mm") > 1.9 * font_of_height(20).getlength("mm")
