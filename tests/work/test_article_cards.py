"""What the card of an article says: all boards, and each donor by consent."""

from __future__ import annotations

import pytest

from salvage.errors import Refused
from salvage.work.cards import print_card
from salvage.work.check import run_checks
from salvage.work.donors import set_naming
from salvage.work.forget import forget_donor
from salvage.work.history import undo
from salvage.work.lineage import donors_of
from salvage.work.papers import compose_card
from salvage.work.pieces import (
    view_piece,
)
from salvage.work.workshop import Workshop
from tests.work.pair import Pair
from tests.work.stock import last_operation


@pytest.fixture(name="pair")
def _pair(empty_shop: Workshop) -> Pair:
    return Pair(empty_shop)


def _checks_hold(shop: Workshop) -> bool:
    return not [line for line in run_checks(shop) if not line.ok]


def test_the_card_names_all_boards_by_consent(pair: Pair) -> None:
    """One donor is named, the other described; both drop-offs, boards and shares are told."""
    article = pair.assemble()
    card = compose_card(pair.shop, view_piece(pair.shop.conn, article))
    origin, story = " ".join(card.origin), " ".join(card.story)

    assert card.headline == "Tern earrings, made from two circuit boards"
    assert len(card.origin) == 2
    assert "Given by a planetarium" in origin
    assert "Given by Skerry Bay Community Radio" in origin
    assert f"50 % from {pair.first} and 50 % from {pair.second}" in story
    assert f"{pair.left} is from an expansion card, marked Orrery X2" in story
    assert "Kelpie" not in origin + story
    assert print_card(pair.shop, piece=article).startswith(b"%PDF")
    assert _checks_hold(pair.shop)


def test_consent_withdrawn_or_forgotten_leaves_the_next_card(pair: Pair) -> None:
    """The card that was printed stays as it was; the next one has no name."""
    article = pair.assemble()
    radio = donors_of(pair.shop.conn, article)[1].code
    print_card(pair.shop, piece=article)
    set_naming(pair.shop, donor=radio, naming="anonymous", naming_how="by telephone")
    unnamed = compose_card(pair.shop, view_piece(pair.shop.conn, article))
    forget_donor(pair.shop, donor=radio, reason="asked")

    assert "Skerry" not in " ".join(unnamed.origin)
    assert _checks_hold(pair.shop)
    with pytest.raises(Refused, match=r"cannot be undone"):
        undo(pair.shop)


def test_an_earlier_wish_is_not_undone_under_a_card(pair: Pair) -> None:
    """A card of an article rests on the wishes of all its donors."""
    article = pair.assemble()
    radio = donors_of(pair.shop.conn, article)[1].code
    set_naming(pair.shop, donor=radio, naming="anonymous", naming_how="by telephone")
    wish = last_operation(pair.shop)
    print_card(pair.shop, piece=article)

    with pytest.raises(Refused, match="story card printed"):
        undo(pair.shop, operation=wish)
