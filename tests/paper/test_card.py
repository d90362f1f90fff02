"""The story card, as printed and read back."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.codes.draw import draw_qr, symbol_svg
from salvage.codes.payload import unwrap
from salvage.errors import BadFile, BadValue
from salvage.paper.card import StoryCard, print_card
from salvage.paper.stock import A5_MM, A6_MM
from tests.paper import printed
from tests.paper.samples import DAY, card

GOLDEN = Path(__file__).parents[1] / "golden" / "paper"
WITHOUT = {
    "both pictures": card(),
    "no photo": replace(card(), photo=b""),
    "no place": replace(card(), place_picture=b""),
    "no picture": replace(card(), photo=b"", place_picture=b""),
}


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("dpi", [150, 203, 300])
def test_the_code_on_a_card_reads_back(large: bool, dpi: int) -> None:
    """Both readers find the address in front, and it leads to the piece."""
    front = printed.pages_of(print_card(card(), made_on=DAY, large=large), dpi)[0]

    assert [unwrap(text) for text in printed.read_by_zxing(front)] == ["PC0002E"]
    assert [unwrap(text) for text in printed.read_by_zbar(front)] == ["PC0002E"]


@pytest.mark.parametrize(("large", "size", "body_pt"), [(False, A6_MM, 12), (True, A5_MM, 16)])
def test_a_card_is_of_its_size_and_easily_read(
    large: bool, size: tuple[float, float], body_pt: float
) -> None:
    """A6 with 12 point and more, A5 with 16 point and more; upright; two sides."""
    pdf = print_card(card(), made_on=DAY, large=large)
    with printed.opened(pdf) as document:
        marks = [mark for page in document.pages for mark in page.chars]

    assert printed.sizes_mm(pdf) == [size, size]
    assert min(mark["size"] for mark in marks) >= body_pt - 0.01
    assert not any("Italic" in m["fontname"] or "Oblique" in m["fontname"] for m in marks)
    assert all(mark["upright"] for mark in marks)


def test_the_symbol_has_whole_dots_and_a_quiet_zone() -> None:
    """29 modules of 0.75 mm: the symbol is true to size, 3 mm from words and from the edge."""
    with printed.opened(print_card(card(), made_on=DAY)) as document:
        page = document.pages[0]
        left, top, right, bottom = printed.symbol_box_mm(page)
        words = [
            [float(word[edge]) * printed.MM_PER_PT for edge in ("x0", "top", "x1", "bottom")]
            for word in page.extract_words()
        ]
    gaps = [
        max(left - x1, x0 - right, top - bottom_edge, top_edge - bottom)
        for x0, top_edge, x1, bottom_edge in words
    ]

    assert right - left == pytest.approx(bottom - top, abs=0.01)
    assert (right - left) / 0.125 == pytest.approx(round((right - left) / 0.125), abs=0.01)
    module = (right - left) / len(draw_qr("HTTPS://TIDEBELL.EXAMPLE/PC0002E").rows)
    assert module >= 0.75
    assert min(gaps) >= 4 * module - 0.01
    assert min(105 - right, 148 - bottom) >= 4 * module


@pytest.mark.parametrize("name", WITHOUT)
def test_a_missing_picture_leaves_a_full_front(name: str) -> None:
    """With or without pictures the front is filled to the lower quarter, on two sides in all."""
    pages = printed.pages_of(print_card(WITHOUT[name], made_on=DAY), 50)
    front = pages[0]
    low = front.crop((0, front.height * 3 // 4, front.width, front.height - 14))

    assert len(pages) == 2
    assert sum(low.histogram()[:140]) > 100


def test_a_long_story_goes_on_to_a_third_side() -> None:
    """Nothing of a long story is lost, and the code stays in front."""
    sentences = tuple(f"Sentence number {n} of a long story, told in full." for n in range(30))
    pdf = print_card(replace(card(), story=sentences), made_on=DAY)
    pages = printed.pages_of(pdf, 203)

    assert len(pages) > 2
    assert all("".join(s.split()) in printed.letters(pdf) for s in sentences)
    assert [printed.read_by_zxing(page) != [] for page in pages] == [True] + [False] * (
        len(pages) - 1
    )


@pytest.mark.parametrize("words", ["x" * 300, "harbour " * 40, '#read("x") $ *b*'])
def test_long_names_do_not_leave_the_card(words: str) -> None:
    """Headline, workshop and address may be of any length; all marks stay on the page."""
    long = replace(card(), headline=words, workshop=words, web_address=words)
    pdf = print_card(long, made_on=DAY)
    with printed.opened(pdf) as document:
        marks = [m for page in document.pages for m in page.chars if m["text"].strip()]
        edges = [(float(mark["x0"]), float(mark["x1"])) for mark in marks]
        left, _, _, _ = printed.symbol_box_mm(document.pages[0])

    assert min(start for start, _ in edges) * printed.MM_PER_PT >= 6.9
    assert max(end for _, end in edges) * printed.MM_PER_PT <= 105 - 6.9
    assert left > 60
    assert [unwrap(t) for t in printed.read_by_zxing(printed.pages_of(pdf, 203)[0])] == ["PC0002E"]


@pytest.mark.parametrize("faulty", [replace(card(), headline=" "), replace(card(), story=("",))])
def test_a_card_without_words_is_refused(faulty: StoryCard) -> None:
    """A card that tells nothing is no story card."""
    with pytest.raises(BadValue, match="PC0002E"):
        print_card(faulty, made_on=DAY)


def test_a_photo_that_is_none_is_refused() -> None:
    """A broken photo stops the card; it is not left out silently."""
    with pytest.raises(BadFile):
        print_card(replace(card(), photo=b"no photo"), made_on=DAY)


def test_an_address_too_long_for_the_symbol_is_refused() -> None:
    """A symbol whose modules would be too fine to print is refused with a way out."""
    fine = replace(card(), symbol_svg=symbol_svg(draw_qr("x" * 600)))

    with pytest.raises(BadValue, match="shorter"):
        print_card(fine, made_on=DAY)


@pytest.mark.parametrize("name", ["card", "large card"])
def test_the_words_of_a_card_stand_where_they_stood(name: str) -> None:
    """
    The printed lines are those of the golden file.

    SALVAGE_GOLDEN=write rewrites it; review the difference as code.
    """
    lines = printed.lines_of(print_card(card(), made_on=DAY, large=name == "large card"))
    file = GOLDEN / f"{name.replace(' ', '-')}.txt"
    if os.environ.get("SALVAGE_GOLDEN") == "write":
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")

    assert file.read_text(encoding="utf-8").splitlines() == lines


def test_a_word_longer_than_a_line_is_broken() -> None:
    """A maker's name without a blank stays on the card, and none of its letters is lost."""
    name = "harbourlight" * 25
    pdf = print_card(replace(card(), story=(f"It was marked {name}.",)), made_on=DAY)
    with printed.opened(pdf) as document:
        marks = [m for page in document.pages for m in page.chars if m["text"].strip()]

    assert max(float(mark["x1"]) for mark in marks) * printed.MM_PER_PT <= 105 - 6.9
    assert name in printed.letters(pdf).replace("\u200b", "")
