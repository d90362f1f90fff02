"""A piece's proof: short, and with no word that the donor did not agree to."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest

from salvage.errors import NotFound
from salvage.ids import Code
from salvage.work.articles import assemble
from salvage.work.cards import print_card
from salvage.work.donors import NewDonor, set_naming
from salvage.work.forget import forget_donor
from salvage.work.pieces import set_stage
from salvage.work.proof import prove_piece
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.work.test_forget import CONTACT, NAME, WORDS, cut_card, give


def _prove(shop: Workshop, piece: Code) -> Any:
    return json.loads(prove_piece(shop, piece=piece).data)


def _kinds(value: Any) -> list[str]:
    return [json.loads(one["body"])["kind"] for one in value["events"] if "body" in one]


@pytest.mark.parametrize("naming", ["anonymous", "described"])
def test_an_unnamed_donor_is_in_no_proof(empty_shop: Workshop, naming: str) -> None:
    """Not the name, not the contact; an anonymous donor's event is a hash and no more."""
    donor = give(empty_shop, naming=naming, described="a keeper", story="Old Quillfeather's radio")
    piece = cut_card(empty_shop, donor)
    value = _prove(empty_shop, piece)
    text = json.dumps(value).encode()

    assert not [word for word in WORDS if word.lower() in text.lower()]
    assert (b"a keeper" in text) == (naming == "described")
    assert ("donor.added" in _kinds(value)) == (naming == "described")
    assert "dropoff.logged" not in _kinds(value)
    assert value["opened"] == []


def test_a_named_donor_is_opened_without_the_contact(empty_shop: Workshop) -> None:
    """The name can be held against its seal; the contact stays sealed."""
    piece = cut_card(empty_shop, give(empty_shop))
    value = _prove(empty_shop, piece)

    assert [text["value"] for text in value["opened"]] == [NAME]
    assert CONTACT not in json.dumps(value)
    assert _kinds(value)[:3] == ["donor.added", "dropoff.logged", "board.recorded"]
    assert _kinds(value)[-2:] == ["cut.made", "card.printed"]


def test_a_forgotten_donor_is_a_hash(empty_shop: Workshop) -> None:
    """Drop-off and donor are there, and nobody can read them."""
    donor = give(empty_shop, described="a keeper", story="Old Quillfeather's radio")
    piece = cut_card(empty_shop, donor)
    forget_donor(empty_shop, donor=donor, reason="asked")
    value = _prove(empty_shop, piece)
    text = json.dumps(value).lower().encode()

    assert not [word for word in WORDS if word.lower() in text]
    assert _kinds(value)[0] == "board.recorded"
    assert [one["withheld"] for one in value["events"][:2]] == [
        "the donor wished to be forgotten"
    ] * 2


def test_an_older_description_is_not_shown(empty_shop: Workshop) -> None:
    """A donor who wishes other words now is not shown with the old ones."""
    donor = give(empty_shop, naming="described", described="a keeper")
    piece = cut_card(empty_shop, donor)
    set_naming(empty_shop, donor=donor, naming="described", naming_how="", described_as="a hermit")
    text = json.dumps(_prove(empty_shop, piece))

    assert "a hermit" in text
    assert "a keeper" not in text


def test_the_workshops_own_notes_stay_at_home(empty_shop: Workshop) -> None:
    """A stage with a note is given by its hash; other pieces and prices are not given at all."""
    piece = cut_card(empty_shop, give(empty_shop))
    set_stage(empty_shop, pieces=[piece], stage="sanded", note="scratched it")
    text = json.dumps(_prove(empty_shop, piece))

    assert "scratched" not in text
    assert "workshop's own" in text


def test_the_path_is_short(empty_shop: Workshop) -> None:
    """It grows with the logarithm of the journal: 7 nodes for up to 128 events."""
    piece = cut_card(empty_shop, give(empty_shop))
    while empty_shop.conn.execute("SELECT count(*) FROM event").fetchone()[0] < 100:
        print_card(empty_shop, piece=piece)
    value = _prove(empty_shop, piece)

    assert max(len(one["path"]) for one in value["events"]) == 7


def test_an_articles_proof_leads_to_all_its_boards(empty_shop: Workshop) -> None:
    """Both cuts, both boards, both drop-offs; each donor's own wish is kept."""
    hermit = NewDonor("Fen Ostler", naming="anonymous")
    box = NewDropOff(date(2026, 5, 3), "a crate of cards")
    unnamed = log_drop_off(empty_shop, donor=hermit, new=box).donor.donor.code
    parts = [cut_card(empty_shop, give(empty_shop)), cut_card(empty_shop, unnamed)]
    article = assemble(empty_shop, parts=parts, name="tern earrings").piece.code
    value = _prove(empty_shop, article)
    text = json.dumps(value)
    kinds = _kinds(value)

    assert kinds.count("cut.made") == kinds.count("board.recorded") == 2
    assert kinds.count("donor.added") == kinds.count("article.assembled") == 1
    assert [one["withheld"] for one in value["events"] if "withheld" in one] == [
        "the donor stays unnamed"
    ]
    assert [one["value"] for one in value["opened"]] == [NAME]
    assert "Ostler" not in text


def test_no_piece_no_proof(empty_shop: Workshop) -> None:
    """A code that was never given is named, and no key is made for it."""
    with pytest.raises(NotFound):
        prove_piece(empty_shop, piece=Code("PX0001D"))
    assert list(empty_shop.folder.glob("*.pem")) == []
