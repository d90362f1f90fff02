"""What events of boards, hazards, keep-outs, photos and shapes do to the tables."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from salvage.records.region import region_of_rings
from salvage.store.project_safety import (
    board_facts,
    expect_hazard,
    heed_alerts,
    set_clearance,
)
from salvage.store.rows import correct_row, insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.canonical import Json
    from salvage.records.events import Event


def rings_text(rings: Json) -> str | None:
    """Rings of an event as the compact JSON of the tables, or None."""
    return None if rings is None else json.dumps(rings, separators=(",", ":"))


def _record_board(conn: sqlite3.Connection, event: Event) -> None:
    code = event.about[0]
    hazards = event.data["hazards"]
    assert isinstance(hazards, list)
    insert_row(
        conn,
        "board",
        event.data,
        leave=("hazards", "outline"),
        code=code,
        outline=rings_text(event.data["outline"]),
        clearance="held" if hazards else "cleared",
        recalled=0,
        cut_count=0,
        retired="",
        label_printed=0,
        recorded_at=event.at,
    )
    for hazard in hazards:
        expect_hazard(conn, code, str(hazard))
    heed_alerts(conn, code)


def _outline_board(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "UPDATE board SET outline = ?, outline_from = ?, outline_um2 = ?, usable_um2 = ?"
        " WHERE code = ?",
        (
            rings_text(data["outline"]),
            data["outline_from"],
            data["outline_um2"],
            data["usable_um2"],
            event.about[0],
        ),
    )


def _set_columns(*columns: str) -> Callable[[sqlite3.Connection, Event], None]:
    """A rule that copies fields of the event into columns of the board of the same names."""
    assignments = ", ".join(f"{column} = ?" for column in columns)

    def rule(conn: sqlite3.Connection, event: Event) -> None:
        values = [event.data[column] for column in columns]
        conn.execute(f"UPDATE board SET {assignments} WHERE code = ?", (*values, event.about[0]))

    return rule


def _retire(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE board SET retired = ?, usable_um2 = 0 WHERE code = ?",
        (event.data["reason"], event.about[0]),
    )


def _check_hazard(conn: sqlite3.Connection, event: Event) -> None:
    board, data = event.about[0], event.data
    expect_hazard(conn, board, str(data["hazard"]))
    conn.execute(
        "UPDATE hazard_check SET finding = ?, outcome = ?, how = ?, goes_to = ?, reason = ?,"
        " by = ?, at = ? WHERE board = ? AND hazard = ?",
        (
            data["finding"],
            data["outcome"],
            data["how"],
            data["goes_to"],
            data["reason"],
            event.by,
            event.at,
            board,
            data["hazard"],
        ),
    )
    set_clearance(conn, board)


def _correct_board(conn: sqlite3.Connection, event: Event) -> None:
    """A board of another type than was thought is looked over for that type's hazards as well."""
    hazards = event.data["hazards"]
    assert isinstance(hazards, list)
    before = board_facts(conn, event.about[0])
    correct_row(conn, "board", event)
    for hazard in hazards:
        expect_hazard(conn, event.about[0], str(hazard))
    heed_alerts(conn, event.about[0], before=before)
    set_clearance(conn, event.about[0])


def _add_keep_out(conn: sqlite3.Connection, event: Event) -> None:
    board, data = event.about[0], event.data
    insert_row(
        conn,
        "keep_out",
        {"board": board, "n": data["n"], "reason": data["reason"]},
        region=rings_text(data["region"]),
        lifted=0,
    )
    set_usable(conn, event)


def _lift_keep_out(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE keep_out SET lifted = 1 WHERE board = ? AND n = ?",
        (event.about[0], event.data["n"]),
    )
    set_usable(conn, event)


def set_usable(conn: sqlite3.Connection, event: Event, *, field: str = "usable_um2") -> None:
    """Copy the usable area that an event states into its board."""
    board = next(code for code in event.about if code.startswith("B"))
    conn.execute("UPDATE board SET usable_um2 = ? WHERE code = ?", (event.data[field], board))


def _recount(conn: sqlite3.Connection, event: Event) -> None:
    usable = event.data["usable_um2"]
    assert isinstance(usable, dict)
    conn.executemany(
        "UPDATE board SET usable_um2 = ? WHERE code = ?",
        [(area, code) for code, area in sorted(usable.items())],
    )


def keep_file(conn: sqlite3.Connection, sha256: Json, media: str, count: Json, name: Json) -> None:
    """Note a file that an event mentions, once."""
    conn.execute(
        "INSERT INTO file (sha256, media_type, byte_count, name) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO NOTHING",
        (sha256, media, count, name),
    )


def _add_photo(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    keep_file(conn, data["sha256"], str(data["media_type"]), data["byte_count"], data["name"])
    insert_row(
        conn,
        "photo",
        data,
        leave=("media_type", "byte_count", "name", "corners"),
        code=event.about[0],
        corners=rings_text(data["corners"]) or "",
    )


def _add_shape(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    is_dxf = str(data["file_name"]).lower().endswith(".dxf")
    media = "image/vnd.dxf" if is_dxf else "image/svg+xml"
    keep_file(conn, data["sha256"], media, data["byte_count"], data["file_name"])
    rings = data["region"]
    assert isinstance(rings, list)
    region = region_of_rings(rings)
    left, bottom, right, top = region.bounds_um
    conn.execute(
        "INSERT INTO shape (name, region, area_um2, width_um, height_um, sha256, finest)"
        " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET region = excluded.region,"
        " area_um2 = excluded.area_um2, width_um = excluded.width_um,"
        " height_um = excluded.height_um, sha256 = excluded.sha256, finest = excluded.finest",
        (
            data["name"],
            region.to_text(),
            region.area_um2,
            right - left,
            top - bottom,
            data["sha256"],
            int(bool(data["finest"])),
        ),
    )


def _print_mat(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "mat", event.data, printed_at=event.at)


def _check_mat(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "UPDATE mat SET bar_x_um = ?, bar_y_um = ? WHERE serial = ?",
        (data["bar_x_um"], data["bar_y_um"], data["serial"]),
    )


def _mark_labels(conn: sqlite3.Connection, event: Event) -> None:
    for code in event.about:
        table = {"B": "board", "P": "piece", "F": "place"}.get(code[0])
        if table:
            conn.execute(f"UPDATE {table} SET label_printed = 1 WHERE code = ?", (code,))


BOARD_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "area.recounted": _recount,
    "board.recorded": _record_board,
    "board.outlined": _outline_board,
    "board.lead_set": _set_columns("lead_status", "lead_evidence"),
    "board.corrected": _correct_board,
    "board.moved": _set_columns("place"),
    "board.retired": _retire,
    "hazard.checked": _check_hazard,
    "keepout.added": _add_keep_out,
    "keepout.lifted": _lift_keep_out,
    "photo.added": _add_photo,
    "mat.printed": _print_mat,
    "mat.checked": _check_mat,
    "shape.added": _add_shape,
    "label.printed": _mark_labels,
}
"""Rules by event kind."""
