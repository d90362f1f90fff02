"""One line of plain words for every kind of event."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from salvage.units import format_area, format_mass, format_mm, format_money
from salvage.work.custody_words import CUSTODY_WORDS
from salvage.work.gate_words import GATE_WORDS
from salvage.work.material_words import MATERIAL_WORDS
from salvage.work.recall_words import RECALL_WORDS
from salvage.work.season_words import season_words
from salvage.work.waste_words import WASTE_WORDS

if TYPE_CHECKING:
    from salvage.records.events import Event

# The fields of an event are what its kind says (salvage.records.events.KINDS), so Any is safe here.
Data = Mapping[str, Any]


def _reason(text: str) -> str:
    return f": {text}" if text else ""


def _data_parts(d: Data) -> str:
    parts = ", ".join(f"{part['count']} x {part['part']}" for part in d["data_parts"])
    return f"; data-bearing parts: {parts}" if parts else ""


def _drop_off(d: Data) -> str:
    weight = f", {format_mass(d['weight_mg'] / 1000)}" if d["weight_mg"] else ""
    return f"drop-off received {d['received_on']}: {d['contents']}{weight}{_data_parts(d)}"


def _hazard(d: Data) -> str:
    outcome = {"removed": "removed", "accepted": "accepted"}.get(d["outcome"], "")
    told = [d["finding"], outcome, d["how"], d["goes_to"], d["reason"]]
    return f"hazard {d['hazard']}: " + ", ".join(text for text in told if text)


def _cut(d: Data) -> str:
    what = "piece" if d["outcome"] == "piece" else f"scrap ({d['reason']})"
    override = f"; OVERRIDE: {d['override_reason']}" if d["override_reason"] else ""
    return (
        f"cut {d['shape']} as {what} at {d['x_um'] / 1000:g}, {d['y_um'] / 1000:g} mm"
        f" with {d['tool']}, kerf {d['kerf_um'] / 1000:g} mm;"
        f" usable {format_area(d['usable_before_um2'] / 1e6)}"
        f" -> {format_area(d['usable_after_um2'] / 1e6)}{override}"
    )


def _sold(d: Data) -> str:
    venue = f" at {d['venue']}" if d["venue"] else ""
    return f"sold for {format_money(d['price_minor'], d['currency'])}{venue} on {d['sold_on']}"


def _settings(d: Data) -> str:
    return "settings: " + ", ".join(f"{name} = {value}" for name, value in d["settings"].items())


def _board(d: Data) -> str:
    named = " ".join(text for text in (d["maker"], d["model"]) if text)
    outline = f", outline {d['outline_from']}" if d["outline"] else ", no outline yet"
    return f"board recorded: {d['type']}{' ' + named if named else ''}{outline}"


def _corrected(what: str) -> Callable[[Data], str]:
    """Words for a correction: each field as it was and as it is; sealed ones only by name."""

    def words(d: Data) -> str:
        told = ", ".join(
            _change(field, d["was"][field], value) for field, value in d["now"].items()
        )
        hazards = ", ".join(d.get("hazards", ()))
        more = f"; now to be checked as well: {hazards}" if hazards else ""
        return f"{what} corrected: {told}{more}{_reason(d['why'])}"

    return words


def _change(field: str, was: Any, now: Any) -> str:
    for ending, form in _FORMS.items():
        if field.endswith(ending):
            name = field.removesuffix(ending).replace("_", " ")
            return f"{name} {form(was)} -> {form(now)}"
    name = field.replace("_", " ")
    if name.endswith(" seal"):
        return f"{name.removesuffix(' seal')} changed (sealed)"
    return f"{name} {_plain(was)} -> {_plain(now)}"


def _plain(value: Any) -> str:
    return "not known" if value is None else f"'{value}'" if isinstance(value, str) else str(value)


_FORMS: Mapping[str, Callable[[int | None], str]] = {
    "_mg": lambda mg: "not known" if mg is None else format_mass(mg / 1000),
    "_um": lambda um: "not known" if um is None else format_mm(um / 1000),
}


def _alert_about(d: Data) -> str:
    days = f"{d['made_from'] or 'any'} to {d['made_to'] or 'any'}"
    dates = f"date codes {days}" if d["made_from"] or d["made_to"] else ""
    told = (d["maker"], d["model"], d["type"], d["drop_off"], dates)
    return ", ".join(text for text in told if text)


def _lines(d: Data) -> str:
    return ": " + ", ".join(f"{line['quantity']} x {line['name']}" for line in d["lines"])


def _price_said(data: Data) -> str:
    if data["price_minor"] is None:
        return ", without a price"
    return f", price {format_money(data['price_minor'], data['currency'])}"


_WORDS: Mapping[str, Callable[[Data], str]] = {
    "device.joined": lambda d: f"device {d['letter']} joined: {d['name']}",
    "device.keyed": lambda d: f"device signs with the key {d['public_key'][:16]}…",
    "clash.settled": lambda d: f"clash of two devices settled: {d['how']}",
    "workshop.set": _settings,
    "area.recounted": lambda d: f"usable area of {len(d['usable_um2'])} boards counted again",
    "donor.added": lambda d: f"donor added ({d['source_kind']}), wishes to be {d['naming']}",
    "donor.naming_set": lambda d: f"donor wishes to be {d['naming']}{_reason(d['naming_how'])}",
    "donor.corrected": _corrected("donor"),
    "donor.forgotten": lambda d: f"donor forgotten, name and contact erased{_reason(d['reason'])}",
    "dropoff.logged": _drop_off,
    "dropoff.data_found": lambda d: f"looked for data{_data_parts(d)}",
    "dropoff.data_settled": lambda d: f"data-bearing part {d['n']} {d['state']}{_reason(d['how'])}",
    "dropoff.corrected": _corrected("drop-off"),
    "board.recorded": _board,
    "board.outlined": lambda d: (
        f"outline set from {d['outline_from']}, {format_area(d['outline_um2'] / 1e6)}"
    ),
    "board.lead_set": lambda d: f"lead status {d['lead_status']}{_reason(d['lead_evidence'])}",
    "board.corrected": _corrected("board"),
    "board.moved": lambda d: f"moved to {d['place']}",
    "board.retired": lambda d: f"board retired{_reason(d['reason'])}",
    "keepout.added": lambda d: f"keep-out {d['n']} marked: {d['reason']}",
    "keepout.lifted": lambda d: f"keep-out {d['n']} lifted{_reason(d['reason'])}",
    "photo.added": lambda d: f"photo {d['n']} of the {d['side']}{_reason(d['caption'])}",
    "hazard.checked": _hazard,
    "hazard.evidence": lambda d: (
        f"evidence for {d['hazard']}{'' if d['photo'] is None else ', photo ' + str(d['photo'])}"
        f"{_reason(d['note'])}"
    ),
    "fact.added": lambda d: (
        f"own {d['kind']} {d['slug']} added, source: {d['fields'].get('source', '')}"
    ),
    "fact.withdrawn": lambda d: f"own {d['kind']} {d['slug']} withdrawn{_reason(d['reason'])}",
    "alert.raised": lambda d: f"alert: {d['hazard']} on {_alert_about(d)}{_reason(d['reason'])}",
    "alert.lifted": lambda d: f"alert {d['alert'][-8:]} lifted{_reason(d['reason'])}",
    "mat.printed": lambda d: f"mat {d['serial']} printed on {d['paper']}, {d['colour']}",
    "mat.checked": lambda d: (
        f"mat {d['serial']}: bars read {d['bar_x_um'] / 1000:g} and {d['bar_y_um'] / 1000:g} mm"
    ),
    "shape.added": lambda d: (
        f"shape {d['name']} added{', deserves the finest areas' if d['finest'] else ''}"
    ),
    "plan.made": lambda d: f"planned for {d['for_whom']}, held until {d['holds_until']}{_lines(d)}",
    "plan.changed": lambda d: (
        f"planned again, held until {d['holds_until']}{_lines(d)}{_reason(d['why'])}"
    ),
    "plan.extended": lambda d: f"held until {d['holds_until']}",
    "plan.released": lambda d: f"plan released{_reason(d['reason'])}",
    "reservation.made": lambda d: f"{d['shape']} reserved for {d['for_whom']}",
    "reservation.released": lambda d: f"reservation released{_reason(d['reason'])}",
    "cut.made": _cut,
    "piece.staged": lambda d: f"stage {d['stage']}{_reason(d['note'])}",
    "piece.priced": lambda d: f"priced {format_money(d['price_minor'], d['currency'])}",
    "piece.weighed": lambda d: f"weighs {format_mass(d['weight_mg'] / 1000)}",
    "piece.sold": _sold,
    "piece.returned": lambda d: f"came back on {d['returned_on']}{_reason(d['reason'])}",
    "card.printed": lambda d: f"story card printed, donor {d['naming']}",
    "tag.printed": lambda d: f"tag printed ({d['design']}){_price_said(d)}",
    "label.printed": lambda d: f"label printed on {d['stock']}",
    "article.assembled": lambda d: (
        f"{d['name']} assembled of {' '.join(d['parts'])}, {d['custody']}{_reason(d['note'])}"
    ),
    "article.taken_apart": lambda d: f"taken apart{_reason(d['reason'])}",
    "consignment.sent": lambda d: (
        f"consignment to {d['receiver']}: {d['contents']}, {format_mass(d['weight_mg'] / 1000)}"
    ),
    **RECALL_WORDS,
    "stocktake.begun": lambda d: (
        f"stock-take begun: {d['things']}{' at ' + d['place'] if d['place'] else ''}"
    ),
    "stocktake.seen": lambda d: (
        f"seen by {d['source']}{' at ' + d['place'] if d['place'] else ''}: {' '.join(d['codes'])}"
    ),
    "stocktake.closed": lambda d: f"stock-take closed: {d['seen']} seen, {d['missing']} missing",
    "thing.lost": lambda d: f"not found at stock-take {d['stock_take']}{_reason(d['reason'])}",
    "thing.found": lambda d: f"found again at stock-take {d['stock_take']}",
    "inbox.waiting": lambda d: f"photo {d['name']} kept, waits in the inbox: {d['reason']}",
    "inbox.dropped": lambda d: f"photo {d['name']} put out of the inbox{_reason(d['reason'])}",
    "place.named": lambda d: f"place {d['name']} has a code for its label",
    "stock.described": lambda d: (
        f"label stock {d['name']}: {d['columns']} x {d['rows']} labels of"
        f" {d['label_width_um'] / 1000:g} x {d['label_height_um'] / 1000:g} mm"
    ),
    "printer.described": lambda d: f"printer {d['name']}: {d['dpi']} dpi{_reason(d['stock'])}",
    "printer.checked": lambda d: (
        f"printer {d['name']} measured: shifts {d['shift_x_um'] / 1000:+.2f} and"
        f" {d['shift_y_um'] / 1000:+.2f} mm, stretches {d['stretch_x_ppm'] / 1e4:+.2f} and"
        f" {d['stretch_y_ppm'] / 1e4:+.2f} %"
    ),
    **MATERIAL_WORDS,
    **CUSTODY_WORDS,
    **WASTE_WORDS,
    **GATE_WORDS,
    "correction.undone": lambda d: f"undone: {d['act']}{_reason(d['why'])}",
    **season_words(_corrected),
}


def describe_event(event: Event) -> str:
    """What happened, in one line."""
    return _WORDS[event.kind](event.data)
