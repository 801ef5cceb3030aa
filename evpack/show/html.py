"""Nouns and decisions told as HTML fragments; `evpack.show.style.STYLE` dresses them."""

from __future__ import annotations

from functools import singledispatch

from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.outcome.ageing import Ageing, ModelAgeing
from evpack.outcome.commissioning import AsBuiltCheck, CommissioningPlan
from evpack.outcome.design import Decision, Design, SolarSide, UsableWindow
from evpack.outcome.draws import Draws
from evpack.outcome.groundwork import PackFigures, Sharing
from evpack.outcome.matching import (
    Afterwards,
    GradedModule,
    Grouping,
    JoinPlan,
    JoinStep,
    Matching,
)
from evpack.outcome.operation import OperationRun, OutageRun
from evpack.outcome.protection import (
    CableChoice,
    CableTest,
    Circuit,
    FaultBand,
    FuseChoice,
    Need,
    PartLine,
    PrechargePlan,
    ProtectionSchedule,
)
from evpack.outcome.runs import (
    SettingsTrial,
    TrialRun,
)
from evpack.outcome.settings import DeviceSettings, Setting, SettingsSheet
from evpack.show import runs, search  # noqa: F401  they register their nouns
from evpack.show.assumed import Assumed, Assumptions, assumed_in, by_thing
from evpack.show.clean import escaped, prose
from evpack.show.doc import document
from evpack.show.energy import energy_svg
from evpack.show.energy_words import OUT_OF_INVERTER, energy_words
from evpack.show.facts import build_parts, facts
from evpack.show.gather import (
    arrangement,
    missing,
    missing_in,
    notes,
    passes,
    sharing_lines,
    stops,
    usable_lines,
)
from evpack.show.html_cables import cables_alone, line_of
from evpack.show.html_commissioning import as_built_html, checklist_html
from evpack.show.html_devices import need_table, parts_table, precharge_table, solar_table
from evpack.show.html_findings import details_list, finding_list, missing_list, pass_table
from evpack.show.html_matching import (
    afterwards_html,
    graded_html,
    grouping_table,
    join_html,
    matching_html,
)
from evpack.show.html_operation import operation_html, outage_html
from evpack.show.html_protection import fault_table, fuse_table, protection_tables
from evpack.show.html_settings import device_table, settings_tables
from evpack.show.html_tables import (
    figure_html,
    folded,
    number,
    row,
    table,
    worked_table,
)
from evpack.show.html_trials import (
    ageing_html,
    draws_html,
    model_html,
    trial_html,
    trial_run_html,
)
from evpack.show.ladder import ladder_svg
from evpack.show.one_line import one_line_svg
from evpack.show.protection_words import circuit_facts, circuit_lines
from evpack.show.to_html import to_html
from evpack.show.words import (
    VERDICT,
    cautions,
    count_of,
    only_assumed,
    per_cent,
    shown,
    so_far,
    tally,
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


def ladder_figure(design: Design) -> str:
    """Return the voltage ladder with its caption, which says whether its values may be entered."""
    sheet = design.settings
    marks = "A filled arrow is a value to enter."
    if sheet is not None and sheet.withheld:
        marks = (
            "A hollow arrow with a broken line is provisional: the design does not work yet, or is "
            "not settled, and none of these values may be entered."
        )
    return figure_html(
        ladder_svg(design),
        f"Everything on one scale of voltage, for the whole pack and for one cell. {marks} On the "
        "red ground no cell may ever be; where the pack is hatched, only the cell monitoring "
        "stands between the cells and harm.",
    )


def energy_figure(design: Design) -> str:
    """Return the picture of the usable energy with its caption."""
    sheet = design.settings
    if_it_worked = (
        " The thresholds are provisional, none of them may be entered."
        if sheet is not None and sheet.withheld
        else ""
    )
    return figure_html(
        energy_svg(design),
        "The pack's voltage as it empties, at rest and under the continuous load, and what share "
        f"of its energy lies where, before the inverter (DC).{if_it_worked}",
    )


def one_line_figure(design: Design) -> str:
    """Return the one-line diagram with its caption, which says whether to build by it."""
    provisional = (
        " The design does not work yet, or is not settled: it is drawn with broken lines, and "
        "nothing is to be bought or built by it."
        if design.protection is not None and design.protection.withheld
        else ""
    )
    return figure_html(
        one_line_svg(design),
        "One-line diagram: one line stands for plus and minus together. The long plate of the "
        "battery is its plus; the pole towards its fuse is the one that is not earthed. A question "
        f"mark is something that nobody said or that could not be settled.{provisional}",
    )


def protection_missing() -> str:
    """Return what stands where there is no protection schedule."""
    return f"<p><b>? {escaped(missing('The protection schedule'))}</b></p>"


def protection_html(design: Design) -> str:
    """Return what protects a design: the one-line diagram, then every table."""
    if design.protection is None:
        return protection_missing()
    solar = solar_table(design.solar) if design.solar else ""
    return one_line_figure(design) + protection_tables(design.protection, solar)


def settings_html(design: Design) -> str:
    """Return the settings sheet of a design, its title and verdict above every table on paper."""
    if design.settings is None:
        return f"<p><b>? {escaped(missing('The settings sheet'))}</b></p>"
    words = VERDICT[decide(design).verdict]
    head = f"{design.build.title}: {words.glyph} {words.word}"
    return settings_tables(design.settings, head)


def in_the_way(decision: Decision) -> str:
    """Return what holds a decision up, what the sheet does not say, and the limits to keep."""
    parts = []
    hard, asked = stops(decision), missing_in(decision)
    if hard:
        parts.append(f"<h2>What holds it up ({len(hard)})</h2>{finding_list(hard)}")
    if asked.asked:
        parts.append(f"<h2>Missing from your sheet</h2>{missing_list(asked)}")
    if decision.limits and decision.go:
        parts.append(f"<h2>Limits to keep ({len(decision.limits)})</h2>")
        parts.append(finding_list(decision.limits))
    elif decision.limits:
        parts.append(f"<h2>{so_far(decision)}</h2>{details_list(decision.limits)}")
    return "".join(parts)


@singledispatch
def body(noun: object) -> str:
    """Return a noun's fragment without the frame; what a user states is told as its facts."""
    if type(noun) in document.registry:
        return to_html(document(noun))
    return to_html((facts(noun),))


@body.register
def _(worked: Worked) -> str:
    return worked_table("", (worked,))


@body.register
def _(source: Source) -> str:
    note = f'<p class="evp-soft">{escaped(source.note)}</p>' if source.note else ""
    return f"<p>{escaped(source)}</p>{note}"


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
        prose(f"under {shown(usable.load, 'W')}; what ends it: {usable.bottom_by}"),
    )
    told = worked_table("Usable energy", usable_lines(usable), more)
    return f'{told}<p class="evp-soft">{prose(OUT_OF_INVERTER)}</p>'


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
def _(circuit: Circuit) -> str:
    facts_of = "".join(row(prose(name), prose(value)) for name, value in circuit_facts(circuit))
    return worked_table(circuit.place, circuit_lines(circuit), facts_of)


@body.register
def _(cable: CableChoice) -> str:
    return cables_alone((cable,))


@body.register
def _(test: CableTest) -> str:
    return line_of(test)


@body.register
def _(device: Need) -> str:
    return need_table((device,))


@body.register
def _(plan: PrechargePlan) -> str:
    return precharge_table(plan)


@body.register
def _(part: PartLine) -> str:
    return parts_table((part,))


@body.register
def _(side: SolarSide) -> str:
    return solar_table((side,))


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
        f'<p class="evp-title">{prose(design.build.title)}</p>'
        f"<p>{prose(arrangement(design))}</p>"
        + _parts(design)
        + "<h2>What was found</h2>"
        + finding_list(design.findings)
    )


@body.register
def _(matching: Matching) -> str:
    return matching_html(matching)


@body.register
def _(graded: GradedModule) -> str:
    return graded_html(graded)


@body.register
def _(grouping: Grouping) -> str:
    return grouping_table((grouping,))


@body.register
def _(plan: JoinPlan) -> str:
    return join_html(plan)


@body.register
def _(step: JoinStep) -> str:
    return f"<p>{prose(step.do)}</p>"


@body.register
def _(after: Afterwards) -> str:
    return afterwards_html(after)


@body.register
def _(run: OperationRun) -> str:
    return operation_html(run)


@body.register
def _(run: OutageRun) -> str:
    return outage_html(run)


@body.register
def _(plan: CommissioningPlan) -> str:
    return checklist_html(plan)


@body.register
def _(check: AsBuiltCheck) -> str:
    return as_built_html(check)


@body.register
def _(ageing: Ageing) -> str:
    return ageing_html(ageing)


@body.register
def _(one: ModelAgeing) -> str:
    return model_html(one)


@body.register
def _(trial: SettingsTrial) -> str:
    return trial_html(trial)


@body.register
def _(run: TrialRun) -> str:
    return trial_run_html(run)


@body.register
def _(draws: Draws) -> str:
    return draws_html(draws)


@body.register
def _(decision: Decision) -> str:
    design = decision.design
    first, *rest = cautions(decision)
    parts = [verdict_html(decision), f'<p class="evp-notice">{escaped(first)}</p>']
    parts.append(in_the_way(decision))
    parts.append(_parts(design))
    if notes(design):
        parts.append(f"<h2>Worth knowing</h2>{finding_list(notes(design))}")
    parts.append(f"<h2>What was checked</h2><p>{prose(tally(decision))}</p>{_checked(design)}")
    parts.append(f"<h2>What was assumed</h2>{_assumed(design)}")
    items = "".join(f"<li>{escaped(sentence)}</li>" for sentence in rest)
    parts.append(f"<h2>Before you work on it</h2><ul>{items}</ul>")
    return "".join(parts)


def verdict_html(decision: Decision, *, titled: bool = True) -> str:
    """Return the verdict alone: glyph, word, sentence, and what it is a verdict on.

    Parameters
    ----------
    titled : bool
        With the title of the build, which a page may have above it already.
    """
    words = VERDICT[decision.verdict]
    assumed = only_assumed(len(assumed_in(decision.design).confirm))
    return (
        f'<div class="evp-verdict evp-{words.tone}" role="status">'
        f'<span class="evp-sign" aria-hidden="true">{words.glyph}</span><div>'
        f"<h1>{escaped(words.word)}</h1><p>{escaped(words.sentence)}</p>"
        + (f'<p class="evp-only"><b>{assumed}</b></p>' if assumed else "")
        + (f'<p class="evp-title">{prose(decision.design.build.title)}</p>' if titled else "")
        + f"<p>{prose(arrangement(decision.design))}</p></div></div>"
    )


def _parts(design: Design) -> str:
    """Return figures, energy, settings and protection, saying plainly which of them is missing."""
    withheld = design.settings is not None and design.settings.withheld
    parts = ["<h2>What the pack is, beside the equipment</h2>", ladder_figure(design)]
    parts.append(_part(design.figures, "The pack's figures"))
    parts.append("<h2>How much energy you get</h2>")
    if design.usable is not None:
        parts += [f"<p>{prose(words)}</p>" for words in energy_words(design.usable)]
        parts.append(energy_figure(design))
    parts.append(_part(design.usable, "The usable energy"))
    parts.append(f'<h2 class="evp-own-page">{settings_head(withheld=withheld)}</h2>')
    parts.append(settings_html(design))
    parts.append("<h2>What protects it</h2>")
    parts.append(protection_html(design))
    if design.sharing is not None:
        parts.append(f"<h2>How the strings share the current</h2>{body(design.sharing)}")
    return "".join(parts)


def settings_head(*, withheld: bool) -> str:
    """Return the heading of the settings sheet: only one that may be entered says so."""
    return "What it would come to on each device" if withheld else "What to enter on each device"


def _part(part: object, what: str) -> str:
    return f"<p><b>? {escaped(missing(what))}</b></p>" if part is None else body(part)


def _checked(design: Design) -> str:
    passed = passes(design)
    if not passed:
        return "<p>No check was passed.</p>"
    return folded(
        f"{count_of(len(passed), 'check')} passed of {len(design.findings)}; each with its margin",
        pass_table(passed),
    )


def _assumed(design: Design) -> str:
    return assumed_html(assumed_in(design))


def assumed_html(assumed: Assumptions) -> str:
    """Return what was assumed: what to confirm first, then evpack's own general values."""
    parts = []
    if assumed.confirm:
        parts.append(
            '<p class="evp-lead"><b>To confirm first.</b> Nobody measured these or read them off a '
            "data sheet. Put your own numbers in the build sheet, and say how they are known.</p>"
            + _assumed_table(assumed.confirm)
        )
    if assumed.stand_in:
        told = _assumed_table(assumed.stand_in)
        parts.append(
            '<p class="evp-lead">General values of the cell chemistry, and guards that evpack '
            "took. They are on the careful side; a build sheet can set the guards.</p>"
            + folded(f"{count_of(len(assumed.stand_in), 'value')}", told)
        )
    return "".join(parts) or "<p>Nothing.</p>"


def _assumed_table(rows: tuple[Assumed, ...]) -> str:
    groups = "".join(
        f'<tr class="evp-group"><th colspan="2">{prose(thing)}</th></tr>'
        + "".join(
            f"<tr><td>{prose(entry.what)}</td><td>{prose(entry.value or '–')}</td></tr>"
            for entry in entries
        )
        for thing, entries in by_thing(rows).items()
    )
    told = table("", ("", "value taken"), groups, widths=(58, 42), kind="evp-assumptions")
    return f'<div class="evp-two">{told}</div>'
