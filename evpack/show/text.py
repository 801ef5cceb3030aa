"""Nouns and decisions told in plain text, for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from functools import singledispatch

import attrs

from evpack.base.finding import Finding, Severity
from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.outcome.design import Decision, Design, Verdict
from evpack.outcome.figures import PackFigures
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.outcome.settings import DeviceSettings, Setting, SettingsSheet
from evpack.outcome.sharing import Sharing
from evpack.outcome.usable import UsableWindow
from evpack.show.clean import clean
from evpack.show.facts import Facts, build_parts, facts
from evpack.show.gather import (
    arrangement,
    assumed_in,
    formula_words,
    missing,
    notes,
    passes,
    sharing_lines,
    source_words,
    usable_lines,
)
from evpack.show.words import (
    BASIS,
    NOT_KNOWN,
    SEVERITY,
    VERDICT,
    cautions,
    count_of,
    entry_words,
    margin_words,
    per_cell,
    per_cent,
    shown,
)

WIDTH = 88
_NAME = 30  # width of the column that holds names, where values stand to the right of them


@attrs.define
class _Page:
    """Lines of text, wrapped to a width as they are added."""

    width: int
    lines: list[str] = attrs.field(factory=list)

    def say(self, text: object, indent: int = 0, hang: int | None = None) -> None:
        """Add a paragraph; `hang` is the indent of its further lines."""
        first, rest = " " * indent, " " * (indent if hang is None else hang)
        wrapped = textwrap.wrap(
            clean(text),
            width=max(self.width, 40),
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )
        self.lines += wrapped

    def pair(self, name: object, value: object, indent: int = 2) -> None:
        """Add a name with its value beside it, or below it where the name is too long."""
        words = clean(name)
        if len(words) > _NAME:
            self.say(words, indent)
            words = ""
        self.say(f"{words:<{_NAME}}  {clean(value)}", indent, hang=indent + _NAME + 2)

    def gap(self) -> None:
        """Add an empty line, never two."""
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def head(self, text: str) -> None:
        """Add a section head."""
        self.gap()
        self.lines += [clean(text), "-" * min(len(clean(text)), self.width)]

    def __str__(self) -> str:
        return "\n".join(self.lines).rstrip()


def as_text(noun: object, width: int = WIDTH) -> str:
    """Return any of evpack's nouns as plain text.

    Parameters
    ----------
    noun : object
        A noun of `describe` or `outcome`, a `Finding` or a `Worked`.
    width : int
        Columns to wrap to.

    Raises
    ------
    TypeError
        For anything else.
    """
    page = _Page(width)
    tell(noun, page)
    return str(page)


def decision_text(decision: Decision, width: int = WIDTH) -> str:
    """Return a decision as plain text, in the order of a builder's questions."""
    return as_text(decision, width)


@singledispatch
def tell(noun: object, page: _Page) -> None:
    """Write a noun on a page; the nouns a user states are told as their facts."""
    _facts(facts(noun), page)


def _facts(told: Facts, page: _Page) -> None:
    page.head(told.title)
    for row in told.rows:
        tail = [BASIS[row.basis]] if row.basis and row.value != NOT_KNOWN else []
        tail += [row.note] if row.note else []
        page.pair(row.label, row.value + (f" ({'; '.join(tail)})" if tail else ""))
    if told.note:
        page.say(told.note, 2)


@tell.register
def _(source: Source, page: _Page) -> None:
    page.say(source, 2)
    if source.note:
        page.say(source.note, 2)


@tell.register
def _(worked: Worked, page: _Page) -> None:
    page.pair(worked.name, shown(worked.value, worked.unit))
    _how(worked, page)


def _how(worked: Worked, page: _Page, indent: int = 4) -> None:
    """Write formula, numbers, and what was assumed: in short, the inputs are in the numbers."""
    page.say(" = ".join(part for part in formula_words(worked) if part), indent, hang=indent + 2)
    if worked.note:
        page.say(worked.note, indent)
    if worked.assumed:
        page.say(f"assumed: {'; '.join(worked.assumed)}", indent)


def _explained(worked: Worked, page: _Page) -> None:
    """Write a number that stands alone, with everything known about it."""
    tell(worked, page)
    for given in worked.inputs:
        page.say(
            f"{given.symbol} = {shown(given.value, given.unit)}: {given.means} "
            f"({BASIS[given.basis]})",
            6,
            hang=8,
        )
    page.say(f"source: {source_words(worked.source)}", 4, hang=6)


@tell.register
def _(finding: Finding, page: _Page) -> None:
    words = SEVERITY[finding.severity]
    page.say(f"{words.glyph} {words.word}  {finding.about}: {finding.detail}", 2, hang=6)
    if finding.margin is not None and finding.severity is not Severity.UNKNOWN:
        page.say(f"margin: {margin_words(finding.margin, finding.unit)}", 6)
    if finding.remedy:
        lead = "To clear it" if finding.holds else "What to do"
        page.say(f"{lead}: {finding.remedy}", 6, hang=8)
    page.say(
        f"Rule: {finding.rule.says} [{source_words(finding.rule.source)}]",
        6,
        hang=8,
    )
    if finding.assumed:
        page.say(f"Rests on assumed: {'; '.join(finding.assumed)}", 6, hang=8)


def _all(findings: Iterable[Finding], page: _Page) -> None:
    for finding in findings:
        tell(finding, page)
        page.gap()


@tell.register
def _(figures: PackFigures, page: _Page) -> None:
    page.head("What the pack is")
    page.pair("cells in series", figures.cells_in_series)
    page.pair("modules", figures.modules)
    if figures.reachable:
        page.pair(
            "series counts within reach",
            ", ".join(str(n) for n in figures.reachable) + " cells (whole modules only)",
        )
    for line in figures.lines():
        tell(line, page)
    names = {
        "resistance": figures.resistance,
        "discharge current, for good": figures.discharge_limit,
        "discharge current, for seconds": figures.discharge_peak,
        "charge current": figures.charge_limit,
    }
    for name, known in names.items():
        if known is None:
            page.pair(name, NOT_KNOWN)


@tell.register
def _(usable: UsableWindow, page: _Page) -> None:
    page.head("How much energy you get")
    page.pair("state of charge, top", f"{per_cent(usable.soc_top)}, after a full charge")
    if usable.soc_changeover is not None:
        page.pair("state of charge, changeover", f"{per_cent(usable.soc_changeover)}, typical load")
    page.pair(
        "state of charge, bottom",
        f"{per_cent(usable.soc_bottom)}, under {shown(usable.load, 'W')}; "
        f"what ends it: {usable.bottom_by}",
    )
    for line in usable_lines(usable):
        tell(line, page)


@tell.register
def _(setting: Setting, page: _Page) -> None:
    page.pair(setting.name, entry_words(setting))
    at = []
    if setting.per_cell is not None:
        at.append(f"{per_cell(setting.per_cell)} a cell")
    if setting.soc_rest is not None:
        at.append(f"{per_cent(setting.soc_rest)} charged if at rest")
    if setting.soc_loaded is not None:
        at.append(f"{per_cent(setting.soc_loaded)} charged if under load")
    for text in (
        "; ".join(at),
        setting.why,
        f"the device offers: {setting.offers}" if setting.offers else "",
        f"lost: {setting.lost}" if setting.lost else "",
        f"where: {setting.where}" if setting.where else "",
    ):
        if text:
            page.say(text, 4, hang=6)
    if setting.worked is not None:
        _how(setting.worked, page)


@tell.register
def _(device: DeviceSettings, page: _Page) -> None:
    page.gap()
    page.say(f"[ {device.device} ]")
    if not device.lines:
        page.say("nothing to set", 2)
    for line in device.lines:
        tell(line, page)


@tell.register
def _(sheet: SettingsSheet, page: _Page) -> None:
    page.head("What to enter on each device")
    page.say("Enter it, leave the menu, read it back, take a picture.", 2)
    for device in sheet.devices:
        tell(device, page)


@tell.register
def _(band: FaultBand, page: _Page) -> None:
    page.pair(band.place, f"{_number(band.low)} (least) to {_number(band.high)} (most)")
    for number in (band.low, band.high):
        if number is not None:
            _how(number, page)


def _number(worked: Worked | None) -> str:
    return NOT_KNOWN if worked is None else shown(worked.value, worked.unit)


@tell.register
def _(fuse: FuseChoice, page: _Page) -> None:
    size = "no size can be named" if fuse.size is None else f"{shown(fuse.size, 'A')}"
    family = "" if fuse.family is None else f", {fuse.family.name}"
    page.pair(fuse.place, f"{count_of(fuse.count, 'fuse')}, {size}{family}")
    page.say(
        f"rating between {_number(fuse.lower)} and {_number(fuse.upper)}; DC voltage "
        f"{_number(fuse.voltage)} or more; must interrupt {_number(fuse.interrupting)}",
        4,
        hang=6,
    )
    page.say(fuse.reason, 4, hang=6)
    if fuse.change:
        page.say(f"to make one fit: {fuse.change}", 4, hang=6)
    for number in (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting):
        if number is not None:
            page.say(f"{number.name}: {_number(number)}", 4)
            _how(number, page, 6)


@tell.register
def _(schedule: ProtectionSchedule, page: _Page) -> None:
    page.head("What protects it")
    page.say("Fuses", 2)
    for fuse in schedule.fuses:
        tell(fuse, page)
    page.gap()
    page.say("Current into a dead short", 2)
    for band in schedule.faults:
        tell(band, page)


@tell.register
def _(sharing: Sharing, page: _Page) -> None:
    page.head("How the strings share the current")
    page.say(f"{count_of(sharing.strings, 'string')}; worst string by {sharing.method}", 2)
    for line in sharing_lines(sharing):
        tell(line, page)


@tell.register
def _(build: Build, page: _Page) -> None:
    page.say(build.title)
    if build.note:
        page.say(build.note, 2)
    for part in build_parts(build):
        tell(part, page)


@tell.register
def _(design: Design, page: _Page) -> None:
    page.say(design.build.title)
    page.say(arrangement(design), 2)
    _parts(design, page)
    page.head("What was found")
    _all(sorted(design.findings, key=lambda f: -f.severity), page)


def _parts(design: Design, page: _Page) -> None:
    for part, what in (
        (design.figures, "The pack's figures"),
        (design.usable, "The usable energy"),
        (design.settings, "The settings sheet"),
        (design.protection, "The protection schedule"),
    ):
        if part is None:
            page.head(what)
            page.say(missing(what), 2)
        else:
            tell(part, page)
    if design.sharing is not None:
        tell(design.sharing, page)


@tell.register
def _(decision: Decision, page: _Page) -> None:
    design = decision.design
    words = VERDICT[decision.verdict]
    bar = "=" * page.width
    page.lines.append(bar)
    page.say(f"{words.glyph} {words.word.upper()}", 2)
    page.say(design.build.title, 2)
    page.lines.append(bar)
    page.say(words.sentence)
    page.say(arrangement(design))
    first, *rest = cautions(decision)
    page.say(first)

    if decision.held_by:
        page.head(f"What holds it up ({len(decision.held_by)})")
        _all(decision.held_by, page)
    if decision.limits:
        page.head(f"Limits to keep ({len(decision.limits)})")
        _all(decision.limits, page)
    _parts(design, page)
    if notes(design):
        page.head("Worth knowing")
        _all(notes(design), page)

    page.head("What was checked")
    page.say(_tally(decision), 2)
    page.head("What was assumed")
    for means, value in assumed_in(design):
        page.say(f"- {means}{f': {value}' if value else ''}", 2, hang=4)
    if not assumed_in(design):
        page.say("nothing", 2)
    page.head("Before you work on it")
    for sentence in rest:
        page.say(f"- {sentence}", 2, hang=4)


def _tally(decision: Decision) -> str:
    design = decision.design
    parts = [
        f"{SEVERITY[s].glyph} {len(design.of(s))} {SEVERITY[s].word}"
        for s in sorted(Severity, reverse=True)
        if design.of(s)
    ]
    text = f"{count_of(len(design.findings), 'finding')}: {', '.join(parts) or 'none'}."
    if decision.verdict is not Verdict.WORKS or not passes(design):
        return text
    return text + " Passes and their margins are kept as evidence."
