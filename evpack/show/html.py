"""Nouns and decisions told as HTML fragments; `evpack.show.style.STYLE` dresses them."""

from __future__ import annotations

from functools import singledispatch

from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.outcome.commissioning import AsBuiltCheck, CommissioningPlan
from evpack.outcome.design import Decision, Design, SolarSide, UsableWindow
from evpack.outcome.groundwork import PackFigures, Sharing
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
from evpack.show import (  # noqa: F401  they register their nouns
    decision,
    matching,
    operation,
    runs,
    search,
    trials,
)
from evpack.show.assumed import Assumptions
from evpack.show.clean import escaped, prose
from evpack.show.doc import document
from evpack.show.energy_words import OUT_OF_INVERTER
from evpack.show.facts import build_parts, facts
from evpack.show.gather import (
    missing,
    sharing_lines,
    usable_lines,
)
from evpack.show.html_cables import cables_alone, line_of
from evpack.show.html_commissioning import as_built_html, checklist_html
from evpack.show.html_devices import need_table, parts_table, precharge_table, solar_table
from evpack.show.html_protection import fault_table, fuse_table, protection_tables
from evpack.show.html_tables import (
    figure_html,
    number,
    row,
    worked_table,
)
from evpack.show.one_line import one_line_svg
from evpack.show.protection_words import circuit_facts, circuit_lines
from evpack.show.to_html import to_html
from evpack.show.words import (
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


def decision_html(told: Decision) -> str:
    """Return the whole page of a decision, in the order of a reader's questions."""
    return as_html(told)


def ladder_figure(design: Design) -> str:
    """Return the voltage ladder with its caption."""
    return to_html((decision.ladder_figure(design),))


def energy_figure(design: Design) -> str:
    """Return the picture of the usable energy with its caption."""
    return to_html((decision.energy_figure(design),))


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
    return to_html(decision.settings_of(design))


def in_the_way(told: Decision) -> str:
    """Return what holds a decision up, what the sheet does not say, and the limits to keep."""
    return to_html(decision.in_the_way(told))


def verdict_html(told: Decision, *, titled: bool = True) -> str:
    """Return the verdict alone: glyph, word, sentence, and what it is a verdict on."""
    return to_html((decision.verdict(told, titled=titled),))


def assumed_html(assumed: Assumptions) -> str:
    """Return what was assumed: what to confirm first, then evpack's own general values."""
    return to_html(decision.assumed_blocks(assumed))


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
def _(plan: CommissioningPlan) -> str:
    return checklist_html(plan)


@body.register
def _(check: AsBuiltCheck) -> str:
    return as_built_html(check)
