"""Ageing, trials and draws in HTML."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.ageing import Ageing, ModelAgeing
from evpack.outcome.draws import Draws
from evpack.outcome.runs import SettingsTrial, TrialRun
from evpack.show.ageing_picture import ageing_svg, cell_svg
from evpack.show.clean import prose
from evpack.show.html_pieces import assumed_html, found_html, invented_html
from evpack.show.html_tables import folded, number, row, severity_mark, table, worked_table
from evpack.show.trial_words import (
    ORDER,
    READ_OFF,
    chance_words,
    lower_words,
    margin_words,
    number_words,
    passed_words,
    range_words,
    scatter_words,
    stated_words,
    uneven_words,
    use_words,
)

_MODELS = ("", "years", "first year", "at rest", "by cycling", "what it was made from")


def ageing_html(ageing: Ageing) -> str:
    """Return how long the cells last: the range, the picture, each model, the lower target."""
    parts = [
        (
            f"<h2>How long the cells last</h2>{invented_html(invented=ageing.invented)}"
            f"<p>{prose(ageing.title)}: {prose(ageing.chemistry)}. "
            f"<b>{prose(range_words(ageing))}</b> {prose(use_words(ageing))} {prose(ORDER)}</p>"
        )
    ]
    if ageing.models:
        parts.append(f"<figure>{ageing_svg(ageing)}</figure>")
        parts.append(table("Model by model", _MODELS, "".join(_row(m) for m in ageing.models)))
    if ageing.lower is not None:
        parts.append(f"<p>{prose(lower_words(ageing.lower))}</p>")
    if ageing.lines():
        how = worked_table("", ageing.lines())
        parts.append(folded("How the numbers come about", how))
    parts += [found_html(ageing.findings), assumed_html(ageing.assumed)]
    return "".join(parts)


def model_html(one: ModelAgeing) -> str:
    """Return what one model gives."""
    return table("", _MODELS, _row(one)) + worked_table("", (one.first, one.years))


def _row(one: ModelAgeing) -> str:
    values = (one.years, one.first, one.resting, one.cycling)
    return row(
        prose(one.model.name),
        *(number(str(value)) for value in values),
        f'<span class="evp-soft">{prose(one.model.fits)}</span>',
    )


_RUNS = ("", "worst cell", "it stands", "what was done")


def trial_html(trial: SettingsTrial) -> str:
    """Return every attempt to break the settings, and what was found."""
    parts = [
        (
            f"<h2>The settings, tried</h2>{invented_html(invented=trial.invented)}"
            f"<p>{prose(trial.title)}. <b>{prose(passed_words(trial))}</b> {prose(READ_OFF)}</p>"
        )
    ]
    if trial.runs:
        body = "".join(_run_row(run) for run in trial.runs)
        parts.append(table("Every attempt", _RUNS, body))
        parts.append(
            folded("How the cells come about", worked_table("", [r.reached for r in trial.runs]))
        )
    parts += [found_html(trial.findings), assumed_html(trial.assumed)]
    return "".join(parts)


def trial_run_html(run: TrialRun) -> str:
    """Return one attempt with its picture."""
    return (
        f"<figure><figcaption>{prose(run.name)}: the worst cell.</figcaption>{cell_svg(run)}"
        f"</figure>{table('', _RUNS, _run_row(run))}{worked_table('', [run.reached])}"
    )


def _run_row(run: TrialRun) -> str:
    return row(
        prose(run.name),
        number(str(run.reached)),
        number(say(run.limit, "V")),
        prose(run.says),
    )


def draws_html(draws: Draws) -> str:
    """Return what became of the draws: verdicts, numbers, findings."""
    verdicts = "".join(
        row(prose(one.what), number(f"{one.times}"), prose(chance_words(one)))
        for one in (draws.no_go, *draws.verdicts)
    )
    numbers = "".join(row(prose(one.name), number(number_words(one))) for one in draws.numbers)
    findings = "".join(
        row(
            f"{severity_mark(one.worst)} {prose(one.rule.key)}, {prose(one.about)}",
            prose(chance_words(one.held)),
            number(margin_words(one)),
            f'<span class="evp-soft">{prose(one.rule.says)}</span>',
        )
        for one in draws.margins
    )
    return (
        f"<h2>Drawn from what scatters</h2>{invented_html(invented=draws.invented)}"
        f"<p>{prose(draws.title)}: {draws.count} draws, seed {draws.seed}; "
        f"{prose(scatter_words(draws))}. As it is stated: {prose(draws.stated)}.</p>"
        + table("Verdicts", ("", "draws", "chance"), verdicts)
        + table("Numbers", ("", "5 / 50 / 95 % of the draws lie under"), numbers)
        + f"<p>{prose(stated_words(draws))} {prose(uneven_words(draws))}</p>"
        + table(
            "Findings that hold it up or change, and the tightest of the others",
            ("worst", "holds it up", "margin, 5 / 50 / 95 %", "rule"),
            findings,
        )
    )
