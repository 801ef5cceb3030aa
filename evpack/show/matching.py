"""A heap of modules: grades, groups, the order of joining, the finished pack."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.matching import (
    Afterwards,
    Grade,
    GradedModule,
    Grouping,
    JoinPlan,
    JoinStep,
    Matching,
)
from evpack.show.doc import (
    Block,
    Column,
    Doc,
    Figure,
    Fold,
    Head,
    How,
    Item,
    Items,
    Mark,
    Number,
    Numbers,
    Para,
    Row,
    Table,
    Value,
    document,
)
from evpack.show.draw.batch import capacity_svg, groups_svg, scatter_svg
from evpack.show.findings import finding_cards, held
from evpack.show.one_page import one_page
from evpack.show.pieces import invented, passed
from evpack.show.to_html import to_html
from evpack.show.words import NOT_KNOWN

# --- Words ----------------------------------------------------------------------------------------

GLYPH = {Grade.ACCEPT: "✓", Grade.RETEST: "△", Grade.REJECT: "✕"}
NEXT = {
    Grade.ACCEPT: "Fit to be grouped. Keep its test card with it.",
    Grade.RETEST: "Set it aside, read what is asked for again, and grade the heap anew.",
    Grade.REJECT: (
        "Not to be charged or used. Mark it, keep it outside, and hand it to a recycler."
    ),
}

CAUTIONS = (
    (
        "Salvaged cells store energy that cannot be switched off. This is a calculation aid: what "
        "is read at the bench, local codes and licensed practice override it."
    ),
    "Insulated tools, no jewellery, one terminal at a time; cover what you do not work on.",
    (
        "A module that swells, smells, leaks or warms at rest goes outside at once, away from what "
        "burns. Do not charge it to see what happens."
    ),
    "Never leave a module under test alone, and never charge cells below freezing.",
    "Following these steps makes no module a listed product.",
)


def count_words(matching: Matching) -> str:
    """Return how many modules came to which grade."""
    counts = [f"{len(matching.of(grade))} {grade}" for grade in Grade if matching.of(grade)]
    return f"{len(matching.graded)} modules: {', '.join(counts)}."


def gap_words(grouping: Grouping) -> str:
    """Return how near a grouping is to the best that there can be, in plain words."""
    if grouping.gap is None:
        return "not proven"
    if grouping.gap < 5e-7:  # noqa: PLR2004  rounding of the solver
        return "proven best"
    return f"within {say(grouping.gap, '')} of the best there can be"


def gain_words(matching: Matching) -> str:
    """Return what the grouping wins over the orders that people use."""
    best = matching.grouping
    if best is None or not matching.naive:
        return ""
    parts = [
        f"{say(abs(best.energy - g.energy), 'Wh')} "
        f"{'more' if best.energy >= g.energy else 'less, for evenness,'} than {g.method}"
        for g in matching.naive
    ]
    return f"It gives {' and '.join(parts)}."


def _weakest(graded: GradedModule) -> str:
    """Return which cell group ends the discharge; empty where nobody logged it."""
    which = "" if graded.weakest is None else f": {graded.weakest}"
    if which and graded.weakest_by:
        which += f" ({graded.weakest_by})"
    behind = graded.imbalance
    below = "" if behind is None else f", {behind} below the mean towards empty"
    return f"Weakest cell group{which}{below}." if which or below else ""


# --- Documents ------------------------------------------------------------------------------------


@document.register
def _(matching: Matching) -> Doc:
    batch = matching.batch
    yield Head(batch.title, 1)
    yield from invented(invented=batch.invented, what="modules exist")
    yield Para(batch.note, "soft")
    yield Para(count_words(matching))
    yield Para(CAUTIONS[0], "notice")
    hard = held(matching.findings)
    if hard:
        yield Head(f"To keep in mind ({len(hard)})")
        yield finding_cards(hard)
    yield Head("Which modules are fit?")
    yield Items((_grade(grade), f": {NEXT[grade]}") for grade in Grade if matching.of(grade))
    yield Figure(lambda: capacity_svg(matching))
    yield batch_table(matching.graded)
    yield Figure(lambda: scatter_svg(matching))
    yield Head("Which belong together?")
    yield from groups(matching)
    yield Head("How do they come onto one bus?")
    yield from joining(matching)
    yield Head("What was checked")
    yield from passed(matching.findings)
    yield Head("Before you work on it")
    yield Items(CAUTIONS[1:])


def groups(matching: Matching) -> Iterator[Block]:
    """Yield which modules stand in which string, beside what people do by hand."""
    if matching.grouping is None:
        yield Para("No grouping was asked for, or none is possible.")
        return
    yield Figure(lambda: groups_svg(matching))
    yield grouping_table((matching.grouping, *matching.naive))
    yield Para(gain_words(matching))


def joining(matching: Matching) -> Iterator[Block]:
    """Yield how the strings come onto one bus."""
    if matching.join is None:
        yield Para("Nothing to join.")
    else:
        yield from document(matching.join)


def _grade(grade: Grade) -> Mark:
    return Mark(GLYPH[grade], str(grade), boxed=True)


_MODULE = (
    Column("module"),
    Column("grade"),
    *(
        Column(head, number=True)
        for head in ("of new", "capacity", "resistance", "against new", "spread", "7 days")
    ),
)


def batch_table(graded: Iterable[GradedModule]) -> Table:
    """Return the table of a heap: a row for each module, its reasons under it."""
    return Table(_MODULE, map(_module, graded), "The heap, module by module", cards=True)


def _module(graded: GradedModule) -> Row:
    module = graded.module
    capacity = None if module.capacity is None else float(module.capacity.m)
    ohms = None if module.resistance is None else float(module.resistance.m)
    cells = (
        module.name,
        _grade(graded.grade),
        _known(graded.health),
        Value(capacity, "Ah", none=NOT_KNOWN),
        Value(ohms, "Ω", none=NOT_KNOWN),
        _known(graded.resistance_ratio),
        _known(graded.spread),
        _known(graded.drift),
    )
    return Row(cells, _under(graded))


def _known(worked: Worked | None) -> Worked | Number:
    return Number(NOT_KNOWN) if worked is None else worked


def _under(graded: GradedModule) -> Iterator[Block]:
    """Yield why a module has its grade, and how its numbers come about."""
    yield from map(Para, graded.reasons)
    yield Para(_weakest(graded), "soft")
    yield Para(graded.module.note, "soft")
    yield from _numbers(
        "how it comes about",
        graded.health,
        graded.resistance_ratio,
        graded.spread,
        graded.imbalance,
        graded.drift,
        graded.self_discharge,
        *graded.uncertainty,
    )


def _numbers(summary: str, *lines: Worked | None) -> Iterator[Fold]:
    """Yield how numbers come about, folded; nothing where there are none."""
    known = [line for line in lines if line is not None]
    if known:
        yield Fold(summary, (How(line, named=True) for line in known))


@document.register
def _(graded: GradedModule) -> Doc:
    yield batch_table((graded,))
    yield Para(NEXT[graded.grade])


_GROUPING = (
    Column("how it was found"),
    Column("usable", number=True),
    Column("energy", number=True),
    Column("busiest string, of an even share", number=True),
    Column("resistance spread", number=True),
    Column("worst capacity spread in a string", number=True),
    Column("how good it is"),
)


def grouping_table(groupings: Iterable[Grouping]) -> Table:
    """Return groupings beside each other: the best one first, then what people do by hand."""
    return Table(_GROUPING, map(_grouping, groupings), "Groupings compared")


def _grouping(grouping: Grouping) -> Row:
    cells = (
        grouping.method,
        Value(grouping.capacity, "Ah"),
        Value(grouping.energy, "Wh"),
        Value(grouping.worst_share, ""),
        Value(grouping.resistance_spread, ""),
        Value(max(grouping.capacity_spread, default=None), ""),
        gap_words(grouping),
    )
    strings = [
        f"string {number}: {', '.join(names)}"
        for number, names in enumerate(grouping.strings, start=1)
    ]
    if grouping.spares:
        strings.append(f"spare: {', '.join(grouping.spares)}")
    return Row(cells, (Para(f"{'; '.join(strings)}.", "soft"),))


@document.register
def _(grouping: Grouping) -> Doc:
    yield grouping_table((grouping,))


@document.register
def _(plan: JoinPlan) -> Doc:
    if plan.limit is not None:
        yield Numbers((plan.limit,))
    yield Items((Item(step.do, tuple(_moved(step))) for step in plan.steps), numbered=True)
    if plan.pairs:
        yield Fold(f"{len(plan.pairs)} joints, one by one", (_pairs(plan.pairs),))


def _pairs(pairs: Iterable[JoinStep]) -> Table:
    return Table(
        (
            Column("joined as they rest"),
            Column("first current", number=True),
            Column("dies away with", number=True),
            Column("charge", number=True),
            Column("heat", number=True),
            Column(""),
        ),
        (
            Row(
                (
                    " and ".join(pair.names),
                    _known(pair.current),
                    _known(pair.tau),
                    _known(pair.charge),
                    _known(pair.heat),
                    pair.do,
                )
            )
            for pair in pairs
        ),
    )


@document.register
def _(step: JoinStep) -> Doc:
    yield Para(step.do)
    yield from _moved(step)


def _moved(step: JoinStep) -> Iterator[Fold]:
    yield from _numbers("the numbers", step.target, step.current, step.charge, step.heat)


@document.register
def _(after: Afterwards) -> Doc:
    yield Head("The finished pack")
    lines = [x for x in (after.resistance, after.capacity, after.growth) if x is not None]
    if lines:
        yield Numbers(lines, "What the log shows")
    yield finding_cards(after.findings)


def heap_page(matching: Matching) -> str:
    """Return the page of a heap as one HTML document that loads and runs nothing."""
    _head, *blocks = document(matching)  # the page has its title already
    return one_page(matching.batch.title, to_html(blocks))
