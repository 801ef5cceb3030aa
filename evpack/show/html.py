"""Nouns and decisions told as HTML fragments; `evpack.show.style.STYLE` dresses them."""

from __future__ import annotations

from functools import singledispatch

from evpack.base.finding import Finding
from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.outcome.design import Decision, Design
from evpack.outcome.figures import PackFigures
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.outcome.settings import DeviceSettings, Setting, SettingsSheet
from evpack.outcome.sharing import Sharing
from evpack.outcome.usable import UsableWindow
from evpack.show.clean import escaped
from evpack.show.energy import energy_svg
from evpack.show.facts import build_parts, facts
from evpack.show.gather import (
    arrangement,
    assumed_in,
    missing,
    notes,
    passes,
    sharing_lines,
    usable_lines,
)
from evpack.show.html_findings import finding_list, pass_table
from evpack.show.html_protection import fault_table, fuse_table, protection_tables
from evpack.show.html_settings import device_table, settings_tables
from evpack.show.html_tables import (
    basis_mark,
    folded,
    number,
    row,
    table,
    worked_table,
)
from evpack.show.ladder import ladder_svg
from evpack.show.words import (
    NOT_KNOWN,
    VERDICT,
    cautions,
    count_of,
    per_cent,
    shown,
)


def as_html(noun: object) -> str:
    """Return any of evpack's nouns as an HTML fragment.

    Parameters
    ----------
    noun : object
        A noun of `describe` or `outcome`, a `Finding`, a `Worked` or a `Source`.

    Raises
    ------
    TypeError
        For anything else.
    """
    return f'<div class="evp">{body(noun)}</div>'


def decision_html(decision: Decision) -> str:
    """Return the whole page of a decision, in the order of a reader's questions."""
    return as_html(decision)


def figure_html(svg: str, caption: str) -> str:
    """Return a picture with its caption: inline, so that its text is text."""
    return f"<figure><figcaption>{escaped(caption)}</figcaption>{svg}</figure>"


@singledispatch
def body(noun: object) -> str:
    """Return a noun's fragment without the frame; what a user states is told as its facts."""
    told = facts(noun)
    rows = "".join(
        row(
            escaped(fact.label),
            escaped(fact.value),
            basis_mark(fact.basis if fact.value != NOT_KNOWN else None),
            f'<span class="evp-soft">{escaped(fact.note)}</span>' if fact.note else "",
        )
        for fact in told.rows
    )
    note = f'<p class="evp-soft evp-lead">{escaped(told.note)}</p>' if told.note else ""
    return table(told.title, ("", "value", "known by", ""), rows) + note


@body.register
def _(worked: Worked) -> str:
    return worked_table("", (worked,))


@body.register
def _(source: Source) -> str:
    note = f'<p class="evp-soft">{escaped(source.note)}</p>' if source.note else ""
    return f"<p>{escaped(source)}</p>{note}"


@body.register
def _(finding: Finding) -> str:
    return finding_list((finding,))


@body.register
def _(figures: PackFigures) -> str:
    more = row("cells in series", number(str(figures.cells_in_series)), "")
    more += row("modules", number(str(figures.modules)), "")
    if figures.reachable:
        counts = ", ".join(str(n) for n in figures.reachable)
        more += row(
            "series counts within reach",
            escaped(f"{counts} cells"),
            "only whole modules can be used",
        )
    known = worked_table("The pack's own figures", figures.lines(), more)
    unknown = [
        name
        for name, line in (
            ("resistance", figures.resistance),
            ("discharge current for good", figures.discharge_limit),
            ("discharge current for seconds", figures.discharge_peak),
            ("charge current", figures.charge_limit),
        )
        if line is None
    ]
    if not unknown:
        return known
    return known + f"<p><b>Not known:</b> {escaped(', '.join(unknown))}.</p>"


@body.register
def _(usable: UsableWindow) -> str:
    more = row(
        "state of charge at the top", number(per_cent(usable.soc_top)), "after a full charge"
    )
    if usable.soc_changeover is not None:
        more += row(
            "state of charge at the changeover",
            number(per_cent(usable.soc_changeover)),
            "under the typical load",
        )
    more += row(
        "state of charge at the bottom",
        number(per_cent(usable.soc_bottom)),
        escaped(f"under {shown(usable.load, 'W')}; what ends it: {usable.bottom_by}"),
    )
    return worked_table("Usable energy", usable_lines(usable), more)


@body.register
def _(setting: Setting) -> str:
    return device_table(DeviceSettings(device="One setting", lines=(setting,)))


@body.register
def _(device: DeviceSettings) -> str:
    return device_table(device)


@body.register
def _(sheet: SettingsSheet) -> str:
    return settings_tables(sheet)


@body.register
def _(band: FaultBand) -> str:
    return fault_table((band,))


@body.register
def _(fuse: FuseChoice) -> str:
    return fuse_table((fuse,))


@body.register
def _(schedule: ProtectionSchedule) -> str:
    return protection_tables(schedule)


@body.register
def _(sharing: Sharing) -> str:
    return (
        worked_table(f"Currents of {count_of(sharing.strings, 'string')}", sharing_lines(sharing))
        + f'<p class="evp-soft">The worst string is found by {escaped(sharing.method)}.</p>'
    )


@body.register
def _(build: Build) -> str:
    note = f"<p>{escaped(build.note)}</p>" if build.note else ""
    return f"<h2>{escaped(build.title)}</h2>{note}" + "".join(
        body(part) for part in build_parts(build)
    )


@body.register
def _(design: Design) -> str:
    return (
        f'<p class="evp-title">{escaped(design.build.title)}</p>'
        f"<p>{escaped(arrangement(design))}</p>"
        + _parts(design)
        + "<h2>What was found</h2>"
        + finding_list(design.findings)
    )


@body.register
def _(decision: Decision) -> str:
    design = decision.design
    first, *rest = cautions(decision)
    parts = [verdict_html(decision), f'<p class="evp-notice">{escaped(first)}</p>']
    if decision.held_by:
        parts.append(f"<h2>What holds it up ({len(decision.held_by)})</h2>")
        parts.append(finding_list(decision.held_by))
    if decision.limits:
        parts.append(f"<h2>Limits to keep ({len(decision.limits)})</h2>")
        parts.append(finding_list(decision.limits))
    parts.append(_parts(design))
    if notes(design):
        parts.append(f"<h2>Worth knowing</h2>{finding_list(notes(design))}")
    parts.append(f"<h2>What was checked</h2>{_checked(design)}")
    parts.append(f"<h2>What was assumed</h2>{_assumed(design)}")
    items = "".join(f"<li>{escaped(sentence)}</li>" for sentence in rest)
    parts.append(f"<h2>Before you work on it</h2><ul>{items}</ul>")
    return "".join(parts)


def verdict_html(decision: Decision) -> str:
    """Return the verdict alone: glyph, word, sentence, and what it is a verdict on."""
    words = VERDICT[decision.verdict]
    return (
        f'<div class="evp-verdict evp-{words.tone}" role="status">'
        f'<span class="evp-sign" aria-hidden="true">{words.glyph}</span><div>'
        f"<h1>{escaped(words.word)}</h1><p>{escaped(words.sentence)}</p>"
        f'<p class="evp-title">{escaped(decision.design.build.title)}</p>'
        f"<p>{escaped(arrangement(decision.design))}</p></div></div>"
    )


def _parts(design: Design) -> str:
    """Return figures, energy, settings and protection, saying plainly which of them is missing."""
    parts = ["<h2>What the pack is, beside the equipment</h2>"]
    parts.append(
        figure_html(
            ladder_svg(design),
            "Everything on one scale of voltage, for the whole pack and for one cell. A filled "
            "arrow is a value to enter. On the red ground no cell may ever be; where the pack is "
            "hatched, only the cell monitoring stands between the cells and harm.",
        )
    )
    for part, what, head in (
        (design.figures, "The pack's figures", ""),
        (design.usable, "The usable energy", "How much energy you get"),
        (design.settings, "The settings sheet", "What to enter on each device"),
        (design.protection, "The protection schedule", "What protects it"),
    ):
        if head:
            own_page = ' class="evp-own-page"' if what == "The settings sheet" else ""
            parts.append(f"<h2{own_page}>{head}</h2>")
        if part is None:
            parts.append(f"<p><b>? {escaped(missing(what))}</b></p>")
            continue
        if isinstance(part, UsableWindow):
            parts.append(
                figure_html(
                    energy_svg(design),
                    "The pack's voltage as it empties, at rest and under the continuous load, "
                    "and what share of its energy lies where.",
                )
            )
        parts.append(body(part))
    if design.sharing is not None:
        parts.append(f"<h2>How the strings share the current</h2>{body(design.sharing)}")
    return "".join(parts)


def _checked(design: Design) -> str:
    passed = passes(design)
    if not passed:
        return "<p>No check was passed.</p>"
    return folded(
        f"{count_of(len(passed), 'check')} passed of {len(design.findings)}; each with its margin",
        pass_table(passed),
    )


def _assumed(design: Design) -> str:
    found = assumed_in(design)
    if not found:
        return "<p>Nothing.</p>"
    return (
        '<p class="evp-lead">Nobody measured these or read them off a data sheet. Put your own '
        "numbers in the build sheet, the ones that a limit rests on first.</p>"
        + table(
            "",
            ("", "value taken"),
            "".join(row(escaped(means), number(value or "–")) for means, value in found),
        )
    )
