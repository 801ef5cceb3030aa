"""A heap of modules in HTML: grades, pictures, groups, the order of joining, the finished pack."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.base.wording import say
from evpack.outcome.matching import (
    Afterwards,
    Grade,
    GradedModule,
    Grouping,
    JoinPlan,
    JoinStep,
    Matching,
)
from evpack.show.batch_pictures import capacity_svg, groups_svg, scatter_svg
from evpack.show.clean import escaped, prose
from evpack.show.html_findings import finding_list, pass_table
from evpack.show.html_tables import cell, folded, how, number, row, table, value_of, worked_table
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
from evpack.show.words import NOT_KNOWN

_HEADS = ("module", "grade", "of new", "capacity", "resistance", "against new", "spread", "7 days")


def matching_html(matching: Matching) -> str:
    """Return the whole page of a heap, in the order of a reader's questions."""
    batch = matching.batch
    invented = "<p><b>Invented:</b> no such modules exist.</p>" if batch.invented else ""
    note = f'<p class="evp-soft">{prose(batch.note)}</p>' if batch.note else ""
    held = tuple(f for f in matching.findings if f.severity >= Severity.CAUTION)
    passed = tuple(f for f in matching.findings if f.severity < Severity.CAUTION)
    parts = [
        f"<h1>{prose(batch.title)}</h1>{invented}{note}<p>{prose(count_words(matching))}</p>",
        f'<p class="evp-notice">{prose(CAUTIONS[0])}</p>',
    ]
    if held:
        parts.append(f"<h2>To keep in mind ({len(held)})</h2>{finding_list(held)}")
    parts.append("<h2>Which modules are fit?</h2>")
    parts += [_figure(capacity_svg(matching)), batch_table(matching.graded)]
    parts.append(_figure(scatter_svg(matching)))
    parts.append("<h2>Which belong together?</h2>")
    if matching.grouping is None:
        parts.append("<p>No grouping was asked for, or none is possible.</p>")
    else:
        parts.append(_figure(groups_svg(matching)))
        parts.append(grouping_table((matching.grouping, *matching.naive)))
        parts.append(f"<p>{prose(gain_words(matching))}</p>")
    parts.append("<h2>How do they come onto one bus?</h2>")
    parts.append("<p>Nothing to join.</p>" if matching.join is None else join_html(matching.join))
    parts.append("<h2>What was checked</h2>")
    parts.append(folded(f"{len(passed)} checks passed or noted", pass_table(passed)))
    items = "".join(f"<li>{prose(words)}</li>" for words in CAUTIONS[1:])
    parts.append(f"<h2>Before you work on it</h2><ul>{items}</ul>")
    return "".join(parts)


def _figure(svg: str) -> str:
    return f"<figure>{svg}</figure>"


def grade_mark(grade: Grade) -> str:
    """Return glyph and word of a grade."""
    return f'<span class="evp-mark">{GLYPH[grade]} {escaped(str(grade))}</span>'


def batch_table(graded: tuple[GradedModule, ...]) -> str:
    """Return the table of the heap: a line for each module, its reasons under it."""
    return table(
        "The heap, module by module",
        _HEADS,
        "".join(map(graded_rows, graded)),
        rows=False,
        kind="evp-cards",
    )


def graded_rows(graded: GradedModule) -> str:
    """Return one module as two rows that stay together."""
    module = graded.module
    values = (
        value_of(graded.health),
        number(NOT_KNOWN if module.capacity is None else say(float(module.capacity.m), "Ah")),
        number(NOT_KNOWN if module.resistance is None else say(float(module.resistance.m), "Ω")),
        value_of(graded.resistance_ratio),
        value_of(graded.spread),
        value_of(graded.drift),
    )
    first = (
        f'<tr><th scope="row">{prose(module.name)}</th>'
        f"{cell(_HEADS[1], grade_mark(graded.grade))}"
        + "".join(cell(head, value) for head, value in zip(_HEADS[2:], values, strict=True))
        + "</tr>"
    )
    told = [f"<p>{prose(words)}</p>" for words in graded.reasons]
    behind = behind_words(graded)
    if graded.weakest is not None:
        by = f" ({graded.weakest_by})" if graded.weakest_by else ""
        words = f"Weakest cell group: {graded.weakest}{by}{behind}."
        told.append(f'<p class="evp-soft">{prose(words)}</p>')
    elif behind:
        told.append(f'<p class="evp-soft">{prose(f"Weakest cell group{behind}.")}</p>')
    if module.note:
        told.append(f'<p class="evp-soft">{prose(module.note)}</p>')
    lines = (
        graded.health,
        graded.resistance_ratio,
        graded.spread,
        graded.imbalance,
        graded.drift,
        graded.self_discharge,
        *graded.uncertainty,
    )
    inner = "".join(how(line, named=True) for line in lines if line is not None)
    if inner:
        told.append(folded("how it comes about", inner))
    under = f'<tr class="evp-under"><td></td><td colspan="7">{"".join(told)}</td></tr>'
    return f"<tbody>{first}{under}</tbody>"


def grouping_table(groupings: tuple[Grouping, ...]) -> str:
    """Return groupings beside each other: the best one first, then what people do by hand."""
    body = "".join(
        row(
            prose(g.method),
            number(say(g.capacity, "Ah")),
            number(say(g.energy, "Wh")),
            number(say(g.worst_share, "")),
            number(say(g.resistance_spread, "")),
            prose(spread_words(g)),
            prose(gap_words(g)),
        )
        for g in groupings
    )
    heads = (
        "how it was found",
        "usable",
        "energy",
        "busiest string, of an even share",
        "resistance spread",
        "worst capacity spread in a string",
        "how good it is",
    )
    return table("Groupings compared", heads, body)


def join_html(plan: JoinPlan) -> str:
    """Return the plan of joining: the limit, the steps in their order, then every pair."""
    limit = "" if plan.limit is None else worked_table("", (plan.limit,))
    steps = "".join(f"<li>{_step(step)}</li>" for step in plan.steps)
    pairs = "".join(
        row(
            prose(" and ".join(pair.names)),
            value_of(pair.current),
            value_of(pair.tau),
            value_of(pair.charge),
            value_of(pair.heat),
            prose(pair.do),
        )
        for pair in plan.pairs
    )
    heads = ("joined as they rest", "first current", "dies away with", "charge", "heat", "")
    listed = folded(f"{len(plan.pairs)} joints, one by one", table("", heads, pairs))
    return f"{limit}<ol>{steps}</ol>{listed if plan.pairs else ''}"


def _step(step: JoinStep) -> str:
    lines = [line for line in (step.target, step.current, step.charge, step.heat) if line]
    told = folded("the numbers", "".join(how(line, named=True) for line in lines))
    return f"{prose(step.do)}{told if lines else ''}"


def afterwards_html(after: Afterwards) -> str:
    """Return what the log of a finished pack shows, and where it departs."""
    lines = tuple(
        line for line in (after.resistance, after.capacity, after.growth) if line is not None
    )
    shown = worked_table("What the log shows", lines) if lines else ""
    return f"<h2>The finished pack</h2>{shown}{finding_list(after.findings)}"


def graded_html(graded: GradedModule) -> str:
    """Return one module with what to do next."""
    return batch_table((graded,)) + f"<p>{prose(what_next(graded))}</p>"
