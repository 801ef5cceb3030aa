"""The wording of grades, groups and joining, the same in HTML and in text."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.matching import Grade, GradedModule, Grouping, Matching

GLYPH = {Grade.ACCEPT: "✓", Grade.RETEST: "△", Grade.REJECT: "✕"}

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


def what_next(graded: GradedModule) -> str:
    """Return what to do with a module next."""
    if graded.grade is Grade.ACCEPT:
        return "Fit to be grouped. Keep its test card with it."
    if graded.grade is Grade.RETEST:
        return "Set it aside, read what is asked for again, and grade the heap anew."
    return "Not to be charged or used. Mark it, keep it outside, and hand it to a recycler."


def behind_words(graded: GradedModule) -> str:
    """Return how far the weakest cell group lay below the others; empty where nobody logged it."""
    if graded.imbalance is None:
        return ""
    return f", {graded.imbalance} below the mean towards empty"


def gap_words(grouping: Grouping) -> str:
    """Return how near a grouping is to the best that there can be, in plain words."""
    if grouping.gap is None:
        return "not proven"
    if grouping.gap < 5e-7:  # noqa: PLR2004  rounding of the solver
        return "proven best"
    return f"within {say(grouping.gap, '')} of the best there can be"


def spread_words(grouping: Grouping) -> str:
    """Return the largest spread of capacity within a string."""
    return say(max(grouping.capacity_spread), "") if grouping.capacity_spread else "–"


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
