"""A pack at work in HTML."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.operation import OperationRun, OutageRun, Outcome
from evpack.show.clean import prose
from evpack.show.findings import held
from evpack.show.html_findings import finding_list, pass_table
from evpack.show.html_tables import figure_html, folded, how, number, row, table, worked_table
from evpack.show.operation_pictures import (
    day_svg,
    day_words,
    hunting_svg,
    outage_svg,
    year_svg,
)
from evpack.show.operation_words import (
    CAUTION,
    about_words,
    count_words,
    hour_words,
    hunting_words,
    money,
)
from evpack.show.runs import NOT_RUN
from evpack.show.words import count_of


def operation_html(run: OperationRun) -> str:
    """Return a run in the order of a reader's questions."""
    head = "A year of operation" if run.length >= 364 * 86400 else "In operation"
    invented = "<p><b>Invented:</b> no such pack exists.</p>" if run.invented else ""
    parts = [
        f"<h2>{head}</h2>{invented}<p>{prose(run.title)}: {prose(about_words(run))}</p>",
        f'<p class="evp-soft">{prose(CAUTION)}</p>',
    ]
    if run.outcome is None:
        parts.append(f"<p><b>{prose(NOT_RUN)}</b></p>")
    else:
        parts.append(_came(run, run.outcome))
    return "".join((*parts, found_html(run), _assumed(run)))


def operation_pictures(run: OperationRun) -> str:
    """Return the pictures of a run: all of it, the days worth a look, going to and fro."""
    came = run.outcome
    if came is None:
        return ""
    shown = [("All of the run.", year_svg(run))]
    shown += [
        (f"{what[0].upper()}{what[1:]}: {day_words(run, day)}.", day_svg(run, day))
        for what, day in came.days_to_show.items()
    ]
    if came.hunting.times:
        shown.append(("To and fro.", hunting_svg(run)))
    return "".join(figure_html(svg, words) for words, svg in shown)


def operation_figures(run: OperationRun) -> str:
    """Return the few figures that a person watches while turning a threshold."""
    came = run.outcome
    if came is None:
        return f"<p><b>{prose(NOT_RUN)}</b></p>"
    names = (
        "load asked",
        "load carried by the inverters",
        "load carried by the utility",
        "load that nobody carried",
        "taken from the sun",
        "left unused of the sun",
    )
    rows = [_why(worked, str(worked)) for worked in (*map(came.energy, names), came.own)]
    if came.saved is not None:
        told = _why(came.saved, money(run, came.saved))
        rows.append(told.replace("¤", prose(run.currency)))  # the money that the user named
    rows.append(row("equivalent full cycles", number(f"{came.cycles:.0f}"), ""))
    lines = "".join(f"<li>{prose(words)}</li>" for words in count_words(came))
    return (
        table("What came of it", ("", "", ""), "".join(rows), widths=(40, 20, 40))
        + (f"<ul>{lines}</ul>" if lines else "")
        + f"<p>{prose(hunting_words(came))}</p>"
    )


def _why(worked: Worked, value: str) -> str:
    return row(prose(worked.name), number(prose(value)), folded("why", how(worked)))


def found_html(run: OperationRun) -> str:
    """Return what was found, the gravest first, and the passes folded."""
    hard = held(run.findings)
    passed = tuple(f for f in run.findings if f.severity < Severity.CAUTION)
    told = f"<h3>{prose(f'To keep in mind ({len(hard)})')}</h3>{finding_list(hard)}" if hard else ""
    words = f"{count_of(len(passed), 'check')} passed or noted"
    return told + (folded(prose(words), pass_table(passed)) if passed else "")


def _came(run: OperationRun, came: Outcome) -> str:
    soc, celsius = hour_words(came)
    hours = "".join(
        table(title, ("", "hours"), "".join(row(prose(n), number(f"{h:.0f}")) for n, h in rows))
        for title, rows in (("Hours by state of charge", soc), ("Hours by temperature", celsius))
    )
    volts = "".join(row(prose(n), number(say(v, "V"))) for n, v in run.thresholds.items())
    numbers = [*came.energies, came.served, came.own]
    books = (
        f'<p class="evp-soft">Not accounted for, of what was moved: charge {came.charge_lost:.0e}, '
        f"energy {came.energy_lost:.0e}.</p>"
    )
    return (
        operation_figures(run)
        + operation_pictures(run)
        + folded("How every energy comes about", worked_table("", numbers) + books)
        + folded("Thresholds of the run", table("", ("", ""), volts))
        + folded("Hours at each state of charge and temperature", hours)
    )


def _assumed(run: OperationRun) -> str:
    items = "".join(f"<li>{prose(words)}</li>" for words in run.assumed)
    return folded("What was assumed", f"<ul>{items}</ul>") if items else ""


def outage_html(run: OutageRun) -> str:
    """Return how long the pack lasts alone, as a picture."""
    caption = "From each hour of the year, with the sun that there is then."
    return f"<h2>How long the pack lasts alone</h2>{figure_html(outage_svg(run), caption)}"
