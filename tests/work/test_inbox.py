"""Photos that come by themselves: filed where there is no doubt, kept waiting where there is."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from salvage.codes.draw import draw_qr, symbol_png
from salvage.errors import BadFile, NotFound
from salvage.ids import Code
from salvage.records.actions import ACTIONS
from salvage.work import drop_folder
from salvage.work.check import run_checks
from salvage.work.drop_folder import FILED, WAITING, read_states, settled, take_folder
from salvage.work.history import undo
from salvage.work.inbox import (
    drop_waiting,
    file_waiting,
    find_waiting,
    list_inbox,
    take_in_photo,
)
from salvage.work.photos import list_photos
from salvage.work.workshop import Workshop
from tests.bench import make_shop
from tests.work.stock import Stock

SIDE_CARDS = {action.argument: action.code for action in ACTIONS if action.verb == "side"}


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    """A workshop with one of everything."""
    with make_shop(tmp_path / "shop") as shop:
        yield Stock(shop)


def photo_of(*texts: str, grey: int = 150) -> bytes:
    """A photo of labels side by side."""
    from PIL import Image

    picture = Image.new("L", (360 * max(1, len(texts)), 360), grey)
    for n, text in enumerate(texts):
        label = Image.open(io.BytesIO(symbol_png(draw_qr(text), dots=8)))
        picture.paste(label, (30 + 360 * n, 60))
    stream = io.BytesIO()
    picture.convert("RGB").save(stream, "JPEG", quality=92)
    return stream.getvalue()


def take(shop: Workshop, name: str, *texts: str, grey: int = 150) -> tuple[str, str, str]:
    """Outcome, code and side of a photo."""
    filing = take_in_photo(shop, data=photo_of(*texts, grey=grey), name=name)
    return filing.outcome, filing.code, filing.side


def test_a_label_says_what_a_photo_shows(stock: Stock) -> None:
    """The first photo of a board is its front; the name may say another side."""
    first = take(stock.shop, "IMG_1.jpg", stock.board)
    back = take(stock.shop, "IMG_2 back.jpg", stock.board, grey=120)

    assert first == ("filed", stock.board, "front")
    assert back == ("filed", stock.board, "back")
    assert [photo.side for photo in list_photos(stock.shop, stock.board)] == ["front", "back"]


def test_a_side_card_says_which_side_a_photo_shows(stock: Stock) -> None:
    """A card beside the label says the side, whatever the file is called; two cards are asked."""
    front, back = SIDE_CARDS["front"], SIDE_CARDS["back"]

    assert take(stock.shop, "IMG_1.jpg", stock.board, back) == ("filed", stock.board, "back")
    assert take(stock.shop, "IMG_2 back.jpg", stock.board, front)[2] == "front"
    assert take(stock.shop, "IMG_3.jpg", stock.board, front, back)[0] == "waiting"
    assert "several sides: front, back" in list_inbox(stock.shop)[0].reason
    assert take(stock.shop, "IMG_4.jpg", back)[0] == "waiting"


def test_a_name_stands_for_a_label_that_is_not_seen(stock: Stock) -> None:
    """A file named after the piece needs no label in view; one that contradicts it waits."""
    assert take(stock.shop, f"{stock.piece}.jpg") == ("filed", stock.piece, "front")
    assert take(stock.shop, f"{stock.held}-back.jpg", stock.board)[0] == "waiting"


@pytest.mark.parametrize(
    ("why", "codes"),
    [
        ("several things", ("board", "held")),
        ("does not hold", ("BC0002J",)),
        ("not ours", ("4006381333931",)),
        ("no label", ()),
    ],
)
def test_doubt_keeps_a_photo_waiting(stock: Stock, why: str, codes: Sequence[str]) -> None:
    """Two boards, a stranger's code or none at all: kept safely, with the reason."""
    shown = [getattr(stock, code, code) for code in codes]
    outcome, _, _ = take(stock.shop, "IMG_3.jpg", *shown)
    (waiting,) = list_inbox(stock.shop)

    assert outcome == "waiting"
    assert why in waiting.reason
    assert stock.shop.files.load(waiting.sha256) == photo_of(*shown)


def test_a_second_photo_of_a_board_asks_for_its_side(stock: Stock) -> None:
    """Front or back is not guessed."""
    take(stock.shop, "IMG_1.jpg", stock.board)

    assert take(stock.shop, "IMG_2.jpg", stock.board, grey=120)[0] == "waiting"
    assert "say which side" in list_inbox(stock.shop)[0].reason


def test_the_same_photo_is_kept_once(stock: Stock) -> None:
    """However often the phone sends it, and in whatever state it is."""
    for texts in ((stock.board,), ()):
        take(stock.shop, "IMG_1.jpg", *texts)

        assert take(stock.shop, "again.jpg", *texts)[0] == "known"
    drop_waiting(stock.shop, photo=list_inbox(stock.shop)[0])
    assert take(stock.shop, "once more.jpg")[0] == "known"
    assert len(list_photos(stock.shop, stock.board)) == 1


def test_what_is_no_picture_is_not_kept(stock: Stock) -> None:
    """Text, and a photo that was cut short on the way, stay with the phone."""
    for data in (b"hello", photo_of(stock.board)[:3000], b""):
        assert take_in_photo(stock.shop, data=data, name="x.jpg").outcome == "left"
    assert list_inbox(stock.shop) == ()


def test_a_waiting_photo_is_filed_by_hand_and_undo_lets_it_wait_again(stock: Stock) -> None:
    """Filing empties the inbox; undo fills it again; all checks stay green."""
    take(stock.shop, "IMG_4.jpg")
    kept = file_waiting(
        stock.shop, photo=find_waiting(stock.shop, "img_4.JPG"), code=stock.board, side="back"
    )
    assert list_inbox(stock.shop) == ()
    undo(stock.shop)

    assert kept.side == "back"
    assert [photo.name for photo in list_inbox(stock.shop)] == ["IMG_4.jpg"]
    assert all(check.ok for check in run_checks(stock.shop))


def test_two_photos_of_one_name_are_told_apart_by_their_hash(stock: Stock) -> None:
    """Phones begin their numbering anew."""
    take(stock.shop, "IMG_1.jpg")
    take(stock.shop, "IMG_1.jpg", grey=90)
    with pytest.raises(NotFound, match="2 photos wait"):
        find_waiting(stock.shop, "IMG_1.jpg")
    first = list_inbox(stock.shop)[0]

    assert find_waiting(stock.shop, first.sha256[:12]) == first
    with pytest.raises(NotFound, match="no photo waits"):
        find_waiting(stock.shop, "IMG_9.jpg")


def take_all(shop: Workshop, folder: Path, *, leave: bool = False) -> list[str]:
    """Outcomes of everything in a folder."""
    names = list(read_states(folder))
    return [one.outcome for one in take_folder(shop, folder, names, leave=leave)]


def test_files_move_only_after_they_are_kept(stock: Stock, tmp_path: Path) -> None:
    """Filed here, waiting there, what is no picture stays; no name is written over."""
    phone = tmp_path / "phone"
    (phone / FILED).mkdir(parents=True)
    (phone / FILED / "a.jpg").write_bytes(b"another")
    (phone / "a.jpg").write_bytes(photo_of(stock.board))
    (phone / "b.jpg").write_bytes(photo_of())
    (phone / "c.txt").write_bytes(b"hello")

    assert take_all(stock.shop, phone) == ["filed", "waiting", "left"]
    assert sorted(path.name for path in (phone / FILED).iterdir()) == ["a-2.jpg", "a.jpg"]
    assert [path.name for path in (phone / WAITING).iterdir()] == ["b.jpg"]
    assert list(read_states(phone)) == ["c.txt"]


def test_a_stop_between_keeping_and_moving_is_harmless(
    stock: Stock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Torn away before the move, the next look finds the photo known and moves it then."""
    phone = tmp_path / "phone"
    phone.mkdir()
    (phone / "a.jpg").write_bytes(photo_of(stock.board))

    def stopped(path: Path, folder: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(drop_folder, "_move", stopped)
        with pytest.raises(KeyboardInterrupt):
            take_all(stock.shop, phone)
    assert (phone / "a.jpg").is_file()

    assert take_all(stock.shop, phone) == ["known"]
    assert len(list_photos(stock.shop, stock.board)) == 1
    assert (phone / FILED / "a.jpg").is_file()


def test_a_stop_before_the_record_leaves_the_file(
    stock: Stock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed after the bytes were saved and before the event: nothing moved, nothing twice."""
    phone = tmp_path / "phone"
    phone.mkdir()
    (phone / "a.jpg").write_bytes(photo_of())

    def stopped(*words: object, **named: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(stock.shop, "commit", stopped)
        with pytest.raises(KeyboardInterrupt):
            take_all(stock.shop, phone)

    assert (phone / "a.jpg").is_file()
    assert take_all(stock.shop, phone) == ["waiting"]
    assert all(check.ok for check in run_checks(stock.shop))


def test_half_written_files_are_waited_for(tmp_path: Path) -> None:
    """A file that grows, is empty, or bears an unfinished name is not whole."""
    (tmp_path / "growing.jpg").write_bytes(b"12")
    (tmp_path / "whole.jpg").write_bytes(b"12")
    for name in ("empty.jpg", ".hidden.jpg", "IMG.jpg.part"):
        (tmp_path / name).write_bytes(b"" if name == "empty.jpg" else b"12")
    before = read_states(tmp_path)
    (tmp_path / "growing.jpg").write_bytes(b"1234")
    now = read_states(tmp_path)

    assert settled(before, now, done={}) == ["whole.jpg"]
    assert settled(now, now, done={}) == ["growing.jpg", "whole.jpg"]
    assert settled(now, now, done={"whole.jpg": now["whole.jpg"]}) == ["growing.jpg"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """A mistyped folder is one clear line."""
    with pytest.raises(BadFile, match="cannot be read"):
        read_states(tmp_path / "nowhere")


def test_a_dry_run_keeps_and_moves_nothing(stock: Stock, tmp_path: Path) -> None:
    """What would become of each photo, and nothing else."""
    phone = tmp_path / "phone"
    phone.mkdir()
    (phone / "a.jpg").write_bytes(photo_of(stock.board))
    done = list(take_folder(stock.shop, phone, ["a.jpg"], dry_run=True))

    assert [one.outcome for one in done] == ["filed"]
    assert (phone / "a.jpg").is_file()
    assert list_photos(stock.shop, Code(stock.board)) == ()
