"""Waste containers and what leaves in them: order, belonging, once only."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.knowledge.hazards import all_hazards
from salvage.knowledge.limits import find_limit
from salvage.knowledge.waste_kinds import find_waste_kind, kind_for_hazard, waste_kinds
from salvage.store.lookup import load_board
from salvage.work.clear import NewCheck, record_checks
from salvage.work.consigning import (
    Handed,
    NewHandOver,
    confirm_receipt,
    confirmed_words,
    hand_over,
    view_consignment,
)
from salvage.work.cutting import reserve
from salvage.work.history import undo
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.waste import (
    NewContainer,
    NewWaste,
    close_container,
    list_containers,
    open_container,
    put_in,
    set_copper,
    view_container,
    weigh_board,
)
from salvage.work.workshop import Workshop
from tests.bench import (
    START,
    add_board,
    add_cleared_board,
    add_drop_off,
    circle_at,
    cut_circle,
    dump,
)


def _open(shop: Workshop, kind: str = "lithium-batteries", *, days_ago: int = 0) -> Code:
    opened = START.date() - timedelta(days=days_ago)
    view = open_container(shop, new=NewContainer(kind, opened_on=opened))
    return view.container.code


def test_the_one_year_rule_and_the_words_come_from_the_rule() -> None:
    """40 CFR 273.14(a) and 273.15, as the table of limits has them, each with its source."""
    label, time = find_limit("us-battery-label"), find_limit("us-universal-waste-time")
    kind = find_waste_kind("lithium batteries")

    assert (time.value, time.unit, kind.limit_days) == ("1", "year", 365)
    assert "273.14" in label.source.text
    assert "273.14" in kind.source.text
    assert kind.label_words.startswith("Universal Waste")
    assert all(one.source.text and one.care_source.text for one in waste_kinds())


def test_every_hazard_with_a_place_has_one_only() -> None:
    """Cells, mercury, capacitors and the rest each have one kind of container, and exist."""
    placed = [hazard for kind in waste_kinds() for hazard in kind.hazards]
    known = {hazard.slug for hazard in all_hazards()}

    assert len(placed) == len(set(placed))
    assert set(placed) <= known
    assert kind_for_hazard("mercury-relay") == find_waste_kind("mercury-parts")
    assert kind_for_hazard("toner") is None
    with pytest.raises(NotFound, match="nearest: lamps"):
        find_waste_kind("lamp")


def test_a_container_counts_down_to_its_last_day(empty_shop: Workshop) -> None:
    """A year from the first day; it is told a month before, and when it is over."""
    fresh = view_container(empty_shop, _open(empty_shop))
    soon = view_container(empty_shop, _open(empty_shop, days_ago=340))
    over = view_container(empty_shop, _open(empty_shop, days_ago=366))
    free = view_container(empty_shop, _open(empty_shop, "metal", days_ago=999))

    assert (fresh.due_on, fresh.days_left, fresh.warning) == ("2027-05-04", 365, "")
    assert soon.warning == "must leave by 2026-05-29, in 25 days"
    assert over.warning == "over its time since 2026-05-03"
    assert (free.due_on, free.days_left, free.warning) == ("", None, "")
    assert [view.container.code for view in list_containers(empty_shop)] == [
        view.container.code for view in (over, soon, fresh, free)
    ]


def test_the_workshop_may_set_words_and_days_of_its_own(empty_shop: Workshop) -> None:
    """Where it stands other rules may hold; what is usual stays named."""
    new = NewContainer("lamps", "Lampen", limit_days=90)
    own = open_container(empty_shop, new=new).container
    none = open_container(empty_shop, new=NewContainer("lamps", limit_days=0)).container

    assert (own.words, own.limit_days, none.limit_days) == ("Lampen", 90, None)
    assert own.rule.startswith("set by the workshop; usual: 40 CFR 273.14(e)")
    with pytest.raises(BadValue, match="say what is written on it"):
        open_container(empty_shop, new=NewContainer("other"))


def test_a_cell_goes_to_the_cells(empty_shop: Workshop) -> None:
    """A coin cell among chips is a fire in the making: it is refused, with the right kind."""
    board = add_board(empty_shop).code
    chips, cells = _open(empty_shop, "components"), _open(empty_shop)
    cell = NewWaste("coin cell, taped", board, "coin-cell", 3.0)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=r"coin-cell does not belong .* kind components"):
        put_in(empty_shop, container=chips, new=cell)

    assert dump(empty_shop) == before
    assert put_in(empty_shop, container=cells, new=cell).weight_mg == 3000


def test_a_cell_that_was_never_found_is_not_thrown_away(empty_shop: Workshop) -> None:
    """Who throws away what the record denies corrects the record first: it may have been cut."""
    board = add_cleared_board(empty_shop).code
    container = _open(empty_shop)
    new = NewWaste("a coin cell", source=board, hazard="coin-cell", weight_g=3)
    with pytest.raises(Refused, match=f"{board} is on record as looked over, without coin-cell"):
        put_in(empty_shop, container=container, new=new)
    found = NewCheck("coin-cell", "present", "removed", how="lifted out", goes_to="battery box")
    record_checks(empty_shop, boards=[board], checks=[found])

    assert put_in(empty_shop, container=container, new=new).items[0].hazard == "coin-cell"


@pytest.mark.parametrize(
    ("new", "error", "says"),
    [
        (NewWaste(""), BadValue, "say what goes in"),
        (NewWaste("x", whole=True), BadValue, "only a board goes in whole"),
        (NewWaste("x", hazard="gremlin"), NotFound, "gremlin"),
        (NewWaste("x", put_on=date(2020, 1, 1)), BadValue, "is before .* was opened"),
    ],
)
def test_what_goes_in_is_said_rightly(
    empty_shop: Workshop, new: NewWaste, error: type[Exception], says: str
) -> None:
    """A slip is refused and leaves nothing behind."""
    code = _open(empty_shop, "components")
    before = dump(empty_shop)
    with pytest.raises(error, match=says):
        put_in(empty_shop, container=code, new=new)

    assert dump(empty_shop) == before


def test_nothing_goes_into_a_closed_container(empty_shop: Workshop) -> None:
    """Nor is an empty one closed, or one closed twice."""
    code = _open(empty_shop, "metal")
    with pytest.raises(Refused, match="is empty"):
        close_container(empty_shop, container=code)
    put_in(empty_shop, container=code, new=NewWaste("frame", weight_g=90.0))
    view = close_container(empty_shop, container=code)

    assert view.state == "closed"
    with pytest.raises(Refused, match="is closed"):
        put_in(empty_shop, container=code, new=NewWaste("frame"))
    with pytest.raises(Refused, match="is closed already"):
        close_container(empty_shop, container=code)


def test_a_whole_board_is_retired_with_it(empty_shop: Workshop) -> None:
    """But not while a place on it is held, and not twice."""
    board = add_cleared_board(empty_shop).code
    code = _open(empty_shop, "boards")
    held = reserve(empty_shop, board=board, spot=circle_at(empty_shop, 40, 40), for_whom="x")
    with pytest.raises(Refused, match="has reserved places"):
        put_in(empty_shop, container=code, new=NewWaste("", board, whole=True))
    undo(empty_shop)
    put_in(empty_shop, container=code, new=NewWaste("", board, whole=True))

    assert held.board == board
    assert load_board(empty_shop.conn, board).retired == f"into waste container {code}"
    with pytest.raises(Refused, match="is retired already"):
        put_in(empty_shop, container=code, new=NewWaste("", board, whole=True))
    with pytest.raises(Refused, match="is retired"):
        weigh_board(empty_shop, board=board, weight_g=3.0)


def test_a_consignment_takes_containers_boards_and_loose_things(empty_shop: Workshop) -> None:
    """What the recycler's scales say of a container counts; a board's rest is an estimate."""
    drop_off = add_drop_off(empty_shop)
    board = add_board(empty_shop, drop_off=drop_off).code
    cells = _open(empty_shop)
    put_in(empty_shop, container=cells, new=NewWaste("cells", weight_g=30.0))
    items = (Handed(cells, "", 31.0), Handed(board), Handed(None, "frames", 400.0, drop_off))
    new = NewHandOver("Recycler", items, "W-77", "Q-88")
    view = hand_over(empty_shop, new=new)

    assert [(item.what, item.weighed) for item in view.items] == [
        ("container", 1),
        ("board", 0),
        ("loose", 1),
    ]
    assert view.consignment.weight_mg == sum(item.weight_mg for item in view.items)
    assert view.items[1].weight_mg == pytest.approx(9600 * 3.27068, abs=2)
    assert view.detail is not None
    assert view.detail.permit == "W-77"
    assert view_container(empty_shop, cells).consignment == view.consignment.code
    assert load_board(empty_shop.conn, board).retired.startswith("to Recycler, consignment")
    for again in items[:2]:
        with pytest.raises(Refused, match="already"):
            hand_over(empty_shop, new=NewHandOver("Recycler", (again,)))


@pytest.mark.parametrize(
    ("items", "receiver", "says"),
    [
        ((), "Recycler", "say what goes"),
        ((Handed(None, "frames", 9.0),), " ", "say who takes it"),
        ((Handed(None, "", 9.0),), "Recycler", "say what it is"),
        ((Handed(None, "frames"),), "Recycler", "nobody has weighed frames"),
    ],
)
def test_a_consignment_is_told_wholly(
    empty_shop: Workshop, items: tuple[Handed, ...], receiver: str, says: str
) -> None:
    """Who, what and how much; otherwise nothing is written."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=says):
        hand_over(empty_shop, new=NewHandOver(receiver, items))

    assert dump(empty_shop) == before


def test_more_than_came_does_not_leave_in_items_either(empty_shop: Workshop) -> None:
    """The older kind of consignment and the newer one count together."""
    drop_off = add_drop_off(empty_shop)  # 6200 g
    old = NewConsignment("Recycler", "frames", 6000.0, drop_off=drop_off)
    send_consignment(empty_shop, new=old)
    new = NewHandOver("Recycler", (Handed(None, "screws", 400.0, drop_off),))
    with pytest.raises(Refused, match=r"400 g besides the 6 kg sent before"):
        hand_over(empty_shop, new=new)


def test_a_receipt_is_confirmed_once(empty_shop: Workshop) -> None:
    """With the paper's number, not before it was sent; an older consignment as well."""
    old = send_consignment(empty_shop, new=NewConsignment("Recycler", "frames", 90.0))
    early = view_consignment(empty_shop.conn, old.code)
    with pytest.raises(BadValue, match="say how"):
        confirm_receipt(empty_shop, consignment=old.code, confirmation=" ")
    with pytest.raises(BadValue, match="is before"):
        confirm_receipt(
            empty_shop, consignment=old.code, confirmation="R", confirmed_on=date(2026, 5, 1)
        )
    view = confirm_receipt(empty_shop, consignment=old.code, confirmation="R-2", weight_g=91.0)

    assert confirmed_words(early) == "not confirmed yet"
    assert confirmed_words(view) == "confirmed on 2026-05-04: R-2, 91 g weighed there"
    assert (early.is_confirmed, view.is_confirmed) == (False, True)
    with pytest.raises(Refused, match="already"):
        confirm_receipt(empty_shop, consignment=old.code, confirmation="R-3")


def test_a_hand_over_can_be_taken_back(empty_shop: Workshop) -> None:
    """Containers are closed no more, boards stand again; then it may be told anew."""
    board = add_board(empty_shop).code
    cells = _open(empty_shop)
    put_in(empty_shop, container=cells, new=NewWaste("cells", weight_g=30.0))
    before = dump(empty_shop)
    hand_over(empty_shop, new=NewHandOver("Recycler", (Handed(cells), Handed(board))))
    undo(empty_shop)
    after = dump(empty_shop)

    for table in ("board", "waste_container", "waste_item", "consignment", "consignment_item"):
        assert after[table] == before[table]


def test_copper_is_in_range(empty_shop: Workshop) -> None:
    """A slip of the finger is no board."""
    board = add_board(empty_shop).code
    with pytest.raises(BadValue, match="0 to 64 layers"):
        set_copper(empty_shop, board=board, layers=99)


def test_a_trial_changes_nothing(empty_shop: Workshop) -> None:
    """A dry run shows the container, the item and the consignment that would be."""
    board = add_cleared_board(empty_shop).code
    cut_circle(empty_shop, board, 40, 40)
    code = _open(empty_shop, "offcuts")
    before = dump(empty_shop)
    whole = NewWaste("", board, whole=True)
    put_in(empty_shop, container=code, new=whole, dry_run=True)
    hand_over(empty_shop, new=NewHandOver("R", (Handed(board),)), dry_run=True)
    open_container(empty_shop, new=NewContainer("metal"), dry_run=True)

    assert dump(empty_shop) == before
