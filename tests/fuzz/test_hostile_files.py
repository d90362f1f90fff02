"""
Files that somebody made to do harm: each is refused in one line, within stated memory and time.

The bounds are those of one call beside what the program holds anyway; the processor times are
some times those that were measured on a machine that others shared.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from salvage.codes.read import read_picture as read_label_picture
from salvage.geometry.dxf import read_dxf
from salvage.geometry.svg import read_svg
from salvage.paper.picture import print_picture
from salvage.paper.wording import parse_words
from salvage.photo.intake import inspect_photo
from salvage.photo.measure.pixels import read_pixels
from salvage.store.exchange import Bundle
from salvage.work.checkpoints import parse_checkpoint
from tests.fuzz.bounded import take

MOST_DRAWING_MB, MOST_DRAWING_S = 250, 12
MOST_PICTURE_MB, MOST_PICTURE_S = 60, 4
MOST_BUNDLE_MB, MOST_BUNDLE_S = 80, 8

_HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm">'


def svg(body: str, before: str = "") -> bytes:
    """A drawing."""
    return f"{before}{_HEAD}{body}</svg>".encode()


_LAUGHS = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
_RINGS = "".join(f"M{n / 50} {n / 50}H{300 - n / 50}V{300 - n / 50}H{n / 50}z" for n in range(4900))

DRAWINGS: dict[str, tuple[Callable[[], bytes], str]] = {
    "billion laughs": (
        lambda: svg("<text>&a9;</text>", f'<!DOCTYPE svg [<!ENTITY a0 "ha">{_LAUGHS}]>'),
        "DOCTYPE",
    ),
    "quadratic entity": (
        lambda: svg("&a;" * 50_000, f'<!DOCTYPE svg [<!ENTITY a "{"x" * 50_000}">]>'),
        "DOCTYPE",
    ),
    "entity of a file": (
        lambda: svg("&a;", '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>'),
        "DOCTYPE",
    ),
    "entity of an address": (
        lambda: svg("&a;", '<!DOCTYPE svg [<!ENTITY a SYSTEM "http://127.0.0.1:9/a">]>'),
        "DOCTYPE",
    ),
    "parameter entity": (
        lambda: svg("", '<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://127.0.0.1:9/a"> %a;]>'),
        "DOCTYPE",
    ),
    "groups without end": (lambda: svg("<g>" * 700_000 + "</g>" * 700_000), "20000 elements"),
    "a million elements": (lambda: svg("<g/>" * 1_200_000), "20000 elements"),
    "a path of a million steps": (
        lambda: svg(f'<path d="M0 0{"h1v1" * 600_000}z"/>'),
        "too many points",
    ),
    "a million corners": (
        lambda: svg(f'<polygon points="{"1,1 " * 1_200_000}"/>'),
        "too many points",
    ),
    "a million turns": (
        lambda: svg(f'<g transform="{"rotate(1) " * 480_000}"><rect width="1"/></g>'),
        "too many points",
    ),
    "thousands of rings": (lambda: svg(f'<path d="{_RINGS}"/>'), "2000 outlines"),
    "an arc of a light year": (
        lambda: svg('<path d="M0 0a1e300 1e300 0 0 1 1e300 1e300z"/>'),
        "coordinate",
    ),
    "another encoding": (
        lambda: '<?xml version="1.0" encoding="utf-16"?><svg/>'.encode("utf-16"),
        "how large",
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_hostile_drawing_is_refused(name: str) -> None:
    """A pretty shape from anywhere cannot fill the memory, read files, or take the evening."""
    make, words = DRAWINGS[name]
    data = make()

    taken = take(lambda: read_svg(data, name="fern.svg"))

    assert taken.is_ours, taken.told
    assert words in taken.told
    assert taken.grown_mb < MOST_DRAWING_MB
    assert taken.cpu_s < MOST_DRAWING_S


def dxf(entities: str, blocks: str = "") -> bytes:
    """A drawing-exchange file."""
    head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
    middle = f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n"
    rest = f"0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"
    return (head + middle + rest).encode()


def block(name: str, body: str) -> str:
    """A block of a drawing."""
    return f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n{body}0\nENDBLK\n"


def insert(name: str, more: str = "") -> str:
    """A block put into a drawing."""
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n{more}"


CIRCLE = "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1\n"
LINE = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n0\n"
_TENFOLD = "".join(block(f"B{n}", insert(f"B{n - 1}") * 10) for n in range(1, 19))

EXCHANGED: dict[str, Callable[[], bytes]] = {
    "ten to the eighteenth circles": lambda: dxf(insert("B18"), block("B0", CIRCLE) + _TENFOLD),
    "a block in itself": lambda: dxf(insert("A"), block("A", insert("A"))),
    "a thousand million copies": lambda: dxf(
        insert("A", "70\n30000\n71\n30000\n44\n1\n45\n1\n"), block("A", CIRCLE)
    ),
    "rows without end": lambda: dxf(
        insert("A", "70\n-1\n71\n2147483647\n44\n1\n45\n1\n"), block("A", CIRCLE)
    ),
    "columns on one another": lambda: dxf(
        insert("A", "70\n2\n71\n2147483647\n44\n1\n45\n0\n"), block("A", CIRCLE)
    ),
    "a hundred thousand lines": lambda: dxf(LINE * 100_000),
    "names of millions of characters": lambda: dxf(insert("A" * 4_000_000)),
    "a hundred thousand elements without lines": lambda: b"0\n" * 2_000_000,
}


@pytest.mark.parametrize("name", EXCHANGED)
def test_a_hostile_exchange_file_is_refused(name: str) -> None:
    """Blocks within blocks multiply faster than any machine can draw."""
    data = EXCHANGED[name]()

    taken = take(lambda: read_dxf(data, name="fern.dxf"))

    assert taken.is_ours, taken.told
    assert taken.told != "done"
    assert taken.grown_mb < MOST_DRAWING_MB
    assert taken.cpu_s < MOST_DRAWING_S


def png(width: int, height: int, *, more: bytes = b"", body: bytes = b"") -> bytes:
    """A PNG with a header that may lie (ISO/IEC 15948, 11.2.2 and 5.3; from memory)."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + more + chunk(b"IDAT", body) + _END


def chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk of a PNG with a true check sum."""
    check = struct.pack(">I", zlib.crc32(kind + body))
    return struct.pack(">I", len(body)) + kind + body + check


_END = chunk(b"IEND", b"")


def see_through() -> bytes:
    """Three kilobytes that hold 79 million see-through pixels."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGBA", (8900, 8900)).save(out, "WEBP", lossless=True, method=0)
    return out.getvalue()


def huge_jpeg() -> bytes:
    """A JPEG whose frame says 65 500 by 65 500 pixels."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (16, 16)).save(out, "JPEG")
    data = out.getvalue()
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", 65_500, 65_500) + data[at + 4 :]


def huge_heif() -> bytes:
    """A phone's picture whose size says two thousand million pixels each way."""
    data = (Path(__file__).parents[1] / "photo" / "pictures" / "upright.heic").read_bytes()
    at = data.index(b"ispe") + 8
    return data[:at] + struct.pack(">II", 0x7FFFFFFF, 0x7FFFFFFF) + data[at + 8 :]


PICTURES: dict[str, Callable[[], bytes]] = {
    "a PNG of 3.6 thousand million pixels": lambda: png(60_000, 60_000, body=zlib.compress(b"")),
    "words that unpack to 200 megabytes": lambda: png(
        40, 30, more=chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(200_000_000), 1))
    ),
    "a profile that unpacks to 200 megabytes": lambda: png(
        40, 30, more=chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(200_000_000), 1))
    ),
    "a JPEG of 4 thousand million pixels": huge_jpeg,
    "a HEIF of millions of millions of pixels": huge_heif,
    "a see-through picture": see_through,
    "page description in the place of a picture": lambda: b"%!PS-Adobe-3.0 EPSF-3.0\n%%EOF\n",
}
READERS: dict[str, Callable[[bytes], object]] = {
    "at the door": lambda data: inspect_photo(data, name="front.jpg"),
    "where labels are read": read_label_picture,
    "where boards are measured": lambda data: read_pixels(data, name="front.jpg"),
    "where cards are printed": lambda data: print_picture(data, longest_mm=50),
}


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    """The pictures, each made once."""
    return {name: make() for name, make in PICTURES.items()}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.filterwarnings("ignore")
def test_a_hostile_picture_is_refused(name: str, reader: str, made: dict[str, bytes]) -> None:
    """A small file that would unpack to gigabytes is told by its head, at every door."""
    taken = take(lambda: READERS[reader](made[name]))

    assert taken.is_ours, taken.told
    assert taken.told != "done"
    assert taken.grown_mb < MOST_PICTURE_MB
    assert taken.cpu_s < MOST_PICTURE_S


@pytest.mark.parametrize("reader", READERS)
def test_pixels_beyond_the_picture_are_not_unpacked(reader: str) -> None:
    """A PNG of 40 by 30 pixels whose data would unpack to 200 megabytes takes its pixels' room."""
    data = png(40, 30, body=zlib.compress(bytes(200_000_000), 1))

    taken = take(lambda: READERS[reader](data))

    assert taken.is_ours, taken.told
    assert taken.grown_mb < MOST_PICTURE_MB
    assert taken.cpu_s < MOST_PICTURE_S


_SOUND_HEAD = b'{"form":"salvage bundle 1","known":{"D":1},"letter":"D","to_letter":""}'


def bundle(parts: dict[str, bytes], *, way: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A bundle that may hold anything."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", way, compresslevel=1) as zipped:
        for name, data in {"head.json": _SOUND_HEAD, **parts}.items():
            zipped.writestr(name, data)
    return out.getvalue()


def read_all(data: bytes) -> None:
    """Take everything out of a bundle, as a device does."""
    read = Bundle(data, name="tablet.zip")
    for each in (*read.lines(), *read.sealed()):
        del each
    for name in read.file_names():
        read.file(name)


def lying_size(data: bytes) -> bytes:
    """A zip whose list says that each part has no bytes."""
    at = data.index(b"PK\x01\x02") + 24
    return data[:at] + bytes(4) + data[at + 4 :]


def locked(data: bytes) -> bytes:
    """A zip that says it is locked with a password."""
    at = data.index(b"PK\x01\x02") + 8
    return data[:at] + b"\1\0" + data[at + 2 :]


_MEGABYTES = 150_000_000

BUNDLES: dict[str, tuple[Callable[[], bytes], str]] = {
    "a head of 150 megabytes": (lambda: bundle({"head.json": bytes(_MEGABYTES)}), "too long"),
    "events of 150 megabytes": (lambda: bundle({"events.jsonl": bytes(_MEGABYTES)}), "too long"),
    "sealed texts of 150 megabytes": (
        lambda: bundle({"events.jsonl": b"", "sealed.jsonl": bytes(_MEGABYTES)}),
        "too long",
    ),
    "a quarter of a million parts": (
        lambda: b"PK\x01\x02" * 250_000 + bundle({}),
        "more than 200000 parts",
    ),
    "packed in another way": (lambda: bundle({}, way=zipfile.ZIP_LZMA), "no device writes"),
    "a locked part": (lambda: locked(bundle({})), "missing or damaged"),
    "a size that lies": (lambda: lying_size(bundle({})), "missing or damaged"),
    "no zip": (lambda: b"PK\x05\x06" + bytes(17), "no zip file"),
    "a zip in a zip": (lambda: bundle({"events.jsonl": bundle({})}), "no JSON"),
}


@pytest.mark.parametrize("name", BUNDLES)
def test_a_hostile_bundle_is_refused(name: str) -> None:
    """What a stick brings is read a line at a time, and no more than it says."""
    make, words = BUNDLES[name]
    data = make()

    taken = take(lambda: read_all(data))

    assert taken.is_ours, taken.told
    assert words in taken.told
    assert taken.grown_mb < MOST_BUNDLE_MB
    assert taken.cpu_s < MOST_BUNDLE_S


@pytest.mark.parametrize(
    "name",
    [
        "files/../../evil",
        "files//etc/passwd",
        "files/con",
        f"files/{'0' * 63}",
        "files/a\\b",
        "files/",
    ],
)
def test_a_name_in_a_bundle_is_no_path(name: str) -> None:
    """A file of a bundle is called by its hash or not taken; nothing is unpacked by its name."""
    from salvage.store.files import FileStore

    read = Bundle(bundle({name: b"x"}), name="tablet.zip")
    store = FileStore(Path("nowhere"))

    taken = [take(lambda n=each: store.path(n)) for each in read.file_names()]  # type: ignore[misc]

    assert all(each.is_ours and each.told != "done" for each in taken)


JSON_BOMBS = {
    "deep lists": b"[" * 200_000,
    "deep objects": b'{"a":' * 200_000,
    "a number of a million digits": b'{"checkpoint":' + b"9" * 1_000_000 + b"}",
    "no number": b'{"checkpoint":{"signed":NaN,"signature":Infinity}}',
    "keys that stand twice": b'{"checkpoint":1,"checkpoint":{"signed":{},"signed":[]}}',
    "half a letter": b'{"checkpoint":{"signed":"\\ud800","signature":"\\udc00"}}',
    "no text": b"\xff\xfe\x00",
    "nothing": b"",
}


@pytest.mark.parametrize("name", JSON_BOMBS)
def test_a_json_bomb_is_refused(name: str) -> None:
    """Nested without end, numbers without end, or no JSON at all: one line for each."""
    data = JSON_BOMBS[name]
    events = bundle({"events.jsonl": data.replace(b"checkpoint", b"body") + b"\n"})
    doors = {
        "checkpoint": lambda: parse_checkpoint(data, name="june.json"),
        "head": lambda: Bundle(bundle({"head.json": data}), name="tablet.zip"),
        "events": lambda: list(Bundle(events, name="tablet.zip").lines()),
        "wording": lambda: parse_words("receipt", b"a = " + data),
    }

    taken = {door: take(call) for door, call in doors.items()}

    assert [each.told for each in taken.values() if not each.is_ours] == []
    assert all(
        each.told != "done" or (door, data) == ("events", b"") for door, each in taken.items()
    )
    assert max(each.grown_mb for each in taken.values()) < MOST_BUNDLE_MB
