"""Designs: what their head must say, and what they may not ask for."""

from __future__ import annotations

import pytest

from salvage.errors import BadTemplate, NotFound
from salvage.paper.designs import (
    PAPERS,
    check_harmless,
    parse_design,
    shipped_design,
    shipped_designs,
)

HEAD = (
    '// Ours.\n#let paper = "price tag"\n#let trim = (2in, 30mm)\n'
    "#let bleeds = false\n#let folds = ()\n#let faces = ()\n"
)


def test_there_are_designs_for_every_paper_and_the_usual_sizes() -> None:
    """Business card, A7, A6, 4 x 6 inch, folded and large print; each says what it is for."""
    designs = shipped_designs()
    sizes = {tuple(sorted(round(side) for side in design.trim_mm)) for design in designs.values()}

    assert {design.paper for design in designs.values()} == set(PAPERS)
    assert {(55, 85), (74, 105), (105, 148), (102, 152), (148, 210)} <= sizes
    assert all(len(design.words) > 20 for design in designs.values())
    assert shipped_design("folded").trim_mm == (210.0, 148.0)


def test_a_design_that_is_not_there_is_named_with_those_that_are() -> None:
    """Whoever mistypes a design sees all of them."""
    with pytest.raises(NotFound, match=r"no design 'a66'.*known: pocket, a7"):
        shipped_design("a66")


def test_the_head_is_read() -> None:
    """Words, paper, and a size in any of three units."""
    design = parse_design("mine", HEAD, own=True)

    assert (design.words, design.paper) == ("Ours.", "price tag")
    assert design.trim_mm == pytest.approx((50.8, 30))
    assert design.file == "mine.typ"


@pytest.mark.parametrize(
    ("taken", "put", "reason", "line"),
    [
        ('"price tag"', '"banknote"', "#let paper", 2),
        ("#let trim = (2in, 30mm)", "", "#let trim", 1),
        ("(2in, 30mm)", "(2in, 3mm)", "from 10 to", 3),
        ("#let faces = ()", "", "#let faces", 1),
        ("#let folds = ()", "", "#let folds", 1),
    ],
)
def test_a_head_that_lacks_something_is_told_with_the_place(
    taken: str, put: str, reason: str, line: int
) -> None:
    """One line: the file, where, and what is missing."""
    with pytest.raises(BadTemplate) as refused:
        parse_design("mine", HEAD.replace(taken, put), own=True)

    assert reason in refused.value.reason
    assert (refused.value.file, refused.value.line) == ("mine.typ", line)


@pytest.mark.parametrize(
    "line",
    [
        '#import "@preview/x:0.1.0"',
        '#import "\\u{40}preview/x:0.1.0"',
        '#import ("@pre" + "view/x:0.1.0")',
        '#import "/etc/x.typ"',
        '#import "../x.typ"',
        '#include "sub/x.typ"',
        "#import name: *",
        '#import /* hidden */ "@preview/x:0.1.0"',
        '#eval("1 + 1")',
        '#let f = plugin("x.wasm")',
    ],
)
def test_packages_and_code_made_at_run_time_are_refused(line: str) -> None:
    """A design fetches nothing from the network and makes up no code; the line is told."""
    with pytest.raises(BadTemplate) as refused:
        check_harmless("mine", f"// fine\n{line}\n")

    assert refused.value.line == 2


def test_a_photo_is_as_fine_as_it_is_printed_wide() -> None:
    """The head says how wide; else it may fill the card; a tag without pictures needs none."""
    plain, shown = HEAD, HEAD + "#let front(card) = picture(card, 20mm, 20mm)\n"
    said = shown.replace("#let folds", "#let photo-width = 20mm\n#let folds")
    designs = [parse_design("mine", source) for source in (plain, shown, said)]

    assert [design.photo_mm for design in designs] == pytest.approx([0, 50.8, 20])
    assert shipped_design("price").photo_mm == 0


def test_plain_parts_beside_a_design_are_welcome() -> None:
    """Our parts and a file of one's own may be used; an @ in words is no package."""
    check_harmless(
        "mine", '#import "card_parts.typ": *\n#import "logo.typ": mark\n[hello@x.example]'
    )

    assert all(parse_design(d.name, d.source, own=True) for d in shipped_designs().values())
