"""The live preview of a design: drawn again whenever somebody saves it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.cli.files import check_target, write_file
from salvage.cli.session import Session
from salvage.cli.show import note, say, show_json, warn
from salvage.errors import Refused, SalvageError

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.cards import CardLook
    from salvage.work.workshop import Workshop

_EVERY_S = 0.25
_DPI = 150.0


def watch_design(
    session: Session,
    shop: Workshop,
    pieces: Sequence[Code],
    look: CardLook,
    *,
    out: str,
    force: bool,
    rounds: int = 0,
) -> None:
    """
    Draw the card, and again after each change of the design's folder, until Ctrl-C.

    Args:
        session: The run.
        shop: The open workshop.
        pieces: What is shown.
        look: Design and paper.
        out: The picture or PDF; a picture named after the design if empty.
        force: Replace a file that is there at the start.
        rounds: Stop after so many looks; 0 for never.

    Raises:
        Refused: If the design is one of ours, which nobody changes, or the file is there.
        NotFound: If there is no such design.
    """
    from salvage.work.card_designs import designs_folder, find_design

    if not (designs_folder(shop) / f"{look.design}.typ").is_file():
        name = find_design(shop, look.design).name
        raise Refused(
            f"{name} is one of ours and never changes",
            hint=f"begin your own: salvage card copy {name} NAME",
        )
    target = out or f"{look.design}-preview.png"
    check_target(session, target, force=force)
    is_png = Path(target).suffix.lower() == ".png"
    look = replace(look, dpi=_DPI if is_png else 0)
    note(session, f"watching {designs_folder(shop)}; open {target} beside it; end with Ctrl-C")
    seen: dict[str, int] = {}
    looked = 0
    while not rounds or looked < rounds:
        now = _states(designs_folder(shop))
        if now != seen:
            changed = [name for name, state in now.items() if seen.get(name) != state]
            _draw(session, shop, pieces, look, target, changed if seen else ())
            seen = now
        looked += 1
        time.sleep(_EVERY_S)


def _states(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in folder.iterdir() if path.is_file()}


def _draw(
    session: Session,
    shop: Workshop,
    pieces: Sequence[Code],
    look: CardLook,
    target: str,
    changed: Sequence[str],
) -> None:
    """One drawing, told in a line; a mistake in the design is told and waited over."""
    from salvage.work.cards import preview_cards
    from salvage.work.clock import stopwatch

    start = stopwatch()
    why = f"{', '.join(changed)} changed: " if changed else ""
    try:
        made = preview_cards(shop, pieces=pieces, look=look)
    except SalvageError as error:
        if session.form == "json":
            show_json(session, {"file": "", "error": str(error)}, one_line=True)
        else:
            warn(session, error.message)
        return
    pages = made.printed.pages
    content = _beside_one_another(pages) if look.dpi else pages[0]
    path = write_file(session, target, lambda: content, force=True)
    if session.form == "json":
        show_json(session, {"file": str(path), "error": ""}, one_line=True)
    else:
        say(session, f"{why}{target} drawn in {stopwatch() - start:.1f} s")
    for one in made.printed.shortened:
        warn(session, f"{one.code}: {one.left_out} of {one.of} words of its story do not fit")
    session.world.stdout.flush()


def _beside_one_another(pages: Sequence[bytes]) -> bytes:
    from salvage.paper.side_by_side import place_side_by_side

    return place_side_by_side(pages)
