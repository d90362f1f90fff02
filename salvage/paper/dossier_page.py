"""
The dossier as HTML: one file that asks nothing of any network.

Styles, pictures, proof and the script that checks it stand in the page; a content security policy
forbids everything else. All text from people is escaped.
"""

from __future__ import annotations

import base64
import hashlib
import html
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files

from salvage.paper.dossier import Dossier, DossierProof, HazardLine, Picture, Step
from salvage.paper.typeset import tidy_text


def write_page(dossier: Dossier, pictures: Sequence[Picture], proof: DossierProof) -> bytes:
    """The page of one piece."""
    script = _template("dossier.js")
    parts = [
        *_head(f"{dossier.headline}, {dossier.code}", script=script),
        f'<html lang="en" data-piece="{escape(dossier.code)}">',
        *_header(dossier),
        "<main>",
        *_notices(dossier),
        *_pictures(pictures),
        *_section("Its story", dossier.story),
        *_section("When it came, and from whom", dossier.origin),
        *_steps(dossier.steps, dossier.custody),
        *_hazards(dossier.hazards),
        *_section("Care and cautions", dossier.care),
        *_proof(dossier.code, proof),
        *_footer(dossier, proof),
        "</main>",
        f"<script>{script}</script>",
    ]
    return _join(parts)


def page_form() -> str:
    """Tells pages of this style and script from those of others, which are written anew."""
    whole = "".join(map(_template, ("dossier.css", "dossier.js")))
    return f"salvage dossier 1 {hashlib.sha256(whole.encode()).hexdigest()[:16]}"


def write_index(workshop: str, entries: Sequence[tuple[str, str]]) -> bytes:
    """
    The page that lists the others.

    Args:
        workshop: Its name.
        entries: Codes and headlines, in order.
    """
    lines = [
        f'<li><a href="{escape(code)}/"><span class="code">{escape(code)}</span></a>'
        f" {escape(headline)}</li>"
        for code, headline in entries
    ]
    parts = [
        *_head(f"Pieces of {workshop}"),
        '<html lang="en">',
        f"<header><h1>{escape(workshop)}</h1><p>Pieces and where they are from</p></header>",
        "<main>",
        '<ul class="pieces">',
        *lines,
        "</ul>",
        "</main>",
    ]
    return _join(parts)


def escape(text: str) -> str:
    """Text as markup that shows it, without what would steer or reorder the page."""
    return html.escape(tidy_text(text))


def _join(parts: Sequence[str]) -> bytes:
    """The parts, with the element that opens the document before its head."""
    opening = next(part for part in parts if part.startswith("<html"))
    rest = [part for part in parts if part is not opening]
    return "\n".join(["<!DOCTYPE html>", opening, *rest, "</body>", "</html>", ""]).encode()


@cache
def _template(name: str) -> str:
    return files("salvage.paper").joinpath("templates", name).read_text("utf-8")


def _head(title: str, *, script: str = "") -> Iterator[str]:
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    scripts = f" script-src 'sha256-{digest}';" if script else ""
    policy = f"default-src 'none'; img-src data:; style-src 'unsafe-inline';{scripts}"
    yield '<head>\n<meta charset="utf-8">'
    yield f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield '<meta name="referrer" content="no-referrer">'
    yield f"<title>{escape(title)}</title>"
    yield f"<style>{_template('dossier.css')}</style>\n</head>\n<body>"


def _header(dossier: Dossier) -> Iterator[str]:
    yield f"<header><p>{escape(dossier.workshop)}</p>"
    yield f"<h1>{escape(dossier.headline)}</h1>"
    yield f'<p class="code">{escape(dossier.code)}</p></header>'


def _notices(dossier: Dossier) -> Iterator[str]:
    if dossier.alarm:
        yield f'<p class="alarm" role="alert">{escape(dossier.alarm)}</p>'
    if dossier.note:
        yield f'<p class="note">{escape(dossier.note)}</p>'


def _pictures(pictures: Sequence[Picture]) -> Iterator[str]:
    if not pictures:
        return
    yield '<div class="pictures">'
    for picture in pictures:
        source = f"data:{_media_type(picture.data)};base64,{_base64(picture.data)}"
        words = escape(picture.words)
        image = f'<img src="{source}" alt="{words}">'
        if picture.is_wide:  # its words would be too small on a telephone
            yield f'<figure class="wide"><div class="scroll" tabindex="0">{image}</div>'
        else:
            yield f"<figure>{image}"
        yield f"<figcaption>{words}</figcaption></figure>"
    yield "</div>"


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


def _media_type(data: bytes) -> str:
    if data.startswith(b"\xff\xd8"):
        return "image/jpeg"
    return "image/png" if data.startswith(b"\x89PNG") else "image/svg+xml"


def _section(title: str, sentences: Sequence[str]) -> Iterator[str]:
    if sentences:
        yield f"<h2>{escape(title)}</h2>"
        for sentence in sentences:
            yield f"<p>{escape(sentence)}</p>"


def _steps(steps: Sequence[Step], custody: Sequence[str]) -> Iterator[str]:
    yield "<h2>Chain of custody</h2>"
    for sentence in custody:
        yield f"<p>{escape(sentence)}</p>"
    has_names = any(step.who for step in steps)
    heading = "<th>By</th>" if has_names else ""
    yield f'<div class="scroll" tabindex="0"><table><tr><th>Day</th><th>What</th>{heading}</tr>'
    for step in steps:
        kind = "" if step.is_told else ' class="withheld"'
        who = f"<td>{escape(step.who)}</td>" if has_names else ""
        yield f'<tr{kind}><td class="day">{step.day}</td><td>{escape(step.words)}</td>{who}</tr>'
    yield "</table></div>"


def _hazards(hazards: Sequence[HazardLine]) -> Iterator[str]:
    if not hazards:
        return
    has_names = any(line.who for line in hazards)
    heading = "<th>By</th>" if has_names else ""
    yield "<h2>Hazards looked for</h2>"
    yield '<div class="scroll" tabindex="0"><table>'
    yield f"<tr><th>Board</th><th>Hazard</th><th>Found</th><th>Day</th>{heading}</tr>"
    for line in hazards:
        who = f"<td>{escape(line.who)}</td>" if has_names else ""
        yield (
            f'<tr><td class="code">{escape(line.board)}</td><td>{escape(line.hazard)}</td>'
            f'<td>{escape(line.found)}</td><td class="day">{escape(line.day)}</td>{who}</tr>'
        )
    yield "</table></div>"
    yield "<p>This is what the workshop wrote down; it certifies nothing.</p>"


_BY_HAND = (
    "Save the proof. Each entry's hash is the SHA-256 of the hash before it (32 bytes) followed by"
    " its text. From the hash, the path leads up a Merkle tree (RFC 9162) to a root, and the roots"
    " are signed (Ed25519, RFC 8032) over the checkpoint's canonical JSON (RFC 8785). With Python,"
    " sha256sum and openssl that is a page of steps, which the workshop can send you. Compare the"
    " key with the one that the workshop has made known elsewhere."
)


def _proof(code: str, proof: DossierProof) -> Iterator[str]:
    count = proof.shown + proof.withheld
    yield "<h2>Proof</h2>"
    yield (
        f"<p>This page rests on {count} entries of the workshop’s journal, signed on"
        f" {proof.signed_at[:10]}. {proof.shown} of them can be read in the proof; the others are"
        " given by their hash alone, and the workshop can open them to an inspector.</p>"
    )
    yield (
        '<ul id="verdict" aria-live="polite"><li>This page checks its own proof, with no network,'
        " where scripts may run; else see below.</li></ul>"
    )
    yield f'<p class="hash">Record {escape(proof.heads)}</p>'
    source = f"data:application/json;base64,{_base64(proof.data)}"
    yield (
        f'<p class="screen"><a download="proof-{escape(code)}.json" href="{source}">Save the'
        " proof</a></p>"
    )
    yield f"<details><summary>Check it without this page</summary><p>{_BY_HAND}</p></details>"
    inert = proof.data.decode().replace("<", "\\u003c")  # nothing in it may end the element
    yield f'<script type="application/json" id="proof">{inert}</script>'


def _footer(dossier: Dossier, proof: DossierProof) -> Iterator[str]:
    told = [text for text in (dossier.workshop, dossier.contact, dossier.web_address) if text]
    yield f"<footer><p>{escape(' · '.join(told))}</p>"
    yield (
        f"<p>Written from the record as it stood on {proof.signed_at[:10]}. It shows what was"
        " written down and that it was not changed since; it does not show that it was true, and"
        " certifies nothing.</p></footer>"
    )
