"""Sheets for the wall and the toolbox, each on a page of its own, in one file to print."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from evpack.base.errors import EvpackError, nearest
from evpack.base.finding import Finding
from evpack.base.version import VERSION
from evpack.outcome.commissioning import CommissioningPlan
from evpack.outcome.design import Decision
from evpack.show.assumed import assumed_in
from evpack.show.clean import prose
from evpack.show.doc import document
from evpack.show.html_findings import held_list
from evpack.show.one_page import one_page
from evpack.show.to_html import to_html
from evpack.show.wall_emergency import fire_card, off_card
from evpack.show.wall_labels import labels_sheet
from evpack.show.wall_schedule import diagram_sheet, schedule_sheet
from evpack.show.wall_settings import settings_sheets
from evpack.show.wall_style import WALL
from evpack.show.words import CAUTIONS, INVENTED, VERDICT, only_assumed

# In the order in which a person takes them to hand.
SHEETS = ("emergency", "limits", "settings", "schedule", "diagram", "checklist", "labels")
# What hangs on the modules or is read when it burns is true of any pack.
_ALWAYS = ("emergency", "labels")
_ACTED_BY = {"settings", "schedule", "checklist"}
_NOT_YET = "not-yet"

_HELD = (
    "This design may not be built yet, so there is nothing to enter, to buy or to switch on. Clear "
    "first what holds it up:"
)


def wall_page(plan: CommissioningPlan, only: Collection[str] = SHEETS, *, on: str) -> str:
    """Return the sheets as one HTML document that loads and runs nothing.

    Parameters
    ----------
    plan : CommissioningPlan
        With its decision, of which all sheets are.
    only : collection of str
        Which sheets, of `SHEETS`.
    on : str
        The date that stands on each.

    Raises
    ------
    EvpackError
        A sheet that is not known, or none at all.
    """
    if not only:
        raise EvpackError(f"no sheet was asked for; there are {', '.join(SHEETS)}")
    for name in only:
        if name not in SHEETS:
            raise EvpackError(f"'{name}' is no sheet{nearest(name, SHEETS)}")
    decision = plan.decision
    # Whoever takes something to act by takes the limits along.
    asked = {*only, "limits"} if {*only} & _ACTED_BY else {*only}
    kinds = [kind for kind in SHEETS if kind in asked]
    held = [kind for kind in kinds if kind not in _ALWAYS] if plan.withheld else []
    if held:
        kinds = [_NOT_YET, *(kind for kind in kinds if kind in _ALWAYS)]
    head, foot = _head(decision, on), _foot(decision)
    sheets = "".join(
        _framed(name, body, head, foot, across=kind == "diagram" and decision.go, kind=kind)
        for kind in kinds
        for name, body in _sheets(plan, kind, held)
    )
    return one_page(f"{plan.title}: sheets to print", sheets, WALL)


def _sheets(plan: CommissioningPlan, kind: str, held: list[str]) -> Iterator[tuple[str, str]]:
    """Yield name and body of each sheet of a kind; of those that are held only why, once."""
    design = plan.decision.design
    if kind == "labels":
        yield "Labels for the modules", labels_sheet(design)
    elif kind == "emergency":
        yield "Emergency card: fire", fire_card(design)
        yield "Emergency card: switching it off", off_card(design)
    elif kind == _NOT_YET:
        yield f"Not yet: {', '.join(held)}", _held(plan.decision)
    elif kind == "limits":
        yield "Limits to keep", _limits(plan.decision)
    elif kind == "settings":
        yield from settings_sheets(design, len(plan.decision.limits))
    elif kind == "schedule":
        yield "Fuses, cables, what to buy", schedule_sheet(design)
    elif kind == "diagram":
        yield "One-line diagram", diagram_sheet(design)
    else:
        yield "Checklist", to_html(document(plan))


def _limits(decision: Decision) -> str:
    """Return the limits that a design works under, large, to hang beside the pack."""
    if not decision.limits:
        return "<p>None: the design works as it is described.</p>"
    # First what is kept in use, a number with its limit; then what is only to be read or bought.
    ordered = sorted(decision.limits, key=lambda finding: finding.value is None)
    lines = "".join(map(_limit, ordered))
    return (
        "<p>The design works only while these are kept. This sheet hangs beside the pack, where "
        "everybody who uses it reads it. What is put right for good is struck out, with the date, "
        f'once it is decided again.</p><ul class="big-list">{lines}</ul>'
    )


def _limit(finding: Finding) -> str:
    """Return one limit: what is to be done, large, and below it what was found."""
    found = f"{finding.about[:1].upper()}{finding.about[1:]}: {finding.detail}"
    if not finding.remedy:
        return f"<li><b>{prose(found)}</b></li>"
    return f"<li><b>{prose(finding.remedy)}</b><p>{prose(found)}</p></li>"


def _held(decision: Decision) -> str:
    return (
        f'<p class="evp-banner evp-stop"><b>✕ {prose(_HELD)}</b></p>{held_list(decision.held_by)}'
    )


def _head(decision: Decision, on: str) -> str:
    """Return what every sheet says of its build: each may be carried away alone."""
    words = VERDICT[decision.verdict]
    return (
        f"{prose(decision.design.build.title)}<br>{words.glyph} {words.word} · {prose(on)} · "
        f"evpack {prose(VERSION)}"
    )


def _foot(decision: Decision) -> str:
    """Return the caution at the foot of every sheet, and how much is only assumed."""
    words = only_assumed(len(assumed_in(decision.design).confirm))
    assumed = f" <b>{prose(words)}</b>" if words else ""
    invented = f" {INVENTED}" if decision.design.build.invented else ""
    return f"{prose(CAUTIONS[0])}{assumed}{prose(invented)}"


def _framed(name: str, body: str, head: str, foot: str, *, across: bool, kind: str) -> str:
    """Return one sheet with its head and its foot."""
    return (
        f'<section class="sheet {kind}{" across" if across else ""}"><div class="sheet-head">'
        f"<h2>{prose(name)}</h2><span>{head}</span></div>{body}"
        f'<p class="sheet-foot">{foot}</p></section>'
    )
