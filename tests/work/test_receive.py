"""Receiving: one delivery is one entry, refused deliveries leave no trace."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, NotFound, Refused, SalvageError
from salvage.ids import Code, next_code
from salvage.work.donors import NewDonor
from salvage.work.receive import (
    NewDropOff,
    add_data_parts,
    list_drop_offs,
    log_drop_off,
    settle_data_part,
    view_drop_off,
)
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, add_drop_off, dump

DAY = date(2026, 5, 2)


def test_a_new_donor_and_the_drop_off_are_one_entry(empty_shop: Workshop) -> None:
    """What was told at the counter comes back as it was told."""
    new = NewDropOff(
        DAY,
        "14 network cards",
        board_count=14,
        weight_g=6200.4,
        origin="Kelpie Point",
        origin_country="IE",
        story="They drove the star projector.",
        notes="box is damp",
    )
    view = log_drop_off(empty_shop, donor=PLANETARIUM, new=new)
    found = view.drop_off

    assert view.donor.name == "Kelpie Point Planetarium"
    assert (found.contents, found.board_count, found.weight_mg) == ("14 network cards", 14, 6200400)
    assert (found.origin, found.origin_country) == ("Kelpie Point", "IE")
    assert (found.story, found.notes) == ("They drove the star projector.", "box is damp")
    assert (found.received_on, found.received_by) == ("2026-05-02", "Maren")
    assert view.boards == ()


def test_a_known_donor_is_not_written_twice(empty_shop: Workshop) -> None:
    """The second box of the same donor hangs on the same donor."""
    first = log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(DAY, "a box"))
    code = first.donor.donor.code
    second = log_drop_off(empty_shop, donor=code, new=NewDropOff(DAY, "another box"))

    assert second.donor == first.donor
    assert len(dump(empty_shop)["donor"]) == 1
    assert first.drop_off.code != second.drop_off.code


@pytest.mark.parametrize(
    ("donor", "new", "error"),
    [
        (NewDonor("Harbour Radio", naming="described"), NewDropOff(DAY, "a box"), BadValue),
        (PLANETARIUM, NewDropOff(DAY, "  "), BadValue),
        (PLANETARIUM, NewDropOff(DAY, "a box", weight_g=0.0001), BadValue),
        (PLANETARIUM, NewDropOff(DAY, "a box", board_count=0), BadValue),
        (next_code("G", "K", 0)[0], NewDropOff(DAY, "a box"), NotFound),
    ],
)
def test_a_refused_drop_off_leaves_no_trace(
    empty_shop: Workshop, donor: NewDonor | Code, new: NewDropOff, error: type[SalvageError]
) -> None:
    """Whatever is wrong, neither the donor nor the name behind the seal stays."""
    before = dump(empty_shop)
    with pytest.raises(error):
        log_drop_off(empty_shop, donor=donor, new=new)

    assert dump(empty_shop) == before


def _with_parts(shop: Workshop) -> Code:
    parts = (("hard disk", 2), ("memory card", 1), ("none found", 0))
    return log_drop_off(
        shop, donor=PLANETARIUM, new=NewDropOff(DAY, "a box", data_parts=parts)
    ).drop_off.code


def test_data_parts_are_open_until_settled(empty_shop: Workshop) -> None:
    """A disk is open, a search that found nothing is settled at once."""
    view = view_drop_off(empty_shop.conn, _with_parts(empty_shop))

    assert [(part.n, part.part, part.count) for part in view.open_data_parts] == [
        (1, "hard disk", 2),
        (2, "memory card", 1),
    ]
    assert [part.state for part in view.data_parts] == ["open", "open", "none found"]
    assert view.data_parts[2].settled_by == "Maren"


def test_a_data_part_is_settled_once(empty_shop: Workshop) -> None:
    """How a disk's custody ended is written once; the second word on it is refused."""
    code = _with_parts(empty_shop)
    view = settle_data_part(
        empty_shop, drop_off=code, n=1, state="destroyed", how="drilled, 4 holes"
    )
    part = view.data_parts[0]
    before = dump(empty_shop)
    with pytest.raises(Refused, match="recorded as destroyed already"):
        settle_data_part(empty_shop, drop_off=code, n=1, state="returned", how="by post")

    assert (part.state, part.how, part.settled_by) == ("destroyed", "drilled, 4 holes", "Maren")
    assert [p.n for p in view.open_data_parts] == [2]
    assert dump(empty_shop) == before


def test_a_settlement_needs_its_part_and_its_how(empty_shop: Workshop) -> None:
    """A part that is not there and a settlement without method are refused."""
    code = _with_parts(empty_shop)
    before = dump(empty_shop)
    with pytest.raises(Refused, match=r"no data-bearing part 9.*1 \(hard disk\)"):
        settle_data_part(empty_shop, drop_off=code, n=9, state="returned", how="by post")
    with pytest.raises(BadValue, match="--how"):
        settle_data_part(empty_shop, drop_off=code, n=2, state="returned", how=" ")
    with pytest.raises(Refused, match="none found already"):
        settle_data_part(empty_shop, drop_off=code, n=3, state="returned", how="by post")

    assert dump(empty_shop) == before


def test_a_drop_off_shows_its_boards(empty_shop: Workshop) -> None:
    """From the delivery one gets to what was recorded of it."""
    code = add_drop_off(empty_shop)
    boards = record_boards(empty_shop, new=NewBoard(code, "line-card"), count=2)

    assert view_drop_off(empty_shop.conn, code).boards == boards


def test_the_newest_drop_off_comes_first(empty_shop: Workshop) -> None:
    """By the day it arrived, not the day it was typed in."""
    for day in (date(2026, 3, 1), date(2026, 5, 1), date(2026, 4, 1)):
        log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(day, "a box"))
    days = [view.drop_off.received_on for view in list_drop_offs(empty_shop, most=2)]

    assert days == ["2026-05-01", "2026-04-01"]


def test_parts_found_later_are_numbered_on(empty_shop: Workshop) -> None:
    """Nobody looked at the door; a search on the bench adds to the list, and each is settled."""
    drop_off = add_drop_off(empty_shop)
    before = view_drop_off(empty_shop.conn, drop_off)
    add_data_parts(empty_shop, drop_off=drop_off, data_parts=(("hard disk", 1),))
    view = add_data_parts(empty_shop, drop_off=drop_off, data_parts=(("memory card", 2),))
    settled = settle_data_part(
        empty_shop, drop_off=drop_off, n=2, state="returned", how="handed back"
    )

    assert before.data_parts == ()
    assert [(part.n, part.part, part.state) for part in view.data_parts] == [
        (1, "hard disk", "open"),
        (2, "memory card", "open"),
    ]
    assert [part.n for part in settled.open_data_parts] == [1]


def test_a_search_says_what_it_found(empty_shop: Workshop) -> None:
    """An empty search is no statement; "none found" is one."""
    drop_off = add_drop_off(empty_shop)
    with pytest.raises(BadValue, match="none found"):
        add_data_parts(empty_shop, drop_off=drop_off, data_parts=())
    view = add_data_parts(empty_shop, drop_off=drop_off, data_parts=(("none found", 0),))

    assert [part.state for part in view.data_parts] == ["none found"]
    assert view.open_data_parts == ()


def test_a_country_is_told_by_its_code(empty_shop: Workshop) -> None:
    """Two letters in any case; a name is asked about, and nothing is written."""
    new = NewDropOff(DAY, "a box", origin_country="ie")
    view = log_drop_off(empty_shop, donor=PLANETARIUM, new=new)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="'Eire' is not a country code"):
        log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(DAY, "x", origin_country="Eire"))

    assert view.drop_off.origin_country == "IE"
    assert dump(empty_shop) == before
