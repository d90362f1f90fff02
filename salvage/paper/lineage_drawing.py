"""
A lineage as SVG: things as labelled boxes, joined like the traces of a board.

Colours are those of our printed documents; where a thing is now is told by the shape of a sign and
in words. The text is set in whatever sans serif is there, so boxes leave room.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from salvage.paper.lineage import COLUMNS, MARKS, Lineage, Node
from salvage.paper.lineage_layout import NODE_HEIGHT, NODE_WIDTH, Layout, lay_out

_DEEP, _INK, _COPPER, _SAND, _SHOAL = "#123f4c", "#1b2629", "#a4551f", "#f4eee2", "#dce8e8"
_MARGIN, _HEAD, _LINE, _CHAMFER = 28, 92, 20, 9
_MOST_CHARACTERS = 32
_LEAST_WIDTH = 640
_SANS = "'Noto Sans', 'DejaVu Sans', Verdana, sans-serif"
_MONO = "'DejaVu Sans Mono', 'Noto Sans Mono', monospace"

_STYLE = f"""
  text {{ font-family: {_SANS}; font-size: 12px; fill: {_INK}; }}
  .title {{ font-size: 22px; font-weight: bold; fill: {_DEEP}; }}
  .column {{ font-size: 13px; font-weight: bold; fill: {_DEEP}; }}
  .code {{ font-family: {_MONO}; font-size: 13px; font-weight: bold; }}
  .kind {{ font-size: 11px; }}
  .trace {{ fill: none; stroke: {_COPPER}; stroke-width: 2; stroke-linejoin: round; }}
  .pad {{ fill: #ffffff; stroke: {_COPPER}; stroke-width: 2; }}
  .box {{ fill: #ffffff; stroke: {_DEEP}; stroke-width: 1.3; }}
  .group {{ fill: {_SAND}; stroke: {_DEEP}; stroke-width: 1.3; }}
  .subject {{ fill: {_DEEP}; stroke: {_DEEP}; stroke-width: 1.3; }}
  .on-deep {{ fill: #ffffff; }}
  .ground {{ fill: #ffffff; }}
  .sign {{ fill: #ffffff; stroke: {_DEEP}; stroke-width: 1.6; }}
  .full {{ fill: {_DEEP}; stroke: #ffffff; stroke-width: 1; }}
"""


def draw_lineage(lineage: Lineage) -> str:
    """
    The picture as an SVG document, the same bytes for the same content.

    Args:
        lineage: At least one node.
    """
    layout = lay_out(lineage)
    width = max(layout.width, _LEAST_WIDTH) + 2 * _MARGIN
    notes = [*lineage.notes]
    foot = _LINE * (len(notes) + 2)
    height = _HEAD + layout.height + foot + 2 * _MARGIN
    body = [*_heading(lineage, layout), *_edges(lineage, layout)]
    body += [line for node in lineage.nodes for line in _box(node, layout, lineage.subject)]
    below = _HEAD + layout.height + _MARGIN
    body += _key({node.mark for node in lineage.nodes if node.mark}, below)
    for number, text in enumerate(notes, 1):
        body.append(f'<text y="{below + number * _LINE + 14}">{escape(text)}</text>')
    joined = "\n".join(body)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" role="img">\n'
        f"<title>{escape(lineage.title)}</title>\n<style>{_STYLE}</style>\n"
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>\n'
        f'<g transform="translate({_MARGIN} {_MARGIN})">\n{joined}\n</g>\n</svg>\n'
    )


def _heading(lineage: Lineage, layout: Layout) -> Iterator[str]:
    yield f'<text class="title" y="20">{escape(lineage.title)}</text>'
    for column, left in sorted(layout.lefts.items()):
        name = COLUMNS[min(column, len(COLUMNS) - 1)]
        yield f'<text class="column" x="{left}" y="{_HEAD - 32}">{name}</text>'
        middle, right = _HEAD - 22, left + NODE_WIDTH
        yield f'<path class="trace" d="M{left + 4} {middle}H{right - 4}"/>'
        yield f'<circle class="pad" cx="{left + 4}" cy="{middle}" r="3"/>'
        yield f'<circle class="pad" cx="{right - 4}" cy="{middle}" r="3"/>'


def _edges(lineage: Lineage, layout: Layout) -> Iterator[str]:
    for parent, child in lineage.edges:
        start_x, start_y = layout.at[parent][0] + NODE_WIDTH, layout.at[parent][1] + _HEAD
        end_x, end_y = layout.at[child][0], layout.at[child][1] + _HEAD
        path = _path(start_x, start_y, layout.lanes[parent, child], end_x, end_y)
        yield f'<path class="trace" d="{path}"/>'


def _path(start_x: int, start_y: int, lane: int, end_x: int, end_y: int) -> str:
    """Level, then up or down a lane, then level, with corners cut at 45 degrees as traces have."""
    rise = end_y - start_y
    if not rise:
        return f"M{start_x} {start_y}H{end_x}"
    corner = min(_CHAMFER, abs(rise) // 2)
    step = corner if rise > 0 else -corner
    return (
        f"M{start_x} {start_y}H{lane - corner}L{lane} {start_y + step}"
        f"V{end_y - step}L{lane + corner} {end_y}H{end_x}"
    )


def _box(node: Node, layout: Layout, subject: str) -> Iterator[str]:
    left, middle = layout.at[node.key]
    top = middle + _HEAD - NODE_HEIGHT // 2
    is_subject = node.key == subject
    shape = "subject" if is_subject else "group" if node.is_group else "box"
    ink = " on-deep" if is_subject else ""
    size = f'width="{NODE_WIDTH}" height="{NODE_HEIGHT}"'
    if node.is_group:  # several sheets, one behind the other
        yield f'<rect class="group" x="{left + 4}" y="{top + 4}" {size} rx="5"/>'
    yield f'<rect class="{shape}" x="{left}" y="{top}" {size} rx="5"/>'
    if node.column:
        yield f'<circle class="pad" cx="{left}" cy="{middle + _HEAD}" r="3.5"/>'
    yield f'<text class="code{ink}" x="{left + 12}" y="{top + 18}">{escape(node.title)}</text>'
    kind_left = left + NODE_WIDTH - (30 if node.mark else 10)
    yield (
        f'<text class="kind{ink}" x="{kind_left}" y="{top + 18}" text-anchor="end">'
        f"{escape(node.kind)}</text>"
    )
    for number, line in enumerate(node.lines[:2], 1):
        y = top + 19 + number * 16
        yield f'<text class="words{ink}" x="{left + 12}" y="{y}">{escape(shorten(line))}</text>'
    if node.mark:
        if is_subject:  # signs are drawn for white ground
            yield f'<circle class="ground" cx="{left + NODE_WIDTH - 16}" cy="{top + 14}" r="10"/>'
        yield _sign(node.mark, left + NODE_WIDTH - 16, top + 14)


def shorten(text: str, *, most: int = _MOST_CHARACTERS) -> str:
    """
    A text cut short with an ellipsis where it would run out of its box.

    >>> shorten("the control rack of the old star projector")
    'the control rack of the old sta…'
    """
    tidy = " ".join(text.split())
    return tidy if len(tidy) <= most else tidy[: most - 1].rstrip() + "…"


def _sign(mark: str, x: int, y: int) -> str:
    """A small shape round a middle; each sign differs in form, not only in filling."""
    if mark == "sold":
        return f'<circle class="full" cx="{x}" cy="{y}" r="6"/>'
    if mark == "part":
        points = f"{x},{y - 7} {x + 7},{y} {x},{y + 7} {x - 7},{y}"
        return f'<polygon class="sign" points="{points}"/>'
    if mark == "recalled":
        points = f"{x},{y - 7} {x + 7},{y + 6} {x - 7},{y + 6}"
        inside = f'<path class="trace" d="M{x} {y - 3}V{y + 3}"/>'
        return f'<polygon class="sign" points="{points}"/>{inside}'
    if mark == "gone":
        strokes = f"M{x - 4} {y - 4}L{x + 4} {y + 4}M{x + 4} {y - 4}L{x - 4} {y + 4}"
        inside = f'<path class="trace" d="{strokes}"/>'
        return f'<circle class="sign" cx="{x}" cy="{y}" r="6"/>{inside}'
    return f'<circle class="sign" cx="{x}" cy="{y}" r="6"/>'


def _key(marks: set[str], top: int) -> Iterator[str]:
    x = 8
    for mark, words in MARKS.items():
        if mark in marks:
            yield _sign(mark, x, top)
            yield f'<text x="{x + 14}" y="{top + 4}">{escape(words)}</text>'
            x += 44 + 7 * len(words)
