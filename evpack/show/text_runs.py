"""Runs in plain text: how strings share case by case, and what a fault does in time."""

from __future__ import annotations

from evpack.base.finding import Finding
from evpack.base.wording import say
from evpack.outcome.fault_run import FaultRun
from evpack.outcome.sharing_run import SharedRun, SharingCase, SharingRun
from evpack.show.run_words import MODEL, NOT_RUN, held, span_words
from evpack.show.text_nouns import Page, how, tell
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
    page.say(f"{run.title}{_invented(invented=run.invented)}: {count_of(run.strings, 'string')}.")
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
    _found(run.findings, page)
    _assumed(run.assumed, page)


@tell.register
def _(run: FaultRun, page: Page) -> None:
    page.head(f"Fault in time: {run.kind}")
    page.say(f"{run.title}{_invented(invented=run.invented)}. {run.says}")
    page.gap()
    for seconds, words in run.events:
        page.say(f"{say(seconds, 's')}: {words}", 2, hang=4)
    page.gap()
    for line in run.numbers:
        page.pair(line.name, str(line))
        how(line, page)
    page.gap()
    _found(run.findings, page)
    _assumed(run.assumed, page)


def _invented(*, invented: bool) -> str:
    return " (invented: no such pack exists)" if invented else ""


def _found(findings: tuple[Finding, ...], page: Page) -> None:
    hard = held(findings)
    if hard:
        page.head(f"To keep in mind ({len(hard)})")
        for finding in hard:
            tell(finding, page)
            page.gap()
    rest = len(findings) - len(hard)
    page.say(f"{count_of(rest, 'check')} passed or noted.", 2)


def _assumed(assumed: tuple[str, ...], page: Page) -> None:
    if not assumed:
        return
    page.head("What was assumed")
    for words in assumed:
        page.say(f"- {words}", 2, hang=4)
