"""Dossiers: pages that stand by themselves, kept while nothing changes, without private names."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from salvage.codes.payload import wrap
from salvage.errors import NotFound
from salvage.ids import Code
from salvage.work.articles import take_apart
from salvage.work.cards import print_card
from salvage.work.clear import NewCheck, record_checks
from salvage.work.donors import set_naming
from salvage.work.dossier import Dossiers, write_dossiers
from salvage.work.forget import forget_donor
from salvage.work.history import undo
from salvage.work.lineage import donors_of
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import set_stage
from salvage.work.recall import open_recall
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.faces.step import CORNERS, photo_bytes
from tests.work.pair import Pair
from tests.work.test_forget import CONTACT, NAME, WORDS, cut_card, give


def _page(shop: Workshop, code: Code, *, with_workers: bool = False) -> str:
    made = write_dossiers(shop, pieces=[code], with_workers=with_workers)
    return made.written[code].decode()


def _again(shop: Workshop, before: Dossiers, *, with_workers: bool = False) -> Dossiers:
    return write_dossiers(shop, known=before.keys, with_workers=with_workers)


def _proof(page: str) -> str:
    found = re.search(r'<script type="application/json" id="proof">(.*?)</script>', page)
    assert found
    return found[1]


class _Addresses(HTMLParser):
    """Everything that a page asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what an element fetches or leads to."""
        self.asked += [value or "" for name, value in attrs if name in ("src", "href", "action")]

    def handle_data(self, data: str) -> None:
        """Gather the words."""
        self.words.append(data)


def test_a_page_asks_for_nothing(empty_shop: Workshop) -> None:
    """Pictures and proof stand in it, styles and script too, and a policy forbids the rest."""
    page = _page(empty_shop, cut_card(empty_shop, give(empty_shop)))
    found = _Addresses()
    found.feed(page)
    outside = [address for address in found.asked if not address.startswith("data:")]

    assert outside == []
    assert "default-src 'none'" in page
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", page)


def test_a_page_tells_what_the_card_tells_and_more(empty_shop: Workshop) -> None:
    """Story, origin, custody, hazards with who and when, care; the donor as agreed."""
    piece = cut_card(empty_shop, give(empty_shop))
    page = _page(empty_shop, piece, with_workers=True)

    for words in (
        f"Circle, cut from an expansion card, {piece}",
        f"Given by {NAME}",
        "identity preserved",
        "hazards",
        "coin cell",
        "absent, looked for",
        "<td>Maren</td>",
        "Keep it away from children",
        "certifies nothing",
    ):
        assert words in page
    assert CONTACT not in page


def test_a_page_shows_the_spot_on_the_photo(empty_shop: Workshop) -> None:
    """With a photo whose corners are known there is a cut-out of it besides the map."""
    board = add_cleared_board(empty_shop).code
    piece = cut_circle(empty_shop, board, 40, 40).piece
    assert piece is not None
    without = _page(empty_shop, piece.code)
    photo = NewPhoto(photo_bytes(), "front.png", corners_px=CORNERS)
    add_photo(empty_shop, code=board, new=photo)
    add_photo(empty_shop, code=piece.code, new=NewPhoto(photo_bytes(), "piece.png", side="other"))
    page = _page(empty_shop, piece.code)

    assert "The spot on" not in without
    assert f"The spot on {board} that {piece.code} was cut from" in page
    assert page.count("data:image/jpeg;base64,") == without.count("data:image/jpeg;base64,") + 2
    assert "photographed by the workshop" in page


@pytest.mark.parametrize("naming", ["anonymous", "described", "named"])
@pytest.mark.parametrize("with_workers", [False, True])
def test_no_private_byte_is_in_any_page(
    empty_shop: Workshop, naming: str, with_workers: bool
) -> None:
    """Name, contact and worker, in clear or in the proof's base64, without consent nowhere."""
    donor = give(
        empty_shop, naming=naming, described="a keeper", story="Old Quillfeather's radio set"
    )
    piece = cut_card(empty_shop, donor)
    made = write_dossiers(empty_shop, pieces=[piece], with_workers=with_workers)
    page = made.written[piece]
    inside = b"".join(
        base64.b64decode(part) for part in re.findall(rb"base64,([A-Za-z0-9+/=]+)", page)
    )
    whole = (page + inside + made.index).lower()

    assert b"sandpiper" not in whole
    assert (b"quillfeather" in whole) == (naming == "named")
    assert (b"maren" in whole) == with_workers
    assert (made.sealed == 0) == with_workers


def test_names_go_at_the_next_run(empty_shop: Workshop) -> None:
    """Consent withdrawn, then forgotten: the page is written anew each time, the other is kept."""
    donor = give(empty_shop, described="a keeper", story="It sang at night")
    piece = cut_card(empty_shop, donor)
    other = Pair(empty_shop)
    print_card(empty_shop, piece=other.left)
    first = write_dossiers(empty_shop, with_workers=True)
    again = _again(empty_shop, first, with_workers=True)
    set_naming(empty_shop, donor=donor, naming="anonymous", naming_how="by letter")
    second = _again(empty_shop, again, with_workers=True)
    forget_donor(empty_shop, donor=donor, reason="asked")
    third = _again(empty_shop, second, with_workers=True)

    assert sorted(first.written) == sorted([piece, other.left])
    assert (list(again.written), set(again.kept)) == ([], {piece, other.left})
    assert list(second.written) == list(third.written) == [piece]
    assert WORDS[0] in first.written[piece]
    for made in (second, third):
        assert not [word for word in WORDS if word in made.written[piece]]
    assert b"It sang at night" in second.written[piece]
    assert b"It sang at night" not in third.written[piece]


def test_only_what_changed_is_written_anew(empty_shop: Workshop) -> None:
    """A stage, a photo, a recall change a page; a sale of something else does not."""
    pair = Pair(empty_shop)
    print_card(empty_shop, piece=pair.left)
    print_card(empty_shop, piece=pair.right)
    made = write_dossiers(empty_shop)
    set_stage(empty_shop, pieces=[pair.left], stage="ready")
    staged = _again(empty_shop, made)
    open_recall(empty_shop, subject=pair.second, reason="sharp edge")
    recalled = _again(empty_shop, staged)
    kept = _again(empty_shop, recalled)

    assert list(staged.written) == [pair.left]
    assert list(recalled.written) == [pair.right]
    assert f"{pair.right} is recalled".encode() in recalled.written[pair.right]
    assert b"sharp edge" not in recalled.written[pair.right]
    assert (kept.written, set(kept.kept)) == ({}, {pair.left, pair.right})


def test_a_page_whose_piece_is_gone_is_taken_away(empty_shop: Workshop) -> None:
    """A cut that was taken back leaves no page behind."""
    pair = Pair(empty_shop)
    made = write_dossiers(empty_shop, pieces=[pair.left, pair.right])
    undo(empty_shop)
    after = _again(empty_shop, made)

    assert after.gone == (pair.right,)
    assert set(after.keys) == {pair.left}
    assert pair.right.encode() not in after.index


def test_an_article_has_the_spots_of_all_its_parts(empty_shop: Workshop) -> None:
    """Two maps, two donors, the shares; a part's page leads to the article, and back again."""
    pair = Pair(empty_shop)
    article = pair.assemble()
    page, part = _page(empty_shop, article), _page(empty_shop, pair.left)
    take_apart(empty_shop, article=article, reason="hook broke")
    apart = _page(empty_shop, article)

    for words in (
        f"Where {pair.left} was on {pair.first}",
        f"Where {pair.right} was on {pair.second}",
        "Skerry Bay Community Radio",
        "a planetarium",
        f"50.0 % from {pair.first}, 50.0 % from {pair.second}",
    ):
        assert words in page
    assert f"This piece is part of {article}" in part
    assert "This article was taken apart on 2026-05-04" in apart


def test_names_of_files_fit_the_cards_code(empty_shop: Workshop) -> None:
    """The card's address is that of the folder, in capitals, and the page's folder."""
    change_settings(empty_shop, typed={"web-address": "https://tidebell.example/p"})
    piece = cut_card(empty_shop, give(empty_shop))
    made = write_dossiers(empty_shop)

    assert f"{made.address}{piece}" == wrap(piece, web_address="tidebell.example/p")
    assert f'href="{piece}/"'.encode() in made.index


def test_every_piece_or_those_with_a_card(empty_shop: Workshop) -> None:
    """Without a word, those whose card is out; all of them if asked."""
    pair = Pair(empty_shop)
    print_card(empty_shop, piece=pair.left)

    assert list(write_dossiers(empty_shop).written) == [pair.left]
    assert len(write_dossiers(empty_shop, every=True).written) == 3
    with pytest.raises(NotFound):
        write_dossiers(empty_shop, pieces=[Code("PX0001D")])


def test_the_proof_in_the_page_is_the_proof(empty_shop: Workshop) -> None:
    """What the page holds twice is one proof, and its text cannot end the element it stands in."""
    pair = Pair(empty_shop)
    check = NewCheck("coin-cell", "absent", how="</script><b>looked & felt</b>")
    record_checks(empty_shop, boards=[pair.first], checks=[check])
    page = _page(empty_shop, pair.left, with_workers=True)
    saved = re.search(r'href="data:application/json;base64,([^"]+)"', page)
    assert saved
    shown = json.loads(_proof(page))

    assert shown == json.loads(base64.b64decode(saved[1]))
    assert shown["piece"] == pair.left
    assert "</script><b>" not in page
    assert "&lt;b&gt;looked &amp; felt" in page


def test_a_dry_run_makes_no_key(tmp_path: Path) -> None:
    """Everything is tried, nothing is kept."""
    with make_shop(tmp_path) as shop:
        piece = cut_card(shop, give(shop))
        made = write_dossiers(shop, dry_run=True)

        assert list(made.written) == [piece]
        assert list(tmp_path.glob("*.pem")) == []


def test_donors_of_a_page_are_those_of_its_boards(empty_shop: Workshop) -> None:
    """A page names no donor of another piece."""
    pair = Pair(empty_shop)
    page = _page(empty_shop, pair.left, with_workers=True)

    assert donors_of(empty_shop.conn, pair.left)[0].code in page
    assert "Skerry" not in page
    assert pair.right not in page
