"""What several readers say is brought together, and no difference is settled silently."""

from __future__ import annotations

from salvage.codes.agree import bring_together
from salvage.codes.reading import Corners, PictureCodes, Reading

HERE: Corners = ((10, 10), (60, 10), (60, 60), (10, 60))
NEAR: Corners = ((14, 12), (63, 12), (63, 61), (14, 61))
THERE: Corners = ((200, 10), (250, 10), (250, 60), (200, 60))


def seen(*readings: Reading, unread: tuple[Corners, ...] = ()) -> PictureCodes:
    """A small picture with readings."""
    return bring_together(readings, unread, width_px=300, height_px=100)


def test_two_readers_that_agree_give_one_code() -> None:
    """The same text at the same place is one reading, and names both readers."""
    (one,) = seen(
        Reading("BC0002J", "QR", HERE, "zxing-cpp"), Reading("BC0002J", "QR", NEAR, "pyzbar")
    ).codes

    assert (one.reader, one.agreeing) == ("zxing-cpp + pyzbar", 2)


def test_readers_that_differ_at_a_place_are_both_doubtful() -> None:
    """Two right codes for one label: neither may be acted on."""
    told = seen(
        Reading("BC0002J", "QR", HERE, "zxing-cpp"), Reading("BC0003H", "QR", NEAR, "pyzbar")
    )

    assert told.codes == ()
    assert {one.text for one in told.doubtful} == {"BC0002J", "BC0003H"}
    assert not told.is_complete


def test_a_disputed_code_is_not_accepted_from_another_place() -> None:
    """The same code read again elsewhere does not settle the dispute by itself."""
    told = seen(
        Reading("BC0002J", "QR", HERE, "zxing-cpp"),
        Reading("BC0003H", "QR", NEAR, "pyzbar"),
        Reading("BC0002J", "QR", THERE, "zxing-cpp"),
    )

    assert told.codes == ()


def test_two_labels_side_by_side_are_two_codes() -> None:
    """Different texts at different places do not speak against one another."""
    told = seen(
        Reading("BC0003H", "QR", THERE, "zxing-cpp"), Reading("BC0002J", "QR", HERE, "zxing-cpp")
    )

    assert [one.code for one in told.codes] == ["BC0002J", "BC0003H"]
    assert told.doubtful == ()


def test_a_wrong_check_character_makes_a_stranger() -> None:
    """The check character is the last gate; lower case is no spelling that we print."""
    told = seen(
        Reading("BC0002K", "QR", HERE, "zxing-cpp"), Reading("bc0002j", "QR", THERE, "zxing-cpp")
    )

    assert told.codes == ()
    assert [one.text for one in told.strangers] == ["BC0002K", "bc0002j"]


def test_an_unread_place_is_told_once_and_not_where_something_was_read() -> None:
    """Labels that nobody read are told with their place; read ones are not."""
    told = seen(Reading("BC0002J", "QR", HERE, "zxing-cpp"), unread=(NEAR, THERE, THERE))

    assert told.unread == (THERE,)
