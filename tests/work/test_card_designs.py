"""Designs of the workshop's own: copied, changed, used, and kept within their folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import BadFile, BadTemplate, BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.work.card_designs import copy_design, designs_folder, find_design, list_designs
from salvage.work.cards import CardLook, preview_cards
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle
from tests.paper.printed import letters
from tests.paper.samples import picture


@pytest.fixture
def piece(empty_shop: Workshop) -> Code:
    """A round piece of a cleared board."""
    made = cut_circle(empty_shop, add_cleared_board(empty_shop).code, 40, 40).piece
    assert made is not None
    return made.code


def _copy(shop: Workshop, name: str = "harbour", *, design: str = "a6") -> Path:
    return copy_design(shop, design=design, name=name).path


def _words(shop: Workshop, piece: Code, design: str = "harbour") -> str:
    return letters(preview_cards(shop, pieces=[piece], look=CardLook(design)).printed.pages[0])


def test_a_copy_prints_as_its_model_until_it_is_changed(empty_shop: Workshop, piece: Code) -> None:
    """The copy lies in the workshop's folder and is used by its name; a change is seen at once."""
    path = _copy(empty_shop)
    before = _words(empty_shop, piece)
    same = before == _words(empty_shop, piece, "a6")
    path.write_text(
        path.read_text().replace("#let front(card) = {", "#let front(card) = {\n[Ahoy]")
    )

    assert path == empty_shop.folder / "designs" / "harbour.typ"
    assert same
    assert "Ahoy" not in before
    assert "Ahoy" in _words(empty_shop, piece)


def test_designs_are_listed_with_ones_own_last(empty_shop: Workshop) -> None:
    """One that cannot be used is listed with the reason; a part without a paper is no design."""
    path = _copy(empty_shop)
    (path.parent / "faulty.typ").write_text('#let paper = "story card"\n')
    (path.parent / "logo.typ").write_text("#let mark = [*]\n")
    listed = list_designs(empty_shop)
    own = {design.name: design for design in listed if design.own}

    assert listed[0].name == "pocket"
    assert set(own) == {"harbour", "faulty"}
    assert own["harbour"].trim_mm == pytest.approx((105, 148))
    assert "faulty.typ, line 1" in own["faulty"].words


def test_a_design_is_copied_under_a_name_of_its_own(empty_shop: Workshop) -> None:
    """Ours keep their names, an earlier copy stays unless given up; a trial writes not."""
    _copy(empty_shop)
    with pytest.raises(Refused, match="is one of ours"):
        copy_design(empty_shop, design="a6", name="a7")
    with pytest.raises(Refused, match="there already"):
        _copy(empty_shop)
    for name in ("../out", "Loud", "", "a.b", "x" * 40):
        with pytest.raises(BadValue, match="cannot be the name"):
            _copy(empty_shop, name)
    with pytest.raises(NotFound, match="known: pocket"):
        _copy(empty_shop, "mine", design="a66")
    copy_design(empty_shop, design="a7", name="harbour", force=True)
    copy_design(empty_shop, design="a7", name="tried", dry_run=True)

    assert find_design(empty_shop, "harbour").trim_mm == (74, 105)
    assert [path.name for path in designs_folder(empty_shop).iterdir()] == ["harbour.typ"]


def test_a_design_half_written_is_none(empty_shop: Workshop) -> None:
    """Killed while a design was copied, nothing of it is listed."""
    copy_design(empty_shop, design="a7", name="harbour")
    whole = designs_folder(empty_shop) / "harbour.typ"
    before = list_designs(empty_shop)
    whole.with_name(".part-7-mine.typ").write_bytes(whole.read_bytes())

    assert list_designs(empty_shop) == before


def test_a_mistake_is_told_in_one_line_with_its_place(empty_shop: Workshop, piece: Code) -> None:
    """File, line and column, and no folder of the machine."""
    path = _copy(empty_shop)
    text = path.read_text()
    path.write_text(text.replace("own-map = has-own-map", "own-map = has-no-map"))
    with pytest.raises(BadTemplate) as refused:
        _words(empty_shop, piece)
    line = text[: text.index("own-map = has-own-map")].count("\n") + 1

    assert refused.value.message.startswith(f"harbour.typ, line {line}, column ")
    assert "unknown variable: has-no-map" in refused.value.message
    assert "/tmp" not in str(refused.value)


def test_a_logo_beside_a_design_may_be_used(empty_shop: Workshop, piece: Code) -> None:
    """A picture and a part of one's own, named in the design, go with it."""
    path = _copy(empty_shop)
    (path.parent / "logo.jpg").write_bytes(picture("navy"))
    (path.parent / "mark.typ").write_text(
        '#let mark = image("logo.jpg", width: 9mm) + [Tern Lane]\n'
    )
    text = path.read_text().replace("#let front(card) = {", "#let front(card) = {\nmark")
    path.write_text(text.replace("#let paper", '#import "mark.typ": mark\n#let paper'))

    assert "TernLane" in _words(empty_shop, piece)


def test_nothing_outside_of_the_folder_is_read(
    empty_shop: Workshop, piece: Code, tmp_path: Path
) -> None:
    """Neither by path, nor through a link, nor through a part that would fetch a package."""
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(picture("red"))
    path = _copy(empty_shop)
    text = path.read_text()
    begin = "#let front(card) = {"
    (path.parent / "linked.jpg").symlink_to(secret)
    path.write_text(text.replace(begin, f'{begin}\nimage("linked.jpg")'))
    with pytest.raises(BadFile, match=r"linked.jpg is no file of its own"):
        _words(empty_shop, piece)
    path.write_text(text.replace(begin, f'{begin}\nread("{secret}")'))
    with pytest.raises(BadTemplate, match="file not found"):
        _words(empty_shop, piece)
    (path.parent / "part.typ").write_text('#import "@preview/x:0.1.0": y\n')
    path.write_text(text.replace("#let paper", '#import "part.typ": y\n#let paper'))
    with pytest.raises(BadTemplate, match=r"part.typ, line 1.*only files beside it"):
        _words(empty_shop, piece)


def test_a_design_cannot_take_the_place_of_our_parts(empty_shop: Workshop, piece: Code) -> None:
    """A file that is called as one of ours is refused, so that cautions stay as they are."""
    path = _copy(empty_shop)
    (path.parent / "card_parts.typ").write_text("#let whole(..x) = none\n")
    with pytest.raises(BadValue, match="card_parts"):
        _words(empty_shop, piece)
