"""The job between the others: photos that come by themselves, scans at the bench, a stock-take."""

from __future__ import annotations

import io

from salvage.work import bench_deeds, inbox, stock_take
from salvage.work.bench_words import Deed
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def phone_photo(grey: int) -> bytes:
    """A small photo without any label, of one shade of grey."""
    from PIL import Image

    stream = io.BytesIO()
    Image.new("RGB", (64, 48), (grey, grey, grey)).save(stream, "PNG")
    return stream.getvalue()


DROPPED = {"IMG_1.png": phone_photo(90), "IMG_2.png": phone_photo(120), "IMG_3.png": b"no picture"}
"""Files in the folder that the phone drops photos into."""


def _take_in(shop: Workshop, memory: Memory) -> None:
    for name, data in DROPPED.items():
        inbox.take_in_photo(shop, data=data, name=name)


def _file(shop: Workshop, memory: Memory) -> None:
    photo = inbox.find_waiting(shop, "IMG_1.png")
    inbox.file_waiting(shop, photo=photo, code=memory["card"], side="back")


def _drop(shop: Workshop, memory: Memory) -> None:
    photo = inbox.find_waiting(shop, "IMG_2.png")
    inbox.drop_waiting(shop, photo=photo, reason="blurred")


def _wait_again(shop: Workshop, memory: Memory) -> None:
    inbox.take_in_photo(shop, data=phone_photo(150), name="IMG_4.png")


def _stage(shop: Workshop, memory: Memory) -> None:
    deed = Deed("stage", "", memory["oval"], stage="sanded")
    bench_deeds.do_deed(shop, deed=deed)


def _spoil(shop: Workshop, memory: Memory) -> None:
    deed = Deed("withdraw", "", memory["panel"])
    bench_deeds.do_deed(shop, deed=deed)


def _see(shop: Workshop, memory: Memory) -> None:
    for name in ("board", "oval", "bare"):
        stock_take.record_seen(shop, codes=[memory[name]], place="shelf 2")


def _settle(shop: Workshop, memory: Memory) -> None:
    settlement = stock_take.Settlement(
        lost=[memory["card"], memory["flat"]], moved=[memory["bare"]], reason="looked twice"
    )
    stock_take.settle_stock_take(shop, settlement=settlement, close=True)


STEPS = (
    Step("take_in_photo", _take_in, "watch {phone} --once --every 0"),
    Step("file_waiting", _file, "inbox file IMG_1.png {card} --side back"),
    Step("drop_waiting", _drop, "inbox drop IMG_2.png --reason blurred --yes"),
    Step("take_in_photo", _wait_again, "watch {phone_later} --once --every 0"),
    Step("do_deed", _stage, "bench n {oval}"),
    Step("do_deed", _spoil, "bench x {panel} y"),
    Step(
        "begin_stock_take",
        lambda shop, memory: stock_take.begin_stock_take(shop, things="boards").code,
        "stocktake start --things boards",
        "take",
    ),
    Step("record_seen", _see, 'stocktake scan --at "shelf 2" {board} {oval} {bare}'),
    Step(
        "settle_stock_take",
        _settle,
        'stocktake settle --lost {card} --lost {flat} --moved {bare} --reason "looked twice"'
        " --close",
    ),
    Step(
        "find_again",
        lambda shop, memory: stock_take.find_again(shop, codes=[memory["card"]]),
        "stocktake found {card}",
    ),
)
"""In the order of the job, before the fair."""
