"""Ageing, trials and draws: how long the cells last, whether the settings hold, what scatters."""

from __future__ import annotations

from evpack.base.finding import Finding, Severity
from evpack.base.units import VOLTAGE
from evpack.base.wording import number, say, say_down, say_up
from evpack.outcome.ageing import Ageing, LowerTarget, ModelAgeing
from evpack.outcome.draws import Chance, DrawnMargin, DrawnNumber, Draws
from evpack.outcome.runs import SettingsTrial, TrialRun
from evpack.show.doc import (
    Column,
    Doc,
    Figure,
    Fold,
    Head,
    Numbers,
    Para,
    Row,
    Soft,
    Strong,
    Table,
    Text,
    Value,
    document,
    severity_of,
)
from evpack.show.draw.ageing import ageing_svg, cell_svg
from evpack.show.pieces import assumed, found, invented
from evpack.show.words import count_of, told

_YEAR = 365.25 * 86400.0  # [s]

# --- Words ----------------------------------------------------------------------------------------

ORDER = (
    "An order of size, and which way a change moves it: no model saw these modules, nor their "
    "first life."
)
NO_YEARS = "No years are told; what is missing stands below."
READ_OFF = (
    "The settings are read off the sheet and tried in a simulation: chargers and meters off by "
    "their errors, cells apart by their spread. A cell is the mean of the bars, plus or less that "
    "spread; where one module is weak, it is the mean of a module instead."
)
_LEAST = ", for a string has the capacity of its least module."
NOTHING_TRIED = "Nothing could be tried; what is missing stands below."


def range_words(ageing: Ageing) -> str:
    """Return the range of years in a sentence."""
    if ageing.years is None:
        return NO_YEARS
    return (
        f"{ageing.years.least} to {ageing.years.most} till the cells hold {say(ageing.end, '')} of "
        "what they hold today."
    )


def use_words(ageing: Ageing) -> str:
    """Return how they are used, in a sentence."""
    parts = []
    if ageing.cycles is not None:
        cycles = ageing.cycles
        yearly = cycles.full_cycles * _YEAR / 3600 / cycles.hours
        parts.append(
            f"{yearly:.0f} equivalent full cycles a year, "
            f"{cycles.mean_depth * 100:.0f} % deep in the mean"
        )
    if ageing.warmth is not None:
        parts.append(f"cells at {say(ageing.warmth, '°C')} in the mean")
    return "; ".join(parts) + "." if parts else ""


def lower_words(lower: LowerTarget) -> str:
    """Return what a lower charge target buys, in a sentence."""
    gained = f"{number(max(0.0, lower.gained.value) / _YEAR, 2)} years"
    use = (
        "used as before"
        if lower.as_before
        else "not to be used as before, its use cut short where the discharge ends"
    )
    return (
        f"Charged to {lower.target} a cell and {use}: {lower.years.least} to {lower.years.most}. "
        f"The least grows by {gained}, for {lower.given_up} less that can be reached."
    )


def passed_words(trial: SettingsTrial) -> str:
    """Return whether the settings held, in a sentence."""
    if not trial.runs:
        return NOTHING_TRIED
    if trial.holds:
        caught = [f for f in trial.findings if _past(f)]
        if not caught:
            return f"None of {count_of(len(trial.runs), 'attempt')} took a cell past its limits."
        told = "; ".join(f"{f.about}: {f.detail.rstrip('.')}" for f in caught)
        return (
            f"Of {count_of(len(trial.runs), 'attempt')}, {len(caught)} would take a cell past its "
            f"limit, and only the cell monitoring stops it: prove that it does. {told}."
        )
    return "The settings do not hold, or it cannot be told: see the findings."


def _past(finding: Finding) -> bool:
    """Return whether a caution tells of a cell past its limit."""
    past = finding.margin is not None and finding.margin < 0
    return past and finding.severity is Severity.CAUTION and finding.rule.kind is VOLTAGE


def chance_words(chance: Chance) -> str:
    """Return a chance, and how high it may really be; of what is wished for, how low."""
    bound = (
        f"at least {say_down(chance.at_least, '')}"
        if chance.wished
        else f"{say_up(chance.at_most, '')} or less"
    )
    return f"{chance.times} of {chance.of} ({say(chance.share, '')}; 95 % sure to be {bound})"


def stated_words(draws: Draws) -> str:
    """Return where what the stated build reaches lies among the draws, in a sentence."""
    return " ".join(
        f"As stated the build reaches {say(one.stated, one.kind.unit)} DC: {one.less} of {one.of} "
        "draws reach less" + (_LEAST if draws.scatter.capacity is not None else ".")
        for one in draws.numbers
        if one.name == "reachable energy" and one.stated is not None
    )


def uneven_words(draws: Draws) -> str:
    """Return whether findings on strings move with the draws, in a sentence."""
    uneven = draws.uneven
    if uneven is None:
        return "How unevenly strings share the current is not drawn: it is the same in every draw."
    return (
        "How unevenly strings share the current is drawn from their resistances, and goes into a "
        "draw only where it is more than the policy's guard, sharing_imbalance: in "
        f"{uneven.times} of {uneven.of} draws. In the others the guard stands as it is, and "
        "findings on strings do not move for it."
    )


def scatter_words(draws: Draws) -> str:
    """Return what was drawn, in words."""
    return ", ".join(f"{name} {told(getattr(draws.scatter, name))}" for name in draws.scatter.drawn)


# --- Ageing ---------------------------------------------------------------------------------------

_MODELS = (
    Column(""),
    Column("it lasts", number=True),
    Column("first year", number=True),
    Column("at rest", number=True),
    Column("by cycling", number=True),
    Column("what it was made from"),
)


def _model(one: ModelAgeing) -> Row:
    values = (one.years, one.first, one.resting, one.cycling)
    return Row((one.model.name, *values, Soft(one.model.fits)))


@document.register
def _(one: ModelAgeing) -> Doc:
    yield Table(_MODELS, (_model(one),))
    yield Numbers((one.first, one.years))


@document.register
def _(ageing: Ageing) -> Doc:
    yield Head("How long the cells last")
    yield from invented(invented=ageing.invented)
    lead = f"{ageing.title}: {ageing.chemistry}. "
    yield Para((lead, Strong(range_words(ageing)), f" {use_words(ageing)} {ORDER}"))
    if ageing.models:
        yield Figure(lambda: ageing_svg(ageing))
        yield Table(_MODELS, map(_model, ageing.models), "Model by model")
    if ageing.lower is not None:
        yield Para(lower_words(ageing.lower))
    if ageing.lines():
        yield Fold("How the numbers come about", (Numbers(ageing.lines()),), headed=True)
    yield from found(ageing.findings)
    yield from assumed(ageing.assumed)


# --- Settings, tried ------------------------------------------------------------------------------

_RUNS = (
    Column(""),
    Column("worst cell", number=True),
    Column("it stands", number=True),
    Column("what was done"),
)


def _run(run: TrialRun) -> Row:
    return Row((run.name, run.reached, Value(run.limit, "V"), run.says))


@document.register
def _(run: TrialRun) -> Doc:
    yield Figure(lambda: cell_svg(run), f"{run.name}: the worst cell.")
    yield Table(_RUNS, (_run(run),))
    yield Numbers((run.reached,))


@document.register
def _(trial: SettingsTrial) -> Doc:
    yield Head("The settings, tried")
    yield from invented(invented=trial.invented)
    yield Para((f"{trial.title}. ", Strong(passed_words(trial)), f" {READ_OFF}"))
    if trial.runs:
        yield Table(_RUNS, map(_run, trial.runs), "Every attempt")
        numbers = Numbers(run.reached for run in trial.runs)
        yield Fold("How the cells come about", (numbers,), headed=True)
    yield from found(trial.findings)
    yield from assumed(trial.assumed)


# --- Draws ----------------------------------------------------------------------------------------


def _spread(one: DrawnMargin | DrawnNumber, unit: str) -> Text:
    """Return what 5, 50 and 95 % of the draws lie under."""
    if one.low is None or one.middle is None or one.high is None:
        return "–"
    return (Value(one.low, unit), " / ", Value(one.middle, unit), " / ", Value(one.high, unit))


@document.register
def _(draws: Draws) -> Doc:
    yield Head("Drawn from what scatters")
    yield from invented(invented=draws.invented)
    yield Para(
        f"{draws.title}: {draws.count} draws, seed {draws.seed}; {scatter_words(draws)}. As it is "
        f"stated: {draws.stated}."
    )
    yield Table(
        (Column(""), Column("draws", number=True), Column("chance")),
        (
            Row((one.what, str(one.times), chance_words(one)))
            for one in (draws.no_go, *draws.verdicts)
        ),
        "Verdicts",
    )
    yield Table(
        (Column(""), Column("5 / 50 / 95 % of the draws lie under")),
        (Row((one.name, _spread(one, one.kind.unit))) for one in draws.numbers),
        "Numbers",
    )
    yield Para(f"{stated_words(draws)} {uneven_words(draws)}")
    yield Table(
        (
            Column("worst"),
            Column("holds it up"),
            Column("margin, 5 / 50 / 95 %"),
            Column("rule", aside=True),
        ),
        (
            Row(
                (
                    (severity_of(one.worst), f" {one.rule.key}, {one.about}"),
                    chance_words(one.held),
                    _spread(one, one.unit),
                    Soft(one.rule.says),
                )
            )
            for one in draws.margins
        ),
        "Findings that hold it up or change, and the tightest of the others",
    )
