"""Printed mats: which print a photo shows, and what is made of an old or strange one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from salvage.codes.draw import draw_data_matrix, symbol_png
from salvage.errors import BadValue, NotFound
from salvage.photo.measure.mat import standard_mat
from salvage.photo.measure.refusal import PhotoRefused
from salvage.records.things import PrintedMat
from salvage.work.mat_seen import MatRecogniser
from salvage.work.mats import (
    check_mat,
    code_of_mat,
    draw_mat_picture,
    find_mat,
    list_mats,
    print_mat,
    print_strips,
    text_of_mat,
)
from salvage.work.workshop import Workshop


def picture_of(text: str) -> bytes:
    """What a photo shows where a mat carries its code."""
    return symbol_png(draw_data_matrix(text), dots=6)


def recognise(
    shop: Workshop, paper: str, texts: list[str], *, told: PrintedMat | None = None
) -> MatRecogniser:
    """A recogniser that was shown a mat of a size with these codes."""
    recogniser = MatRecogniser(list_mats(shop), told=told)
    recogniser(standard_mat(paper), tuple(picture_of(text) for text in texts))
    return recogniser


def test_a_mat_is_known_by_its_code_and_lends_its_scale(empty_shop: Workshop) -> None:
    """Of two mats in use, each photo is corrected by the ruler that lay on its own mat."""
    first = print_mat(empty_shop, paper="a4").mat
    print_mat(empty_shop, paper="a3")
    check_mat(empty_shop, serial=first.serial, long_mm=199.0, short_mm=200.0)
    first = find_mat(empty_shop, serial=first.serial)
    recogniser = MatRecogniser(list_mats(empty_shop))
    scale = recogniser(standard_mat("a4"), (picture_of(text_of_mat(first)),))

    assert scale is not None
    assert scale.x == pytest.approx(0.995)
    assert recogniser.seen is not None
    assert recogniser.seen.printed == first
    assert recogniser.seen.notes == ()


def test_a_told_mat_that_is_not_in_the_photo_is_refused(empty_shop: Workshop) -> None:
    """Both serials are named, so that the right one is looked for."""
    first, second = (print_mat(empty_shop, paper="a4").mat for _ in range(2))

    with pytest.raises(PhotoRefused, match=f"mat {first.serial}, not {second.serial}") as caught:
        recognise(empty_shop, "a4", [text_of_mat(first)], told=second)
    assert caught.value.reason == "wrong-mat"


def test_another_workshops_mat_of_the_same_serial_is_not_ours(empty_shop: Workshop) -> None:
    """The stamp beside the serial tells two workshops' first mats apart."""
    own = print_mat(empty_shop, paper="a4").mat
    strange = replace(own, printed_at="2020-01-01T00:00:00.000Z")
    seen = recognise(empty_shop, "a4", [text_of_mat(strange)]).seen

    assert text_of_mat(strange) != text_of_mat(own)
    assert seen is not None
    assert seen.printed is None
    assert "not printed by this workshop" in seen.notes[0]
    with pytest.raises(PhotoRefused, match="of another workshop"):
        recognise(empty_shop, "a4", [text_of_mat(strange)], told=own)


def test_an_old_mat_is_said_to_be_old(empty_shop: Workshop) -> None:
    """The mat that was replaced still measures by its own ruler, and a person is told."""
    old, new = (print_mat(empty_shop, paper="a4").mat for _ in range(2))
    seen = recognise(empty_shop, "a4", [text_of_mat(old)]).seen

    assert seen is not None
    assert seen.printed == old
    assert f"the old mat {old.serial}" in seen.notes[0]
    assert new.serial in seen.notes[0]


def test_a_code_that_cannot_be_read_falls_back_to_the_newest(empty_shop: Workshop) -> None:
    """The newest of that size is taken, whatever was printed since in other sizes, with a note."""
    first, second = (print_mat(empty_shop, paper="a4").mat for _ in range(2))
    print_mat(empty_shop, paper="a3")
    seen = recognise(empty_shop, "a4", []).seen
    told = recognise(empty_shop, "a4", [], told=first).seen

    assert seen is not None
    assert seen.printed == second
    assert "could not be read" in seen.notes[0]
    assert told is not None
    assert told.printed == first


def test_an_unread_mat_of_another_size_is_refused(empty_shop: Workshop) -> None:
    """Markers alone tell a photo on A3 from the A4 mat that was told; unknown sizes are said."""
    told = print_mat(empty_shop, paper="a4").mat
    seen = recognise(empty_shop, "a3", []).seen

    with pytest.raises(PhotoRefused, match="size a3"):
        recognise(empty_shop, "a3", [], told=told)
    assert seen is not None
    assert seen.notes == ("this workshop printed no a3 mat",)


def test_sheets_of_two_mats_are_not_joined(empty_shop: Workshop) -> None:
    """Four sheets, one of them from an older print, are refused with both serials."""
    first, second = (print_mat(empty_shop, paper="tiles").mat for _ in range(2))

    with pytest.raises(PhotoRefused, match=f"{first.serial} and {second.serial}"):
        recognise(empty_shop, "tiles", [text_of_mat(first), text_of_mat(second)])


def test_other_codes_in_the_photo_are_no_mats(empty_shop: Workshop) -> None:
    """A board's label that lies on the border is not taken for the mat's serial."""
    printed = print_mat(empty_shop, paper="a4").mat
    seen = recognise(empty_shop, "a4", ["BC0002J", text_of_mat(printed)]).seen

    assert seen is not None
    assert seen.printed == printed
    assert seen.notes == ()


def test_without_a_workshop_the_mat_is_named_all_the_same() -> None:
    """Whoever measures away from the workshop is told the mat, and that its scale is open."""
    recogniser = MatRecogniser(())
    scale = recogniser(standard_mat("a4"), (picture_of("MK1-00AB"),))

    assert scale is None
    assert recogniser.seen is not None
    assert recogniser.seen.serial == "MK1"
    assert "no workshop here" in recogniser.seen.notes[0]


def test_a_mats_code_stays_the_same_for_ever(empty_shop: Workshop) -> None:
    """What was printed in the first year is read in the twentieth: the text follows the record."""
    printed = PrintedMat("MK7", "a4", "magenta", 1, None, None, "2026-05-04T09:01:00.000Z")
    checked = replace(printed, bar_x_um=199_600, bar_y_um=200_100)

    assert text_of_mat(printed) == text_of_mat(checked) == "MK7-3887"
    assert code_of_mat(printed) == draw_data_matrix("MK7-3887").rows


def test_pictures_and_strips_that_cannot_be_are_refused(empty_shop: Workshop) -> None:
    """Papers, colours and sizes are answered with those there are."""
    with pytest.raises(BadValue, match="million pixels"):
        draw_mat_picture(paper="tiles", colour="magenta", dpi=1000)
    with pytest.raises(BadValue, match="out of range"):
        draw_mat_picture(paper="a4", colour="magenta", dpi=5)
    with pytest.raises(BadValue, match="height strips"):
        print_strips(paper="a9", made_on=empty_shop.today)
    with pytest.raises(NotFound, match="no mat was printed"):
        find_mat(empty_shop)
