"""One step of the job, told once for every face, and the files that it needs."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from salvage.ids import Code
from salvage.work.workshop import Workshop

TERN = Path(__file__).resolve().parents[2] / "demo_db" / "shapes" / "tern.svg"

TABLE = (
    b"received_on,donor,source_kind,contents,weight,data_parts\n"
    b"2026-04-20,Skerry Bay Community Radio,public body,transmitter cards,3.1kg,none found\n"
    b"2026-04-21,Skerry Bay Community Radio,public body,two more,900g,memory card\n"
)

CORNERS = ((20.0, 220.0), (300.0, 221.0), (299.0, 19.0), (21.0, 20.0))

Memory = dict[str, Code]


@dataclass(frozen=True)
class Step:
    """
    One step of the job.

    Args:
        operation: Name of the operation, as in the catalogue.
        python: Does it through the Python API; gives the code to remember, or an empty one.
        line: Does it through the command line; ``{name}`` stands for a code or file.
        made: Name under which the code is remembered; empty for none.
    """

    operation: str
    python: Callable[[Workshop, Memory], object]
    line: str
    made: str = ""


def photo_bytes() -> bytes:
    """A small photo with a slope of brightness, the same in every run."""
    from PIL import Image

    stream = io.BytesIO()
    Image.linear_gradient("L").resize((320, 240)).convert("RGB").save(stream, "PNG")
    return stream.getvalue()
