"""What events of the workshop, donors and drop-offs do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import correct_row, insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _join_device(conn: sqlite3.Connection, event: Event) -> None:
    """A letter is a device's for ever; what two devices gave at once goes to the first."""
    conn.execute(
        "INSERT INTO device (letter, name, joined_at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (event.data["letter"], event.data["name"], event.at),
    )


def _key_device(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "INSERT INTO device_key (letter, public_key, at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (event.device, event.data["public_key"], event.at),
    )


def _settle_clash(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "INSERT INTO clash_settled (clash, how, by, at) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
        (event.data["clash"], event.data["how"], event.by, event.at),
    )


def _set_workshop(conn: sqlite3.Connection, event: Event) -> None:
    settings = event.data["settings"]
    assert isinstance(settings, dict)
    conn.executemany(
        "INSERT INTO setting (name, value) VALUES (?, ?)"
        " ON CONFLICT DO UPDATE SET value = excluded.value",
        sorted(settings.items()),
    )


def _add_donor(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "donor", event.data, code=event.about[0], naming_at=event.at)


def _set_naming(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "UPDATE donor SET naming = ?, naming_how = ?, described_as = ?, naming_at = ?"
        " WHERE code = ?",
        (data["naming"], data["naming_how"], data["described_as"], event.at, event.about[0]),
    )


def _log_drop_off(conn: sqlite3.Connection, event: Event) -> None:
    code = event.about[0]
    insert_row(conn, "drop_off", event.data, code=code, received_by=event.by, leave=("data_parts",))
    _list_data_parts(conn, event)


def _list_data_parts(conn: sqlite3.Connection, event: Event) -> None:
    """Add the event's parts to its drop-off's list."""
    code, parts = event.about[0], event.data["data_parts"]
    assert isinstance(parts, list)
    for part in parts:
        searched = part["part"] == "none found"
        insert_row(
            conn,
            "data_part",
            part,
            drop_off=code,
            state="none found" if searched else "open",
            how="",
            settled_by=event.by if searched else "",
            settled_at=event.at if searched else "",
        )


def _settle_data(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "UPDATE data_part SET state = ?, how = ?, settled_by = ?, settled_at = ?"
        " WHERE drop_off = ? AND n = ?",
        (data["state"], data["how"], event.by, event.at, event.about[0], data["n"]),
    )


def _send_consignment(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "consignment", event.data, code=event.about[0])


def _correct_donor(conn: sqlite3.Connection, event: Event) -> None:
    """A correction made elsewhere meanwhile brings no forgotten donor's name back."""
    correct_row(conn, "donor", event)
    conn.execute(
        "UPDATE donor SET name_seal = NULL, contact_seal = NULL"
        " WHERE code = ? AND code IN (SELECT donor FROM forgotten)",
        (event.about[0],),
    )


def _forget_donor(conn: sqlite3.Connection, event: Event) -> None:
    """Erase the sealed words; from now on the donor is described as agreed, or anonymous."""
    seals = event.data["seals"]
    assert isinstance(seals, list)
    conn.executemany("DELETE FROM private_field WHERE seal = ?", [(seal,) for seal in seals])
    conn.execute(
        "INSERT INTO forgotten (donor, at) VALUES (?, ?) ON CONFLICT DO NOTHING",
        (event.about[0], event.at),
    )
    conn.execute(
        "UPDATE donor SET name_seal = NULL, contact_seal = NULL, naming_how = '', naming_at = ?,"
        " naming = CASE WHEN naming = 'anonymous' OR described_as = '' THEN 'anonymous'"
        " ELSE 'described' END WHERE code = ?",
        (event.at, event.about[0]),
    )


def _correct_drop_off(conn: sqlite3.Connection, event: Event) -> None:
    correct_row(conn, "drop_off", event)


INTAKE_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "device.joined": _join_device,
    "device.keyed": _key_device,
    "clash.settled": _settle_clash,
    "workshop.set": _set_workshop,
    "donor.added": _add_donor,
    "donor.naming_set": _set_naming,
    "donor.corrected": _correct_donor,
    "donor.forgotten": _forget_donor,
    "dropoff.logged": _log_drop_off,
    "dropoff.data_found": _list_data_parts,
    "dropoff.data_settled": _settle_data,
    "dropoff.corrected": _correct_drop_off,
    "consignment.sent": _send_consignment,
}
"""Rules by event kind."""
