"""Try to break the settings in the simulator: every error at its worst, and devices that fail.

The settings sheet is read as a person reads it, and the strings of the design are stepped through
time with what was entered. A cell is the mean of the bars plus the spread; strings stand below the
bars on charge by what their leads drop, which is left out, so that no cell is seen too low.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Severity, state
from evpack.base.wording import say
from evpack.describe.checked import need
from evpack.kernels.network import Strings, rested
from evpack.kernels.runs import Followed, Limits, follow
from evpack.outcome.design import Design
from evpack.outcome.groundwork import unequal_leads
from evpack.outcome.runs import SettingsTrial, TrialRun
from evpack.simulate import trial_rules as rules
from evpack.simulate.sharing import full_output
from evpack.simulate.strings import StringScale, pack_strings
from evpack.simulate.trial_bench import (
    BEYOND,
    FROM,
    GENTLE,
    WARM,
    WEAK_WORDS,
    Bench,
    ChargerAtWorst,
    amps_assumed,
    charge_weak,
    chargers_at_worst,
    cut_of_monitoring,
    discharge_weak,
    only_assumed,
    output_assumed,
    steps_of,
    stops_at_worst,
)

Array = NDArray[np.float64]

CHARGE, HELD, COLD, OUT = (
    "a charge with every error at its worst",
    "full sun and no load",
    "a charge in the cold",
    "a charge with one string out",
)
WEAK_FULL, WEAK_EMPTY = "a charge with a weak module", "a discharge with a weak module"
EMPTY, EMPTY_COLD = (
    "a discharge with every error at its worst",
    "a discharge in the cold",
)
OUT_EMPTY = "a discharge with one string out"
STUCK, DRAINED = "a charger that never stops", "an inverter that never stops"

_HOLDS = 6 * 3600.0  # a charge is held on after it could be over [s]; common practice, no source
_HELD_FOR = 24 * 3600.0  # a charge held on with nothing drawn [s]; common practice, no source
_NEARLY = 0.02  # state of charge below full at which it is held [1]
_REACTS = 10.0  # in which cell monitoring opens [s]; common practice, no source


def try_settings(design: Design) -> SettingsTrial:
    """Try to break the settings of a design.

    Chargers and meters are off by their errors, cells differ by their spread, it is cold, the sun
    shines and nothing is drawn, one string is out, a charger or an inverter never stops.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.

    Returns
    -------
    SettingsTrial
        Every attempt, with findings: no cell passed its limits, or what must catch it. Never raises
        for a risky design.
    """
    need("try_settings", design, Design)
    findings: list[Finding] = []
    runs: list[TrialRun] = []
    assumed: tuple[str, ...] = ()
    try:
        packed = pack_strings(design)
    except DescriptionError as lacking:
        findings.append(rules.unsettled("strings", f"What the strings are ({lacking})"))
    else:
        if design.settings is None:
            findings.append(rules.unsettled("settings", "The settings sheet"))
        else:
            bench = Bench(
                design=design,
                strings=packed.strings,
                cells=design.build.pack.cells_in_series,
            )
            assumed = (
                *packed.assumed,
                f"the cell monitoring opens within {say(_REACTS, 's')}",
                WEAK_WORDS,
            )
            for tried in (_charges, _discharges):
                more, found = tried(bench)
                runs += more
                findings += found
    return SettingsTrial(
        title=design.build.title,
        invented=design.build.invented,
        runs=tuple(runs),
        findings=tuple(findings),
        assumed=assumed,
    )


# Charging.


def _charges(bench: Bench) -> tuple[list[TrialRun], list[Finding]]:
    """Try every way of charging."""
    chargers = chargers_at_worst(bench.design)
    if not chargers:
        return [], [rules.settled("chargers", "There is no charger to try.")]
    findings = [_settled(charger) for charger in chargers]
    known = [c for c in chargers if c.volts is not None and c.amps is not None]
    if len(known) < len(chargers):
        return [], [*findings, rules.cold(bench.design), *rules.cold_rate(bench.design, None, ())]
    highest = max(c.volts for c in known if c.volts is not None)
    amps = sum(c.amps for c in known if c.amps is not None)
    assumed = (
        *(words for c in known for words in c.assumed),
        *only_assumed(bench.design, "highest"),
    )
    runs = [
        _charge(bench, CHARGE, highest, amps),
        _held(bench, highest, amps),
    ]
    coldest = bench.design.build.site.coldest
    if coldest is not None:
        runs.append(_charge(bench, COLD, highest, amps, celsius=float(coldest.m)))
    findings += [rules.charged(run, assumed) for run in runs]
    findings += [
        rules.cold(bench.design),
        *rules.cold_rate(bench.design, amps, amps_assumed(bench.design)),
    ]
    more, found = _one_out(bench, highest, amps, assumed)
    runs += more
    findings += found
    filled = charge_weak(bench, WEAK_FULL, highest, amps, _HOLDS)
    runs.append(filled)
    cut = cut_of_monitoring(bench.design, "high")
    findings.append(rules.weak(bench.design, filled, cut, charging=True, assumed=assumed))
    run, found = _stuck(bench, chargers, highest)
    return [*runs, *run], [*findings, *found]


def _settled(charger: ChargerAtWorst) -> Finding:
    if charger.volts is None:
        return rules.unsettled(charger.name, "Its charge voltage")
    if charger.amps is None:
        return rules.unsettled(charger.name, "Its charge current")
    return rules.settled(
        charger.name,
        f"Tried at {say(charger.volts, 'V')}, its error included, and {say(charger.amps, 'A')}.",
    )


def _charge(
    bench: Bench,
    name: str,
    highest: float,
    amps: float,
    *,
    celsius: float = WARM,
    strings: Strings | None = None,
) -> TrialRun:
    """Charge at the full current of all chargers up to the highest voltage they may hold."""
    own = bench.strings if strings is None else strings
    seconds = (1.0 - FROM) * float(own.coulombs.sum()) / amps + _HOLDS
    steps, step = steps_of(own, amps, seconds)
    done = follow(
        own,
        rested(own, FROM, celsius),
        np.full(steps, -amps),
        step,
        limits=Limits(highest=highest),
        ambient=celsius,
    )
    says = (
        f"All chargers at {say(amps, 'A')} up to {say(highest, 'V')}, cells at "
        f"{say(celsius, '°C')}, and held there."
    )
    return bench.told(name, says, done, charging=True)


def _held(bench: Bench, highest: float, amps: float) -> TrialRun:
    """Hold a full pack at the chargers' voltage for a day, with nothing drawn."""
    own = bench.strings
    grid = np.linspace(0.0, 1.0, own.ocv.shape[1])
    full = float(np.interp(highest, own.ocv[0], grid))
    steps, step = steps_of(own, amps, _HELD_FOR)
    done = follow(
        own,
        rested(own, max(0.0, full - _NEARLY), WARM),
        np.full(steps, -amps),
        step,
        limits=Limits(highest=highest),
        ambient=WARM,
    )
    says = (
        f"A nearly full pack, chargers at {say(amps, 'A')} and {say(highest, 'V')} for "
        f"{say(_HELD_FOR, 's')}, nothing drawn and nothing that ends the charge."
    )
    return bench.told(HELD, says, done, charging=True)


def _one_out(
    bench: Bench, highest: float, amps: float, assumed: tuple[str, ...]
) -> tuple[list[TrialRun], list[Finding]]:
    """Charge with the last string out."""
    design, n = bench.design, bench.strings.lead.size
    if n == 1:
        note = "One string alone: with it out nothing is charged."
        return [], [state(rules.OUT, Severity.OK, about=OUT, detail=note)]
    scales = [StringScale()] * (n - 1) + [StringScale(is_open=True)]
    run = _charge(bench, OUT, highest, amps, strings=pack_strings(design, scales=scales).strings)
    return [run], [
        rules.charged(run, assumed),
        rules.one_out(
            design, OUT, _busiest(bench, run, amps), charging=True, assumed=amps_assumed(design)
        ),
    ]


def _busiest(bench: Bench, run: TrialRun, amps: float) -> float:
    """Return what the busiest string carries with one out, unlike modules reckoned in [A].

    The run knows unlike leads and the bars, and no unlike modules: for those stands the policy's
    imbalance. Never less than the design reckons with.
    """
    build, left = bench.design.build, bench.strings.lead.size - 1
    if left == 1:
        return max(run.busiest, amps)
    imbalance, leads = float(build.policy.sharing_imbalance.m), unequal_leads(build, left)
    reckoned = amps / left * imbalance * (1.0 if leads is None else leads.value)
    return max(run.busiest * imbalance, reckoned)


def _stuck(
    bench: Bench, chargers: tuple[ChargerAtWorst, ...], highest: float
) -> tuple[list[TrialRun], list[Finding]]:
    """Let the strongest charger go on at all it gives, past every voltage."""
    units = [charger.unit for charger in chargers if charger.unit is not None]
    cut = cut_of_monitoring(bench.design, "high")
    if len(units) < len(chargers) or max(units, default=0.0) <= 0 or cut is None:
        return [], [rules.unsettled(STUCK, "What a charger gives at most")]
    own, amps = bench.strings, max(units)
    past = (BEYOND - FROM) * float(own.coulombs.sum()) / amps
    says = f"The strongest charger goes on at {say(amps, 'A')}, whatever it is set to."
    return _never_stops(
        bench, STUCK, says=says, amps=amps, seconds=past, marks=(cut, highest), charging=True
    )


def _never_stops(
    bench: Bench,
    name: str,
    *,
    says: str,
    amps: float,
    seconds: float,
    marks: tuple[float, float],
    charging: bool,
) -> tuple[list[TrialRun], list[Finding]]:
    """Follow a current till well past the cut of the cell monitoring, and see where it opens.

    Parameters
    ----------
    marks : tuple of float
        The cut for one cell, and the normal end for the pack [V].
    """
    own, (cut, normal) = bench.strings, marks
    sign = 1.0 if charging else -1.0
    start = FROM if charging else 1.0 - FROM
    steps, step = steps_of(own, amps, seconds)
    done = follow(own, rested(own, start, WARM), np.full(steps, -sign * amps), step, ambient=WARM)
    cell = done.record.volts / bench.cells + sign * bench.apart(charging=charging).value
    opens = _first(sign * cell >= sign * cut)
    usual = _first(sign * done.record.volts >= sign * normal)
    # With nothing that opens, it goes on to the end.
    opened = rules.opens(bench.design, charging=charging)
    last = steps
    if opens is not None and opened:
        last = min(steps, opens + 1 + int(np.ceil(_REACTS / step)))
    run = bench.told(name, says, _cut_short(done, last), charging=charging)
    side = "highest" if charging else "least"
    return [run], list(
        rules.stuck(
            bench.design,
            run,
            cut,
            charging=charging,
            opened=opened,
            when=_when(opens, usual, step) if opened else "The run went on to its end",
            assumed=only_assumed(bench.design, side),
        )
    )


def _when(opens: int | None, usual: int | None, step: float) -> str:
    """Say when the cell monitoring opens."""
    if opens is None:
        return "It does not come to that within the run"
    if usual is None or opens <= usual:
        return "It opens before the set voltage is reached"
    return f"It opens {say((opens - usual) * step, 's')} after the set voltage is reached"


def _first(true: NDArray[np.bool_]) -> int | None:
    """Return the first place that is true."""
    return int(np.argmax(true)) if true.any() else None


def _cut_short(done: Followed, rows: int) -> Followed:
    """Return the first rows of a run."""
    record = done.record
    return done._replace(
        time=done.time[:rows],
        record=record._replace(
            current=record.current[:rows],
            soc=record.soc[:rows],
            temperature=record.temperature[:rows],
            load=record.load[:rows],
            volts=record.volts[:rows],
        ),
    )


# Discharging.


def _discharges(bench: Bench) -> tuple[list[TrialRun], list[Finding]]:
    """Try every way of discharging."""
    stops = stops_at_worst(bench.design)
    if not stops:
        return [], [rules.settled("inverters", "There is no inverter to try.")]
    findings = [
        rules.unsettled(stop.name, "Its cut-off")
        if stop.volts is None
        else rules.settled(stop.name, f"Stops at {say(stop.volts, 'V')}, its meter reading high.")
        for stop in stops
    ]
    known = [stop.volts for stop in stops if stop.volts is not None]
    if len(known) < len(stops):
        return [], findings
    lowest = min(known)
    assumed = (
        *(words for stop in stops for words in stop.assumed),
        *only_assumed(bench.design, "least"),
    )
    coldest = bench.design.build.site.coldest
    cases = [(EMPTY, WARM)] + ([] if coldest is None else [(EMPTY_COLD, float(coldest.m))])
    runs = [_discharge(bench, name, lowest, celsius) for name, celsius in cases]
    findings += [rules.discharged(run, assumed) for run in runs]
    fewer, found = _one_out_empty(bench, lowest, assumed)
    runs += fewer
    findings += found
    cut = cut_of_monitoring(bench.design, "low")
    power = full_output(bench.design)
    emptied = discharge_weak(bench, WEAK_EMPTY, lowest, None if power is None else power.value)
    runs.append(emptied)
    findings.append(rules.weak(bench.design, emptied, cut, charging=False, assumed=assumed))
    if cut is None:
        return runs, [*findings, rules.unsettled(DRAINED, "The low cut of the cell monitoring")]
    own = bench.strings
    amps = GENTLE * float(own.coulombs.sum()) / 3600
    more, found = _never_stops(
        bench,
        DRAINED,
        says=f"Something goes on drawing {say(amps, 'A')}, whatever the inverters are set to.",
        amps=amps,
        seconds=(BEYOND - FROM) * float(own.coulombs.sum()) / amps,
        marks=(cut, lowest),
        charging=False,
    )
    return [*runs, *more], [*findings, *found]


def _one_out_empty(
    bench: Bench, lowest: float, assumed: tuple[str, ...]
) -> tuple[list[TrialRun], list[Finding]]:
    """Discharge at the full output of the inverters with the last string out."""
    design, n = bench.design, bench.strings.lead.size
    if n == 1:
        note = "One string alone: with it out nothing is drawn."
        return [], [state(rules.OUT, Severity.OK, about=OUT_EMPTY, detail=note)]
    power = full_output(design)
    if power is None:
        return [], [rules.one_out(design, OUT_EMPTY, None, charging=False, assumed=())]
    scales = [StringScale()] * (n - 1) + [StringScale(is_open=True)]
    own = pack_strings(design, scales=scales).strings
    amps = power.value / lowest  # at its most, where the last inverter stops
    steps, step = steps_of(own, amps, BEYOND * float(own.coulombs.sum()) / amps)
    done = follow(
        own,
        rested(own, 1.0, WARM),
        np.full(steps, power.value),
        step,
        power=True,
        limits=Limits(lowest=lowest),
        ambient=WARM,
    )
    says = (
        f"{power} drawn from full till the last inverter stops at {say(lowest, 'V')}, one string "
        "out."
    )
    run = bench.told(
        OUT_EMPTY,
        says,
        done,
        charging=False,
        volts=lowest if done.books.cut >= 0 else None,
    )
    busiest = _busiest(bench, run, amps)
    return [run], [
        rules.discharged(run, assumed),
        rules.one_out(design, OUT_EMPTY, busiest, charging=False, assumed=output_assumed(design)),
    ]


def _discharge(bench: Bench, name: str, lowest: float, celsius: float) -> TrialRun:
    """Draw gently, so that nothing sags, till the inverter with the lowest stop has stopped."""
    own = bench.strings
    amps = GENTLE * float(own.coulombs.sum()) / 3600
    steps, step = steps_of(own, amps, BEYOND / GENTLE * 3600)
    done = follow(
        own,
        rested(own, 1.0, celsius),
        np.full(steps, amps),
        step,
        limits=Limits(lowest=lowest),
        ambient=celsius,
    )
    says = (
        f"{say(amps, 'A')} drawn from full till the last inverter stops at {say(lowest, 'V')}, "
        f"cells at {say(celsius, '°C')}."
    )
    # Between two steps the voltage may fall all the way to the stop, and no further.
    cut = lowest if done.books.cut >= 0 else None
    return bench.told(name, says, done, charging=False, volts=cut)
