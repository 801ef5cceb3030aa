"""A shared page that can still be explored: answers worked out beforehand, picked by radio buttons.

Every answer comes out of the whole design, when the page is made. The page holds no script: style
rules show the one answer that belongs to what is checked. Without these rules only the answer on
the panel's own build is to be seen.
"""

from __future__ import annotations

import itertools
import math
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from string import ascii_lowercase

import attrs

from evpack.base.errors import EvpackError
from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.edit import edited
from evpack.outcome.design import Decision, Design
from evpack.show.assumed import assumed_in
from evpack.show.clean import escaped, prose
from evpack.show.draw.small_bars import Scale, scale_of, small_bars
from evpack.show.gather import WayOut, missing_in, stops, ways_out
from evpack.show.html_tables import severity_mark
from evpack.show.words import SEVERITY, VERDICT, count_of, only_assumed
from evpack.workbook.controls import Choice, Value, edits_of, tidy
from evpack.workbook.regions import grid

MOST_STATES = 300
LARGEST = 250_000  # bytes of a page that this may take

_TOLD = 3  # reasons of an answer, before they are counted
_SAME = 1e-9
_LEAD = (
    "Worked out beforehand for these choices; nothing runs on this page. For other values load the "
    "sheet in evpack. Enter and buy by the design of the sheet alone."
)

Changed = Callable[..., Build]
Keys = Callable[..., Iterable[tuple[str, ...]]]
Fixed = Sequence[tuple[Choice, Value]]


@attrs.frozen(kw_only=True)
class Row:
    """One choice, the values to pick from, and which of them are the sheet's and the panel's."""

    choice: Choice
    values: tuple[Value, ...]
    of_sheet: int
    now: int

    def word(self, k: int) -> str:
        """Return a value as a person would type it."""
        return str(self.choice.typed(self.values[k]))


@attrs.frozen(kw_only=True)
class State:
    """One answer: which value of each row, and the decision, or why there is none."""

    at: tuple[int, ...]
    decision: Decision | None
    problem: str = ""


def rows_of(
    choices: Iterable[Choice], values: Mapping[str, Value], counts: Mapping[str, int]
) -> tuple[Row, ...]:
    """Return the rows of a panel: of each choice that `counts` names, so many values.

    Parameters
    ----------
    choices : iterable of Choice
        At the values of the sheet.
    values : mapping
        By key, as the panel stands; these are among the values, and so are the sheet's.
    counts : mapping
        How many values of which choice, at most.
    """
    rows = []
    for choice in choices:
        if choice.key not in counts:
            continue
        now = values[choice.key]
        picked = _around(choice, now, counts[choice.key])
        places = [k for k, value in enumerate(picked) if _same(value, choice.value)]
        if not places:
            picked = _with(picked, choice, now)
            places = [k for k, value in enumerate(picked) if _same(value, choice.value)]
        at = next(k for k, value in enumerate(picked) if _same(value, now))
        rows.append(Row(choice=choice, values=picked, of_sheet=places[0], now=at))
    return tuple(rows)


def _same(one: Value, other: Value) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    return abs(one - other) <= _SAME


def _around(choice: Choice, now: Value, count: int) -> tuple[Value, ...]:
    """Return values around one, in the order of the control."""
    if isinstance(now, str):
        at = choice.options.index(now)
        near = sorted(range(len(choice.options)), key=lambda k: (abs(k - at), k))[:count]
        return tuple(choice.options[k] for k in sorted(near))
    step = _step(choice)
    low, high = min(choice.low, now), max(choice.high, now)
    found = [now]
    for k in range(1, 2 * count):
        for value in (tidy(now - k * step), tidy(now + k * step)):
            if low - _SAME <= value <= high + _SAME and len(found) < count:
                found.append(value)
    return tuple(sorted(found))


def _with(picked: tuple[Value, ...], choice: Choice, now: Value) -> tuple[Value, ...]:
    """Return the values with that of the sheet in the place of the one furthest from now."""

    def order(value: Value) -> float:
        return choice.options.index(value) if isinstance(value, str) else value

    furthest = max(picked, key=lambda value: abs(order(value) - order(now)))
    kept = [value for value in picked if value != furthest or value == now]
    return tuple(sorted([*kept, choice.value], key=order))


def _step(choice: Choice) -> float:
    """Return a round step of about a quarter of the control's reach, one of its own at least.

    One module in series more or less is what can be bought or left out, whatever the reach.
    """
    rough = (choice.high - choice.low) / 4
    if choice.key == "modules_in_series" or rough <= choice.step:
        return choice.step
    power = 10.0 ** math.floor(math.log10(rough) + _SAME)
    step = max(m * power for m in (1, 2, 5) if m * power <= rough * (1 + _SAME))
    return max(choice.step, tidy(step))


def states_of(
    start: Build, rows: Sequence[Row], fixed: Fixed, changed: Changed = edited
) -> Iterator[State]:
    """Yield every combination of the rows' values, each carried through the whole design.

    `fixed` are choices that no row turns over, with their values.
    """
    choices = [*(choice for choice, _ in fixed), *(row.choice for row in rows)]
    for at in itertools.product(*(range(len(row.values)) for row in rows)):
        values = {choice.key: value for choice, value in fixed}
        values |= {row.choice.key: row.values[k] for row, k in zip(rows, at, strict=True)}
        try:
            yield State(at=at, decision=decide(design(changed(start, *edits_of(choices, values)))))
        except EvpackError as problem:
            yield State(at=at, decision=None, problem=str(problem))


def what_if(
    start: Build,
    rows: Sequence[Row],
    *,
    fixed: Fixed,
    keys: Keys,
    bars: bool = True,
    changed: Changed = edited,
) -> str:
    """Return the choices and every answer as a fragment of a page; "" where they are too many.

    Parameters
    ----------
    start : Build
        The build of the sheet.
    rows : sequence of Row
        What can be picked.
    fixed : sequence of pairs
        Choices of the panel that stay as they are, and their values.
    keys : callable
        Of a design: the figures to watch; called with ``entered=False`` where none of them may
        read like a number to enter.
    bars : bool
        Whether each answer is drawn as bars of energy and voltage.
    changed : callable
        Makes edits of a build, as `evpack.edit.edited`.
    """
    if not rows or math.prod(len(row.values) for row in rows) > MOST_STATES:
        return ""
    states = tuple(states_of(start, rows, fixed, changed))
    made = [state.decision.design for state in states if state.decision is not None]
    now = tuple(row.now for row in rows)
    own = next(state.decision for state in states if state.at == now)
    if own is None:
        return ""
    scale = scale_of(made) if bars else None
    told = [
        f'<div class="evp-if-s {_places(state.at)}"{"" if state.at == now else " hidden"}>'
        f"{_told(state, rows, own, scale, keys)}</div>"
        for state in states
    ]
    mark = f"evp-if-{uuid.uuid4().hex[:8]}"  # two panels on a page have nothing in common
    answers = "".join(told) + (_LEGEND if bars else "")
    page = (
        f"<style>{LOOK}{shown_by(mark, [len(row.values) for row in rows])}</style>"
        f'<div class="evp evp-if {mark}">{_lead(own.design, fixed)}<div class="evp-if-both">'
        f'<div class="evp-if-pick" hidden>{"".join(_fields(mark, rows))}</div>'
        f'<div class="evp-if-out" aria-live="polite">{answers}</div></div></div>'
    )
    return page if len(page.encode("utf-8")) <= LARGEST else ""


def _places(at: tuple[int, ...]) -> str:
    """Return the classes of an answer: a letter for the row, a number for the value."""
    return " ".join(f"{letter}{k}" for letter, k in zip(ascii_lowercase, at, strict=False))


def _lead(own: Design, fixed: Fixed) -> str:
    """Return what these answers are, what is the same in all, and what only was assumed."""
    away = [f"{c.label} {c.typed(value)}" for c, value in fixed if c.differs(value)]
    stays = f"{'; '.join(away)} in all; the rest" if away else "All else"
    said = [_LEAD, f"{prose(stays)} is as in the sheet."]
    assumed = only_assumed(len(assumed_in(own).confirm))
    if assumed:
        said.append(f"<b>{assumed}</b>")
    return f'<p class="evp-if-lead">{" ".join(said)}</p>'


def _fields(mark: str, rows: Sequence[Row]) -> Iterator[str]:
    for letter, row in zip(ascii_lowercase, rows, strict=False):
        labels = []
        for k in range(len(row.values)):
            state = " checked" if k == row.now else ""
            sheet = " <small>sheet</small>" if k == row.of_sheet else ""
            # A browser must not remember what was picked before: the sheet's answer comes first.
            labels.append(
                f'<label><input type="radio" name="{mark}-{letter}" class="{letter} {letter}{k}" '
                f'autocomplete="off"{state}> {prose(row.word(k))}{sheet}</label>'
            )
        yield (
            f"<fieldset><legend>{escaped(row.choice.label)}</legend>{''.join(labels)}</fieldset>"
        )


_LEGEND = (
    '<p class="evp-if-legend"><i class="evp-if-work"></i> everyday, or in reach '
    '<i class="evp-if-guard"></i> reserve <i class="evp-if-bar"></i> out of reach. Below it the '
    "pack from empty to full, in the window of the inverters (grey); the lines are where charge "
    "and discharge end. One scale for all choices.</p>"
)


def _told(state: State, rows: Sequence[Row], own: Decision, scale: Scale | None, keys: Keys) -> str:
    """Return one answer: what was picked, the verdict, the figures, the bars, the reasons."""
    away = any(k != row.of_sheet for row, k in zip(rows, state.at, strict=True))
    picked = "; ".join(
        f"{escaped(row.choice.label)} <b>{prose(row.word(k))}</b>"
        + (f" (sheet: {prose(row.word(row.of_sheet))})" if k != row.of_sheet else "")
        for row, k in zip(rows, state.at, strict=True)
        if k != row.of_sheet or not away
    )
    lead = "What if, and not the design of the sheet" if away else "As in the sheet"
    head = f'<p class="evp-if-at"><b>{lead}:</b> {picked}.</p>'
    if state.decision is None:
        return f'{head}<p class="evp-if-v evp-stop">✕ Cannot be: {prose(state.problem)}</p>'
    decision = state.decision
    words = VERDICT[decision.verdict]
    figures = grid(row[: 2 if away else 3] for row in keys(decision.design, entered=not away))
    return (
        f'{head}<p class="evp-if-v evp-{words.tone}"><span aria-hidden="true">{words.glyph}</span>'
        f" <b>{escaped(words.word)}</b></p>{figures}"
        f"{'' if scale is None else small_bars(decision.design, scale)}{_reasons(decision, own)}"
    )


def _reasons(decision: Decision, own: Decision) -> str:
    """Return what holds the answer up, else its limits; those of the own design are counted."""
    asked = missing_in(decision).asked.values()
    held = [*ways_out(stops(decision)), *itertools.chain.from_iterable(asked)]
    if held:
        return _listed([_line(way) for way in held], "in the way")
    if decision is own:
        return _listed([_line(way) for way in ways_out(own.limits)], "to keep")
    # Where the own design is held up, the answer shown first tells what holds it, not its limits.
    known = {_name(finding) for finding in own.limits} if own.go else set()
    new = [finding for finding in decision.limits if _name(finding) not in known]
    alike = len(decision.limits) - len(new)
    more = f"<li>{count_of(alike, 'limit')} of the same kinds as in the answer shown first.</li>"
    return _listed(
        [_line(way, todo=False) for way in ways_out(new)], "to keep", more if alike else ""
    )


def _listed(lines: list[str], what: str, last: str = "") -> str:
    more = len(lines) - _TOLD
    if more > 0:
        lines[_TOLD:] = [f"<li>And {count_of(more, 'thing')} more {what}.</li>"]
    return f"<ul>{''.join(lines)}{last}</ul>" if lines or last else ""


def _name(finding: Finding) -> tuple[str, str]:
    return finding.rule.key, finding.about


def _line(way: WayOut, *, todo: bool = True) -> str:
    """Return the first that was found, and what to do about it.

    What to do about a limit of another design is left out: it may name numbers to enter.
    """
    found = way.findings[0]
    do = f" <b>→ {prose(way.remedy)}</b>" if way.remedy and todo else ""
    tone = SEVERITY[found.severity].tone
    return (
        f'<li class="evp-{tone}">{severity_mark(found.severity)} {prose(found.about)}: '
        f"{prose(found.detail)}{do}</li>"
    )


# The look, and the rules that show the one answer that was picked.

LOOK = """
body .evp.evp.evp-if { border: 1px solid var(--evp-line); padding: .6em .8em; }
.evp.evp-if .evp-if-lead { color: var(--evp-soft); font-size: .9em; margin: 0 0 .6rem;
  max-width: none; }
.evp.evp-if fieldset { border: 0; margin: 0 0 .7rem; padding: 0; min-width: 0; }
.evp.evp-if legend { font-size: .88em; font-weight: 700; padding: 0 0 .15rem; }
.evp.evp-if label { display: inline-flex; align-items: center; gap: .35em; cursor: pointer;
  min-height: 2.1em; padding: 0 .55em; margin: 0 .25rem .25rem 0;
  border: 1px solid var(--evp-line); }
.evp.evp-if label:hover { background: var(--evp-wash); }
.evp.evp-if label:focus-within { outline: 2.5px solid var(--evp-ink); outline-offset: 1px; }
.evp.evp-if input { margin: 0; accent-color: var(--evp-ink); }
.evp.evp-if label small { color: var(--evp-soft); font-size: .8em; font-weight: 400; }
.evp.evp-if .evp-if-at { margin: 0 0 .4rem; }
.evp.evp-if .evp-if-v { border: 2px solid var(--tone); background: var(--tone-wash);
  color: var(--tone); padding: .3em .6em; margin: .3rem 0; font-size: 1.3em; line-height: 1.2; }
.evp.evp-if svg { display: block; width: 100%; max-width: 32rem; height: auto;
  margin: .6rem 0 .2rem; }
.evp.evp-if .evp-if-s ul { list-style: none; padding: 0; font-size: .92em; }
.evp.evp-if .evp-if-s li { margin: .35em 0; }
.evp.evp-if .evp-if-s li > b { color: var(--tone); }
.evp.evp-if .evp-if-legend { color: var(--evp-soft); font-size: .82em; margin: .6rem 0 0; }
.evp.evp-if i { display: inline-block; width: .8em; height: .8em;
  border: 1px solid var(--evp-soft); }
.evp.evp-if .evp-if-work { background: var(--evp-work); }
.evp.evp-if .evp-if-guard { background: var(--evp-guard); }
.evp.evp-if .evp-if-bar { background: var(--evp-bar); }
@media print { .evp.evp-if .evp-if-s { break-inside: avoid; } }
"""
_BESIDE = "{ display: grid; grid-template-columns: 15rem minmax(0, 1fr); column-gap: 1.4rem; }"
_PICKED = "{ background: var(--evp-wash); border-color: var(--evp-ink); font-weight: 700; }"


def shown_by(mark: str, counts: Sequence[int]) -> str:
    """Return the rules that show the choices, and of all answers the one that they pick.

    An answer is shown once every choice is made, and hidden again by each choice that is not its
    own. A browser that cannot ask what an element holds shows neither choices nor other answers:
    the rules leave the attribute ``hidden`` as it is. On paper the choices are left out.

    Parameters
    ----------
    mark : str
        The class of the whole, of this panel alone.
    counts : sequence of int
        How many values each choice has.
    """
    rows = list(zip(ascii_lowercase, counts, strict=False))
    whole = f".{mark}" + "".join(f":has(.{letter}:checked)" for letter, _ in rows)
    rules = [
        f".evp.{mark} .evp-if-pick {{ display: block; }}",
        f".{mark} .evp-if-both {_BESIDE}",
        f".evp.{mark} label:has(:checked) {_PICKED}",
        f"{whole} .evp-if-s {{ display: block; }}",
    ]
    rules += [
        f".{mark}:has(.{letter}{k}:checked) .evp-if-s:not(.{letter}{k}) "
        "{ display: none !important; }"
        for letter, count in rows
        for k in range(count)
    ]
    narrow = f".{mark} .evp-if-both {{ display: block; }}"
    paper = f"{narrow} .evp.{mark} .evp-if-pick {{ display: none; }}"
    return (
        f"@supports selector(:has(a)) {{\n{chr(10).join(rules)}\n"
        f"@media (max-width: 640px) {{ {narrow} }}\n@media print {{ {paper} }}\n}}\n"
    )
