"""Cards and tags in every design, as printed and read back."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.codes.draw import draw_qr, symbol_svg
from salvage.codes.payload import unwrap
from salvage.errors import BadFile, BadValue, Refused
from salvage.paper.card import StoryCard
from salvage.paper.cards import CardRun, PrintedCards, Shortened, print_cards
from salvage.paper.designs import TELLING, shipped_design, shipped_designs
from tests.paper import printed
from tests.paper.samples import DAY, card, print_card

GOLDEN = Path(__file__).parents[1] / "golden" / "paper"
DESIGNS = tuple(shipped_designs())
CARDS = tuple(name for name in DESIGNS if shipped_design(name).paper == "story card")
WITHOUT = {
    "no photo": replace(card(), photo=b""),
    "no map": replace(card(), place_map=None),
    "no picture": replace(card(), photo=b"", place_map=None),
}
LONG_STORY = " ".join(f"Word{n} of a long story" for n in range(40)) + "."


def run_of(design: str, on: str = "card") -> CardRun:
    """The usual run of a design."""
    return CardRun(shipped_design(design), DAY, on)


@pytest.mark.parametrize("design", DESIGNS)
def test_the_code_on_every_design_reads_back(design: str) -> None:
    """Both readers find the piece's address at 203 and 300 dots an inch, and no other code."""
    pdf = print_card(card(), design=design)
    for dpi in (203, 300):
        pages = printed.pages_of(pdf, dpi)
        found = [unwrap(text) for page in pages for text in printed.read_by_zxing(page)]
        again = {unwrap(text) for page in pages for text in printed.read_by_zbar(page)}

        assert set(found) == again == {"PC0002E"}
        assert len(found) == (2 if design == "tent" else 1)


@pytest.mark.parametrize("design", DESIGNS)
def test_every_design_has_its_size_and_upright_letters(design: str) -> None:
    """The finished size is that of the head; nothing is slanted; every font is carried along."""
    pdf = print_card(card(), design=design)
    wide, high = shipped_design(design).trim_mm
    with printed.opened(pdf) as document:
        fonts = {mark["fontname"] for page in document.pages for mark in page.chars}

    assert {(round(wide, 1), round(high, 1))} == {
        (round(x, 1), round(y, 1)) for x, y in printed.sizes_mm(pdf)
    }
    assert not any("Italic" in font or "Oblique" in font for font in fonts)
    assert printed.unembedded_fonts(pdf) == []


@pytest.mark.parametrize(
    ("design", "story_pt", "least_pt"), [("a6", 12, 8), ("large", 17, 14), ("folded", 14, 7)]
)
def test_a_usual_story_is_large(design: str, story_pt: float, least_pt: float) -> None:
    """The story stands in generous type, and no word is smaller than the design allows."""
    with printed.opened(print_card(card(), design=design)) as document:
        words = [w for p in document.pages for w in p.extract_words(extra_attrs=["size"])]
    story = [word["size"] for word in words if word["text"] in ("steered", "lamp")]

    assert min(story) >= story_pt
    assert min(word["size"] for word in words) >= least_pt - 0.01


def test_the_symbol_has_whole_dots_and_a_quiet_zone() -> None:
    """The symbol is true to size, and four modules around it are as white as the paper."""
    pdf = print_card(card())
    with printed.opened(pdf) as document:
        left, top, right, bottom = printed.symbol_box_mm(document.pages[0])
    module = (right - left) / len(draw_qr("HTTPS://TIDEBELL.EXAMPLE/PC0002E").rows)
    px_mm, quiet = 600 / 25.4, 4 * module - 0.1
    page = printed.pages_of(pdf, 600)[0]
    edges = (left - quiet, top - quiet, right + quiet, bottom + quiet)
    first, second, third, fourth = (round(edge * px_mm) for edge in edges)
    around = page.crop((first, second, third, fourth))
    inside = [round((quiet - 0.1) * px_mm), round((quiet + right - left + 0.1) * px_mm)]
    around.paste(255, (inside[0], inside[0], inside[1], inside[1]))

    assert right - left == pytest.approx(bottom - top, abs=0.01)
    assert module / 0.125 == pytest.approx(round(module / 0.125), abs=0.01)
    assert module >= 0.75 - 1e-6
    assert around.getextrema() == (255, 255)


@pytest.mark.parametrize("name", WITHOUT)
@pytest.mark.parametrize("design", [name for name in DESIGNS if shipped_design(name).paper])
def test_a_missing_picture_leaves_a_full_front(design: str, name: str) -> None:
    """Without a photo the map is the picture, without both the tide lines; the code still reads."""
    pages = printed.pages_of(print_card(WITHOUT[name], design=design), 203)

    assert {unwrap(t) for page in pages for t in printed.read_by_zxing(page)} == {"PC0002E"}
    for page in pages:
        assert sum(page.histogram()[:140]) > 1000


def _story_of(made: PrintedCards) -> str:
    return printed.letters(made.pages[0])


@pytest.mark.parametrize("design", CARDS)
def test_a_long_story_is_shortened_and_told(design: str) -> None:
    """200 words that do not fit end in an ellipsis, on as many sides as ever; the maker is told."""
    long = replace(card(), story=(LONG_STORY,))
    made = print_cards([long], run_of(design))
    words = LONG_STORY.split()
    letters = _story_of(made)

    assert len(words) == 200
    assert len(printed.sizes_mm(made.pages[0])) == 2
    for one in made.shortened:
        assert (one.code, one.of) == ("PC0002E", 200)
        kept = words[: one.of - one.left_out]
        assert "".join(kept).rstrip(".") in letters
        assert "…" in letters
    if not made.shortened:
        assert "".join(words) in letters


def test_a_folded_card_holds_two_hundred_words() -> None:
    """The story of 200 words that is too long for a business card stands whole on a folded one."""
    long = replace(card(), story=(LONG_STORY,))

    assert print_cards([long], run_of("folded")).shortened == ()
    assert print_cards([long], run_of("pocket")).shortened != ()


@pytest.mark.parametrize("design", CARDS)
def test_cautions_are_whole_or_the_card_is_refused(design: str) -> None:
    """However long the story, every caution stands on the card; too many of them refuse it."""
    long = replace(card(), story=(LONG_STORY * 3,))
    letters = _story_of(print_cards([long], run_of(design)))
    endless = replace(card(), care=tuple(f"Caution {n}: keep it away." for n in range(150)))
    with pytest.raises(Refused, match=r"care of PC0002E does not fit.*larger design"):
        print_cards([endless], run_of(design))

    for caution in card().care:
        assert "".join(caution.split()) in letters


@pytest.mark.parametrize("design", DESIGNS)
@pytest.mark.parametrize("words", ["x" * 300, "harbour " * 40, '#read("x") $ *b*'])
def test_long_names_do_not_leave_the_card(design: str, words: str) -> None:
    """Headline, shape, workshop, price and address may be of any length; all stays on the page."""
    long = replace(
        card(), headline=words, shape=words, workshop=words, web_address=words, price=words
    )
    pdf = print_card(long, design=design)
    wide, high = shipped_design(design).trim_mm
    with printed.opened(pdf) as document:
        marks = [m for page in document.pages for m in page.chars if m["text"].strip()]

    assert min(float(m["x0"]) for m in marks) * printed.MM_PER_PT >= 2.5
    assert max(float(m["x1"]) for m in marks) * printed.MM_PER_PT <= wide - 2.5
    assert max(float(m["bottom"]) for m in marks) * printed.MM_PER_PT <= high - 1.5
    pages = printed.pages_of(pdf, 203)
    assert {unwrap(t) for page in pages for t in printed.read_by_zxing(page)} == {"PC0002E"}


@pytest.mark.parametrize("faulty", [replace(card(), headline=" "), replace(card(), story=("",))])
def test_a_card_without_words_is_refused(faulty: StoryCard) -> None:
    """A card that tells nothing is no story card."""
    with pytest.raises(BadValue, match="PC0002E"):
        print_card(faulty)


def test_a_photo_that_is_none_is_refused() -> None:
    """A broken photo stops the card; it is not left out silently."""
    with pytest.raises(BadFile):
        print_card(replace(card(), photo=b"no photo"))


def test_an_address_too_long_for_the_symbol_is_refused() -> None:
    """A symbol whose modules would be too fine to print is refused with a way out."""
    fine = replace(card(), symbol_svg=symbol_svg(draw_qr("x" * 600)))

    with pytest.raises(BadValue, match="shorter"):
        print_card(fine)


@pytest.mark.parametrize("design", DESIGNS)
def test_the_words_of_a_design_stand_where_they_stood(design: str) -> None:
    """
    The printed lines are those of the golden file.

    SALVAGE_GOLDEN=write rewrites it; review the difference as code.
    """
    lines = printed.lines_of(print_card(card(), design=design))
    file = GOLDEN / f"card-{design}.txt"
    if os.environ.get("SALVAGE_GOLDEN") == "write":
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")

    assert file.read_text(encoding="utf-8").splitlines() == lines


def test_a_word_longer_than_a_line_is_broken() -> None:
    """A maker's name without a blank stays on the card, and none of its letters is lost."""
    name = "harbourlight" * 20
    pdf = print_card(replace(card(), story=(f"It was marked {name}.",)))
    with printed.opened(pdf) as document:
        marks = [m for page in document.pages for m in page.chars if m["text"].strip()]

    assert max(float(mark["x1"]) for mark in marks) * printed.MM_PER_PT <= 105 - 6.9
    assert name in printed.letters(pdf).replace("\u200b", "")


@pytest.mark.parametrize("design", [n for n in DESIGNS if shipped_design(n).paper not in TELLING])
def test_tags_say_nothing_of_the_donor(design: str) -> None:
    """A tag has price and code; who gave the board stands on cards and statements alone."""
    letters = printed.letters(print_card(card(), design=design))

    assert "24.00EUR" in letters
    assert "PC0002E" in letters
    assert "Harbour" not in letters


def test_a_statement_says_that_it_certifies_nothing() -> None:
    """It is the workshop's own statement, signed by nobody else, and it says so."""
    letters = printed.letters(print_card(card(), design="origin"))

    assert "Statementoforigin" in letters
    assert "Itcertifiesnothing" in letters
    assert "HarbourPlanetarium" in letters


def test_what_is_left_out_is_counted_in_words() -> None:
    """The number that the maker is told is the number of words that are missing."""
    long = replace(card(), story=(LONG_STORY,))
    made = print_cards([long], run_of("pocket"))
    (one,) = made.shortened
    letters = _story_of(made)
    kept = sum(f"Word{n}of" in letters for n in range(40))

    assert isinstance(one, Shortened)
    assert (one.of - one.left_out) // 5 <= kept <= (one.of - one.left_out) // 5 + 1
