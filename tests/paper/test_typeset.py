"""The typesetting engine: people's words as data, the same bytes each time, no empty boxes."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadValue, SalvageError
from salvage.paper.label import print_labels
from salvage.paper.receipt import print_receipt
from salvage.paper.stock import STOCKS
from salvage.paper.typeset import Data, tidy_text, typeset, typeset_pages_png
from tests.paper import printed
from tests.paper.samples import DAY, card, label, print_card, receipt

FONTS = Path(__file__).parents[2] / "salvage" / "paper" / "fonts"


def sheet(name: str, *, extra_fonts: Path | None = None, system_fonts: bool = False) -> bytes:
    """The simplest page there is, with a name on it that a person wrote."""
    data: dict[str, Data] = {
        "page_mm": [100.0, 40.0],
        "label_mm": [90.0, 30.0],
        "boxes_mm": [],
        "rule_mm": 100.0,
        "name": name,
    }
    return typeset(
        "test_sheet",
        data,
        pictures={},
        made_on=DAY,
        extra_fonts=extra_fonts,
        system_fonts=system_fonts,
    )


DOCUMENTS = {
    "label": lambda: print_labels([label("BC0002J")], STOCKS["a4-3x8"], made_on=DAY),
    "card": lambda: print_card(card()),
    "large card": lambda: print_card(card(), design="large"),
    "receipt": lambda: print_receipt(receipt(), made_on=DAY),
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_same_words_give_the_same_bytes(name: str) -> None:
    """A reprint is the same file, so that its hash can stand in the record."""
    assert DOCUMENTS[name]() == DOCUMENTS[name]()


def test_another_process_in_another_time_zone_gives_the_same_bytes() -> None:
    """Neither the machine's clock nor its time zone nor its locale shows in the file."""
    program = (
        "import sys; from tests.paper.samples import *;sys.stdout.buffer.write(print_card(card()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parents[2],
        env={**os.environ, "TZ": "Pacific/Auckland", "LC_ALL": "C"},
        stdout=subprocess.PIPE,
        check=True,
    )

    assert done.stdout == print_card(card())


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_font_is_carried_along(name: str) -> None:
    """A print shop needs none of our fonts: all are in the file."""
    assert printed.unembedded_fonts(DOCUMENTS[name]()) == []


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_document_is_an_archive_with_title_date_and_language(name: str) -> None:
    """ISO 19005-2, level B: part and conformance stand in the metadata, with title and date."""
    pdf = DOCUMENTS[name]()
    packet = printed.archive_part(pdf)
    with printed.opened(pdf) as document:
        catalogue, facts = document.doc.catalog, document.metadata

    assert b"<pdfaid:part>2</pdfaid:part>" in packet
    assert b"<pdfaid:conformance>B</pdfaid:conformance>" in packet
    assert catalogue["Lang"] == b"en"
    assert facts["Title"]
    assert facts["CreationDate"].startswith("D:20260504")


@pytest.mark.parametrize(
    "words",
    [
        '#read("/etc/passwd")',
        '#image("photo.png")',
        "#{while true {}}",
        "$x^2$ *bold* _slanted_",
        "= Heading",
        "- list / term: y",
        "<label> @ref",
        "a\\b \\u{41}",
        "```raw```",
        "\"quoted\" 'single' -- ---",
        "https://tidebell.example//x",
        "{d.name} ${HOME} %s %%",
        "[/b] [red]",
        "~ ... 1/2 (c)",
        "Żółć Řeřicha Þórr Ğ ß ﬁ Ω µ ½",
        "Привет, Ελλάδα",
    ],
)
def test_what_people_write_prints_exactly_so(words: str) -> None:
    """Marks that mean something to the engine, or anywhere else, are just marks on paper."""
    assert "".join(words.split()) in printed.letters(sheet(words))


@given(words=st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=24))
def test_any_plain_text_prints_exactly_so(words: str) -> None:
    """Random marks come out of the page as they went in."""
    assert words in printed.letters(sheet(words))


@given(words=st.text(max_size=40))
def test_any_text_at_all_prints_or_is_refused_in_one_line(words: str) -> None:
    """No text crashes the engine: it is set, or the character without a glyph is named."""
    try:
        pdf = sheet(words)
    except BadValue as refusal:
        pdf = b"%PDF"
        text = str(refusal)
    else:
        text = ""

    assert pdf.startswith(b"%PDF")
    assert "\n" not in text


@pytest.mark.parametrize(
    ("written", "tidy"),
    [
        ("a\x00b\x1bc\x7f", "abc"),
        ("live\u202eevil\u202c", "liveevil"),
        ("\u2066x\u2069\u200fy\u200e", "xy"),
        ("one\ntwo\tthree\r\n", "one two three"),
        ("soft\u00adhyphen\ufeff", "softhyphen"),
        ("e\u0301", "é"),
        ("lone \ud800 half", "lone  half"),
        ("क\u094d\u200dष", "क\u094d\u200dष"),
    ],
)
def test_hidden_characters_are_taken_out(written: str, tidy: str) -> None:
    """Control characters and direction overrides would hide or reorder what a label says."""
    assert tidy_text(written) == tidy


@given(words=st.text(max_size=60))
def test_tidying_twice_changes_nothing_more(words: str) -> None:
    """Tidy text is tidy."""
    once = tidy_text(words)

    assert tidy_text(once) == once


def test_an_override_of_direction_does_not_reach_the_paper() -> None:
    """A right-to-left override in a donor's name does not turn the name around."""
    assert "Donorlive" in printed.letters(sheet("Donor \u202elive"))


@pytest.mark.parametrize(
    ("words", "character", "name"),
    [
        ("a cheerful \N{GRINNING FACE}", "\N{GRINNING FACE}", "grinning face"),
        ("from 日本", "日", "cjk unified ideograph-65e5"),
        ("mark \ue000", "\ue000", "U+E000"),
        ("none \U0010fffe", "\U0010fffe", "U+10FFFE"),
    ],
)
def test_a_character_without_a_glyph_is_named(words: str, character: str, name: str) -> None:
    """Instead of an empty box there is one line that names the character and a way out."""
    with pytest.raises(BadValue) as refusal:
        sheet(words)

    assert str(refusal.value).startswith(f"no font here can print '{character}' ({name}); ")
    assert "\n" not in str(refusal.value)


def test_a_bitmap_has_no_empty_boxes_either() -> None:
    """Bitmaps for label printers are checked like PDF."""
    data: dict[str, Data] = {
        "page_mm": [60.0, 30.0],
        "label_mm": [50.0, 25.0],
        "boxes_mm": [],
        "rule_mm": 100.0,
        "name": "\U0010fffe",
    }
    with pytest.raises(BadValue, match="no font"):
        typeset_pages_png("test_sheet", data, pictures={}, made_on=DAY)


def with_only_one_glyph(font: bytes, codepoint: int) -> bytes:
    """The font with a cmap (OpenType, format 12) that knows *codepoint* alone, as glyph 36."""
    (count,) = struct.unpack_from(">H", font, 4)
    records = [12 + 16 * n for n in range(count)]
    place = next(at for at in records if font[at : at + 4] == b"cmap")
    head = struct.pack(">HHHHL", 0, 1, 3, 10, 12)
    cmap = head + struct.pack(">HHLLLLLL", 12, 0, 28, 0, 1, codepoint, codepoint, 36)
    where = struct.pack(">LL", len(font), len(cmap))
    return font[: place + 8] + where + font[place + 16 :] + cmap


def test_a_font_of_the_workshops_own_adds_characters(tmp_path: Path) -> None:
    """A folder with a font that has the character is used before the text is refused."""
    amulet = "\U0001f9ff"
    made = with_only_one_glyph((FONTS / "NotoSans-Regular.ttf").read_bytes(), ord(amulet))
    (tmp_path / "own.ttf").write_bytes(made)

    assert amulet in printed.letters(sheet(f"kite {amulet}", extra_fonts=tmp_path))
    with pytest.raises(BadValue, match="nazar amulet"):
        sheet(f"kite {amulet}")


def test_the_machines_fonts_may_help() -> None:
    """With the machine's fonts allowed, plain text is still set in ours: the same bytes."""
    assert sheet("Tern", system_fonts=True) == sheet("Tern")


@pytest.mark.parametrize("name", ["../photo.png", "photo.exe", "Photo.png", "", "a/b.png"])
def test_a_picture_cannot_leave_its_folder(name: str) -> None:
    """Picture names are plain; none reaches outside the short-lived folder."""
    with pytest.raises(BadValue, match="not a file name"):
        typeset("test_sheet", {}, pictures={name: b""}, made_on=DAY)


def test_trouble_of_the_engine_is_one_plain_line() -> None:
    """A page that cannot be set says why in one line, without the engine's drawing of it."""
    with pytest.raises(SalvageError, match="could not be set") as refusal:
        typeset("test_sheet", {"page_mm": [100.0, 40.0]}, pictures={}, made_on=date(2026, 5, 4))

    assert "\n" not in str(refusal.value)
    assert "┌" not in str(refusal.value)
