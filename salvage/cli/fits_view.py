"""The answers of ``salvage fits`` as people read them: each place as the line that cuts it."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from salvage.cli.records import board_record
from salvage.cli.session import Session
from salvage.cli.show import Column, command_line, note, say, show_json, show_list, show_plain

if TYPE_CHECKING:
    from salvage.geometry.spot import Spot
    from salvage.ids import Code
    from salvage.work.fitting import BoardFit
    from salvage.work.wishes import TypedWish

_VERDICTS = {
    "fit": "fits",
    "tight": "tight: within about half a millimetre",
    "no": "does not fit at any place or angle",
}
_NOWHERE = {"x_mm": "", "y_mm": "", "angle_deg": "", "side": ""}


def fit_record(fit: BoardFit) -> dict[str, Any]:
    """One board's answer as JSON; ``spots`` are a choice, ``together`` go beside one another."""
    board = fit.board
    spots = [_spot_record(spot) for spot in fit.spots]
    first = spots[0] if spots else None
    return {
        "board": board.code,
        "title": board.title,
        "state": board.clearance + (", remnant" if board.cut_count else ""),
        "verdict": fit.verdict,
        "reason": fit.reason,
        "at": _at(fit.spots[0]) if fit.spots else "",
        "angle_deg": first["angle_deg"] if first else None,
        "usable_mm2": board.usable_um2 / 1e6,
        "richness": fit.richness[0] if fit.richness else None,
        "spots": [
            spot | {"richness": rich}
            for spot, rich in zip_longest(spots, fit.richness[: len(spots)])
        ],
        "at_least": len(fit.together),
        "together": [_spot_record(spot) for spot in fit.together],
        "record": board_record(board),
    }


def _spot_record(spot: Spot) -> dict[str, Any]:
    place = spot.placement
    return {
        "x_mm": place.x_um / 1000,
        "y_mm": place.y_um / 1000,
        "angle_deg": place.angle_mdeg / 1000,
        "side": "back" if place.mirrored else "front",
    }


def _thousandths(value: int) -> str:
    """
    A whole number of thousandths as an exact decimal.

    >>> _thousandths(1234567), _thousandths(-500), _thousandths(90000)
    ('1234.567', '-0.5', '90')
    """
    return f"{value / 1000:.3f}".rstrip("0").rstrip(".")


def _at(spot: Spot) -> str:
    return f"{_thousandths(spot.placement.x_um)},{_thousandths(spot.placement.y_um)}"


_COLUMNS = (
    Column("board", "board"),
    Column("what", "title"),
    Column("state", "state"),
    Column("answer", "verdict", lambda verdict: _VERDICTS[verdict]),
    Column("at x,y mm", "at"),
    Column("angle", "angle_deg", lambda angle: f"{angle:g}°"),
    Column("usable mm²", "usable_mm2", lambda area: f"{area:.0f}"),
)


def show_shelf(session: Session, found: Sequence[BoardFit], wish: TypedWish) -> None:
    """
    List the boards that can yield the shape.

    Args:
        session: The run.
        found: In the order to take them.
        wish: As typed, for the next command.
    """
    empty = f"no board on the shelf can yield {wish.shape}"
    show_list(session, [fit_record(fit) for fit in found], _COLUMNS, empty=empty)
    if found and not session.form:
        options = {
            **_size(wish),
            "--clearance": wish.clearance if wish.clearance != "0" else "",
            "--angles": wish.angles,
            "--tool": wish.tool if wish.tool != "router" else "",
        }
        face = " --either-face" if wish.either_face else ""
        face += " --finest" if wish.finest else ""
        face += " --anyway" if wish.anyway else ""
        step = f"fits {shlex.quote(wish.shape)} --board {found[0].board.code}"
        note(session, f"next: {command_line(session, step + _typed(options) + face)}")


def show_board(session: Session, fit: BoardFit, wish: TypedWish, *, together: bool) -> None:
    """
    Show where the shape goes on one board, each place as the line that cuts it.

    Args:
        session: The run.
        fit: The board's answer.
        wish: As typed, so that a line cuts exactly what was asked for.
        together: List the places that go beside one another, instead of the best ones.
    """
    record = fit_record(fit)
    if session.form == "json":
        show_json(session, record)
    elif session.form == "plain":
        spots = record["together" if together else "spots"] or [_NOWHERE]
        cells = ([spot[key] for key in _NOWHERE] for spot in spots)
        show_plain(session, ([record["board"], fit.verdict, *row] for row in cells))
    else:
        _show_places(session, fit, wish, together=together)


def _show_places(session: Session, fit: BoardFit, wish: TypedWish, *, together: bool) -> None:
    code, count = fit.board.code, len(fit.together)
    reason = f" ({fit.reason})" if fit.reason else ""
    say(session, f"{code}  {wish.shape} {_VERDICTS[fit.verdict]}{reason}")
    spots = fit.together if together else fit.spots
    if len(spots) > 1:
        say(session, f"all {count}, beside one another:" if together else "one of:")
    for number, spot in enumerate(spots):
        rich = fit.richness[number] if number < len(fit.richness) and not together else None
        hint = f"   # traces {rich:.2f} mm/mm², a hint" if rich is not None else ""
        say(session, f"  {command_line(session, _cut_words(code, wish, spot))}{hint}")
    if count > 1 and not together:
        say(session, f"at least {count} go on it together; --together lists their places")


def _cut_words(code: Code, wish: TypedWish, spot: Spot) -> str:
    """The cut at a place, with every option of the wish that changes what is cut."""
    side = "back" if spot.placement.mirrored else ""
    place = {"--at": _at(spot), "--angle": _thousandths(spot.placement.angle_mdeg), "--side": side}
    place["--tool"] = wish.tool if wish.tool != "router" else ""
    return f"cut {code}{_typed({'--shape': wish.shape, **_size(wish), **place})}"


def _size(wish: TypedWish) -> dict[str, str]:
    return {"--width": wish.width, "--height": wish.height, "--kerf": wish.kerf}


def _typed(options: Mapping[str, str]) -> str:
    """Options as a shell takes them; empty ones are left out."""
    return "".join(f" {flag} {shlex.quote(text)}" for flag, text in options.items() if text)
