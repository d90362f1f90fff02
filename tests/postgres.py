"""A PostgreSQL server of the tests' own, in a folder of theirs, spoken to through a socket."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

OWNER = "keeper"
"""The server's superuser."""

# Nothing is synced to disk: the tests' server may lose everything when the computer goes down.
_OPTIONS = (
    "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c listen_addresses=''"
    " -c shared_buffers=32MB -c autovacuum=off -c max_connections=20"
    # A schema is dropped with all its tables in one transaction.
    " -c max_locks_per_transaction=512"
)

_DURABLE = "-c listen_addresses=''"


def programs() -> Path:
    """The folder of the server's programs: Debian keeps them apart, by version."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[4]))
    path = found[-1] if found else Path(str(shutil.which("initdb")))
    return path.parent


class Server:
    """
    A running server.

    Args:
        folder: Holds its files and socket.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made: set[str] = set()

    @property
    def spent_s(self) -> float:
        """Processor time of all its processes that have ended."""
        pid = (self.folder / "data" / "postmaster.pid").read_text().split()[0]
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[13]) + int(fields[14])) / os.sysconf("SC_CLK_TCK")

    def address(self, database: str = "postgres", *, user: str = OWNER) -> str:
        """Connection string for one of its databases."""
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def new_database(self, name: str, *, more: str = "") -> str:
        """Make an empty database and give its address."""
        with psycopg.connect(self.address(), autocommit=True) as conn:
            conn.execute(f"CREATE DATABASE {name} {more}".encode())
        self._made.add(name)
        return self.address(name)

    def empty_hub(self, name: str = "hub") -> str:
        """
        A database that holds no hub, by its address.

        It is made once and emptied again: to make many costs more than all that happens in them.
        """
        if name not in self._made:
            return self.new_database(name)
        with psycopg.connect(self.address(name), autocommit=True) as conn:
            conn.execute("DROP SCHEMA IF EXISTS salvage CASCADE")
        return self.address(name)

    def new_role(self, name: str) -> None:
        """Make a role that may log in and nothing else, if it is not there."""
        with psycopg.connect(self.address(), autocommit=True) as conn:
            found = conn.execute("SELECT FROM pg_roles WHERE rolname = %s", (name,)).fetchone()
            if found is None:
                conn.execute(f"CREATE ROLE {name} LOGIN".encode())


@contextmanager
def run_server(*, durable: bool = False) -> Iterator[Server]:
    """
    A server that is gone afterwards; root hands it to nobody's account, which it asks for.

    Args:
        durable: Sync to disk and tidy up as a server in use does, for measurements.
    """
    folder = Path(tempfile.mkdtemp(prefix="salvage-pg-"))
    as_other = ("setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups")
    run_as = as_other if os.geteuid() == 0 else ()
    if run_as:
        shutil.chown(folder, "nobody", "nogroup")

    def call(program: str, *words: str) -> None:
        done = subprocess.run(
            [*run_as, str(programs() / program), *words],
            cwd=folder,
            env={"LC_ALL": "C.UTF-8", "PATH": "/usr/bin:/bin", "TZ": "UTC"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stdout

    options = f"-k {folder} {_DURABLE if durable else _OPTIONS}"
    data, log = str(folder / "data"), str(folder / "log")
    try:
        call("initdb", "--no-sync", "-U", OWNER, "-A", "trust", "-E", "UTF8", "-D", data)
        call("pg_ctl", "-w", "-D", data, "-l", log, "-o", options, "start")
        try:
            yield Server(folder)
        finally:
            call("pg_ctl", "-w", "-m", "immediate", "-D", data, "stop")
    finally:
        shutil.rmtree(folder)
