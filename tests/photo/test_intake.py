from __future__ import annotations

import resource
import struct
import subprocess
import sys
import time
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from salvage.errors import BadFile, MissingTool
from salvage.photo import decode
from salvage.photo.intake import PhotoFacts, inspect_photo

_PICTURES = Path(__file__).parent / "pictures"


def _picture(kind: str, *, size: tuple[int, int] = (40, 30), **options: object) -> bytes:
    out = BytesIO()
    image = Image.linear_gradient("L").resize(size).convert("RGB")
    image.save(out, kind, **options)
    return out.getvalue()


def _exif(*, orientation: int = 1, taken_at: str = "") -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    if taken_at:
        exif.get_ifd(0x8769)[0x9003] = taken_at
    return exif.tobytes()


def _png_header(width: int, height: int) -> bytes:
    """A PNG whose header promises *width* by *height* pixels (ISO/IEC 15948, 11.2.2 and 5.3)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        length, check = struct.pack(">I", len(body)), struct.pack(">I", zlib.crc32(kind + body))
        return length + kind + body + check

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(bytes(1_000_000), 9)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize(
    ("kind", "media_type"),
    [
        ("JPEG", "image/jpeg"),
        ("PNG", "image/png"),
        ("TIFF", "image/tiff"),
        ("WEBP", "image/webp"),
    ],
)
def test_the_usual_pictures_are_taken(kind: str, media_type: str) -> None:
    """A maker's photo is told by its bytes, whatever its name says."""
    data = _picture(kind)

    assert inspect_photo(data, name="front.xyz") == PhotoFacts(media_type, 40, 30, len(data), "")


def test_a_phones_heic_is_taken() -> None:
    """Many phones write HEIC, with the time in its EXIF."""
    data = (_PICTURES / "upright.heic").read_bytes()

    facts = inspect_photo(data, name="front.heic")

    assert facts == PhotoFacts("image/heic", 64, 48, len(data), "2026-05-04 09:41:07")


def test_a_turned_heic_is_measured_upright() -> None:
    """A phone held upright stores its picture lying down, with a note to turn it."""
    facts = inspect_photo((_PICTURES / "turned.heic").read_bytes(), name="front.heic")

    assert (facts.width_px, facts.height_px) == (64, 48)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", [1, 2, 3, 4, 5, 6, 7, 8])
def test_size_is_that_of_the_upright_picture(kind: str, orientation: int) -> None:
    """EXIF orientations 5 to 8 lay a picture on its side (EXIF 2.32, table 4, from memory)."""
    facts = inspect_photo(_picture(kind, exif=_exif(orientation=orientation)), name="front")

    lying = orientation >= 5
    assert (facts.width_px, facts.height_px) == ((30, 40) if lying else (40, 30))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_the_cameras_time_is_read(kind: str) -> None:
    """The photo's own time helps to order a pile of photos."""
    data = _picture(kind, exif=_exif(taken_at="2026:05:04 09:41:07"))

    assert inspect_photo(data, name="front").taken_at == "2026-05-04 09:41:07"


@pytest.mark.parametrize(
    "text",
    ["0000:00:00 00:00:00", "    :  :     :  :  ", "yesterday", "\x1b[31m2026", "2026:13:40"],
)
def test_a_cameras_nonsense_time_is_left_out(text: str) -> None:
    """A camera without a clock, or a forged file, must not put rubbish on a screen."""
    data = _picture("JPEG", exif=_exif(taken_at=text))

    assert inspect_photo(data, name="front.jpg").taken_at == ""


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("notes", [b"neither II nor MM", b"MM\0*\0\0\0\x08\0\2\1\x12\0\3", b"M"])
def test_a_photo_with_damaged_notes_is_still_a_photo(kind: str, notes: bytes) -> None:
    """Damaged EXIF does not make the picture useless."""
    data = _picture(kind, exif=b"Exif\0\0" + notes)

    facts = inspect_photo(data, name="front")

    assert (facts.width_px, facts.taken_at) == (40, "")


def test_a_phone_photo_with_a_preview_behind_it_is_taken() -> None:
    """Phones put a second picture into a JPEG (CIPA DC-007, from memory); the first counts."""
    out = BytesIO()
    main, preview = Image.new("RGB", (40, 30), "green"), Image.new("RGB", (8, 6), "red")
    main.save(out, "MPO", save_all=True, append_images=[preview])

    facts = inspect_photo(out.getvalue(), name="front.jpg")

    assert (facts.media_type, facts.width_px) == ("image/jpeg", 40)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"a letter to the donor", "not a picture"),
        (b"%PDF-1.7 ...", "a PDF"),
        (b"GIF89a" + bytes(40), "a GIF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "an SVG"),
        (b"\0\0\0\x1cftypavif" + bytes(40), "AVIF"),
        (b"\0\0\0\x1cftypisom" + bytes(40), "a film"),
        (b"\xff\xd8\xff\xe0 and then nothing", "cut short or damaged"),
        (b"\x89PNG\r\n\x1a\n", "cut short or damaged"),
        (b"RIFF\x10\0\0\0WEBPVP8 ", "cut short or damaged"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "cut short or damaged"),
        (b"II*\0\x08\0\0\0\xff\xff", "cut short or damaged"),
    ],
)
def test_what_is_no_photo_is_refused_in_one_line(data: bytes, words: str) -> None:
    """A wrong file picked from a phone is named and refused, with what to do."""
    with pytest.raises(BadFile, match=words) as refusal:
        inspect_photo(data, name="front.jpg")

    assert str(refusal.value).startswith("front.jpg ")
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("kind", ["GIF", "PNG", "WEBP", "TIFF"])
def test_moving_pictures_are_refused(kind: str) -> None:
    """A record needs one still picture."""
    out = BytesIO()
    frames = [Image.new("RGB", (20, 20), colour) for colour in ("red", "green")]
    frames[0].save(out, kind, save_all=True, append_images=frames[1:])

    with pytest.raises(BadFile, match=r"still picture|not a photo"):
        inspect_photo(out.getvalue(), name="board")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("kept", [0.3, 0.6, 0.95])
def test_a_photo_cut_short_is_refused(kind: str, kept: float) -> None:
    """A copy that broke off half way must not become the record of a board."""
    data = _picture(kind, size=(300, 200))

    with pytest.raises(BadFile, match="cut short or damaged"):
        inspect_photo(data[: int(len(data) * kept)], name="board")


def test_a_heic_cut_short_is_refused() -> None:
    """The pictures of a phone break off like any others."""
    data = (_PICTURES / "upright.heic").read_bytes()

    with pytest.raises(BadFile, match="cut short or damaged"):
        inspect_photo(data[:-40], name="board.heic")


def test_a_huge_square_is_refused_fast_and_in_little_memory() -> None:
    """A few kilobytes that promise 50 000 by 50 000 pixels would fill any memory if unpacked."""
    code = (
        "import sys; from salvage.photo.intake import inspect_photo\n"
        "from salvage.errors import BadFile\n"
        "import re, pathlib, time\n"
        "data = sys.stdin.buffer.read(); import PIL.Image; start = time.perf_counter()\n"
        "try: inspect_photo(data, name='bomb.png')\n"
        "except BadFile as refusal: print(refusal)\n"
        "print(time.perf_counter() - start)\n"
        # The peak of this program alone; the usual call would count its parent's memory as well.
        "status = pathlib.Path('/proc/self/status').read_text()\n"
        "print(re.search('VmHWM:[^0-9]*([0-9]+)', status)[1])\n"
    )
    bomb = _png_header(50_000, 50_000)

    done = subprocess.run([sys.executable, "-c", code], input=bomb, capture_output=True, check=True)

    refusal, seconds, kilobytes = done.stdout.decode().splitlines()
    assert refusal.startswith("bomb.png has more than 100 million pixels")
    assert float(seconds) < 2.0
    assert int(kilobytes) < 120_000


@pytest.mark.parametrize("size", [(10_001, 10_000), (14_000, 12_000), (50_000, 50_000)])
def test_above_the_limit_is_refused_from_the_header(size: tuple[int, int]) -> None:
    """Where the decoder would say nothing, or only warn, the header decides as well."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()

    with pytest.raises(BadFile, match="100 million pixels"):
        inspect_photo(_png_header(*size), name="large.png")

    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert time.perf_counter() - start < 2.0
    assert after - before < 100_000 * (1024 if sys.platform == "darwin" else 1)


def test_a_huge_heic_is_refused_from_the_header() -> None:
    """The HEIC header's size box (ISO/IEC 23008-12, 6.5.3) is looked at before decoding."""
    data = (_PICTURES / "upright.heic").read_bytes()
    box = b"ispe" + bytes(4)
    huge = data.replace(
        box + struct.pack(">II", 64, 64), box + struct.pack(">II", 30_000, 30_000)
    ).replace(box + struct.pack(">II", 64, 48), box + struct.pack(">II", 30_000, 30_000))

    with pytest.raises(BadFile):
        inspect_photo(huge, name="huge.heic")


def test_more_than_sixty_megabytes_are_refused() -> None:
    """A folder of such files would fill the workshop's laptop."""
    with pytest.raises(BadFile, match="61 MB"):
        inspect_photo(b"\xff\xd8\xff" + bytes(61_000_000), name="film.jpg")


def test_a_cameras_raw_file_is_refused() -> None:
    """A raw file opens like a TIFF but shows only a thumbnail of the photo."""
    out = BytesIO()
    Image.new("RGB", (20, 20)).save(out, "TIFF", tiffinfo={50706: b"\1\4\0\0"})

    with pytest.raises(BadFile, match="raw file"):
        inspect_photo(out.getvalue(), name="front.dng")


def test_without_the_heic_decoder_the_package_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a machine without pi-heif everything else goes on working."""
    monkeypatch.setitem(sys.modules, "pi_heif", None)

    with pytest.raises(MissingTool, match="pi-heif"):
        inspect_photo((_PICTURES / "upright.heic").read_bytes(), name="front.heic")


_SOUND = {
    kind: _picture(kind, size=(24, 18), exif=_exif(orientation=6, taken_at="2026:05:04 09:41:07"))
    for kind in ("JPEG", "PNG", "TIFF", "WEBP")
} | {"HEIC": (_PICTURES / "turned.heic").read_bytes()}


@settings(deadline=None)
@given(
    kind=st.sampled_from(sorted(_SOUND)),
    changes=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=6
    ),
    kept=st.floats(0.05, 1),
)
def test_damage_never_ends_in_a_crash(
    kind: str, changes: list[tuple[float, int]], kept: float
) -> None:
    """Whatever a bad cable or a bad person does to a file, it is taken or refused in one line."""
    damaged = bytearray(_SOUND[kind])
    for place, value in changes:
        damaged[int(place * len(damaged))] = value

    refused = ""
    try:
        facts = inspect_photo(bytes(damaged[: int(len(damaged) * kept)]), name="damaged")
    except BadFile as refusal:
        refused = str(refusal)
        facts = None

    assert "\n" not in refused
    assert (facts is None) == bool(refused)
    assert facts is None or 0 < facts.width_px * facts.height_px <= decode.MOST_PIXELS
