"""Fuses, cables and what to buy, on one sheet with boxes to tick."""

from __future__ import annotations

from evpack.base.wording import say, say_up
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.design import Design
from evpack.outcome.protection import FuseChoice, PartLine, ProtectionSchedule
from evpack.show.cables import cable_name, cables_of, length_words, run_words
from evpack.show.clean import prose
from evpack.show.draw.one_line import one_line_svg
from evpack.show.fuses import fuse_words
from evpack.show.html_tables import number, row, table
from evpack.show.words import count_of

_BOX = '<span class="evp-box" role="img" aria-label="box to tick"></span>'

_POLARISED = {
    True: "polarised: as its print shows",
    False: "not polarised",
    None: "? polarised or not is not said",
}


def schedule_sheet(design: Design) -> str:
    """Return the protection and cable schedule; nothing for a design that may not be built."""
    schedule = design.protection
    if schedule is None or schedule.withheld:
        return ""
    return (
        "<p>A rating is read off the part itself. An AC rating says nothing about DC.</p>"
        f"{_fuses(schedule)}{_cables(schedule)}{_parts(schedule)}"
    )


def _fuses(schedule: ProtectionSchedule) -> str:
    heads = ("fuse at", "how many", "rating", "sort", "DC, at least", "breaks, at least", "read")
    rows = "".join(_fuse(fuse) for fuse in schedule.fuses)
    return table("Fuses", heads, rows, widths=(28, 8, 12, 22, 11, 12, 7))


def _fuse(fuse: FuseChoice) -> str:
    words = fuse_words(fuse)
    volts = "–" if fuse.voltage is None else say_up(fuse.voltage.value, "V")
    breaks = "–" if fuse.interrupting is None else say_up(fuse.interrupting.value, "A")
    return row(
        prose(fuse.place),
        number(str(fuse.count)),
        f"<b>{prose(f'{words.glyph} {words.word}'.strip())}</b>",
        prose(kind_words(fuse.family)),
        number(volts),
        number(breaks),
        _BOX,
    )


def kind_words(family: FuseFamily | None) -> str:
    """Return of what sort a fuse or breaker must be: another one of the same rating guards less.

    What nobody said of it is asked, and not left out.
    """
    if family is None:
        return "? not known"
    told = [f"{family.name} ({family.standard})" if family.standard else family.name]
    if family.kind != "breaker":
        melts = family.characteristic
        told.append(f"melts as {melts}" if melts else "? how it melts is not said")
        return ", ".join(told)
    told.append(f"{count_of(family.poles, 'pole')} in series")
    told.append(_POLARISED[family.polarised])
    trip = family.instantaneous_trip
    told.append(
        "? where it trips at once is not said"
        if trip is None
        else f"trips at once from {say(float(trip.m), 'A')}"
    )
    return ", ".join(told)


def _cables(schedule: ProtectionSchedule) -> str:
    heads = ("cable from, to", "how many", "size, copper", "one way, at most", "fitted")
    rows = "".join(
        row(
            prose(cable_name(cable, circuit)),
            number(str(cable.count)),
            f"<b>{prose('not known' if cable.run is None else run_words(cable.run))}</b>",
            number("–" if cable.run is None else length_words(float(cable.run.length.m))),
            _BOX,
        )
        for cable, circuit in cables_of(schedule)
    )
    return table("Cables", heads, rows, widths=(38, 10, 26, 18, 8))


def _parts(schedule: ProtectionSchedule) -> str:
    heads = ("what to buy", "how many", "what it must be", "bought", "fitted")
    rows = "".join(_part(part) for part in schedule.parts)
    return table("What to buy", heads, rows, widths=(28, 7, 51, 7, 7))


def _part(part: PartLine) -> str:
    note = f' <span class="evp-soft">{prose(part.note)}</span>' if part.note else ""
    return row(
        prose(part.function), number(str(part.count)), f"{prose(part.rating)}{note}", _BOX, _BOX
    )


def diagram_sheet(design: Design) -> str:
    """Return the one-line diagram as large as the paper; nothing where nobody may build by it."""
    if design.protection is None or design.protection.withheld:
        return ""
    return f'<div class="wide-picture"><figure>{one_line_svg(design)}</figure></div>'
