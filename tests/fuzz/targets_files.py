"""Doors for drawings, pictures and tables."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from random import Random

from salvage.codes.read import read_picture as read_code_picture
from salvage.geometry.dxf import read_dxf
from salvage.geometry.svg import read_svg
from salvage.paper.picture import plain_jpeg_size, print_picture
from salvage.photo.intake import inspect_photo
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.upright import upright_image
from salvage.work.import_drop_offs import COLUMNS, import_drop_offs
from tests.bench import add_drop_off, make_shop
from tests.fuzz.mutate import NUMBERS, TEXTS, change_bytes, change_png, change_tokens, text_mutator
from tests.fuzz.target import Importer, Target

_PICTURES = Path(__file__).parents[1] / "photo" / "pictures"


def open_svg(folder: Path) -> Importer:
    """Drawings as SVG."""
    del folder
    return lambda data: void(read_svg(data, name="fern.svg"))


def void(value: object) -> None:
    """Look at a value no further."""
    del value


def open_dxf(folder: Path) -> Importer:
    """Drawings as DXF."""
    del folder
    return lambda data: void(read_dxf(data, name="fern.dxf"))


def open_photo(folder: Path) -> Importer:
    """Photos at the door, where they are shown, and where a board is measured."""
    del folder

    def importer(data: bytes) -> None:
        inspect_photo(data, name="front.jpg")
        upright_image(data, longest_px=16)
        print_picture(data, longest_mm=2)
        plain_jpeg_size(data)
        read_pixels(data, name="front.jpg")

    return importer


def open_labels(folder: Path) -> Importer:
    """Pictures in which codes are looked for."""
    del folder
    return lambda data: void(read_code_picture(data))


def open_drop_offs(folder: Path) -> Importer:
    """Tables of drop-offs."""
    shop = make_shop(folder / "shop")
    add_drop_off(shop)

    def importer(data: bytes) -> None:
        import_drop_offs(shop, data=data, name="may.csv", keep_good=True, dry_run=True)

    return importer


def grow_pictures(folder: Path) -> list[bytes]:
    """A small picture of each kind, with and without metadata."""
    del folder
    from PIL import Image

    made = [path.read_bytes() for path in sorted(_PICTURES.glob("*.heic"))]
    picture = Image.linear_gradient("L").resize((24, 18)).convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0x9003] = "2026:05:04 09:41:07"
    for kind, more in (
        ("JPEG", {"exif": exif.tobytes()}),
        ("JPEG", {"progressive": True}),
        ("MPO", {"save_all": True, "append_images": [picture]}),
        ("PNG", {"exif": exif.tobytes()}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("TIFF", {}),
        ("WEBP", {"lossless": True}),
    ):
        out = BytesIO()
        picture.save(out, kind, **more)
        made.append(out.getvalue())
    for mode in ("P", "LA", "I;16", "1"):
        out = BytesIO()
        Image.new(mode, (9, 7)).save(out, "PNG")
        made.append(out.getvalue())
    return made


def grow_labels(folder: Path) -> list[bytes]:
    """A drawn code, plain and as JPEG."""
    del folder
    from PIL import Image

    from salvage.codes.draw import draw_qr

    symbol = draw_qr("BC0002J")
    side = len(symbol.rows) + 8
    picture = Image.new("L", (side, side), 255)
    for y, row in enumerate(symbol.rows):
        for x, dark in enumerate(row):
            if dark:
                picture.putpixel((x + 4, y + 4), 0)
    out = []
    for kind in ("PNG", "JPEG"):
        stream = BytesIO()
        picture.resize((side * 3, side * 3), 0).save(stream, kind)
        out.append(stream.getvalue())
    return out


def change_dxf(rng: Random, data: bytes) -> bytes:
    """A DXF with group codes or values changed, pair by pair."""
    if data.startswith(b"AutoCAD Binary") or rng.random() < 0.2:
        return change_bytes(rng, data)
    lines = data.split(b"\n")
    for _ in range(rng.choice((1, 1, 2, 4))):
        pair = 2 * rng.randrange(max(1, len(lines) // 2))
        deed = rng.randrange(6)
        if deed <= 2 and pair + 1 < len(lines):
            words = (*NUMBERS, *TEXTS[:20], *_DXF_WORDS)
            lines[pair + 1] = rng.choice(words).encode()
        elif deed == 3:
            lines[pair : pair + 1] = [str(rng.choice(_DXF_GROUPS)).encode()]
        elif deed == 4:
            del lines[pair : pair + 2 * rng.choice((1, 1, 8))]
        else:
            lines[pair:pair] = lines[pair : pair + 2 * rng.randrange(1, 12)]
    return b"\n".join(lines)


_DXF_GROUPS = (
    -1,
    0,
    1,
    2,
    5,
    6,
    8,
    9,
    10,
    11,
    20,
    21,
    30,
    39,
    40,
    41,
    42,
    50,
    51,
    60,
    62,
    66,
    67,
    70,
    71,
    72,
    73,
    74,
    90,
    100,
    102,
    210,
    220,
    230,
    310,
    330,
    999,
    1000,
    1071,
)
_DXF_WORDS = (
    "LINE",
    "ARC",
    "CIRCLE",
    "ELLIPSE",
    "SPLINE",
    "LWPOLYLINE",
    "POLYLINE",
    "VERTEX",
    "SEQEND",
    "INSERT",
    "A",
    "BLOCK",
    "ENDBLK",
    "SECTION",
    "ENDSEC",
    "EOF",
    "HATCH",
    "TERN",
    "AcDbSpline",
)


_SVG = (
    *(
        "<g>",
        "</g>",
        "<path d='M0 0H9V9Z'/>",
        "<circle cx='9' cy='9' r='4'/>",
        "transform=",
        "url(#a)",
    ),
    *(
        "rotate(",
        "matrix(1e9,0,0,1e9,0,0)",
        "scale(0)",
        "skewX(90)",
        "style=",
        "fill:none",
        "viewBox=",
    ),
    *(
        "<use href='#a'/>",
        "<defs>",
        "</defs>",
        "<style>*{fill:none}</style>",
        "id='a'",
        "<svg>",
        "A",
    ),
    *(
        "preserveAspectRatio=",
        "width=",
        "height=",
        "mm",
        "px",
        "%",
        "<polygon points='0,0 9,0 9,9'/>",
    ),
    *("C", "S", "Q", "T", "a5 5 0 0 1 9 9", "z", "M", "m", "<line x1='0'/>", "fill-rule='evenodd'"),
)


def change_svg(rng: Random, data: bytes) -> bytes:
    """An SVG with its elements, attributes or numbers changed."""
    if rng.random() < 0.1:
        return change_bytes(rng, data)
    return change_tokens(rng, data, _SVG)


_CSV = (",", "\n", '"', "\r\n", *COLUMNS, "named", "described", "kg", "hard disk:2", "2026-05-02")

FILE_TARGETS = (
    Target("svg", open_svg, change_svg, 700, 4000),
    Target("dxf", open_dxf, change_dxf, 200, 40_000),
    Target("photo", open_photo, change_png, 700, 4000, grow_pictures),
    Target("labels", open_labels, change_png, 12, 4000, grow_labels),
    Target("drop-offs", open_drop_offs, text_mutator(*_CSV), 350, 3000),
)
"""Doors for drawings, pictures and tables."""
