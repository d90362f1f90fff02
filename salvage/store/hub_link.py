"""
The way to the hub: one connection to PostgreSQL, and its errors in plain words.

The driver is an extra (``pip install 'salvage[hub]'``) and is loaded only here. A password is given
by the address, or by libpq's own means (``PGPASSWORD``, ``.pgpass``); it is never printed or kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from salvage.errors import BadValue, MissingTool, StoreTrouble

if TYPE_CHECKING:
    import psycopg

    Link = psycopg.Connection[tuple[Any, ...]]

_WAIT_S = 10


@contextmanager
def open_link(address: str) -> Iterator[Link]:
    """
    An open connection to the hub; every statement outside a transaction stands by itself.

    Args:
        address: A connection string of libpq, such as ``postgresql://user@host/database``.

    Raises:
        BadValue: If there is no address, or it is none.
        MissingTool: If the driver is not there.
        StoreTrouble: If the hub cannot be reached, goes away, or refuses what is asked of it.
    """
    try:
        import psycopg
        from psycopg import conninfo
    except ImportError as error:
        raise MissingTool(
            "the hub needs the library 'psycopg', which is not there",
            hint="install it with: pip install 'salvage[hub]'",
        ) from error
    if not address.strip():
        raise BadValue(
            "say where the hub is",
            hint="such as --to postgresql://user@host/database, or set SALVAGE_HUB",
            field="--to",
        )
    try:
        parts = conninfo.conninfo_to_dict(address)
    except psycopg.ProgrammingError:  # its words repeat the address, password and all
        raise BadValue(
            "that is no address of a PostgreSQL database",
            hint="write it as postgresql://user@host/database",
            field="--to",
        ) from None
    usual = {"connect_timeout": str(_WAIT_S), "application_name": "salvage"}
    text = conninfo.make_conninfo(address, **{k: v for k, v in usual.items() if k not in parts})
    with (
        _plain_words(str(parts.get("password") or "")),
        psycopg.connect(text, autocommit=True) as link,
    ):
        _check_server(link)
        yield link


def _check_server(link: Link) -> None:
    if link.info.server_version < _OLDEST:
        raise StoreTrouble(
            f"the hub runs PostgreSQL {link.info.server_version // 10_000}, which is too old",
            hint="PostgreSQL 13 is the oldest that serves",
        )
    if link.info.parameter_status("server_encoding") != "UTF8":
        raise StoreTrouble(
            f"the hub's database {link.info.dbname} is not in UTF-8",
            hint="make it with: createdb --encoding UTF8 --template template0 NAME",
        )


_OLDEST = 130_000


def place_of(link: Link) -> str:
    """Where a connection leads, in words that hold no password."""
    return f"{link.info.dbname} at {link.info.host or 'this computer'}"


@contextmanager
def _plain_words(password: str) -> Iterator[None]:
    """Turn the driver's trouble into one clear line, in which no password stands."""
    import psycopg

    try:
        yield
    except psycopg.errors.InsufficientPrivilege as error:
        raise StoreTrouble(
            f"the hub does not allow it: {_first_line(error, password)}",
            hint="ask the hub's owner to say: salvage hub prepare --sender ROLE",
        ) from error
    except psycopg.errors.IntegrityError as error:
        raise StoreTrouble(
            f"the hub refused what was sent: {_first_line(error, password)}",
            hint="nothing of it was kept; run 'salvage check', then 'salvage hub check'",
        ) from error
    except psycopg.OperationalError as error:
        raise StoreTrouble(
            f"the hub cannot be reached: {_first_line(error, password)}",
            hint="what arrived stays; say it again when the hub is there",
        ) from error
    except psycopg.Error as error:
        raise StoreTrouble(
            f"the hub reports: {_first_line(error, password)}",
            hint="nothing half done was kept; tell the hub's owner",
        ) from error


def _first_line(error: Exception, password: str) -> str:
    text = " ".join(str(error).strip().splitlines()[:1]) or type(error).__name__
    return text.replace(password, "…") if password else text
