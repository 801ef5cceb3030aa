"""Runs in plain text: how strings share case by case, and what a fault does in time."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.runs import FaultRun, SharedRun, SharingCase, SharingRun
from evpack.show.run_words import MODEL, NOT_RUN, span_words
from evpack.show.text_nouns import tell
from evpack.show.text_pieces import invented_words, tell_assumed, tell_found
from evpack.show.to_text import Page, how
from evpack.show.words import count_of


@tell.register
def _(run: SharedRun, page: Page) -> None:
    page.say(
        f"{run.way}: first {span_words(run.early)}, last {span_words(run.late)}; busiest "
        f"{run.worst} (string {run.busiest}, after {say(run.at, 's')}), {run.uneven} of an even "
        f"share; {say(run.apart, '')} apart; {run.ended_by}, after {say(float(run.time[-1]), 's')}",
        4,
        hang=6,
    )


@tell.register
def _(case: SharingCase, page: Page) -> None:
    page.say(f"{case.name}: {case.says}", 2, hang=4)
    for run in case.runs:
        tell(run, page)


@tell.register
def _(run: SharingRun, page: Page) -> None:
    page.head("How the strings share the current")
    page.say(
        f"{run.title}{invented_words(invented=run.invented)}: {count_of(run.strings, 'string')}."
    )
    page.say(MODEL)
    page.gap()
    for line in (run.power, run.charge_current):
        if line is not None:
            page.pair(line.name, str(line))
    page.gap()
    if not run.cases:
        page.say(f"? {NOT_RUN}", 2)
    for case in run.cases:
        tell(case, page)
        page.gap()
    tell_found(run.findings, page)
    tell_assumed(run.assumed, page)


@tell.register
def _(run: FaultRun, page: Page) -> None:
    page.head(f"Fault in time: {run.kind}")
    page.say(f"{run.title}{invented_words(invented=run.invented)}. {run.says}")
    page.gap()
    for seconds, words in run.events:
        page.say(f"{say(seconds, 's')}: {words}", 2, hang=4)
    page.gap()
    for line in run.numbers:
        page.pair(line.name, str(line))
        how(line, page)
    page.gap()
    tell_found(run.findings, page)
    tell_assumed(run.assumed, page)
