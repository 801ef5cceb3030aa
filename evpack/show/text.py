"""Decisions told in plain text, for a terminal: short, or with everything."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from evpack.base.finding import Finding, Severity
from evpack.base.worked import Worked
from evpack.decide import decide
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.groundwork import PackFigures
from evpack.outcome.protection import ProtectionSchedule
from evpack.outcome.settings import DeviceSettings, SettingsSheet
from evpack.show import (  # noqa: F401  they register their nouns
    runs,
    search,
    text_commissioning,
    text_matching,
    text_operation,
    text_trials,
)
from evpack.show.assumed import Assumed, assumed_in, by_thing
from evpack.show.clean import clean, tied
from evpack.show.energy_words import OUT_OF_INVERTER, energy_words
from evpack.show.gather import (
    arrangement,
    formula_words,
    missing,
    missing_in,
    notes,
    stops,
    ways_out,
)
from evpack.show.text_nouns import device_head, sheet_head, tell
from evpack.show.text_protection import in_short, solar_in_full
from evpack.show.to_text import WIDTH, Page
from evpack.show.words import (
    SEVERITY,
    VERDICT,
    cautions,
    count_of,
    entry_words,
    only_assumed,
    per_cent,
    shown,
    so_far,
    standing_words,
    tally,
    worked_words,
)


def as_text(noun: object, width: int = WIDTH, *, full: bool = False) -> str:
    """Return any of evpack's nouns as plain text.

    Parameters
    ----------
    noun : object
        A noun of `describe` or `outcome`, a `Finding` or a `Worked`.
    width : int
        Columns to wrap to.
    full : bool
        Of a decision or a design: with every formula, rule, fault level and sharing figure.

    Raises
    ------
    TypeError
        For anything else.
    """
    page = Page(width)
    if isinstance(noun, Decision):
        _decision(noun, page, full=full)
    elif isinstance(noun, Design):
        _decision(decide(noun), page, full=full)
    else:
        page.full = full
        tell(noun, page)
    return str(page)


def decision_text(decision: Decision, width: int = WIDTH, *, full: bool = False) -> str:
    """Return a decision as plain text, in the order of a builder's questions.

    Parameters
    ----------
    width : int
        Columns to wrap to.
    full : bool
        With every formula, rule, fault level and sharing figure.
    """
    return as_text(decision, width, full=full)


def _decision(decision: Decision, page: Page, *, full: bool) -> None:
    design = decision.design
    assumed = assumed_in(design)
    _verdict(decision, page, len(assumed.confirm))
    first, *rest = cautions(decision)
    page.say(first)

    _in_the_way(decision, page, full=full)
    _parts(design, page, full=full)
    if notes(design):
        page.head("Worth knowing")
        _findings(notes(design), page, full=full)
    page.head("What was assumed")
    _assumed(assumed.confirm, "Only assumed, of your own things: confirm them first.", page)
    _assumed(assumed.stand_in, "General values and guards that evpack took:", page)
    if not assumed.confirm and not assumed.stand_in:
        page.say("nothing", 2)
    page.head("Before you work on it")
    for sentence in rest:
        page.say(f"- {sentence}", 2, hang=4)
    page.gap()
    if not full:
        page.say(
            "Shown in short. In full (--full, or full=True) it has the formulas, the rules, the "
            "fault levels and how the strings share."
        )
    words = VERDICT[decision.verdict]
    counts = [tally(decision)]
    if assumed.confirm:
        counts.append(f"{count_of(len(assumed.confirm), 'value')} only assumed")
    page.say(f"{words.glyph} {words.word.upper()}: {'; '.join(counts)}", 0, hang=2)


def _verdict(decision: Decision, page: Page, assumed: int) -> None:
    design, words = decision.design, VERDICT[decision.verdict]
    bar = "=" * page.width
    page.lines.append(bar)
    page.say(f"{words.glyph} {words.word.upper()}", 2)
    page.say(design.build.title, 2)
    page.lines.append(bar)
    page.say(words.sentence)
    if assumed:
        page.say(only_assumed(assumed))
    page.say(arrangement(design))


def _in_the_way(decision: Decision, page: Page, *, full: bool) -> None:
    """Write what holds it up, what is missing, and the limits it works under."""
    hard = stops(decision)
    if hard:
        page.head(f"What holds it up ({len(hard)})")
        _findings(hard, page, full=full)
    asked = missing_in(decision)
    if asked.asked:
        page.head("Missing from your sheet")
    glyph = SEVERITY[Severity.UNKNOWN].glyph
    for thing, ways in asked.asked.items():
        page.say(f"{thing}:", 2, hang=4)
        for way in ways:
            many = f" ({len(way.findings)} checks wait for it)" if len(way.findings) > 1 else ""
            page.say(f"{glyph} {way.remedy}{many}", 4, hang=6)
            for detail in dict.fromkeys(f.detail for f in way.findings):
                page.say(detail, 6)
        page.gap()
    if asked.follow:
        page.say(f"{count_of(len(asked.follow), 'more unknown')}, cleared by the above:", 2)
        for finding in asked.follow:
            page.say(f"{glyph} {finding.about}: {finding.detail}", 4, hang=6)
    if decision.limits:
        _limits(decision, page, full=full)


def _limits(decision: Decision, page: Page, *, full: bool) -> None:
    """Write the limits to keep; of a design that is held up what to do about them comes later."""
    if decision.go:
        page.head(f"Limits to keep ({len(decision.limits)})")
        _findings(decision.limits, page, full=full)
        return
    page.head(so_far(decision))
    for finding in decision.limits:
        words = SEVERITY[finding.severity]
        page.say(f"{words.glyph} {words.word}  {finding.about}: {finding.detail}", 2, hang=6)


def _findings(findings: Sequence[Finding], page: Page, *, full: bool) -> None:
    """Write findings, each way out once; in full with margin, rule and source."""
    if full:
        for finding in findings:
            tell(finding, page)
            page.gap()
        return
    for way in ways_out(findings):
        for finding in way.findings:
            words = SEVERITY[finding.severity]
            page.say(f"{words.glyph} {words.word}  {finding.about}: {finding.detail}", 2, hang=6)
            if standing_words(finding):
                page.say(f"[{standing_words(finding).rstrip('.')}]", 6, hang=7)
        if way.remedy:
            them = "it" if len(way.findings) == 1 else f"these {len(way.findings)}"
            lead = f"To clear {them}" if way.findings[0].holds else f"What to do about {them}"
            page.say(f"{lead}: {way.remedy}", 6, hang=8)
        page.gap()


def _parts(design: Design, page: Page, *, full: bool) -> None:
    for part, what in (
        (design.figures, "The pack's figures"),
        (design.usable, "The usable energy"),
        (design.settings, "The settings sheet"),
        (design.protection, "The protection schedule"),
    ):
        if part is None:
            page.head(what)
            page.say(missing(what), 2)
        elif full:
            tell(part, page)
        elif isinstance(part, PackFigures):
            _figures(part, page)
        elif isinstance(part, UsableWindow):
            _usable(part, page)
        elif isinstance(part, SettingsSheet):
            _sheet(part, page)
        elif isinstance(part, ProtectionSchedule):
            in_short(part, design.sharing, design.solar, page)
    if full:
        solar_in_full(design.solar, page)
    if full and design.sharing is not None:
        tell(design.sharing, page)


def _figures(figures: PackFigures, page: Page) -> None:
    page.head("What the pack is")
    wide = max(len(line.name) for line in figures.lines())
    for line in figures.lines():
        _, numbers = formula_words(line)
        numbers = numbers.rpartition(" = ")[0] or numbers
        value = shown(line.value, line.unit)
        tail = f" = {numbers}" if numbers != value else ""
        page.say(f"{line.name:<{wide}}  {value:>9}{tail}", 2, hang=wide + 13)
    unknown = [name for name, known in _unknown_figures(figures) if known is None]
    if unknown:
        page.say(f"not known: {', '.join(unknown)}", 2)
    counts = ", ".join(str(n) for n in figures.reachable)
    page.say(f"Whole modules reach {counts} cells in series.", 2, hang=4)


def _unknown_figures(figures: PackFigures) -> tuple[tuple[str, Worked | None], ...]:
    return (
        ("resistance", figures.resistance),
        ("discharge current for good", figures.discharge_limit),
        ("discharge current for seconds", figures.discharge_peak),
        ("charge current", figures.charge_limit),
    )


def _usable(usable: UsableWindow, page: Page) -> None:
    page.head("How much energy you get")
    for sentence in energy_words(usable):
        page.say(sentence, 2, hang=4)
    told = usable.told
    page.say(
        f"Out of reach: {worked_words(told.stranded_above)} above the charge setting, "
        f"{worked_words(told.stranded_below)} below the end; {worked_words(told.lost_inside)} turn "
        f"to heat on the way. {OUT_OF_INVERTER}",
        2,
        hang=4,
    )


def _sheet(sheet: SettingsSheet, page: Page) -> None:
    """Write the sheet as a table for each device, then why; a reason is told only once."""
    sheet_head(sheet, page)
    told: dict[tuple[str, str], str] = {}
    for device in sheet.devices:
        device_head(device, page)
        if not device.lines:
            continue
        _device_table(device, page, withheld=sheet.withheld)
        page.gap()
        same: dict[str, list[str]] = {}
        # Of a sheet that is withheld no reason is told: it may say what to enter.
        for line in () if sheet.withheld else device.lines:
            there = told.setdefault((line.name, line.why), device.device)
            if there == device.device:
                lost = f" Lost: {line.lost}." if line.lost else ""
                page.say(f"{line.name}: {line.why}{lost}", 2, hang=4)
            else:
                same.setdefault(there, []).append(line.name)
        for there, names in same.items():
            page.say(f"{', '.join(names)}: as on {there}.", 2, hang=4)
        where = dict.fromkeys(line.where for line in device.lines if line.where)
        if where:
            page.say(f"where: {'; '.join(where)}", 2, hang=4)


# Widths of the three narrow columns of numbers, each with the space before it.
_NARROW = (10, 8, 8)


def _device_table(device: DeviceSettings, page: Page, *, withheld: bool) -> None:
    room = page.width - 2 - sum(_NARROW) - 1
    name = min(34, room * 6 // 11)
    columns = (name, room - name)
    _row(page, columns, ("setting", "what to do", "V a cell", "at rest", "loaded"))
    for line in device.lines:
        volts = "–" if line.per_cell is None else f"{line.per_cell:.3f}"
        cells = (
            line.name,
            entry_words(line, withheld=withheld),
            volts,
            per_cent(line.soc_rest),
            per_cent(line.soc_loaded),
        )
        _row(page, columns, cells)


def _row(page: Page, columns: tuple[int, int], cells: tuple[str, str, str, str, str]) -> None:
    """Write a row of which the first two cells may take several lines."""
    name, entry = (
        textwrap.wrap(tied(clean(cell)), wide, break_on_hyphens=False) or [""]
        for cell, wide in zip(cells[:2], columns, strict=True)
    )
    numbers = "".join(f"{cell:>{wide}}" for cell, wide in zip(cells[2:], _NARROW, strict=True))
    for k in range(max(len(name), len(entry))):
        left = name[k] if k < len(name) else ""
        right = entry[k] if k < len(entry) else ""
        tail = numbers if k == 0 else ""
        row = f"  {left:<{columns[0]}} {right:<{columns[1]}}{tail}"
        page.lines.append(row.rstrip().replace("\u00a0", " "))


def _assumed(rows: tuple[Assumed, ...], lead: str, page: Page) -> None:
    """Write assumed values in one paragraph for each thing."""
    if not rows:
        return
    page.say(lead, 2)
    for thing, values in by_thing(rows).items():
        told = "; ".join(f"{row.what}{f': {row.value}' if row.value else ''}" for row in values)
        page.say(f"- {thing}: {told}.", 2, hang=4)
