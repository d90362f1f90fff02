"""Bundles that are damaged, forged, incomplete or of somebody else are refused whole."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.errors import BadFile, BadValue, Refused, SalvageError
from salvage.ids import LETTERS
from salvage.work.devices import (
    add_device,
    begin_device,
    list_devices,
    merge_bundle,
    write_for_others,
)
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, make_shop
from tests.work.fleet import Fleet, record_of_shop


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Closes every workshop that a test opens."""
    with ExitStack() as opened:
        yield opened


@pytest.fixture
def two(tmp_path: Path, stack: ExitStack) -> Fleet:
    """A laptop and a tablet with one cleared board on record."""
    return Fleet(tmp_path, stack, count=2)


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        (lambda data: b"no zip at all", "no zip file"),
        (lambda data: data[: len(data) // 2], "no zip file"),
    ],
)
def test_a_damaged_bundle_is_refused_whole(two: Fleet, harm: object, says: str) -> None:
    """Nothing of it is taken, and the line says what to do."""
    laptop, tablet = two.shops
    add_drop_off(tablet)
    data = write_for_others(tablet).data
    before = record_of_shop(laptop)
    assert callable(harm)

    with pytest.raises(BadFile, match=says):
        merge_bundle(laptop, data=harm(data), name="b.zip")

    assert record_of_shop(laptop) == before


def test_a_byte_changed_on_the_way_never_does_harm(two: Fleet) -> None:
    """Wherever it lies, the bundle is refused in one line or means what it meant."""
    laptop, tablet = two.shops
    add_drop_off(tablet)
    data = write_for_others(tablet).data
    brought = []
    for place in range(0, len(data), 7):
        wrong = data[:place] + bytes([data[place] ^ 0x41]) + data[place + 1 :]
        with suppress(SalvageError):
            brought.append(merge_bundle(laptop, data=wrong, name="b.zip", dry_run=True).events)

    assert set(brought) <= {2}
    assert len(brought) < len(data) / 7 / 2


def test_forged_events_are_refused(two: Fleet) -> None:
    """An event that was altered on the way, hash and all, does not fit the chain after it."""
    from salvage.store.exchange import Bundle, Line, write_bundle
    from salvage.store.journal import link

    laptop, tablet = two.shops
    add_drop_off(tablet)
    bundle = Bundle(write_for_others(tablet, everything=True).data, name="b.zip")
    lines = list(bundle.lines())
    altered = lines[-1].body.replace("2026", "2025")
    forged = [*lines[:-1], replace(lines[-1], body=altered)]
    rehashed = [*lines[:-1], Line(altered, link("0" * 64, altered.encode()))]
    before = record_of_shop(laptop)

    for wrong in (forged, rehashed):
        data = write_bundle(bundle.head, wrong, [], [])
        with pytest.raises(SalvageError, match="hash does not fit"):
            merge_bundle(laptop, data=data, name="b.zip")

        assert record_of_shop(laptop) == before


def test_a_gap_in_the_events_is_told(two: Fleet) -> None:
    """A bundle that begins later than what is known asks for everything."""
    from salvage.store.exchange import Bundle, write_bundle

    laptop, tablet = two.shops
    add_drop_off(tablet)
    bundle = Bundle(write_for_others(tablet).data, name="b.zip")
    data = write_bundle(bundle.head, list(bundle.lines())[1:], [], [])

    with pytest.raises(BadFile, match=r"begins at event .*--all"):
        merge_bundle(laptop, data=data, name="b.zip")


def test_a_copied_workshop_is_found_out(two: Fleet, tmp_path: Path, stack: ExitStack) -> None:
    """Two computers that work on with one letter write two histories; that is refused."""
    import shutil

    laptop, tablet = two.shops
    shutil.copytree(tablet.folder, tmp_path / "copy")
    copy = stack.enter_context(make_shop(tmp_path / "copy", seed=77))
    for shop in (tablet, copy):
        add_drop_off(shop)
    two.hand(tablet, laptop)

    with pytest.raises(Refused, match="wrote two histories"):
        two.hand(copy, laptop)


def test_another_workshops_bundle_is_refused(two: Fleet, tmp_path: Path, stack: ExitStack) -> None:
    """A stranger's record is not mixed into ours."""
    stranger = stack.enter_context(make_shop(tmp_path / "stranger", seed=5))
    add_drop_off(stranger)

    with pytest.raises((Refused, BadFile), match=r"another workshop|two histories|begins at event"):
        two.hand(stranger, two.shops[0], everything=True)


def test_a_bundle_begins_one_device_in_an_empty_folder(two: Fleet, tmp_path: Path) -> None:
    """An ordinary bundle begins nothing, and a folder with a workshop is left alone."""
    laptop = two.shops[0]

    def open_shop(folder: Path, conn: object) -> Workshop:
        raise AssertionError("nothing may be opened")

    data = write_for_others(laptop, everything=True).data
    with pytest.raises(BadFile, match="not a bundle to begin with"):
        begin_device(tmp_path / "x", data=data, name="b.zip", open_shop=open_shop)
    data = add_device(laptop, name="phone").data
    with pytest.raises(Refused, match="is a workshop in"):
        begin_device(laptop.folder, data=data, name="b.zip", open_shop=open_shop)
    with pytest.raises(BadValue, match="a device has a name"):
        add_device(laptop, name="  ")


def test_there_are_as_many_devices_as_letters(tmp_path: Path, stack: ExitStack) -> None:
    """Sixteen letters, sixteen devices; the next is refused, and none is used twice."""
    shop = stack.enter_context(make_shop(tmp_path / "shop"))
    for number in range(len(LETTERS) - 1):
        add_device(shop, name=f"device {number}")
    with pytest.raises(Refused, match="all 16 letters"):
        add_device(shop, name="one more")

    assert len({view.device.letter for view in list_devices(shop)}) == len(LETTERS)
