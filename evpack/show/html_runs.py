"""Runs in HTML: how strings share case by case, and what a fault does in time."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.runs import FaultRun, SharedRun, SharingCase, SharingRun
from evpack.show.clean import prose
from evpack.show.html_pieces import assumed_html, found_html, invented_html
from evpack.show.html_tables import figure_html, folded, number, row, table, worked_table
from evpack.show.run_pictures import currents_svg, states_svg
from evpack.show.run_words import MODEL, NOT_RUN, span_words
from evpack.show.words import count_of

_HEADS = ("", "first", "last", "busiest", "against even", "apart", "ended by")


def sharing_run_html(run: SharingRun) -> str:
    """Return how the strings of a design share, in the order of a reader's questions."""
    parts = [
        (
            f"<h2>How the strings share the current</h2>{invented_html(invented=run.invented)}"
            f"<p>{prose(run.title)}: {prose(count_of(run.strings, 'string'))}. {prose(MODEL)}</p>"
        )
    ]
    asked = tuple(line for line in (run.power, run.charge_current) if line is not None)
    if run.cases:
        parts.append(sharing_pictures(run.cases[0]))
        parts.append(sharing_table(run))
        parts.append(
            "".join(
                folded(prose(f"{case.name}: how it comes about"), _how(case)) for case in run.cases
            )
        )
    else:
        parts.append(f"<p><b>? {prose(NOT_RUN)}</b></p>")
    parts.append(found_html(run.findings))
    if asked:
        parts.append(worked_table("What was asked of them", asked))
    parts.append(assumed_html(run.assumed))
    return "".join(parts)


def sharing_pictures(case: SharingCase) -> str:
    """Return a case's pictures: currents of both runs, states of charge of the discharge."""
    return "".join(
        figure_html(svg, caption)
        for caption, svg in (
            (
                f"{case.name}: current of each string on discharge.",
                currents_svg(
                    case.discharge.time,
                    case.discharge.current,
                    title=f"Discharge, {case.name}: current of each string",
                ),
            ),
            (
                f"{case.name}: current of each string on charge; below nought it flows in.",
                currents_svg(
                    case.charge.time,
                    case.charge.current,
                    title=f"Charge, {case.name}: current of each string",
                ),
            ),
            (
                f"{case.name}: how the strings empty.",
                states_svg(
                    case.discharge.time,
                    case.discharge.soc,
                    title=f"Discharge, {case.name}: state of charge of each string",
                ),
            ),
        )
    )


def case_html(case: SharingCase) -> str:
    """Return one case with its pictures."""
    body = "".join(_row(one) for one in case.runs)
    return (
        f"<p>{prose(case.name)}: {prose(case.says)}</p>{sharing_pictures(case)}"
        f"{table('', _HEADS, body)}{_how(case)}"
    )


def shared_html(run: SharedRun) -> str:
    """Return one run with its picture."""
    svg = currents_svg(run.time, run.current, title=f"{run.way}: current of each string")
    return f"<figure>{svg}</figure>{table('', _HEADS, _row(run))}"


def sharing_table(run: SharingRun) -> str:
    """Return every case beside the others."""
    body = "".join(
        f'<tbody class="evp-rows"><tr class="evp-group"><th scope="rowgroup" colspan="7">'
        f"{prose(case.name)}</th></tr>"
        f'<tr><td colspan="7" class="evp-soft">{prose(case.says)}</td></tr>'
        f"{''.join(_row(one) for one in case.runs)}</tbody>"
        for case in run.cases
    )
    return table("Case by case", _HEADS, body, rows=False)


def _row(run: SharedRun) -> str:
    return row(
        run.way,
        number(span_words(run.early)),
        number(span_words(run.late)),
        number(f"{run.worst}, string {run.busiest}"),
        number(str(run.uneven)),
        number(say(run.apart, "")),
        prose(f"{run.ended_by}, after {say(float(run.time[-1]), 's')}"),
    )


def _how(case: SharingCase) -> str:
    lines = [line for one in case.runs for line in (one.worst, one.uneven)]
    books = "; ".join(
        f"{one.way}: charge {one.charge_lost:.0e}, energy {one.energy_lost:.0e}"
        for one in case.runs
    )
    return (
        worked_table("", lines)
        + f'<p class="evp-soft">What the books do not account for, as a part of what was moved: '
        f"{prose(books)}. Charge closes to rounding, energy the better the finer the steps.</p>"
    )


def fault_run_html(run: FaultRun) -> str:
    """Return a fault: what was done, the picture, the numbers, what was found and assumed."""
    picture = currents_svg(
        run.time, run.current, title=f"{run.kind}: current of each string", events=run.events
    )
    return (
        f"<h2>{prose(f'Fault in time: {run.kind}')}</h2>{invented_html(invented=run.invented)}"
        f"<p>{prose(run.title)}. {prose(run.says)}</p>"
        f"<figure>{picture}</figure>"
        + worked_table("What it comes to", run.numbers)
        + found_html(run.findings)
        + assumed_html(run.assumed)
    )
