"""What holds for every test: nothing is left out, and laws are tried the same way each time."""

from __future__ import annotations

import os
import time
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from salvage.records.things import Board
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, make_shop

if TYPE_CHECKING:
    from tests.postgres import Server

# A workshop's day follows the computer's time zone; the tests' workshop is in one of its own.
os.environ["TZ"] = "UTC"
time.tzset()

settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=int(os.environ.get("SALVAGE_EXAMPLES", "60")),
    # Two cores shared by many workers are slow at times; that is no fault of a law.
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("ci")


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A test that was left out, or failed as foretold, counts as failed."""
    report = yield
    if report.skipped:
        report.outcome = "failed"
        report.longrepr = f"left out, which counts as failed: {report.longrepr}"
        # With this mark pytest would show the failure and still end with success.
        vars(report).pop("wasxfail", None)
    return report


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """A file that left itself out counts as failed."""
    report = yield
    if report.skipped:
        report.outcome = "failed"
        report.longrepr = f"left out, which counts as failed: {report.longrepr}"
    return report


@pytest.fixture
def empty_shop(tmp_path: Path) -> Iterator[Workshop]:
    """A workshop in which nothing has happened yet."""
    with make_shop(tmp_path / "shop") as shop:
        yield shop


@pytest.fixture
def held_board(empty_shop: Workshop) -> Board:
    """A board of 120 x 80 mm that is not cleared."""
    return add_board(empty_shop)


@pytest.fixture
def cleared_board(empty_shop: Workshop) -> Board:
    """A board of 120 x 80 mm that may be cut."""
    return add_cleared_board(empty_shop)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A PostgreSQL server of this run's own."""
    from tests.postgres import run_server

    with run_server() as server:
        yield server
