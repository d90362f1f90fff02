"""A second device, from joining to a settled clash, as the maker types it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk

CUT_READY = (
    'dropoff add --donor Ilva --contents "a box" --boards 1 --source household --data "none found"'
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A laptop with one board and a place held on it, and a tablet that has joined."""
    made = Desk(tmp_path)
    drop_off = made.do(f"{CUT_READY} --plain").first
    made.do(f"board add {drop_off} --type other --size 100x80")
    made.do('device add "fair tablet" --out tablet.zip')
    made.do(f"device start tablet.zip --shop {tmp_path / 'tablet'}")
    return made


def _hold(desk: Desk, board: str, *, shop: str = "") -> None:
    desk.do(f"reserve {board} --shape circle --width 20 --at 40,40 --for x{shop}")


def test_devices_are_listed_with_what_is_known_of_each(desk: Desk, tmp_path: Path) -> None:
    """The maker sees which letter is whose, and which one sits before her."""
    listed = desk.do(f"device list --shop {tmp_path / 'tablet'} --json").value

    assert [(view["name"], view["is_this"]) for view in listed] == [
        ("the first device", False),
        ("fair tablet", True),
    ]
    assert listed[1]["events"] == 0


def test_a_shared_folder_brings_all_together(desk: Desk, tmp_path: Path) -> None:
    """Each lays its bundle down and takes in the others'; a clash is told with its mend."""
    (tmp_path / "share").mkdir()
    board = desk.do("board list --plain").first
    tablet = f" --shop {tmp_path / 'tablet'}"
    _hold(desk, board)
    _hold(desk, board, shop=tablet)
    desk.do("device sync share")
    told = desk.do(f"device sync share{tablet}")
    (clash,) = desk.do(f"device clashes{tablet} --json").value
    desk.do(f"{clash['mend'].removeprefix('salvage ')}{tablet}")
    desk.do(f"device sync share{tablet}")
    synced = desk.do("device sync share --json").value

    assert "held as well as" in told.out
    assert "device clashes" in told.err
    assert [merged["events"] for merged in synced["merged"]] == [2]
    assert desk.do("device clashes --json").value == []


def test_a_half_copied_bundle_in_the_folder_is_passed_over(desk: Desk, tmp_path: Path) -> None:
    """The next time it will be whole; what is whole is taken in."""
    share = tmp_path / "share"
    share.mkdir()
    desk.do(f"device sync share --shop {tmp_path / 'tablet'}")
    (share / "salvage-X.zip").write_bytes(b"PK half")
    told = desk.do("device sync share")

    assert "salvage-X.zip passed over" in told.err
    assert "device" in told.out


def test_a_dry_run_leaves_no_device_behind(desk: Desk, tmp_path: Path) -> None:
    """Neither letter nor folder nor file is there afterwards."""
    desk.do("device add phone --out phone.zip --dry-run")
    desk.do("device add phone --out phone.zip")
    desk.do(f"device start phone.zip --dry-run --shop {tmp_path / 'phone'}")

    assert not (tmp_path / "phone" / "workshop.db").exists()
    assert len(desk.do("device list --json").value) == 3


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("device merge nothing.zip", "is not there"),
        ("device merge tablet.zip", "was written on this device"),
        ("device sync nowhere", "nowhere is no folder"),
        ("device settle NONE --how x", "there is no clash 'NONE'"),
        ("device settle NONE", "say how it was settled"),
        ("device start tablet.zip", "there is a workshop in"),
        ("device add phone --out tablet.zip", "is there already"),
    ],
)
def test_what_cannot_be_is_one_line(desk: Desk, line: str, says: str) -> None:
    """Each says what is wrong and the mend, and changes nothing."""
    before = desk.do("journal --json").value
    told = desk.run(line)

    assert told.code != 0
    assert says in told.err
    assert desk.do("journal --json").value == before
