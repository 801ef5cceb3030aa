"""Ageing, trials and draws in plain text."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.ageing import Ageing, ModelAgeing
from evpack.outcome.draws import Draws
from evpack.outcome.runs import SettingsTrial, TrialRun
from evpack.show.text_nouns import tell
from evpack.show.text_pieces import invented_words, tell_assumed, tell_found
from evpack.show.to_text import Page, how
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
from evpack.show.words import SEVERITY


@tell.register
def _(one: ModelAgeing, page: Page) -> None:
    page.say(one.model.name, 2, hang=4)
    page.say(
        f"{one.years}; loss of the first year {one.first}: {one.resting} at rest, {one.cycling} by "
        f"cycling. {one.model.fits}",
        4,
    )


@tell.register
def _(ageing: Ageing, page: Page) -> None:
    page.head("How long the cells last")
    page.say(f"{ageing.title}{invented_words(invented=ageing.invented)}: {ageing.chemistry}.")
    page.say(range_words(ageing))
    page.say(use_words(ageing))
    page.say(ORDER)
    page.gap()
    for one in ageing.models:
        tell(one, page)
    if ageing.lower is not None:
        page.gap()
        page.say(lower_words(ageing.lower))
        how(ageing.lower.given_up, page)
    page.gap()
    tell_found(ageing.findings, page)
    tell_assumed(ageing.assumed, page)


@tell.register
def _(run: TrialRun, page: Page) -> None:
    page.say(f"{run.name}: {run.says}", 2, hang=4)
    page.say(f"worst cell {run.reached}, of {say(run.limit, 'V')} that it stands", 4)


@tell.register
def _(trial: SettingsTrial, page: Page) -> None:
    page.head("The settings, tried")
    page.say(f"{trial.title}{invented_words(invented=trial.invented)}. {passed_words(trial)}")
    page.say(READ_OFF)
    page.gap()
    for run in trial.runs:
        tell(run, page)
    page.gap()
    tell_found(trial.findings, page)
    tell_assumed(trial.assumed, page)


@tell.register
def _(draws: Draws, page: Page) -> None:
    page.head("Drawn from what scatters")
    page.say(
        f"{draws.title}{invented_words(invented=draws.invented)}: {draws.count} draws, seed "
        f"{draws.seed}; {scatter_words(draws)}."
    )
    page.pair("as it is stated", draws.stated)
    page.pair("no go", chance_words(draws.no_go))
    for chance in draws.verdicts:
        page.pair(chance.what, chance_words(chance))
    page.head("Numbers: 5, 50 and 95 % of the draws lie under")
    for number in draws.numbers:
        page.pair(number.name, number_words(number))
    page.say(stated_words(draws))
    page.say(uneven_words(draws))
    page.head("Findings: how often they hold it up, and margins of 5, 50 and 95 %")
    for one in draws.margins:
        page.say(f"{SEVERITY[one.worst].glyph} {one.rule.key}, {one.about}", 2, hang=4)
        page.say(f"{chance_words(one.held)}; {margin_words(one)}", 4)
