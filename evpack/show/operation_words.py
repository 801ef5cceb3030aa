"""Words about a pack at work that text and HTML share."""

from __future__ import annotations

from evpack.base.units import MONEY
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.operation import CELSIUS_FIRST, CELSIUS_WIDE, OperationRun, Outcome
from evpack.show.words import count_of

CAUTION = (
    "A run shows what would be under this load and this sun, with settings as entered and meters "
    "without error. Other years are other years."
)


def money(run: OperationRun, worked: Worked) -> str:
    """Write a sum in the money of the tariff."""
    return str(worked).replace(MONEY.unit, run.currency or MONEY.unit)


def about_words(run: OperationRun) -> str:
    """Return what was run, in a sentence."""
    return f"{run.mode}, {run.length / 86400:g} days in steps of {say(run.step, 's')}."


def count_words(came: Outcome) -> list[str]:
    """Return what happened how often, in words; what never happened is left out."""
    return [f"{what}: {count_of(times, 'time')}" for what, times in came.counts.items() if times]


def hour_words(came: Outcome) -> tuple[list[tuple[str, float]], list[tuple[str, float]]]:
    """Return hours by state of charge and by temperature, in words; none where there are none."""
    wide = 100 // came.soc_hours.size
    soc = [
        (f"{wide * k} to {wide * (k + 1)} %", float(h)) for k, h in enumerate(came.soc_hours) if h
    ]
    lows = [CELSIUS_FIRST + CELSIUS_WIDE * k for k in range(came.celsius_hours.size)]
    celsius = [
        (f"{low:g} to {low + CELSIUS_WIDE:g} °C", float(h))
        for low, h in zip(lows, came.celsius_hours, strict=True)
        if h
    ]
    return soc, celsius


def hunting_words(came: Outcome) -> str:
    """Return how often it went to and fro, beside what the design foretells."""
    hunting = came.hunting
    told = f"To and fro within an hour: {count_of(hunting.times, 'time')}."
    if hunting.gap is None:
        return told
    told += f" Gap from changeover to return: {say(hunting.gap, 'V')}"
    if hunting.foretold is not None:
        told += f"; the design foretells at least {say(hunting.foretold, 'V')}, errors included"
    return f"{told}; seen in the run: a rise of {say(hunting.seen, 'V')} when the load went away."
