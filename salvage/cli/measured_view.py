"""What a measured board, or a photo that was refused, looks like on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.records import board_record
from salvage.cli.show import show_json
from salvage.units import UM_PER_MM

if TYPE_CHECKING:
    from salvage.cli.session import Session
    from salvage.errors import SalvageError
    from salvage.records.region import Region
    from salvage.records.things import Board
    from salvage.work.form_match import FormMatch
    from salvage.work.measuring import PhotoMeasured


def measured_record(view: PhotoMeasured, board: Board | None) -> dict[str, Any]:
    """
    A measured board as JSON: outline and holes in millimetres, intervals, how it was taken.

    Args:
        view: What the photos say.
        board: The board that it was recorded for; None if nothing was kept.
    """
    found, mat = view.measurement, view.look.mat
    rings = _rings_mm(view.outline)
    return {
        "board": board_record(board) if board else None,
        "mat": mat.serial if mat else "",
        "mat_paper": mat.paper if mat else "",
        "outline_from": view.words,
        "outline_mm": rings[0],
        "holes_mm": rings[1:],
        "holes": [
            {
                "centre_mm": [round(value, 3) for value in hole.centre_mm],
                "diameter_mm": round(hole.diameter_mm, 3),
                "kind": hole.kind,
            }
            for hole in found.holes
        ],
        "size_mm": list(view.outline.size_mm),
        "area_mm2": round(found.area_mm2, 2),
        "area_interval_mm2": [round(value, 2) for value in found.area_interval_mm2],
        "interval_mm": round(found.interval_mm, 3),
        "px_per_mm": round(found.px_per_mm, 2),
        "method": found.method,
        "height_mm": round(found.height.upper_mm, 2),
        "height_sd_mm": round(found.height.sd_mm, 2),
        "height_source": found.height.source,
        "form": _form_record(view.form) if view.form else None,
        "is_form": view.is_form,
        "warnings": list(view.look.notes),
    }


def _form_record(form: FormMatch) -> dict[str, Any]:
    return {
        "slug": form.slug,
        "name": form.name,
        "mean_mm": round(form.snap.mean_mm, 3),
        "most_mm": round(form.snap.most_mm, 3),
        "holes_found": form.snap.holes_found,
        "hole_count": len(form.snap.form.holes),
        "agrees": form.snap.agrees,
    }


def _rings_mm(outline: Region) -> list[list[list[float]]]:
    rings = (outline.outer, *outline.holes)
    return [[[x / UM_PER_MM, y / UM_PER_MM] for x, y in ring] for ring in rings]


def measured_lines(view: PhotoMeasured, board: Board | None, *, photo: str) -> list[str]:
    """
    A measured board as people read it.

    Args:
        view: What the photos say.
        board: The board that it was recorded for; None if nothing was kept.
        photo: What stands for the board where nothing was kept.
    """
    from salvage.knowledge.form_factors import find_form_factor

    found = view.measurement
    width, height = found.outline.size_mm
    low, high = found.area_interval_mm2
    named = board.code if board else photo
    size = f"{width:.2f} x {height:.2f} mm, edges within {found.interval_mm:.2f} mm (95 %)"
    area = f"area {found.area_mm2:.0f} mm², between {low:.0f} and {high:.0f} (95 %)"
    lines = [f"{named}  {size}", f"  {area}; {count_of(len(found.holes), 'hole')}"]
    if board:
        lines.append(f"  recorded: {view.words}")
    else:
        lines.append(f"  {view.words}; nothing was kept")
    if view.form and not view.is_form:
        source = find_form_factor(view.form.slug).source.marked_words
        lines.append(
            f"  this is {view.form.name}: {view.form.deviation}; its published outline ({source})"
            f" is recorded with --form {view.form.slug}"
        )
    return [*lines, *(f"  note: {words}" for words in view.look.notes)]


def show_refusal(session: Session, error: SalvageError) -> None:
    """
    Tell a program why a photo was not measured; people read it where all errors are told.

    Args:
        session: The run.
        error: What was raised.
    """
    if session.form != "json":
        return
    reason = getattr(error, "reason", "")
    outlines = [_rings_mm(outline) for outline in getattr(error, "outlines", ())]
    told = {"error": error.message, "hint": error.hint, "field": error.field, "reason": reason}
    show_json(session, told | {"outlines_mm": outlines})
