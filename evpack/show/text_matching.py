"""A heap of modules in plain text."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.matching import (
    Afterwards,
    GradedModule,
    Grouping,
    JoinPlan,
    JoinStep,
    Matching,
)
from evpack.show.matching_words import (
    CAUTIONS,
    GLYPH,
    behind_words,
    count_words,
    gain_words,
    gap_words,
    spread_words,
    what_next,
)
from evpack.show.text_nouns import tell
from evpack.show.to_text import Page
from evpack.show.words import NOT_KNOWN


def _number(worked: Worked | None) -> str:
    return NOT_KNOWN if worked is None else str(worked)


@tell.register
def _(graded: GradedModule, page: Page) -> None:
    module = graded.module
    capacity = NOT_KNOWN if module.capacity is None else say(float(module.capacity.m), "Ah")
    ohms = NOT_KNOWN if module.resistance is None else say(float(module.resistance.m), "Ω")
    page.say(
        f"{GLYPH[graded.grade]} {module.name}: {graded.grade}; {capacity} "
        f"({_number(graded.health)} of new), {ohms} ({_number(graded.resistance_ratio)}), spread "
        f"{_number(graded.spread)}, lost in 7 days {_number(graded.drift)}",
        2,
        hang=4,
    )
    for words in graded.reasons:
        page.say(words, 6)
    if graded.weakest is not None:
        page.say(f"Weakest cell group: {graded.weakest}{behind_words(graded)}.", 6)
    elif graded.imbalance is not None:
        page.say(f"Weakest cell group{behind_words(graded)}.", 6)
    page.say(what_next(graded), 6)


@tell.register
def _(grouping: Grouping, page: Page) -> None:
    page.say(
        f"{grouping.method}: {say(grouping.capacity, 'Ah')}, {say(grouping.energy, 'Wh')}; busiest "
        f"string {say(grouping.worst_share, '')} of an even share; resistance spread "
        f"{say(grouping.resistance_spread, '')}, worst capacity spread {spread_words(grouping)}; "
        f"{gap_words(grouping)}",
        2,
        hang=4,
    )
    for number, names in enumerate(grouping.strings, start=1):
        page.say(f"string {number}: {', '.join(names)}", 4)
    if grouping.spares:
        page.say(f"spare: {', '.join(grouping.spares)}", 4)


@tell.register
def _(step: JoinStep, page: Page) -> None:
    page.say(step.do, 4)


@tell.register
def _(plan: JoinPlan, page: Page) -> None:
    if plan.limit is not None:
        page.pair(plan.limit.name, str(plan.limit))
    for number, step in enumerate(plan.steps, start=1):
        page.say(f"{number}. {step.do}", 2, hang=5)


@tell.register
def _(after: Afterwards, page: Page) -> None:
    for line in (after.resistance, after.capacity, after.growth):
        if line is not None:
            page.pair(line.name, str(line))
    for finding in after.findings:
        tell(finding, page)


@tell.register
def _(matching: Matching, page: Page) -> None:
    batch = matching.batch
    page.say(batch.title + (" (invented: no such modules exist)" if batch.invented else ""))
    page.say(count_words(matching))
    page.say(CAUTIONS[0])
    page.head("Modules")
    for graded in matching.graded:
        tell(graded, page)
    if matching.grouping is not None:
        page.head("Groups")
        for grouping in (matching.grouping, *matching.naive):
            tell(grouping, page)
        page.say(gain_words(matching), 2)
    if matching.join is not None:
        page.head("How they come onto one bus")
        tell(matching.join, page)
    held = [f for f in matching.findings if f.severity >= Severity.CAUTION]
    if held:
        page.head("To keep in mind")
        for finding in held:
            tell(finding, page)
    page.head("Before you work on it")
    for words in CAUTIONS[1:]:
        page.say(f"- {words}", 2, hang=4)
