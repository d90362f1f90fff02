"""Custody of data-bearing parts: nothing is closed while one is open, and nothing is assumed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from salvage.errors import BadValue, ManyMistakes, Refused
from salvage.ids import Code
from salvage.store.lookup import load_drop_off
from salvage.work.check import run_checks
from salvage.work.custody import MediumView, show_custody
from salvage.work.custody_steps import (
    NewHandOver,
    NewMedium,
    NewSearch,
    close_drop_off,
    describe_medium,
    hand_over_medium,
    search_for_data,
)
from salvage.work.forget import forget_donor
from salvage.work.history import undo
from salvage.work.photos import NewPhoto
from salvage.work.receive import NewDropOff, log_drop_off, settle_data_part
from salvage.work.sanitising import NewSanitising, sanitise_medium
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, dump
from tests.work.snapshots import phone_jpeg

PURGE = NewSanitising(
    "purge", "crypto-erase", "wiping tool 1.20", "sampled", "Maren", "bench lead", "the workshop"
)
CUT = replace(
    PURGE, method="destroy", technique="cut", tool="hand shears", verification="looked at"
)


@pytest.fixture
def drop_off(empty_shop: Workshop) -> Code:
    """A drop-off with two hard disks alike and a board with soldered storage."""
    change_settings(empty_shop, typed={"contact": "tidewrack@example.org"})
    parts = (("hard disk", 2), ("soldered storage", 1))
    new = NewDropOff(date(2026, 5, 2), "two controllers", data_parts=parts)
    return log_drop_off(empty_shop, donor=PLANETARIUM, new=new).drop_off.code


def _described(shop: Workshop, drop_off: Code, n: int) -> MediumView:
    new = NewMedium("Orrery", "D40", "7A-113", source="projector rack 2")
    return describe_medium(shop, drop_off=drop_off, n=n, new=new)


def test_a_drop_off_is_not_closed_while_a_part_is_open(
    empty_shop: Workshop, drop_off: Code
) -> None:
    """Two disks and a chip: each ends in its own way, and only then it can be closed."""
    first = _described(empty_shop, drop_off, 1).part.n
    _described(empty_shop, drop_off, 1)
    _described(empty_shop, drop_off, 2)
    for n in (first, 1, 2):
        with pytest.raises(Refused, match="open data-bearing parts"):
            close_drop_off(empty_shop, drop_off=drop_off)
        if n == 2:
            new = replace(CUT, die="destroyed")
            sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=new)
        elif n == 1:
            sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=PURGE)
        else:
            hand_over_medium(empty_shop, drop_off=drop_off, n=n, new=NewHandOver("donor", "Ilva"))
    view = close_drop_off(empty_shop, drop_off=drop_off, note="all told")

    assert [(each.part.n, each.part.state) for each in view.media] == [
        (1, "sanitised"),
        (2, "destroyed"),
        (3, "returned"),
    ]
    assert view.standing.startswith("closed on 2026-05-04 by Maren")
    with pytest.raises(Refused, match="closed on"):
        close_drop_off(empty_shop, drop_off=drop_off)


def test_what_is_found_later_opens_it_again(empty_shop: Workshop, drop_off: Code) -> None:
    """Closing is no reason to look away from a card that falls out of a bracket."""
    for n in (1, 2):
        settle_data_part(empty_shop, drop_off=drop_off, n=n, state="returned", how="at the door")
    close_drop_off(empty_shop, drop_off=drop_off)
    view = search_for_data(
        empty_shop, drop_off=drop_off, new=NewSearch((("memory card", 1),), "the brackets")
    )

    assert view.standing == "open again: 1 data-bearing part not dealt with"


def test_nobody_looked_is_not_none_found(empty_shop: Workshop) -> None:
    """A box that nobody searched is not closed; a search without a find, with its scope, does."""
    new = NewDropOff(date(2026, 5, 2), "bare boards")
    code = log_drop_off(empty_shop, donor=PLANETARIUM, new=new).drop_off.code
    with pytest.raises(Refused, match="nobody has looked"):
        close_drop_off(empty_shop, drop_off=code)
    with pytest.raises(BadValue, match="what was looked at"):
        search_for_data(empty_shop, drop_off=code, new=NewSearch((("none found", 0),), " "))
    new_search = NewSearch((("none found", 0),), "14 boards, both sides", "lamp")
    search_for_data(empty_shop, drop_off=code, new=new_search)
    (search,) = close_drop_off(empty_shop, drop_off=code).searches

    assert (search.found, search.scope, search.how) == (
        "none found",
        "14 boards, both sides",
        "lamp",
    )
    assert (search.by, search.at[:10]) == ("Maren", "2026-05-04")


@pytest.mark.parametrize("die", ["not checked", "cannot tell", "intact", "has none"])
def test_cutting_a_board_destroys_nothing_unless_the_die_is_destroyed(
    empty_shop: Workshop, drop_off: Code, die: str
) -> None:
    """Bending or cutting may leave the die whole (form after NIST SP 800-88 Rev. 1)."""
    _described(empty_shop, drop_off, 2)
    before = dump(empty_shop)
    with pytest.raises(Refused, match="only where the memory die itself is destroyed"):
        sanitise_medium(empty_shop, drop_off=drop_off, n=2, new=replace(CUT, die=die))

    assert dump(empty_shop) == before
    tried = replace(CUT, die=die, validation="repeat")
    view = sanitise_medium(empty_shop, drop_off=drop_off, n=2, new=tried)
    assert view.part.state == "open"
    assert view.accepted is None


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (
            {"method": "destroy", "technique": "degauss"},
            "not count as destroy, at most as purge",
        ),
        ({"method": "purge", "technique": "overwrite"}, "not count as purge, at most as clear"),
        ({"method": "purge", "technique": "block-erase"}, "does not purge magnetic media"),
    ],
)
def test_a_technique_counts_only_as_what_it_is(
    empty_shop: Workshop, drop_off: Code, changed: dict[str, str], says: str
) -> None:
    """Degaussing is no longer Destroy (NIST SP 800-88 Rev. 2, as told by a secondary source)."""
    n = _described(empty_shop, drop_off, 1).part.n
    new = replace(PURGE, **changed)  # type: ignore[arg-type]
    with pytest.raises(Refused, match=says):
        sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=new)

    assert show_custody(empty_shop, drop_off=drop_off).drop_off.open_data_parts


def test_a_medium_is_described_before_it_is_certified(empty_shop: Workshop, drop_off: Code) -> None:
    """Two disks alike cannot share one certificate."""
    with pytest.raises(Refused, match="not described as one medium"):
        sanitise_medium(empty_shop, drop_off=drop_off, n=1, new=PURGE)
    with pytest.raises(Refused, match=r"it has: 1 \(hard disk\), 2"):
        sanitise_medium(empty_shop, drop_off=drop_off, n=9, new=PURGE)


def test_all_that_the_certificate_lacks_is_named_at_once(
    empty_shop: Workshop, drop_off: Code
) -> None:
    """A certificate with holes is refused with all of them."""
    change_settings(empty_shop, typed={"contact": ""})
    n = _described(empty_shop, drop_off, 1).part.n
    bare = replace(PURGE, tool="", verified_by=" ", verified_title="", place="")
    with pytest.raises(ManyMistakes) as caught:
        sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=bare)

    fields = {mistake.field for mistake in caught.value.mistakes}
    assert fields == {"--tool", "--verified-by", "--title", "--place", "--contact"}


def test_days_come_in_their_order(empty_shop: Workshop, drop_off: Code) -> None:
    """Nothing is sanitised before it came, verified before it was done, or handed back in time."""
    n = _described(empty_shop, drop_off, 1).part.n
    early = date(2026, 5, 1)
    with pytest.raises(BadValue, match="came"):
        sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=replace(PURGE, done_on=early))
    new = replace(PURGE, verified_on=date(2026, 5, 3))
    with pytest.raises(BadValue, match="the work was done"):
        sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=new)
    hand_over_medium(empty_shop, drop_off=drop_off, n=n, new=NewHandOver("carrier", "Ilva"))
    back = NewHandOver("donor", on_day=date(2026, 5, 3))
    with pytest.raises(BadValue, match="last handed over"):
        hand_over_medium(empty_shop, drop_off=drop_off, n=n, new=back)


def test_serial_and_source_are_sealed_and_go_with_the_donor(
    empty_shop: Workshop, drop_off: Code
) -> None:
    """They can tell whose disk it was: the journal holds neither, and forgetting erases both."""
    n = _described(empty_shop, drop_off, 1).part.n
    hand_over_medium(
        empty_shop, drop_off=drop_off, n=n, new=NewHandOver("carrier", "Ilva Brandt", place="gate")
    )
    sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=replace(PURGE, contact="line 5"))
    bodies = " ".join(body for (body,) in empty_shop.conn.execute("SELECT body FROM event"))
    before = show_custody(empty_shop, drop_off=drop_off).media[-1]
    donor = load_drop_off(empty_shop.conn, drop_off).donor
    forgotten = forget_donor(empty_shop, donor=donor, reason="asked by letter")
    after = show_custody(empty_shop, drop_off=drop_off).media[-1]

    assert [word for word in ("7A-113", "projector rack", "Ilva", "line 5") if word in bodies] == []
    assert (before.serial, before.source, before.hand_overs[0].to) == (
        "7A-113",
        "projector rack 2",
        "Ilva Brandt",
    )
    assert (after.serial, after.source, after.hand_overs[0].to) == ("", "", "")
    assert forgotten.erased == 5
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_every_step_can_be_taken_back(empty_shop: Workshop, drop_off: Code) -> None:
    """Undone one by one, the newest first, the parts are as they came."""
    before = show_custody(empty_shop, drop_off=drop_off)
    n = _described(empty_shop, drop_off, 1).part.n
    photo = NewPhoto(phone_jpeg(), "shears.jpg", side="other")
    step = NewHandOver("sanitiser", "yard", photo=photo)
    hand_over_medium(empty_shop, drop_off=drop_off, n=n, new=step)
    sanitise_medium(empty_shop, drop_off=drop_off, n=n, new=PURGE)
    for _ in range(3):
        undo(empty_shop, why="a slip")

    assert show_custody(empty_shop, drop_off=drop_off) == before


def test_a_trial_records_nothing(empty_shop: Workshop, drop_off: Code) -> None:
    """A dry run of each step shows what would be and leaves no row and no file."""
    before = dump(empty_shop)
    photo = NewPhoto(phone_jpeg(), "box.jpg", side="other")
    found = NewSearch((("memory card", 1),), "the brackets", photo=photo)
    tried = search_for_data(empty_shop, drop_off=drop_off, new=found, dry_run=True)
    new = NewMedium("Orrery")
    described = describe_medium(empty_shop, drop_off=drop_off, n=1, new=new, dry_run=True)

    assert (len(tried.media), described.part.n) == (3, 3)
    assert dump(empty_shop) == before
    assert list(empty_shop.files.kept()) == []


def test_a_kind_that_says_nothing_of_its_medium_is_asked(empty_shop: Workshop) -> None:
    """What 'other' keeps its data in nobody can guess."""
    new = NewDropOff(date(2026, 5, 2), "a box", data_parts=(("other", 1),))
    code = log_drop_off(empty_shop, donor=PLANETARIUM, new=new).drop_off.code
    with pytest.raises(BadValue, match="keep its data in"):
        describe_medium(empty_shop, drop_off=code, n=1, new=NewMedium("Orrery"))
    view = describe_medium(empty_shop, drop_off=code, n=1, new=NewMedium(media_type="hybrid"))

    assert view.media_type == "hybrid"


def test_saying_nothing_of_a_medium_wipes_nothing(empty_shop: Workshop, drop_off: Code) -> None:
    """A description without a word would blank the serial number that was there."""
    described = NewMedium("Orrery", "D40", "7A-113")
    n = describe_medium(empty_shop, drop_off=drop_off, n=1, new=described).part.n
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="say what is known of it"):
        describe_medium(empty_shop, drop_off=drop_off, n=n, new=NewMedium())

    assert dump(empty_shop) == before
