"""Draw builds from measured scatter, and add up what became of them.

A pack is drawn module by module: a string has the capacity of its least module, and its resistance
is that of all of them. One module stands for them all in the design; how unevenly the drawn strings
share the current goes into the policy, where it is more than its guard.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from evpack.base.finding import Finding, Rule, Severity
from evpack.base.fitted import NotFitted
from evpack.base.units import CHARGE, ENERGY, RESISTANCE, SHARE, TEMPERATURE, Kind, Quantity
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.scatter import Scatter
from evpack.outcome.design import Design
from evpack.outcome.draws import Chance, DrawnMargin, DrawnNumber

Array = NDArray[np.float64]

_LEAST = 0.1  # of a capacity; a draw below it is no module [1]
_MOST_UNEVEN = 3.0  # imbalances above it are refused [1]
_MOST_ERROR = 0.19  # accuracies above it are refused [1]
_CONFIDENCE = 0.95
_TIGHTEST = 8  # findings that never changed: so many are told


Place: TypeAlias = tuple[str, str]  # a rule's key, and what a finding is about


class Judged(NamedTuple):
    """What is kept of one draw: plain enough to come back from another process."""

    verdict: str
    go: bool
    found: tuple[tuple[str, str, int, float | None], ...]
    numbers: tuple[float | None, ...]


# What is followed over the draws, with how it is read off a design.
NUMBERS: tuple[tuple[str, Kind], ...] = (
    ("capacity of the pack", CHARGE),
    ("resistance of the pack", RESISTANCE),
    ("reachable energy", ENERGY),
    ("worst string reckoned with, against an even share", SHARE),
)

_UNEVEN = 3  # the place of the worst string among them


def drawn(build: Build, scatter: Scatter, count: int, seed: int) -> Iterator[Build]:
    """Yield builds as they may really be.

    Parameters
    ----------
    count : int
        How many.
    seed : int
        The same seed gives the same builds, whoever works them out.
    """
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield _one(build, scatter, rng)


def _one(build: Build, scatter: Scatter, rng: np.random.Generator) -> Build:
    """Return one draw; every draw takes the same numbers from the generator, used or not."""
    pack = build.pack
    each = rng.standard_normal((2, pack.strings, pack.modules_in_series))
    devices = rng.standard_normal(len(build.inverters) + len(build.fitted_chargers))
    cold, warm = rng.standard_normal(2)
    module = _module(pack.module, scatter, each)
    made = attrs.evolve(build, pack=attrs.evolve(pack, module=module))
    if scatter.resistance is not None:
        guard = float(build.policy.sharing_imbalance.m)
        worst = min(_MOST_UNEVEN, uneven(_resistances(scatter.resistance, each[1])))
        if worst > guard:
            policy = attrs.evolve(build.policy, sharing_imbalance=SHARE.of(worst))
            made = attrs.evolve(made, policy=policy)
    if scatter.accuracy is not None:
        made = _devices(made, np.exp(float(scatter.accuracy.m) * devices))
    if scatter.temperature is not None:
        sigma, site = float(scatter.temperature.m), build.site
        coldest = _moved(site.coldest, sigma * cold)
        warmest = _moved(site.warmest, sigma * warm)
        if coldest is not None and warmest is not None and coldest.m > warmest.m:
            coldest, warmest = warmest, coldest
        made = attrs.evolve(made, site=attrs.evolve(site, coldest=coldest, warmest=warmest))
    return made


def _module(module: Module, scatter: Scatter, each: Array) -> Module:
    """Return the module that stands for all of a drawn pack."""
    changes: dict[str, Any] = {}
    if scatter.capacity is not None:
        own = np.maximum(1.0 + float(scatter.capacity.m) * each[0], _LEAST)
        changes["capacity"] = module.capacity * float(own.min(axis=1).mean())
    if scatter.resistance is not None:
        factor = float(1.0 / np.mean(1.0 / _resistances(scatter.resistance, each[1])))
        if module.resistance is not None:
            changes["resistance"] = module.resistance * factor
        if module.resistance_curve is not None:
            curve = module.resistance_curve
            changes["resistance_curve"] = ResistanceCurve(soc=curve.soc, ohms=curve.ohms * factor)
    return attrs.evolve(module, **changes)


def _resistances(scatter: Quantity, each: Array) -> Array:
    """Return the resistance of each drawn string against the stated one [1]."""
    # The mean of what is drawn is the stated one: half the variance is taken off.
    sigma = float(scatter.m)
    drawn_ones: Array = np.exp(sigma * each - sigma**2 / 2).mean(axis=1)
    return drawn_ones


def uneven(ohms: Array) -> float:
    """Return what the busiest string carries against an even share, all on or any one out [1].

    Leads are left out, which even the shares out: the safe side.

    Parameters
    ----------
    ohms : array, shape (n,)
        Resistance of each string, in any unit.
    """
    takes = np.sort(1.0 / ohms)
    busiest = float(takes[-1] / takes.mean())
    if takes.size < 3:  # noqa: PLR2004  (with one of two out, the last carries all: an even share)
        return busiest
    # The busiest stands out most when the next busiest is out.
    left = np.delete(takes, -2)
    return max(busiest, float(left[-1] / left.mean()))


def _devices(build: Build, factors: Array) -> Build:
    """Return a build whose chargers and meters are more or less exact than they promise.

    Where nobody states an accuracy the policy's guard stands in, and is left as it is.
    """
    left = iter(factors.tolist())

    def charger(one: Charger) -> Charger:
        return attrs.evolve(one, accuracy=_scaled(one.accuracy, next(left)))

    def inverter(one: Inverter) -> Inverter:
        built_in: Charger | NotFitted | None = one.charger
        if isinstance(built_in, Charger):
            built_in = charger(built_in)
        accuracy = _scaled(one.meter_accuracy, next(left))
        return attrs.evolve(one, meter_accuracy=accuracy, charger=built_in)

    return attrs.evolve(
        build,
        inverters=tuple(inverter(one) for one in build.inverters),
        chargers=tuple(charger(one) for one in build.chargers),
    )


def _scaled(accuracy: Quantity | None, factor: float) -> Quantity | None:
    return None if accuracy is None else SHARE.of(min(_MOST_ERROR, float(accuracy.m) * factor))


def _moved(celsius: Quantity | None, by: float) -> Quantity | None:
    return None if celsius is None else TEMPERATURE.of(float(celsius.m) + by)


# Adding up.


def kept(design: Design, verdict: str, *, go: bool) -> Judged:
    """Return what is kept of a design."""
    pack = design.build.pack
    ohms = pack.resistance
    return Judged(
        verdict=verdict,
        go=go,
        found=tuple((f.rule.key, f.about, int(f.severity), f.margin) for f in design.findings),
        numbers=(
            float(pack.capacity.m),
            None if ohms is None else float(ohms.m),
            None if design.usable is None else design.usable.reachable.value,
            float(design.build.policy.sharing_imbalance.m) if pack.strings > 1 else None,
        ),
    )


def chance(what: str, times: int, of: int, *, wished: bool = False) -> Chance:
    """Return a chance with its bounds: none in 100 draws may still be 3 in 100.

    References
    ----------
    Clopper and Pearson's exact bounds, each one-sided. Textbook; no document.
    """
    most = 1.0 if times == of else float(beta.ppf(_CONFIDENCE, times + 1, of - times))
    least = 0.0 if times == 0 else float(beta.ppf(1 - _CONFIDENCE, times, of - times + 1))
    return Chance(what=what, times=times, of=of, at_most=most, at_least=least, wished=wished)


def verdicts(judged: Sequence[Judged]) -> tuple[Chance, ...]:
    """Return how often each verdict came up, the commonest first."""
    counted = Counter((one.verdict, one.go) for one in judged).most_common()
    return tuple(chance(verdict, times, len(judged), wished=go) for (verdict, go), times in counted)


def above_guard(build: Build, scatter: Scatter, judged: Sequence[Judged]) -> Chance | None:
    """Return how often a drawn string takes more of the current than the guard reckons with."""
    if scatter.resistance is None or build.pack.strings < 2:  # noqa: PLR2004
        return None
    guard = float(build.policy.sharing_imbalance.m)
    shares = [one.numbers[_UNEVEN] for one in judged]
    times = sum(share is not None and share > guard for share in shares)
    return chance("a string takes more than the guard", times, len(judged))


def places(findings: Iterable[Finding]) -> dict[Place, Finding]:
    """Return findings by rule and by what they are about; of several the gravest."""
    found: dict[Place, Finding] = {}
    for finding in sorted(findings, key=lambda f: f.severity):
        found[finding.rule.key, finding.about] = finding
    return found


def strangers(judged: Judged, said: Mapping[Place, Finding]) -> bool:
    """Return whether a draw found something that nothing said so far is of the same place."""
    return any((key, about) not in said for key, about, _, _ in judged.found)


def margins(
    stated: Mapping[Place, Finding], said: Mapping[Place, Finding], judged: Sequence[Judged]
) -> tuple[DrawnMargin, ...]:
    """Return the findings that held a draw up or changed, then the tightest of the others.

    Parameters
    ----------
    stated : mapping of Finding
        Those of the build as it is stated.
    said : mapping of Finding
        One of every place that any draw found something of.
    """
    rows: dict[Place, list[tuple[int, float | None]]] = {}
    for one in judged:
        for place, row in _worst_of(one).items():
            rows.setdefault(place, []).append(row)
    found = {
        place: _margin(said[place].rule, place[1], row, len(judged)) for place, row in rows.items()
    }
    changed = [
        one
        for place, one in found.items()
        if one.held.times or place not in stated or one.worst is not stated[place].severity
    ]
    rest = [one for one in found.values() if one not in changed and one.low is not None]
    changed.sort(key=lambda one: (-one.held.times, -one.worst))
    rest.sort(key=lambda one: _nearness(one, said))
    return (*changed, *rest[:_TIGHTEST])


def _worst_of(one: Judged) -> dict[Place, tuple[int, float | None]]:
    """Return the gravest weight and the least margin of each place in one draw."""
    worst: dict[Place, tuple[int, float | None]] = {}
    for key, about, severity, margin in one.found:
        before = worst.get((key, about), (severity, margin))
        least = [m for m in (before[1], margin) if m is not None]
        worst[key, about] = (max(before[0], severity), min(least) if least else None)
    return worst


def _nearness(one: DrawnMargin, said: Mapping[Place, Finding]) -> float:
    """Return how near a margin comes to nothing, against its limit."""
    limit = said[one.rule.key, one.about].limit
    low = one.low if one.low is not None else np.inf
    return low / abs(limit) if limit else np.inf


def _margin(rule: Rule, about: str, row: list[tuple[int, float | None]], count: int) -> DrawnMargin:
    worst = Severity(max(severity for severity, _ in row))
    times = sum(Severity(severity) >= Severity.UNKNOWN for severity, _ in row)
    numbers = [margin for _, margin in row if margin is not None and np.isfinite(margin)]
    low, middle, high = np.percentile(numbers, (5, 50, 95)) if numbers else (None, None, None)
    return DrawnMargin(
        rule=rule,
        about=about,
        worst=worst,
        held=chance(f"{rule.key}, {about}", times, count),
        low=None if low is None else float(low),
        middle=None if middle is None else float(middle),
        high=None if high is None else float(high),
    )


def numbers(stated: Judged, judged: Sequence[Judged]) -> tuple[DrawnNumber, ...]:
    """Return the numbers of the design over the draws; those that no draw knows are left out."""
    told = []
    for k, (name, kind) in enumerate(NUMBERS):
        values = [number for one in judged if (number := one.numbers[k]) is not None]
        own = stated.numbers[k]
        if values:
            low, middle, high = (float(v) for v in np.percentile(values, (5, 50, 95)))
            told.append(
                DrawnNumber(
                    name=name,
                    kind=kind,
                    low=low,
                    middle=middle,
                    high=high,
                    stated=own,
                    less=0 if own is None else sum(value < own for value in values),
                    of=len(values),
                )
            )
    return tuple(told)
