"""Faults in time: a string shorted, a fuse opening, a load that is too much, strings joined."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, nearest
from evpack.base.finding import Finding
from evpack.base.units import CURRENT, POWER, SHARE, VOLTAGE, Kind
from evpack.base.units import seconds as as_seconds
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked
from evpack.describe.checked import need
from evpack.kernels.ladder import reduced
from evpack.kernels.network import Strings, cold_factor, rested
from evpack.kernels.runs import NEVER, Followed, Limits, follow, switches
from evpack.outcome.cells import factor
from evpack.outcome.design import Design
from evpack.outcome.runs import FaultRun
from evpack.simulate.fault_rules import collapsed, joined, reckoned_with, remaining, shorted
from evpack.simulate.sharing import full_output
from evpack.simulate.sharing_rules import softened
from evpack.simulate.strings import OPEN, StringScale, main_cable, pack_strings

Array = NDArray[np.float64]

AIR = 20.0  # cells and air [°C]
BOLTED = 1e-4  # what lies across the ends of a shorted string [Ω]; common practice, no source
_APART = 0.05  # state of charge by which the last string differs, where nobody says
_OHMS_OF = "string {}, at its least credible, its lead included"
SHORT, FUSE_OPENS, COLLAPSES, JOIN = "short", "fuse opens", "collapse", "join"


@attrs.frozen(kw_only=True)
class _Fault:
    """What a fault needs: the design, its strings, the state of charge, what is assumed."""

    design: Design
    strings: Strings
    soc: float
    opens_after: float
    apart: tuple[float, ...]
    assumed: tuple[str, ...]

    @property
    def last(self) -> int:
        """Return the place of the last string, which the fault befalls."""
        return int(self.strings.lead.size) - 1


def simulate_fault(
    design: Design,
    kind: str,
    *,
    soc: float | None = None,
    opens_after: object = "10 ms",
    socs: Sequence[float] | None = None,
) -> FaultRun:
    """Step a fault through time.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    kind : {"short", "fuse opens", "collapse", "join"}
        A short between the ends of the last string, before its fuse; the fuse of the last string
        opens at full output of the inverters; a power that grows till the pack gives way; strings
        that rest at unlike states of charge are joined.
    soc : float, optional
        State of charge of the pack [1]; by default full for a short, the end of the discharge for
        a collapse, half otherwise.
    opens_after : quantity
        How long the fuse of a shorted string takes to open; assumed where nobody says.
    socs : sequence of float, optional
        Of strings to be joined: the state of charge of each; by default the last is 5 % lower.

    Raises
    ------
    DescriptionError
        An unknown kind, states of charge that are none, a resistance that nobody knows, or one
        string where it takes several.
    """
    need("simulate_fault", design, Design)
    if kind not in _KINDS:
        raise DescriptionError(f"fault '{kind}' is not known{nearest(kind, list(_KINDS))}")
    n = design.build.pack.strings
    if n < 2 and kind != COLLAPSES:  # noqa: PLR2004  (one string has no other to feed or spare it)
        raise DescriptionError(f"fault '{kind}' needs two strings or more")
    usable = design.usable
    bottom = 0.1 if usable is None else max(0.0, usable.soc_bottom)
    at = {SHORT: 1.0, COLLAPSES: bottom}.get(kind, 0.5) if soc is None else soc
    apart = tuple([at] * (n - 1) + [max(0.0, at - _APART)]) if socs is None else tuple(socs)
    if len(apart) != n or not all(0 <= one <= 1 for one in (*apart, at)):
        raise DescriptionError(f"{n} states of charge from 0 to 1 are needed, got {apart}")
    # Where current is the danger, the modules resist as little as is credible.
    low = kind in {SHORT, JOIN}
    part = float(design.build.policy.ohmic_part.m) if low else 1.0
    if low:
        module = design.build.pack.module
        part *= factor(module, least=False) / factor(module, least=True)
    packed = pack_strings(design, scales=[StringScale(resistance=part)] * n)
    assumed = (*packed.assumed, f"cells and air at {AIR:g} °C")
    if low:
        assumed += (f"modules at {say(part, '')} of their resistance over 10 s",)
    return _KINDS[kind](
        _Fault(
            design=design,
            strings=packed.strings,
            soc=at,
            opens_after=float(as_seconds(opens_after).m),
            apart=apart,
            assumed=assumed,
        )
    )


def _read(name: str, value: float, kind: Kind, means: str) -> Worked:
    """Return a number that was read off a run."""
    return Worked(
        name=name,
        kind=kind,
        formula="{x_run}",
        inputs=(Input("x_run", means, value, kind.unit, Basis.COMPUTED),),
        source="ohms-law",
    )


def _short(fault: _Fault) -> FaultRun:
    """Lay a short across the last string's ends; its fuse opens, and its cells go on feeding it."""
    strings, last = fault.strings, fault.last
    seconds = fault.opens_after / 100
    before, opens = 50, 150
    lead = float(strings.lead[last])
    changes = switches((before, last, lead, BOLTED), (opens, last, OPEN, BOLTED))
    start = rested(strings, fault.soc, AIR)
    done = follow(strings, start, np.zeros(200), seconds, changes=changes, ambient=AIR)
    through = np.abs(done.record.current[before:opens])
    backfed = _read(
        "current of the others through the fuse of the shorted string",
        float(through[:, last].max()),
        CURRENT,
        "in the run, at its greatest",
    )
    emf = float(_at(strings.ocv, fault.soc)[last])
    ohms = float(_at(strings.ohms, fault.soc)[last])
    own = Worked(
        name="current of its own cells into the short, at once",
        kind=CURRENT,
        formula="{E} / ({R_str} + {R_short})",
        inputs=(
            Input("E", "voltage of the string at rest", emf, "V", Basis.COMPUTED),
            Input(
                "R_str",
                "lowest credible resistance of the string",
                ohms,
                "Ω",
                fault.design.build.pack.module.basis.of("resistance"),
            ),
            Input("R_short", "resistance of the short", BOLTED, "Ω", Basis.ASSUMED),
        ),
        source="ohms-law",
        note="Alone; no fuse at the bars opens this.",
    )
    ratio = _heat_ratio(through, last)
    reckoned = reckoned_with(fault.design)
    volts = done.record.volts
    sag = _read("voltage at the load during the short", float(volts[opens - 1]), VOLTAGE, "run")
    words = say(fault.opens_after, "s")
    return _told(
        fault,
        SHORT,
        f"{say(BOLTED, 'Ω')} between the ends of the last string, before its fuse. Its fuse opens "
        f"after {words}: that is taken, not worked out, and decides no fuse. Inductance is left "
        f"out: the real current takes some ms to rise. {_to_buy_by(reckoned, backfed)}",
        done,
        events=(
            (before * seconds, "the short begins"),
            (opens * seconds, "the fuse of the shorted string opens"),
        ),
        numbers=(*(() if reckoned is None else (reckoned,)), backfed, own, ratio, sag),
        findings=shorted(fault.design, backfed, reckoned),
        assumed=(*fault.assumed, f"the fuse opens after {words}"),
    )


def _heat_ratio(through: Array, last: int) -> Worked:
    """Return how many times the heat of another fuse that of the shorted string gets."""
    own, other = float(through[:, last].max()), float(through[:, :last].max())
    return Worked(
        name="I²t of the shorted string's fuse against the busiest of the others",
        kind=SHARE,
        formula="({I_fuse} / {I_other})^2",
        inputs=(
            Input("I_fuse", "through its fuse, at its greatest", own, "A", Basis.COMPUTED),
            Input("I_other", "through the busiest other", other, "A", Basis.COMPUTED),
        ),
        source="ohms-law",
        note=f"(N − 1)² times with strings all alike, here {last**2}, however long it takes. With "
        "two strings both fuses get the same, and either may open first.",
    )


def _to_buy_by(reckoned: Worked | None, backfed: Worked) -> str:
    """Return which current string fuses are to be bought by."""
    if reckoned is None:
        return (
            f"Do not buy string fuses by {backfed}: the design reckons with no current for them "
            "yet. Settle it first."
        )
    most = max(reckoned, backfed, key=lambda w: w.value)
    return (
        f"The design reckons with {say_up(reckoned.value, reckoned.unit)} as the most that a "
        f"string fuse must break, at its worst; this run gives {backfed}. Buy string fuses by "
        f"{say_up(most.value, most.unit)}."
    )


def _at(curves: Array, soc: float) -> Array:
    """Return what the curve of each string has at a state of charge."""
    grid = np.linspace(0.0, 1.0, curves.shape[1])
    return np.array([np.interp(soc, grid, curve) for curve in curves])


def _fuse_opens(fault: _Fault) -> FaultRun:
    """Open the last string under full output, half-way through ten minutes."""
    strings, power = fault.strings, full_output(fault.design)
    if power is None:
        raise DescriptionError("the most that the inverters draw is not known; state their output")
    half, steps = 300, 600
    done = follow(
        strings,
        rested(strings, fault.soc, AIR),
        np.full(steps, power.value),
        1.0,
        power=True,
        limits=Limits(cable=main_cable(fault.design)),
        changes=switches((half, fault.last, OPEN, np.inf)),
        ambient=AIR,
    )
    current = done.record.current
    before = _read(
        "busiest string before", float(current[:half].max()), CURRENT, "in the run, all strings on"
    )
    after = _read(
        "busiest string with one out", float(current[half:].max()), CURRENT, "in the run, one out"
    )
    volts = done.record.volts
    drop = Worked(
        name="voltage at the inverter falls by",
        kind=VOLTAGE,
        formula="{V_before} − {V_after}",
        inputs=(
            Input("V_before", "just before", float(volts[half - 1]), "V", Basis.COMPUTED),
            Input("V_after", "just after", float(volts[half]), "V", Basis.COMPUTED),
        ),
        source="ohms-law",
    )
    return _told(
        fault,
        FUSE_OPENS,
        f"Full output of the inverters from {say(fault.soc, '')}; the last string opens half-way.",
        done,
        events=((float(half), "the fuse of the last string opens"),),
        numbers=(before, after, drop),
        findings=remaining(fault.design, after),
        assumed=fault.assumed,
    )


def _collapses(fault: _Fault) -> FaultRun:
    """Let the power grow till the pack gives no more."""
    strings, cable = fault.strings, main_cable(fault.design)
    emf = float(_at(strings.ocv, fault.soc).max())
    ohms = 1 / float((1 / (_at(strings.ohms, fault.soc) + strings.lead)).sum()) + cable
    steps, seconds = 1000, 0.05
    orders = np.linspace(0, 1.5 * emf * emf / (4 * ohms), steps)
    done = follow(
        strings,
        rested(strings, fault.soc, AIR),
        orders,
        seconds,
        power=True,
        limits=Limits(cable=cable),
        stops=True,
        ambient=AIR,
    )
    given = done.record.load * done.record.volts
    most = _read("the most that the pack gives", float(given.max()), POWER, "in the run")
    at = int(given.argmax())
    events = [(float(done.time[-1]), "the pack gives no more: the voltage collapses")]
    settings = fault.design.settings
    cut_off = None if settings is None else settings.thresholds.cut_off
    below = np.flatnonzero(done.record.volts < (0.0 if cut_off is None else cut_off))
    if cut_off is not None and below.size:
        first = int(below[0])
        words = f"the voltage passes the cut-off, {say(cut_off, 'V')}, at {say(given[first], 'W')}"
        events.insert(0, (float(done.time[first]), words))
    return _told(
        fault,
        COLLAPSES,
        f"A load that grows from nothing within a minute, at {say(fault.soc, '')}; no cut-off.",
        done,
        events=tuple(events),
        numbers=(
            most,
            _read("current there", float(done.record.load[at]), CURRENT, "in the run"),
            _read("voltage there", float(done.record.volts[at]), VOLTAGE, "in the run"),
        ),
        findings=collapsed(fault.design, most, full_output(fault.design)),
        assumed=fault.assumed,
    )


def _at_once(strings: Strings, apart: Sequence[float]) -> tuple[Array, Array, Array]:
    """Return voltage [V], resistance [Ω] and first current [A] of strings as they are joined.

    Before any charge has moved the strings are voltages behind resistances, and Kirchhoff's laws
    give the currents. A step of a run looks at its own end, where some of it has died away.
    """
    places = range(len(apart))
    emf = np.array([_at(strings.ocv, soc)[k] for k, soc in zip(places, apart, strict=True)])
    cells = np.array([_at(strings.ohms, soc)[k] for k, soc in zip(places, apart, strict=True)])
    ohms = cells * cold_factor(strings.cold, AIR) + strings.lead
    return emf, ohms, reduced(ohms, strings.plus, strings.minus).currents(emf, 0.0)


def _first_current(strings: Strings, emf: Array, ohms: Array, first: Array) -> Worked:
    """Return the greatest current of a string at the moment of joining [A]."""
    name = "greatest current of a string, at the moment of joining"
    if first.size == 2:  # noqa: PLR2004  (two make one loop)
        bars = float(strings.plus.sum() + strings.minus.sum())
        high, low = (0, 1) if emf[0] >= emf[1] else (1, 0)
        return Worked(
            name=name,
            kind=CURRENT,
            formula="({E_high} − {E_low}) / ({R_1} + {R_2} + {R_bars})",
            inputs=(
                Input("E_high", "the higher string at rest", float(emf[high]), "V", Basis.COMPUTED),
                Input("E_low", "the lower string at rest", float(emf[low]), "V", Basis.COMPUTED),
                Input("R_1", _OHMS_OF.format(1), float(ohms[0]), "Ω", Basis.COMPUTED),
                Input("R_2", _OHMS_OF.format(2), float(ohms[1]), "Ω", Basis.COMPUTED),
                Input("R_bars", "bars between them, both", bars, "Ω", Basis.COMPUTED),
            ),
            source="ohms-law",
        )
    at = int(np.abs(first).argmax())
    sign = 1.0 if first[at] >= 0 else -1.0
    between = float(emf[at] - first[at] * ohms[at])
    return Worked(
        name=name,
        kind=CURRENT,
        formula="({E} − {U}) / {R}" if sign > 0 else "({U} − {E}) / {R}",
        inputs=(
            Input("E", f"string {at + 1} at rest", float(emf[at]), "V", Basis.COMPUTED),
            Input("U", "between the bars where it joins them", between, "V", Basis.COMPUTED),
            Input("R", _OHMS_OF.format(at + 1), float(ohms[at]), "Ω", Basis.COMPUTED),
        ),
        source="ohms-law",
        note="The voltage between the bars follows from all strings and the bars by Kirchhoff's "
        "laws.",
    )


def _join(fault: _Fault) -> FaultRun:
    """Join strings at unlike states of charge, without a load."""
    strings = fault.strings
    start = rested(strings, 0.0, AIR)
    start.soc[:] = fault.apart
    emf, ohms, at_once = _at_once(strings, fault.apart)
    first = _first_current(strings, emf, ohms, at_once)
    done = _from_the_start(
        follow(strings, start, np.zeros(3600), 2.0, ambient=AIR),
        at_once,
        start.soc,
        float(emf[0] - at_once[0] * ohms[0]),
    )
    total = np.abs(done.record.current).max(axis=1)
    if total[1:].max() > first.value:  # cells that resist most when empty take more soon after
        first = _read(
            "greatest current of a string after joining",
            float(total[1:].max()),
            CURRENT,
            "in the run",
        )
    quiet = np.flatnonzero(total < total[0] / np.e)
    events = [(0.0, "the strings are joined")]
    if quiet.size:
        words = f"the current has fallen to 37 % of its first, {say(total[quiet[0]], 'A')}"
        events.append((float(done.time[quiet[0]]), words))
    left = np.ptp(done.record.soc[-1])
    return _told(
        fault,
        JOIN,
        "Strings that rest at " + ", ".join(say(one, "") for one in fault.apart) + " are joined; "
        f"after two hours they are {say(float(left), '')} apart.",
        done,
        events=tuple(events),
        numbers=(first,),
        findings=joined(fault.design, first),
        assumed=fault.assumed,
    )


def _from_the_start(done: Followed, current: Array, soc: Array, volts: float) -> Followed:
    """Return a run with the moment of joining before its first step, so that pictures show it."""
    record = done.record
    return done._replace(
        time=np.insert(done.time, 0, 0.0),
        record=record._replace(
            current=np.vstack([current, record.current]),
            soc=np.vstack([soc, record.soc]),
            load=np.insert(record.load, 0, 0.0),
            volts=np.insert(record.volts, 0, volts),
        ),
    )


def _told(
    fault: _Fault,
    kind: str,
    says: str,
    done: Followed,
    *,
    events: tuple[tuple[float, str], ...],
    numbers: tuple[Worked, ...],
    findings: tuple[Finding, ...],
    assumed: tuple[str, ...],
) -> FaultRun:
    """Return what a run shows."""
    record, build = done.record, fault.design.build
    if done.books.collapsed != NEVER and kind != COLLAPSES:
        at = done.books.collapsed * float(done.time[0])
        events = (*events, (at, "the pack cannot give the power any more"))
    return FaultRun(
        title=build.title,
        invented=build.invented,
        kind=kind,
        says=says,
        time=done.time,
        current=record.current,
        soc=record.soc,
        load=record.load,
        volts=record.volts,
        events=events,
        numbers=numbers,
        findings=tuple(softened(finding) for finding in findings),
        assumed=assumed,
    )


_KINDS: dict[str, Callable[[_Fault], FaultRun]] = {
    SHORT: _short,
    FUSE_OPENS: _fuse_opens,
    COLLAPSES: _collapses,
    JOIN: _join,
}
