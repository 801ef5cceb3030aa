"""Words about ageing, trials and draws that text and HTML share."""

from __future__ import annotations

from evpack.base.finding import Finding, Severity
from evpack.base.units import VOLTAGE
from evpack.base.wording import number, say, say_down, say_up
from evpack.outcome.ageing import Ageing, LowerTarget
from evpack.outcome.draws import Chance, DrawnMargin, DrawnNumber, Draws
from evpack.outcome.runs import SettingsTrial
from evpack.show.words import count_of, told

_YEAR = 365.25 * 86400.0  # [s]
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


def margin_words(one: DrawnMargin) -> str:
    """Return the margins of a finding over the draws."""
    if one.low is None or one.middle is None or one.high is None:
        return "–"
    return " / ".join(say(value, one.unit) for value in (one.low, one.middle, one.high))


def number_words(one: DrawnNumber) -> str:
    """Return a number over the draws."""
    return " / ".join(say(value, one.kind.unit) for value in (one.low, one.middle, one.high))
