"""The command line of materials: typed as on the tin, and told back."""

from __future__ import annotations

import pytest

from tests.desk import Desk, cut_piece


@pytest.fixture
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A desk with a tin's declaration lying on it."""
    found = Desk(tmp_path_factory.mktemp("desk"))
    found.do("setup name=Tidewrack")
    (found.folder / "declaration.pdf").write_bytes(b"%PDF-1.7 declaration")
    return found


def test_a_tin_from_the_shop_to_the_piece(desk: Desk) -> None:
    """Recorded with its paper, used, shown with cost and pack, and listed."""
    piece = cut_piece(desk)
    batch = desk.code(
        'material add seal "clear varnish" --maker "Harbour Coatings" --lot 24-117 --pack "0.25 l"'
        " --cost 12.40 --paper declaration.pdf"
    )
    desk.do(f'material use {batch} --piece {piece} --each 0.002 --note "two coats"')
    page = desk.do(f"material show {batch}").out

    assert f"{batch}  sealant: clear varnish, Harbour Coatings, lot 24-117" in page
    assert "received 2026-05-04, 0.25 l, 12.40 EUR" in page
    assert "paper 1: declaration.pdf" in page
    assert f"use 1: {piece} at sealed, 0.002 l, two coats, by Maren on 2026-05-04" in page
    (told,) = desk.do("material list --json").value
    assert (told["pack"], told["cost"], told["piece_count"]) == ("0.25 l", "12.40 EUR", 1)


def test_all_mistakes_of_a_line_are_told_at_once(desk: Desk) -> None:
    """Kind, pack, cost and day in one answer; nothing is written."""
    told = desk.run("material add varnish x --pack none --cost free --date someday")

    assert told.code == 1
    for word in ("varnish", "none", "free", "someday"):
        assert word in told.err
    assert desk.do("material list --json").value == []


@pytest.mark.parametrize("amount", ["0", "0.0005", "-3 ml", "many"])
def test_an_amount_must_be_one(desk: Desk, amount: str) -> None:
    """Nothing, less than nothing, or finer than a thousandth is no amount."""
    told = desk.run(f"material add resin x --pack '{amount}'")

    assert told.code == 1
    assert amount in told.err


def test_a_dry_run_keeps_no_paper(desk: Desk) -> None:
    """What would be recorded is told, and neither row nor file is there."""
    told = desk.do("material add resin x --paper declaration.pdf --dry-run")

    assert "dry run" in told.out
    assert list(desk.shop.glob("files/??/*")) == []


def test_more_than_came_is_told(desk: Desk) -> None:
    """Two coats out of an empty tin: it is noted, since it was done, and the doubt is told."""
    pieces = [cut_piece(desk), cut_piece(desk)]
    batch = desk.code('material add seal varnish --pack "10 ml"')
    within = desk.do(f"material use {batch} --piece {pieces[0]} --each 10")
    beyond = desk.do(f"material use {batch} --piece {pieces[1]} --each 0.5")
    (told,) = desk.do("material list --json").value
    desk.do(f"material void {batch} 2 --reason 'the other tin'")
    (mended,) = desk.do("material list --json").value

    assert "!" not in within.out
    assert "! 10.5 ml noted as used of a pack of 10 ml: is it another batch?" in beyond.out
    assert told["used"] == "10.5 ml"
    assert told["warning"].startswith("10.5 ml noted as used")
    assert (mended["used"], mended["warning"]) == ("10 ml", "")
