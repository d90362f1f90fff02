"""
The hub's numbered SQL files under ``schema/hub/``, applied in order, once each.

They are PostgreSQL's and apart from the workshop's own files one folder above.
"""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import StoreTrouble
from salvage.store.migrations import SchemaFile

if TYPE_CHECKING:
    from salvage.store.hub_link import Link

_NAME = re.compile(r"([0-9]{4})_[a-z0-9_]+\.sql")

# Two programs that prepare one hub at the same time take turns by this number.
_LOCK = 0x53414C56


def hub_files() -> tuple[SchemaFile, ...]:
    """The files shipped with the program, in order."""
    folder = files("salvage") / "schema" / "hub"
    if not folder.is_dir():  # an editable install keeps schema/ beside the package
        folder = Path(__file__).parents[2] / "schema" / "hub"
    found = ((_NAME.fullmatch(entry.name), entry) for entry in folder.iterdir())
    made = [SchemaFile(int(m[1]), one.name, one.read_text("utf-8")) for m, one in found if m]
    return tuple(sorted(made, key=lambda file: file.number))


def hub_number(link: Link) -> int:
    """Number of the newest file applied to this hub; 0 where nothing is prepared."""
    (there,) = _one(link, "SELECT to_regclass('salvage.schema_file')")
    if there is None:
        return 0
    (number,) = _one(link, "SELECT coalesce(max(number), 0) FROM salvage.schema_file")
    return int(str(number))


def _one(link: Link, query: str) -> tuple[object, ...]:
    row = link.execute(query).fetchone()
    assert row is not None  # each of these queries gives one row
    return row


def check_hub(link: Link) -> int:
    """
    The hub's schema number, which must not be newer than this program.

    Raises:
        StoreTrouble: If a newer version prepared it.
    """
    number, newest = hub_number(link), hub_files()[-1].number
    if number > newest:
        raise StoreTrouble(
            f"the hub was prepared by a newer version (schema {number}, this one knows {newest})",
            hint="update with: pip install --upgrade 'salvage[hub]'",
        )
    return number


def check_current(link: Link) -> None:
    """
    Raise unless the hub is prepared for this version.

    Raises:
        StoreTrouble: If nothing is prepared, or by an older or newer version.
    """
    number = check_hub(link)
    if number < hub_files()[-1].number:
        what = "is prepared for an older version" if number else "holds nothing of ours yet"
        raise StoreTrouble(f"the hub {what}", hint="its owner says: salvage hub prepare")


def migrate_hub(link: Link) -> int:
    """
    Apply what is missing in one transaction and give the number of files applied.

    Raises:
        StoreTrouble: If a newer version prepared it.
    """
    with link.transaction():
        link.execute("SELECT pg_advisory_xact_lock(%s)", (_LOCK,))
        done = check_hub(link)
        missing = [file for file in hub_files() if file.number > done]
        for file in missing:
            # Without parameters the text goes as it is, several statements and all.
            link.execute(file.text.encode("utf-8"))
            link.execute(
                "INSERT INTO salvage.schema_file (number, name, sha256) VALUES (%s, %s, %s)",
                (file.number, file.name, file.sha256),
            )
    return len(missing)


_READ = """
GRANT USAGE ON SCHEMA salvage TO {role};
GRANT SELECT ON ALL TABLES IN SCHEMA salvage TO {role};
"""

# A reader sees neither the journals, which name who worked, nor sealed texts.
_TO_READ = _READ + "REVOKE SELECT ON salvage.event, salvage.sealed FROM {role};"

_TO_SEND = (
    _READ
    + """
GRANT INSERT ON ALL TABLES IN SCHEMA salvage TO {role};
GRANT DELETE ON ALL TABLES IN SCHEMA salvage TO {role};
REVOKE INSERT, DELETE ON salvage.schema_file FROM {role};
REVOKE DELETE ON salvage.workshop, salvage.event, salvage.signed_head FROM {role};
GRANT UPDATE (name, currency) ON salvage.workshop TO {role};
"""
)


def grant(link: Link, *, sender: str = "", reader: str = "") -> None:
    """
    Let roles of the server send or read, and no more than that.

    Args:
        link: As the hub's owner.
        sender: May send for its own workshops; empty for none.
        reader: May read the answers; empty for none.
    """
    from psycopg import sql

    # One role may be both: what a reader is kept from is given to a sender afterwards.
    for role, text in ((reader, _TO_READ), (sender, _TO_SEND)):
        if role:
            with link.transaction():
                link.execute(sql.SQL(text).format(role=sql.Identifier(role)))
