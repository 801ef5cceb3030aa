"""Words about ageing, trials and draws that text and HTML share."""

from __future__ import annotations

from evpack.base.wording import number, say
from evpack.outcome.ageing import Ageing, LowerTarget
from evpack.outcome.draws import Chance, DrawnMargin, DrawnNumber, Draws
from evpack.outcome.trial import SettingsTrial
from evpack.show.words import told

_YEAR = 365.25 * 86400.0  # [s]
ORDER = (
    "An order of size, and which way a change moves it: no model saw these modules, nor their "
    "first life."
)
NO_YEARS = "No years are told; what is missing stands below."
READ_OFF = (
    "The settings are read off the sheet and tried in a simulation: chargers and meters off by "
    "their errors, cells apart by their spread. A cell is the mean of the bars, plus or less that "
    "spread."
)
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
    return (
        f"Charged to {lower.target} a cell and used as before: {lower.years.least} to "
        f"{lower.years.most}. The least grows by {gained}, for {lower.given_up} that is no longer "
        "charged."
    )


def passed_words(trial: SettingsTrial) -> str:
    """Return whether the settings held, in a sentence."""
    if not trial.runs:
        return NOTHING_TRIED
    if trial.holds:
        return (
            "No attempt took a cell past its limits, or the cell monitoring has to catch it: see "
            "what must be proven."
        )
    return "The settings do not hold, or it cannot be told: see the findings."


def chance_words(chance: Chance) -> str:
    """Return a chance, and how high it may really be."""
    return (
        f"{chance.times} of {chance.of} ({say(chance.share, '')}; "
        f"95 % sure to be {say(chance.at_most, '')} or less)"
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
