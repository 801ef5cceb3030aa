"""What nobody stated is asked for only where an answer would change the outcome.

Each such value is judged with both ends of what is credible. Where both come to the same, the
build is carried on with the worse end and a note says so; where they differ, what holds the build
up says which answer would let it pass. A stop that hangs on an error nobody stated is no stop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import Quantity
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.outcome.design import Design

SAME = Rule(
    key="asked.same",
    says="What nobody stated is asked for only where an answer would change the outcome.",
    source="common-practice",
    stands=Standing.REMARK,
)

Carry = Callable[[Build], Design]
Change = Callable[[Build], Build]
_Key = tuple[str, str]


@attrs.frozen(kw_only=True)
class Open:
    """A value that nobody stated, with the two ends of what is credible.

    Parameters
    ----------
    stands_in : bool
        Whether something is taken in its place, so that it stops a build and does not hold it;
        `low` is then the best that is credible.
    """

    what: str
    key: str
    low: Change
    high: Change
    words: tuple[str, str]
    stands_in: bool = False


# --- The values, and what is credible of each: common practice, no source ----------------------

_IDLE = (0.001, 0.03)  # of the continuous output
_SURGE = (1.0, 3.0)  # times the continuous output
_EFFICIENCY = (0.80, 0.97)
_RESTART = 0.87  # of the top of the window: 52 of 60 V
_PEAK = (1.0, 3.0)  # times the continuous limit
_CAPACITANCE = (0.5e-6, 10e-6)  # F for each watt of continuous output
_SUMMER, _WINTER, _COLD = ("20 degC", "50 degC"), 5.0, "-40 degC"  # °C
_ACCURACY = ("0.2 %", "2 %")


def opens(build: Build) -> Iterator[Open]:
    """Yield what nobody stated and evpack can judge with both ends."""
    for number, inverter in enumerate(build.inverters):
        yield from _of_inverter(number, inverter)
        if isinstance(inverter.charger, Charger):
            yield from _of_charger(inverter.charger, _built_in(number))
    for number, charger in enumerate(build.chargers):
        yield from _of_charger(charger, _beside(number))
    module = build.pack.module
    if module.discharge_peak is None and module.discharge_limit is not None:
        ends = tuple(module.discharge_limit * times for times in _PEAK)
        yield _quantity("peak current of the modules", "discharge_peak", ends, _of_module)
    site = build.site
    if build.solar_arrays:
        mild = _WINTER if site.coldest is None else min(_WINTER, float(site.coldest.m))
        winter = (f"{mild:g} degC", _COLD)
        for key, ends in (("warmest_outside", _SUMMER), ("coldest_outside", winter)):
            if getattr(site, key) is None:
                yield _texts(f"{key.replace('_', ' ')} air", key, ends, _of_site)


Setter = Callable[[Build, dict[str, object]], Build]


def _of_inverter(number: int, inverter: Inverter) -> Iterator[Open]:
    def put(build: Build, fields: dict[str, object]) -> Build:
        every = list(build.inverters)
        every[number] = _with(every[number], fields)
        return attrs.evolve(build, inverters=tuple(every))

    full, name = inverter.continuous, inverter.name
    if full is not None:
        for key, what, part in (("idle", "idle draw", _IDLE), ("surge", "surge output", _SURGE)):
            if getattr(inverter, key) is None:
                yield _quantity(f"{what} of {name}", key, tuple(full * p for p in part), put)
        if inverter.input_capacitance is None:
            farads = tuple(f"{float(full.m) * p:.6g} F" for p in _CAPACITANCE)
            yield _texts(f"input capacitance of {name}", "input_capacitance", farads, put)
    if inverter.efficiency is None:
        ends = tuple(f"{100 * p:g} %" for p in _EFFICIENCY[::-1])
        yield _texts(f"efficiency of {name}", "efficiency", ends, put)
    if inverter.restart is None and inverter.window_high is not None:
        latest = inverter.window_high * _RESTART
        words = ("none", str(say(float(latest.m), "V")))
        yield _open(f"restart voltage of {name}", "restart", (NOT_FITTED, latest), words, put)
    if inverter.meter_accuracy is None:
        what = f"voltmeter error of {name}"
        yield attrs.evolve(_texts(what, "meter_accuracy", _ACCURACY, put), stands_in=True)


def _built_in(number: int) -> Setter:
    def put(build: Build, fields: dict[str, object]) -> Build:
        every = list(build.inverters)
        charger = every[number].charger
        every[number] = attrs.evolve(every[number], charger=_with(charger, fields))
        return attrs.evolve(build, inverters=tuple(every))

    return put


def _beside(number: int) -> Setter:
    def put(build: Build, fields: dict[str, object]) -> Build:
        every = list(build.chargers)
        every[number] = _with(every[number], fields)
        return attrs.evolve(build, chargers=tuple(every))

    return put


def _of_charger(charger: Charger, put: Setter) -> Iterator[Open]:
    if charger.kept_off:  # it is judged by nothing but that
        return
    if charger.accuracy is None:
        what = f"voltage error of {charger.name}"
        yield attrs.evolve(_texts(what, "accuracy", _ACCURACY, put), stands_in=True)
    if charger.float_can_be_off is None:
        what = f"whether float can be turned off on {charger.name}"
        yield _open(what, "float_can_be_off", (True, False), ("yes", "no"), put)


def _of_module(build: Build, fields: dict[str, object]) -> Build:
    module = _with(build.pack.module, fields)
    return attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))


def _of_site(build: Build, fields: dict[str, object]) -> Build:
    return attrs.evolve(build, site=_with(build.site, fields))


def _with(noun: Any, fields: dict[str, object]) -> Any:
    """Return a noun with some fields said, each known as assumed."""
    basis = noun.basis.but(**dict.fromkeys(fields, Basis.ASSUMED))
    return attrs.evolve(noun, basis=basis, **fields)


def _quantity(what: str, key: str, ends: tuple[Quantity, ...], put: Setter) -> Open:
    low, high = ends
    return _open(what, key, ends, (_say(low), _say(high)), put)


def _texts(what: str, key: str, ends: tuple[str, ...], put: Setter) -> Open:
    low, high = ends
    return _open(what, key, ends, (low, high), put)


def _open(
    what: str, key: str, ends: tuple[object, ...], words: tuple[str, str], put: Setter
) -> Open:
    low, high = ends
    return Open(
        what=what,
        key=key,
        low=lambda build: put(build, {key: low}),
        high=lambda build: put(build, {key: high}),
        words=words,
    )


def _say(quantity: Quantity) -> str:
    return say(float(quantity.m), f"{quantity.u:~P}")


# --- Judging with both ends --------------------------------------------------------------------


def settle(made: Design, carry: Carry) -> Design:
    """Return the design with what need not be asked settled, and the rest asked for well.

    Parameters
    ----------
    carry : function
        Carries a build through every step.
    """
    notes: list[Finding] = []
    # Errors last: the worse end of another value is a new design, without what was asked before.
    for unsaid in sorted(opens(made.build), key=lambda unsaid: unsaid.stands_in):
        if not _can_be(unsaid, made.build):
            continue
        if unsaid.stands_in:
            made = _stops_with(_no_stop(made, carry, unsaid), carry, unsaid)
        elif made.of(Severity.UNKNOWN):
            made, found = _both_ends(made, carry, unsaid)
            notes += found
    return attrs.evolve(made, findings=(*made.findings, *notes)) if notes else made


def at_ends(build: Build) -> tuple[Build, Build]:
    """Return the build with everything that is open yet at its low end, and at its high end."""
    low = high = build
    for unsaid in opens(build):
        if _can_be(unsaid, low) and _can_be(unsaid, high):
            low, high = unsaid.low(low), unsaid.high(high)
    return low, high


def _can_be(unsaid: Open, build: Build) -> bool:
    """Return whether both ends go together with what is stated beside them."""
    try:
        return all(isinstance(change(build), Build) for change in (unsaid.low, unsaid.high))
    except DescriptionError:
        return False


def _no_stop(made: Design, carry: Carry, unsaid: Open) -> Design:
    """Turn stops that hang on an error nobody stated into questions; the first thing to look up."""
    stops = made.found_from(Severity.STOP)
    if not stops:
        return made
    best = carry(unsaid.low(made.build)).found_from(Severity.STOP)
    cleared = stops - best
    if not cleared or best - stops:
        return made
    low, _ = unsaid.words
    findings = tuple(
        unknown(
            f.rule,
            about=f.about,
            detail=f"{f.detail} That hangs on the {unsaid.what}, which nobody stated: with {low} "
            "it would pass.",
            remedy=f"First read it in the manual and say {unsaid.key}. If it is no better than was "
            f"taken: {f.remedy}",
            assumed=f.assumed,
        )
        if f.severity is Severity.STOP and (f.rule.key, f.about) in cleared
        else f
        for f in made.findings
    )
    return attrs.evolve(made, findings=findings)


def _stops_with(made: Design, carry: Carry, unsaid: Open) -> Design:
    """Ask for an error nobody stated where the worst that is credible would stop the build."""
    worst = carry(unsaid.high(made.build))
    more = worst.found_from(Severity.STOP) - made.found_from(Severity.UNKNOWN)
    if not more:
        return made
    found = [f for f in worst.findings if f.severity is Severity.STOP]
    asked = [f for f in found if (f.rule.key, f.about) in more]
    _, high = unsaid.words
    told = tuple(
        unknown(
            f.rule,
            about=f.about,
            detail=f"With {high} as the {unsaid.what}, which nobody stated: {f.detail}",
            remedy=f"Read it in the manual and say {unsaid.key}; as it was taken it passes. With "
            f"{high}: {f.remedy}",
            assumed=f.assumed,
        )
        for f in asked
    )
    kept = (f for f in made.findings if (f.rule.key, f.about) not in more)
    return attrs.evolve(made, findings=(*kept, *told))


def _both_ends(made: Design, carry: Carry, unsaid: Open) -> tuple[Design, list[Finding]]:
    before, stops = made.found_from(Severity.UNKNOWN), made.found_from(Severity.STOP)
    ends = [carry(change(made.build)) for change in (unsaid.low, unsaid.high)]
    after = [end.found_from(Severity.UNKNOWN) for end in ends]
    asked = before - stops
    passed = [
        bool(asked - held) and not end.found_from(Severity.STOP) - stops
        for end, held in zip(ends, after, strict=True)
    ]
    if all(passed) and asked - after[0] == asked - after[1]:
        worse = max(ends, key=lambda end: (len(end.found_from(Severity.CAUTION)), end is ends[1]))
        low, high = unsaid.words
        note = state(
            SAME,
            Severity.NOTE,
            about=unsaid.what,
            detail=f"Nobody stated it; {low} and {high} come to the same verdict, and the worse of "
            "the two was taken.",
        )
        return worse, [note]
    if any(passed) and not all(passed):
        good = 0 if passed[0] else 1
        return _told(made, asked - after[good], unsaid, good), []
    return made, []


def _told(made: Design, cleared: set[_Key], unsaid: Open, good: int) -> Design:
    """Say of what an open value holds up which answer would let it pass."""
    way = f"With {unsaid.words[good]} as the {unsaid.what} it passes, with {unsaid.words[1 - good]}"
    findings = tuple(
        attrs.evolve(f, remedy=f"{f.remedy} {way} it does not.")
        if f.severity is Severity.UNKNOWN and (f.rule.key, f.about) in cleared
        else f
        for f in made.findings
    )
    return attrs.evolve(made, findings=findings)
