"""A recall as JSON, and as the page that people read: by where things are, with what is open."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.records import record_of

if TYPE_CHECKING:
    from salvage.work.recall import RecallView
    from salvage.work.whereabouts import Whereabouts


def recall_record(view: RecallView) -> dict[str, Any]:
    """A recall as a JSON object."""
    now = {one.code: one for one in view.now}
    items = []
    for item in view.items:
        there = now.get(item.code)
        extras = record_of(there) if there else {}
        items.append({**record_of(item), **{f"now_{key}": extras[key] for key in _SHOWN if there}})
    return record_of(
        view.recall,
        cause=view.recall.cause_map,
        items=items,
        item_count=len(items),
        open_count=len(view.open_items) if view.recall.state == "open" else 0,
        unknown=[record_of(one) for one in view.unknown],
    )


_SHOWN = ("what", "group", "words", "venue", "day")


def page_of(view: RecallView, *, most: int = 20) -> list[str]:
    """
    A recall as lines for people.

    Args:
        view: The recall.
        most: At most so many lines for each place; 0 for all.
    """
    from salvage.work.whereabouts import GROUP_WORDS

    recall = view.recall
    state = f"closed: {recall.outcome}" if recall.state == "closed" else "open"
    hold = "held" if recall.hold else "not held"
    things = count_of(len(view.items), "thing")
    lines = [
        f"{recall.code}  recall of {recall.subject}, {things}, {hold}, {state}",
        f"  {recall.reason}; known since {recall.learned_on}",
    ]
    for group, found in groupby(view.now, lambda one: one.group):
        lines += _group(view, GROUP_WORDS[group], list(found), most)
    if view.unknown:
        lines.append(f"  not ruled out, the record has no link: {len(view.unknown)}")
        lines += _some([f"    {one.code}  {one.words}" for one in view.unknown], most)
    if recall.state == "open":
        settled = len(view.items) - len(view.open_items)
        lines.append(f"  settled: {settled} of {len(view.items)}")
    return lines


def _group(view: RecallView, title: str, found: Sequence[Whereabouts], most: int) -> list[str]:
    items = {item.code: item for item in view.items}
    rows = []
    for one in found:
        item = items[one.code]
        outcome = f" [{item.outcome}, {item.settled_by} {item.settled_at[:10]}]"
        later = ", joined later" if item.joined_at else ""
        what = f"{one.what}, " if one.what else ""
        told = outcome if item.outcome else ""
        rows.append(f"    {one.code}  {what}{one.words}{later}{told}")
    return [f"  {title}: {len(found)}", *_some(rows, most)]


def _some(rows: list[str], most: int) -> list[str]:
    if not most or len(rows) <= most:
        return rows
    return [*rows[:most], f"    … and {len(rows) - most} more (recall show --all, or --json)"]
