"""Events of other devices: each is looked at from every side before it is taken in."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import pytest

from salvage.canonical import canonical_bytes
from salvage.errors import BadFile, Refused
from salvage.store.change import seal_of
from salvage.store.exchange import Line, Sealed, known_counts, read_lines
from salvage.store.journal import FIRST_PREV, count_events, link, read_head, verify_chain
from salvage.store.take_in import take_lines, take_sealed
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, dump

ENVELOPE: Mapping[str, Any] = {
    "about": [],
    "act": "set",
    "at": "2026-05-04T09:00:00.000Z",
    "by": "Ilva",
    "clock": 9,
    "data": {"settings": {"name": "Tidewrack"}},
    "device": "V",
    "id": "017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
    "kind": "workshop.set",
    "made": [],
    "n": 1,
    "operation": "017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
    "version": 1,
}


def line_of(prev: str = FIRST_PREV, **other: Any) -> Line:
    """A line as another device would write it, with other values in some fields."""
    body = canonical_bytes({**ENVELOPE, **other})
    return Line(body.decode(), link(prev, body))


def text_line(body: str) -> Line:
    """A line with any text, its hash right."""
    return Line(body, link(FIRST_PREV, body.encode("utf-8", "surrogatepass")))


def take(shop: Workshop, *lines: Line) -> int:
    """Take lines in, in a transaction of their own."""
    shop.conn.execute("BEGIN IMMEDIATE")
    try:
        return take_lines(shop.conn, lines)
    finally:
        shop.conn.execute("COMMIT")


def test_a_chain_is_taken_in_and_goes_on(empty_shop: Workshop) -> None:
    """What the tablet wrote stands behind what was here, and its later events join on."""
    add_drop_off(empty_shop)
    first = line_of()
    second = line_of(first.hash, n=2, clock=12, id="b", operation="b")
    third = line_of(second.hash, n=3, clock=13, id="c", operation="c")
    before = count_events(empty_shop.conn)

    assert take(empty_shop, first, second) == 2
    assert take(empty_shop, first, second, third) == 1
    assert take(empty_shop, third, first) == 0
    assert count_events(empty_shop.conn) == before + 3
    assert read_head(empty_shop.conn, "V").hash == third.hash
    assert [head.device for head in verify_chain(empty_shop.conn)] == sorted(
        ["V", empty_shop.settings.device]
    )
    assert known_counts(empty_shop.conn)["V"] == 3


def test_a_reader_is_handed_what_it_lacks(empty_shop: Workshop) -> None:
    """Of each chain all after what it knows; all of a chain that it has never heard of."""
    first = line_of()
    second = line_of(first.hash, n=2, clock=12, id="b", operation="b")
    take(empty_shop, first, second)
    everything = list(read_lines(empty_shop.conn, {}))
    own = empty_shop.settings.device

    assert list(read_lines(empty_shop.conn, {own: 1})) == [first, second]
    assert list(read_lines(empty_shop.conn, {own: 1, "V": 1})) == [second]
    assert list(read_lines(empty_shop.conn, {own: 1, "V": 2})) == []
    assert len(everything) == 3


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("no JSON", "event 1 of the bundle cannot be taken in: it is no JSON.*anew over there"),
        ("[" * 100_000, "it is no JSON"),
        ('{"a":1.5}', "it is no JSON"),
        ('{"a":9007199254740993}', "it is no JSON"),
        ('{"a":"\\ud800"}', "it is no JSON"),
        ("[]", "its text is not canonical"),
        ('{"a": 1}', "its text is not canonical"),
        ("\ud800", "it is no JSON"),
    ],
)
def test_a_text_that_is_not_canonical_json_is_refused(
    empty_shop: Workshop, body: str, says: str
) -> None:
    """One value has one text; any other is no event of ours."""
    with pytest.raises(BadFile, match=says):
        take(empty_shop, text_line(body))


@pytest.mark.parametrize(
    ("other", "says"),
    [
        ({"n": "1"}, r"not an event's \(n\)"),
        ({"n": True}, r"not an event's \(n\)"),
        ({"about": {}, "by": None}, r"not an event's \(about, by\)"),
        ({"more": 1}, r"not an event's \(too many\)"),
        ({"device": "A"}, "names no device"),
        ({"device": ""}, "names no device"),
        ({"device": "VX"}, "names no device"),
        ({"version": 2}, "a newer version wrote it"),
        ({"kind": "board.sung"}, "'board.sung' is no kind of event"),
        ({"data": {"settings": 1}}, "must be map"),
        ({"data": {}}, "lacks or has too much of: settings"),
        ({"about": ["BC0002K"]}, "BC0002K"),
        ({"made": ["../.."]}, "not one of our codes"),
        ({"about": [7]}, "not one of our codes"),
        ({"n": 2}, "begins at event 2 of device V, but only 0 are known.*--all"),
        ({"n": 0}, "its number is none that a device gives"),
        ({"n": -1}, "its number is none that a device gives"),
        ({"clock": 0}, "its clock does not go on"),
    ],
)
def test_an_event_that_no_device_writes_is_refused(
    empty_shop: Workshop, other: dict[str, Any], says: str
) -> None:
    """Whatever is odd about it is told, and nothing is taken."""
    before = dump(empty_shop)
    with pytest.raises(BadFile, match=says):
        take(empty_shop, line_of(**other))

    assert dump(empty_shop) == before


def test_each_field_must_be_there(empty_shop: Workshop) -> None:
    """Leave any of them out, and the event is refused by that name."""
    for name in ENVELOPE:
        fields = {key: value for key, value in ENVELOPE.items() if key != name}
        line = text_line(canonical_bytes(fields).decode())
        with pytest.raises(BadFile, match=rf"not an event's \({name}\)"):
            take(empty_shop, line)


def test_a_hash_that_does_not_fit_is_refused(empty_shop: Workshop) -> None:
    """Neither another text under a right hash nor a chain that was cut and joined gets in."""
    first = line_of()
    wrong_text = Line(first.body.replace("Ilva", "Arne"), first.hash)
    unjoined = line_of(n=2, clock=12, id="b", operation="b")

    with pytest.raises(BadFile, match=r"event 1 .*its hash does not fit"):
        take(empty_shop, wrong_text)
    with pytest.raises(BadFile, match=r"event 2 .*its hash does not fit"):
        take(empty_shop, first, unjoined)


def test_a_clock_that_stands_still_is_refused(empty_shop: Workshop) -> None:
    """The clocks of one device only ever go on; they order the events of all."""
    first = line_of()

    with pytest.raises(BadFile, match=r"event 2 .*clock does not go on"):
        take(empty_shop, first, line_of(first.hash, n=2, id="b", operation="b"))


def test_an_id_of_another_event_is_refused(empty_shop: Workshop) -> None:
    """Two devices cannot have minted one id; somebody copied it."""
    ((taken,),) = empty_shop.conn.execute("SELECT id FROM event WHERE seq = 1").fetchall()

    with pytest.raises(BadFile, match="on record as another device's"):
        take(empty_shop, line_of(id=taken))


def test_a_second_history_is_refused(empty_shop: Workshop) -> None:
    """An event with a number that is taken must be the event that is on record."""
    take(empty_shop, line_of())

    with pytest.raises(Refused, match=r"device V wrote two histories: its event 1.*device add"):
        take(empty_shop, line_of(by="Arne"))


SALT = "0b" * 32
SEALED = Sealed(seal_of(bytes.fromhex(SALT), "Kelpie Point"), SALT, "Kelpie Point")


def test_sealed_words_are_kept_once(empty_shop: Workshop) -> None:
    """Brought twice, and once with its salt in capitals, they stand there once."""
    loud = Sealed(SEALED.seal, SALT.upper(), SEALED.value)
    take_sealed(empty_shop.conn, [loud, SEALED])
    take_sealed(empty_shop.conn, [SEALED])
    rows = empty_shop.conn.execute("SELECT seal, salt, value FROM private_field").fetchall()

    assert rows == [(SEALED.seal, SEALED.salt, SEALED.value)]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (Sealed(SEALED.seal, SALT, "Kelpie Pond"), "not what its seal says.*nothing of it"),
        (Sealed(SEALED.seal, "0c" * 32, SEALED.value), "not what its seal says"),
        (Sealed(SEALED.seal, "no hex", SEALED.value), "malformed"),
        (Sealed(seal_of(b"short", "x"), b"short".hex(), "x"), "not what its seal says"),
        (Sealed(SEALED.seal, SALT, "\ud800"), "malformed"),
        (Sealed(SEALED.seal, f"{SALT[:32]} {SALT[32:]}", SEALED.value), "not what its seal says"),
    ],
)
def test_words_that_their_seal_does_not_fit_are_refused(
    empty_shop: Workshop, text: Sealed, says: str
) -> None:
    """Nobody can put other words in a donor's mouth on the way."""
    with pytest.raises(BadFile, match=says):
        take_sealed(empty_shop.conn, [text])


def test_the_envelope_is_the_one_that_we_write(empty_shop: Workshop) -> None:
    """The fields that are asked for here are those of every event of our own."""
    bodies = [json.loads(body) for (body,) in empty_shop.conn.execute("SELECT body FROM event")]

    assert bodies
    assert all(body.keys() == ENVELOPE.keys() for body in bodies)
