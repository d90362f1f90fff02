"""Bundles from anywhere: what is not wholly right is refused before anything of it is used."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from salvage.errors import BadFile
from salvage.store import exchange
from salvage.store.exchange import FORM, Bundle, BundleHead, Line, Sealed, write_bundle

HEAD = {"form": FORM, "letter": "C", "to_letter": "", "known": {"C": 2}}
LINE = {"body": '{"a":1}', "hash": "00"}
TEXT = {"salt": "ab", "seal": "cd", "value": "Kelpie"}


def packed(
    *, head: object = HEAD, events: object = (), sealed: object = (), **files: bytes
) -> bytes:
    """A zip file as another program might write it; a part that is None is not there."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as bundle:
        for name, part in (("head.json", head), ("events.jsonl", events), ("sealed.jsonl", sealed)):
            if isinstance(part, bytes):
                bundle.writestr(name, part)
            elif isinstance(part, tuple):
                bundle.writestr(name, "".join(json.dumps(row) + "\n" for row in part))
            elif part is not None:
                bundle.writestr(name, json.dumps(part))
        for name, data in files.items():
            bundle.writestr(name.replace("_", "/"), data)
    return stream.getvalue()


def test_what_is_packed_is_unpacked() -> None:
    """Head, events, sealed words and files come out as they went in, the same bytes each time."""
    head = BundleHead("C", "D", {"C": 2, "D": 0})
    line, text = Line(**LINE), Sealed("cd", "ab", "Kelpie")
    data = write_bundle(head, [line], [text], [("ab" * 32, b"photo"), ("cd" * 32, b"")])
    bundle = Bundle(data, name="b.zip")

    assert data == write_bundle(head, [line], [text], [("ab" * 32, b"photo"), ("cd" * 32, b"")])
    assert bundle.head == head
    assert list(bundle.lines()) == [line]
    assert list(bundle.sealed()) == [text]
    assert bundle.file_names() == ("ab" * 32, "cd" * 32)
    assert [bundle.file(name) for name in bundle.file_names()] == [b"photo", b""]


def test_a_bundle_is_a_plain_packed_zip_file() -> None:
    """Any zip program opens it; no hour of the writing computer stands in it."""
    data = write_bundle(BundleHead("C", "", {}), [Line("x" * 5000, "00")], [], [("ab", b"y" * 900)])
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        infos = opened.infolist()

    names = ["head.json", "events.jsonl", "sealed.jsonl", "files/ab"]
    assert [info.filename for info in infos] == names
    assert {info.date_time for info in infos} == {(1980, 1, 1, 0, 0, 0)}
    assert {info.compress_type for info in infos} == {zipfile.ZIP_DEFLATED}
    assert len(data) < 1500


@pytest.mark.parametrize(
    ("head", "says"),
    [
        (None, r"b\.zip is no bundle of a device: its head\.json is missing or damaged.*anew"),
        (b"{", r"head\.json is no JSON"),
        (b"[" * 100_000, r"head\.json is no JSON"),
        (b"\xff", r"head\.json is no JSON"),
        ([HEAD], r"head\.json is no JSON object"),
        ({**HEAD, "form": "salvage bundle 2"}, "another form"),
        ({**HEAD, "known": [2]}, "another form"),
        ({"form": FORM, "letter": "C", "to_letter": ""}, "another form"),
        ({**HEAD, "letter": "A"}, "which device wrote it"),
        ({**HEAD, "letter": ""}, "which device wrote it"),
        ({**HEAD, "letter": "CD"}, "which device wrote it"),
        ({**HEAD, "to_letter": "A"}, "which device wrote it"),
        ({**HEAD, "known": {"C": -1}}, "what its device knew"),
        ({**HEAD, "known": {"C": True}}, "what its device knew"),
        ({**HEAD, "known": {"C": "2"}}, "what its device knew"),
        ({**HEAD, "known": {"A": 2}}, "what its device knew"),
    ],
)
def test_a_head_that_is_not_a_bundles_is_refused(head: object, says: str) -> None:
    """A file of another program, or of a newer version, is told apart at once."""
    with pytest.raises(BadFile, match=says):
        Bundle(packed(head=head), name="b.zip")


def test_a_device_that_knows_nothing_yet_may_write() -> None:
    """A count of nought is a count."""
    bundle = Bundle(packed(head={**HEAD, "to_letter": "X", "known": {"C": 0}}), name="b.zip")

    assert bundle.head == BundleHead("C", "X", {"C": 0})


@pytest.mark.parametrize(
    ("events", "says"),
    [
        (None, r"its events\.jsonl is missing or damaged"),
        (b"{}\nnot JSON\n", r"events\.jsonl, line 1 has other fields than body, hash"),
        (b'{"body":"","hash":""}\nnot JSON\n', r"events\.jsonl, line 2 is no JSON"),
        (({"body": "", "hash": "", "more": ""},), r"line 1 has other fields"),
        (({"body": "", "hash": 7},), r"line 1 has other fields"),
    ],
)
def test_a_line_that_is_no_event_is_refused(events: object, says: str) -> None:
    """The line's number is told, so that it can be looked at."""
    bundle = Bundle(packed(events=events), name="b.zip")

    with pytest.raises(BadFile, match=says):
        list(bundle.lines())


def test_a_line_longer_than_any_event_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of a thousand million letters is not read as JSON."""
    monkeypatch.setattr(exchange, "_MOST_LINE", 40)
    bundle = Bundle(packed(events=(LINE, {**LINE, "hash": "0" * 40})), name="b.zip")

    with pytest.raises(BadFile, match=r"events\.jsonl, line 2 is too long"):
        list(bundle.lines())


def test_a_line_of_the_greatest_length_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit itself is allowed, the line's end included."""
    monkeypatch.setattr(exchange, "_MOST_LINE", len(json.dumps(LINE)) + 1)

    assert list(Bundle(packed(events=(LINE,)), name="b.zip").lines()) == [Line(**LINE)]


def test_a_bundle_that_would_fill_the_memory_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the zip file itself says of its size is enough to refuse it; the limit is allowed."""
    data = packed(events=(LINE,))
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        size = sum(info.file_size for info in opened.infolist())
    monkeypatch.setattr(exchange, "MOST_BYTES", size)
    allowed = Bundle(data, name="b.zip").head
    monkeypatch.setattr(exchange, "MOST_BYTES", size - 1)

    assert allowed.letter == "C"
    with pytest.raises(BadFile, match="more than 2 GB"):
        Bundle(data, name="b.zip")


def test_a_file_longer_than_any_photo_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only so much of it is read; the limit itself is allowed."""
    bundle = Bundle(packed(files_ab=b"x" * 500), name="b.zip")
    monkeypatch.setattr(exchange, "MOST_FILE", 500)
    allowed = bundle.file("ab")
    monkeypatch.setattr(exchange, "MOST_FILE", 499)

    assert allowed == b"x" * 500
    with pytest.raises(BadFile, match="files/ab is too long"):
        bundle.file("ab")


def test_a_head_longer_than_any_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is read whole, so it must be short."""
    data = packed()
    monkeypatch.setattr(exchange, "_MOST_HEAD", len(json.dumps(HEAD)))
    allowed = Bundle(data, name="b.zip").head
    monkeypatch.setattr(exchange, "_MOST_HEAD", len(json.dumps(HEAD)) - 1)

    assert allowed.letter == "C"
    with pytest.raises(BadFile, match=r"its head\.json is too long"):
        Bundle(data, name="b.zip")


def test_more_parts_than_any_workshop_has_files_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The list of a million empty parts alone would fill the memory."""
    data = packed(files_ab=b"x")
    monkeypatch.setattr(exchange, "MOST_PARTS", 4)
    allowed = Bundle(data, name="b.zip").file_names()
    monkeypatch.setattr(exchange, "MOST_PARTS", 3)

    assert allowed == ("ab",)
    with pytest.raises(BadFile, match="it has more than 3 parts"):
        Bundle(data, name="b.zip")


@pytest.mark.parametrize("way", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_bundle_packed_in_another_way_is_refused(way: int) -> None:
    """Devices write one way of packing; others grow out of all bounds when they are unpacked."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", way) as bundle:
        bundle.writestr("head.json", json.dumps(HEAD))

    with pytest.raises(BadFile, match="packed in a way that no device writes"):
        Bundle(stream.getvalue(), name="b.zip")


def test_a_damaged_part_is_refused_by_its_checksum() -> None:
    """A byte that changed on the stick is found before anything is done with it."""
    data = packed(sealed=(TEXT,))
    wrong = data.replace(b"Kelpie", b"Kelpic", 1)

    with pytest.raises(BadFile, match=r"sealed\.jsonl is missing or damaged"):
        list(Bundle(wrong, name="b.zip").sealed())


def test_only_what_lies_in_the_folder_of_files_is_a_file() -> None:
    """Other things in the zip file are passed over."""
    data = packed(files_ab=b"photo", notes_cd=b"a letter", readme=b"hello")

    assert Bundle(data, name="b.zip").file_names() == ("ab",)


def test_no_zip_file_is_no_bundle() -> None:
    """A photo taken for a bundle is refused in one line."""
    with pytest.raises(BadFile, match="it is no zip file"):
        Bundle(b"\x89PNG\r\n", name="photo.png")
