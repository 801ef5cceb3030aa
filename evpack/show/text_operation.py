"""A pack at work in plain text."""

from __future__ import annotations

import numpy as np

from evpack.base.wording import say
from evpack.outcome.operation import OperationRun, OutageRun, Outcome
from evpack.show.findings import held
from evpack.show.operation_words import (
    CAUTION,
    about_words,
    count_words,
    hour_words,
    hunting_words,
    money,
)
from evpack.show.runs import NOT_RUN
from evpack.show.text_nouns import tell
from evpack.show.to_text import Page
from evpack.show.words import count_of


@tell.register
def _(run: OperationRun, page: Page) -> None:
    page.head("A year of operation" if run.length >= 364 * 86400 else "In operation")
    invented = " (invented: no such pack exists)" if run.invented else ""
    page.say(f"{run.title}{invented}: {about_words(run)}")
    page.say(CAUTION)
    page.gap()
    for name, volts in run.thresholds.items():
        page.pair(name, say(volts, "V"))
    if run.outcome is None:
        page.say(f"{NOT_RUN}", 2)
    else:
        _came(run, run.outcome, page)
    hard = held(run.findings)
    if hard:
        page.head(f"To keep in mind ({len(hard)})")
        for finding in hard:
            tell(finding, page)
            page.gap()
    page.say(f"{count_of(len(run.findings) - len(hard), 'check')} passed or noted.", 2)
    if run.assumed:
        page.head("What was assumed")
        for words in run.assumed:
            page.say(f"- {words}", 2, hang=4)


def _came(run: OperationRun, came: Outcome, page: Page) -> None:
    page.head("Energies")
    for worked in came.energies:
        page.pair(worked.name, str(worked))
    page.gap()
    for worked in (came.served, came.own):
        page.pair(worked.name, str(worked))
    if came.saved is not None:
        page.pair(came.saved.name, money(run, came.saved))
    page.pair("equivalent full cycles", f"{came.cycles:.0f}")
    page.head("What happened")
    for words in count_words(came) or ["nothing to tell of"]:
        page.say(f"- {words}", 2, hang=4)
    page.say(hunting_words(came), 2, hang=4)
    soc, celsius = hour_words(came)
    for title, rows in (("Hours by state of charge", soc), ("Hours by temperature", celsius)):
        page.head(title)
        for name, hours in rows:
            page.pair(name, f"{hours:.0f} h")
    page.gap()
    page.say(
        f"Not accounted for, of what was moved: charge {came.charge_lost:.0e}, energy "
        f"{came.energy_lost:.0e}.",
        2,
        hang=4,
    )


@tell.register
def _(run: OutageRun, page: Page) -> None:
    page.head("How long the pack lasts alone")
    if not run.hours.size:
        page.say(f"{NOT_RUN}", 2)
        return
    page.say(f"{run.title}: {count_of(run.hours.size, 'start')}.")
    for name, value in (
        ("at the least", run.hours.min()),
        ("in one case of ten, no longer than", np.quantile(run.hours, 0.1)),
        ("in the middle", np.median(run.hours)),
        ("at the most", run.hours.max()),
    ):
        page.pair(name, f"{float(value):.1f} h")
    page.say(f"No further than {run.most:g} h was looked at.", 2)
