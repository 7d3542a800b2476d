"""The record that a surveyor reads, put together: the hull as found, what was decided, each member, and who signed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from datetime import date

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.logbook import Entry, found, prepared
from scrieve.planking import PlankDesign
from scrieve.sheets.bench import Table
from scrieve.sheets.figures import off_by, plus_minus, sized
from scrieve.sheets.hull import body_plan, profile
from scrieve.sheets.record import Section, record_pdf
from scrieve.web.logbook.work import lines_of
from scrieve.web.views import View
from scrieve.web.workplan.work import fastened_by, land_nails

#: Photographs are printed this long [px]: 200 dots to the inch in half the page's width.
PRINTED_PX = 650


def record_of(view: View) -> bytes:
    """The whole record as a PDF."""
    lines = lines_of(view)
    boat = view.boat
    sections = [
        *_hull(view),
        *_frames(view, lines),
        *_planks(view, lines),
        *_others(view, lines),
        _whole_boat(view, lines),
        _deviations(view, lines),
        _signatures(lines),
        Section("All that was done", tables=(_book(lines),)),
    ]
    return record_pdf(boat.name, boat.note, view.state.revision, sections, date=date.today().isoformat())


def _hull(view: View) -> list[Section]:
    boat, u = view.boat, view.boat.units
    counts = Counter(mark.frame for mark in view.kept.marks)
    stations = {mark.frame: mark.station_mm for mark in view.kept.marks}
    taken_off = [
        (frame, sized(stations[frame], u), str(n)) for frame, n in sorted(counts.items(), key=lambda i: stations[i[0]])
    ]
    beside = 3 if len(taken_off) > 12 else 1
    high = math.ceil(len(taken_off) / beside)
    rows = tuple(
        tuple(cell for row in taken_off[n::high] for cell in row) + ("",) * 3 * (beside - len(taken_off[n::high]))
        for n in range(high)
    )
    facts = (
        (
            "marks to",
            f"the {boat.planking} of planking" + (f", {sized(boat.thickness_mm, u)}" if boat.thickness_mm else ""),
        ),
        ("error of a mark, as stated", f"± {plus_minus(boat.sigma_mm, u)}"),
        ("marks", f"{len(view.kept.marks)} on {len(counts)} frames"),
    )
    taken = Section(
        "The hull as found",
        facts=facts,
        tables=(Table("Marks taken off", ("frame", "station", "marks") * beside, rows),),
    )
    hull = view.hull
    if hull is None:
        return [taken, Section("Fairing", (f"The hull has not been faired: {view.cannot}",))]
    words = (
        "The lines below are those of the fair surface through the marks that count. Marks that did not count, and "
        "what was answered to them, are listed; none was thrown away.",
    )
    told = (
        ("off the fair line, root mean square", plus_minus(hull.rms_mm, u)),
        ("error of a mark, as the marks tell it", f"± {plus_minus(hull.error_mm, u)}"),
    )
    drawings = (("Profile", profile(hull, units=u)), ("Body plan", body_plan(hull, units=u)))
    return [taken, Section("Fairing, and what was decided", words, told, drawings, (_answers(view, hull),))]


def _answers(view: View, hull: FairHull) -> Table:
    u = view.boat.units
    offs = {off.number: off for off in hull.offs}
    rows = []
    for mark in view.state.every_mark:
        off, said = offs.get(mark.number), view.kept.answers.get(mark.number, "")
        if said or (off and off.suspect):
            away = off_by(off.residual_mm, u) if off else "–"
            rows.append((str(mark.number), mark.frame, mark.side or "–", sized(mark.height_mm, u), away,
                         said or "not answered", off.guess if off else ""))  # fmt: skip
    return Table(
        "Marks that were doubted", ("mark", "frame", "side", "height", "off the line", "answer", "perhaps"), tuple(rows)
    )


def _frames(view: View, lines: Sequence[Entry]) -> list[Section]:
    sections = [Section("Frames")] if view.kept.frames else []
    for label in view.kept.frames:
        mine = found(lines, member=f"frame {label}")
        try:
            design, sheet, revision = view.frame(label)
        except ScrieveError as error:
            sections.append(Section(f"Frame {label}", (f"Not designed: {error}",), tables=_done(mine), level=2))
            continue
        missed = tuple(f"Not met: {c.name}: {c.found}; limit {c.limit}." for c in design.checks if not c.ok)
        facts = (*sheet.summary, ("revision", revision))
        sections.append(
            Section(f"Frame {label}", missed, facts, sheet.drawings[:1], _done(mine), _pictures(view, mine), 2)
        )
    return sections


def _planks(view: View, lines: Sequence[Entry]) -> list[Section]:
    sections = [Section("Planks")] if view.kept.planks else []
    for name in view.kept.planks:
        mine = found(lines, member=f"plank {name}")
        try:
            design, sheet = view.plank(name)
        except ScrieveError as error:
            sections.append(Section(f"Plank {name}", (f"Not drawn: {error}",), tables=_done(mine), level=2))
            continue
        missed = tuple(f"Not met: {c.name}: {c.found}; limit {c.limit}." for c in design.checks if not c.ok)
        sections.append(
            Section(f"Plank {name}", missed, (*sheet.summary, *_fastenings(view, design)), sheet.drawings[:1],
                    _done(mine), _pictures(view, mine), 2)
        )  # fmt: skip
    return sections


def _fastenings(view: View, design: PlankDesign) -> tuple[tuple[str, str], ...]:
    """What the plank is to be fastened with; what was driven stands among what was done."""
    try:
        if nails := land_nails(design):
            return (("fastenings", f"{nails} nails along its land"),)
        found = fastened_by(view.file.engine, design)
    except ScrieveError as error:
        return (("fastenings", f"none reckoned: {error}"),)
    long = sized(found.screw.length_mm, view.boat.units)
    told = f"{found.total} screws no. {found.screw.number}, {long} long, at {len(design.frames)} frames"
    return (("fastenings", f"{told}; ends apart"),)


def _others(view: View, lines: Sequence[Entry]) -> list[Section]:
    """Members of which something is written and that were not designed here: stem, keelson, a frame left as it is."""
    drawn = {f"frame {label}" for label in view.kept.frames} | {f"plank {name}" for name in view.kept.planks}
    names = sorted({entry.member for entry in lines if entry.member and entry.number} - drawn)
    sections = [Section("Other members")] if names else []
    for name in names:
        mine = [entry for entry in lines if entry.member == name]
        sections.append(Section(name.capitalize(), tables=_done(mine), photographs=_pictures(view, mine), level=2))
    return sections


def _whole_boat(view: View, lines: Sequence[Entry]) -> Section:
    mine = [entry for entry in lines if not entry.member and entry.number]
    return Section("The boat as a whole", tables=_done(mine), photographs=_pictures(view, mine))


def _deviations(view: View, lines: Sequence[Entry]) -> Section:
    odd = [entry for entry in lines if entry.what == "deviation" or entry.corrected_by or entry.corrects]
    words = ("Entries of deviations, and entries that were put right with what put them right.",)
    return Section("Deviations and corrections", words if odd else ("None was written down.",), tables=_done(odd))


def _signatures(lines: Sequence[Entry]) -> Section:
    signed = [entry for entry in lines if entry.signed_by or entry.what == "signature"]
    rows = tuple(
        (
            entry.at[:16].replace("T", " "),
            entry.member or "boat",
            entry.what,
            _said(entry),
            entry.signed_by or entry.who,
        )
        for entry in signed
    )
    if not rows:
        return Section("Signed", ("Nothing has been signed.",))
    words = ("Who signed with a PIN is named as such; a name marked so has no PIN behind it.",)
    return Section("Signed", words, tables=(Table("", ("when (UTC)", "member", "what", "in words", "by"), rows),))


def _done(lines: Sequence[Entry]) -> tuple[Table, ...]:
    rows = tuple(
        (
            entry.at[:16].replace("T", " "),
            entry.what,
            _said(entry),
            entry.who + (f"; signed {entry.signed_by}" if entry.signed_by else ""),
        )
        for entry in sorted(lines, key=lambda entry: entry.at)
        if entry.number
    )
    return (Table("What was done", ("when (UTC)", "what", "in words", "by"), rows),) if rows else ()


def _book(lines: Sequence[Entry]) -> Table:
    rows = tuple(
        (entry.at[:16].replace("T", " "), entry.member, entry.what, _changed(entry), entry.who)
        for entry in reversed(lines)
    )
    return Table("", ("when (UTC)", "member", "what", "in words", "by"), rows)


def _changed(entry: Entry) -> str:
    """What was changed, or the text: enough of it to know the entry by."""
    changed = [f"{name}: {value}" for name, value in entry.values if "→" in value]
    text = "; ".join(changed) or entry.text
    return text if len(text) <= 120 else text[:117] + "…"


def _said(entry: Entry) -> str:
    parts = [entry.text, "; ".join(f"{name}: {value}" for name, value in entry.values)]
    put_right = f"(put right by entry {entry.corrected_by})" if entry.corrected_by else ""
    return " ".join(part for part in (*parts, put_right) if part)[:600]


def _pictures(view: View, lines: Sequence[Entry]) -> tuple[tuple[str, bytes], ...]:
    return tuple(
        (f"{entry.at[:10]}, {entry.what}: {entry.text[:120]}",
         prepared(store.photograph(view.file.engine, digest), PRINTED_PX))
        for entry in lines
        for digest in entry.photographs
    )  # fmt: skip
