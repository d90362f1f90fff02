"""What the screen says about the last copy of the workshop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.cli.count import count_of
from salvage.cli.show import clean

if TYPE_CHECKING:
    from salvage.work.last_copy import LastCopy


def words_of(last: LastCopy | None) -> str:
    """One line on the last copy, and what to do where it is time for another."""
    if last is None:
        return "no copy is known to this computer; make one: salvage backup FOLDER"
    when = "today" if last.days == 0 else f"{count_of(last.days, 'day')} ago"
    since = (
        f"{count_of(last.events_since, 'event')} since" if last.events_since else "nothing since"
    )
    again = f"; make another: salvage backup {clean(last.folder)}" if last.is_old else ""
    return f"last copy {when} ({since}){again}"
