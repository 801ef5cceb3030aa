"""How much of the energy stays reachable between the charge setting and the cut-off under load."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, state, unknown
from evpack.base.units import ENERGY, SHARE
from evpack.base.wording import number, say
from evpack.base.worked import Input, Worked, from_worked, resting_on
from evpack.describe.build import Build
from evpack.kernels import load_line
from evpack.kernels.reach import Ends, Reach, reach
from evpack.outcome.cells import EMPTY
from evpack.outcome.design import Kindred, UsableWindow
from evpack.outcome.groundwork import Groundwork, PackSource
from evpack.outcome.settings import Thresholds

SOLVED = Rule(
    key="usable.solved",
    says="What stays reachable can be worked out only from known settings, load and resistance.",
    source="ohms-law",
    stands=Standing.QUESTION,
)
ANY = Rule(
    key="usable.any",
    says="A pack of which next to nothing is reachable is no pack for this equipment.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="physics: nothing is reachable between the settings",
    kind=SHARE,
)
MOST = Rule(
    key="usable.most",
    says="Where less than half of the energy is reachable, another arrangement serves better.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=SHARE,
)
STRANDED = Rule(
    key="usable.stranded",
    says="Energy outside the settings is not lost, but it is out of reach.",
    source="arithmetic",
    stands=Standing.REMARK,
)
FLOATED = Rule(
    key="usable.float",
    says="A float that cannot be turned off decides how full a pack goes into the evening.",
    source="common-practice",
    stands=Standing.REMARK,
)
CARRIED = Rule(
    key="usable.carried",
    says="The pack must carry the continuous load down to the cut-off, not collapse before it.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="physics: a source gives E²/4R at most",
)

_ANY_AT, _MOST_AT = 0.1, 0.5  # of the pack's energy; common practice, no source


def bottom_of_windows(build: Build) -> float | None:
    """Return the lowest bottom of all inverters' windows [V]: nothing works below it.

    None where a window is unknown, or said to reach down to nothing.
    """
    lows = _window_lows(build)
    return min(lows) if lows else None


def lowest_working_voltage(build: Build, thresholds: Thresholds) -> float | None:
    """Return the voltage at which the discharge ends: a cut-off or a window's bottom [V].

    Without a cut-off it is the bottom of the window alone, at which currents are greatest.
    None where a window is unknown, or said to reach down to nothing.
    """
    lows = _window_lows(build)
    if not lows:
        return None
    return max([*lows, *([] if thresholds.cut_off is None else [thresholds.cut_off])])


def voltage_of_greatest_currents(build: Build, thresholds: Thresholds) -> float | None:
    """Return the voltage at which the modules' currents are judged [V]: where the last one stops.

    Of several kinds one may go on where another has stopped, and its own cut-off is not among
    the thresholds; then the lowest bottom of all windows is taken. None where one is unknown.
    """
    if len(build.inverters) == 1:
        return lowest_working_voltage(build, thresholds)
    return bottom_of_windows(build)


def _window_lows(build: Build) -> list[float]:
    """Return the bottom of every inverter's window [V]; empty where one is not known."""
    lows = [
        float(i.window_low.m)
        for i in build.inverters
        if i.window_low is not None and i.window_low.m > 0
    ]
    return lows if len(lows) == len(build.inverters) else []


def usable_window(
    ground: Groundwork, thresholds: Thresholds
) -> tuple[UsableWindow | None, tuple[Finding, ...]]:
    """Return the reachable part of the pack, and what was found of it."""
    build, source, demand = ground.build, ground.source, ground.demand
    path = source.path(hours=True)
    bottom_voltage = lowest_working_voltage(build, thresholds)
    if (
        path is None
        or demand.continuous is None
        or thresholds.charge is None
        or thresholds.cut_off is None
        or bottom_voltage is None
    ):
        missing = [
            name
            for name, value in (
                ("the modules' resistance", path),
                ("the inverters' efficiency or idle draw", demand.continuous),
                ("a charge voltage", thresholds.charge),
                ("a low-voltage cut-off", thresholds.cut_off),
                ("the bottom of an inverter's window", bottom_voltage),
            )
            if value is None
        ]
        return None, (
            unknown(
                SOLVED,
                about="pack",
                detail="Nobody can tell yet how much energy stays reachable; not settled: "
                f"{', '.join(missing)}.",
                remedy=f"Settle {' and '.join(missing)}.",
            ),
        )
    assert demand.typical is not None  # noqa: S101  (told to the type checker; known with the other)
    tail = build.policy.tail_current.m * source.capacity
    ends = Ends(
        charge=thresholds.charge - tail * float(path[-1]),
        low=bottom_voltage,
        changeover=thresholds.changeover,
        floated=thresholds.floated,
        power=demand.continuous.value,
        typical=demand.typical.value,
    )
    here = reach(source.soc, source.emf, path, capacity=source.capacity, ends=ends)
    loaded = load_line.terminal_voltages(source.emf, np.asarray(path), ends.power)
    window = UsableWindow(
        soc_top=here.top,
        soc_bottom=here.bottom,
        soc_changeover=here.changeover,
        soc_float=here.floated if here.floats else None,
        float_by=thresholds.floated_by if here.floats else "",
        bottom_by=_ended_by(
            here.bottom,
            thresholds.cut_off,
            bottom_voltage,
            collapsed=here.collapsed,
            weak=ground.spread_empty().means == EMPTY,
        ),
        **_energies(here, demand.continuous, demand.typical, ground),
        load=ends.power,
        load_ac=demand.typical.inputs[0].value,
        soc=source.soc,
        rest=source.emf,
        loaded=loaded,
        kindred=_kindred(build, source, path, ends),
    )
    between = source.state_at_rest(thresholds.charge) - source.state_at_rest(bottom_voltage)
    rests_on = resting_on(window.reachable, ground.figures.resistance, ground.figures.capacity)
    return window, _findings(window, source, between, rests_on)


def _energies(
    here: Reach, continuous: Worked, typical: Worked, ground: Groundwork
) -> dict[str, Any]:
    """Return each energy of the window under its name there, explained."""
    rests = (*ground.source_rests, continuous)

    def state_of(symbol: str, means: str, value: float, *more: Worked) -> Input:
        what = f"state of charge {means}"
        return Input(symbol, what, value, "", Basis.COMPUTED, (*rests, *more))

    bottom = state_of("s_bottom", "at the end of discharge", here.bottom)
    top = state_of("s_top", "at the end of charge", here.top)
    load = from_worked("P", continuous)

    def worked(name: str, value: float, what: str, *inputs: Input) -> Worked:
        return Worked(
            name=name,
            value=value,
            kind=ENERGY,
            formula=f"integral of {what}",
            inputs=inputs,
            source="arithmetic",
        )

    def under_load(name: str, value: float, low: Input, high: Input) -> Worked:
        span = f"from {{{low.symbol}}} to {{{high.symbol}}}"
        return worked(
            name, value, f"the voltage at the inverter under {{P}}, {span}", load, low, high
        )

    total = worked(
        "energy from empty to full, at rest",
        here.total,
        "rest voltage over the whole charge {Q}",
        from_worked("Q", ground.figures.capacity),
    )
    reachable = under_load("reachable energy, DC", here.reachable, bottom, top)
    found: dict[str, Worked | None] = {"everyday": None, "reserve": None}
    until = bottom
    if here.changeover is not None and here.everyday is not None and here.reserve is not None:
        until = state_of("s_go", "at the changeover", here.changeover, typical)
        found["everyday"] = under_load("everyday energy, DC", here.everyday, until, top)
        found["reserve"] = under_load("energy kept for outages, DC", here.reserve, bottom, until)
    if here.floats and here.floated is not None and here.from_float is not None:
        floated = state_of("s_float", "held by float", here.floated)
        found["from_float"] = under_load(
            "energy left after hours at float, DC", here.from_float, until, floated
        )
    found["reachable"] = reachable
    out = {f"{name}_ac": _out(energy, typical) for name, energy in found.items() if energy}
    return {
        **found,
        **out,
        "total": total,
        "share": Worked(
            name="reachable share",
            kind=SHARE,
            formula="{E_reach} / {E_total}",
            inputs=(from_worked("E_reach", reachable), from_worked("E_total", total)),
            source="arithmetic",
        ),
        "stranded_above": worked(
            "stranded above the charge setting",
            here.above,
            "rest voltage from {s_top} to full",
            top,
        ),
        "stranded_below": worked(
            "stranded below the end of discharge",
            here.below,
            "rest voltage from empty to {s_bottom}",
            bottom,
        ),
        "lost_inside": worked(
            "lost as heat on the way at the continuous load",
            here.lost,
            "the drop in cells and cables under {P}, from {s_bottom} to {s_top}",
            load,
            bottom,
            top,
        ),
    }


def _out(energy: Worked, typical: Worked) -> Worked:
    """Return what comes out of the inverter of an energy at its DC terminals."""
    load = attrs.evolve(typical.inputs[0], symbol="P_AC")
    return Worked(
        name=energy.name.replace(", DC", ", AC"),
        kind=ENERGY,
        formula="{E_DC} · {P_AC} / {P_DC}",
        inputs=(from_worked("E_DC", energy), load, from_worked("P_DC", typical)),
        source="arithmetic",
        note="At the typical load all the time. The efficiency at full output is taken for every "
        "load, and the idle draw counts over all the hours.",
    )


def _kindred(
    build: Build, source: PackSource, path: NDArray[np.float64], ends: Ends
) -> Kindred | None:
    """Return what else the curve may be; None where it is that of the builder's own cells."""
    module = build.pack.module
    if module.curve.basis is not Basis.ASSUMED:
        return None
    of_kind = (module.chemistry.ocv, *module.chemistry.kindred)
    others = [c for c in of_kind if c is not None and c is not module.curve]
    if not others:
        return None
    return Kindred(
        emf=tuple(np.interp(source.soc, c.soc, c.volts) * source.cells for c in others),
        ohms=path,
        capacity=source.capacity,
        ends=ends,
    )


def _ended_by(
    bottom: float, cut_off: float | None, low: float, *, collapsed: bool, weak: bool
) -> str:
    if collapsed:
        return "weak pack"
    if bottom <= 0:
        return "empty"
    if cut_off is None or cut_off < low:
        return "inverter window"
    return "cut-off for the weakest cell group" if weak else "cut-off"


def _out_of_reach(window: UsableWindow) -> str:
    """Say what cannot be reached; on an assumed curve only how much of the charge it is."""
    if window.kindred is not None:
        return (
            f"{say(1 - window.soc_top, '')} of the charge stays above the charge setting and "
            f"{say(window.soc_bottom, '')} below the end of discharge, by an assumed curve."
        )
    return (
        f"{window.stranded_above} stays above the charge setting and {window.stranded_below} below "
        f"the end of discharge; {window.lost_inside} turns to heat on the way at the continuous "
        "load."
    )


def _findings(
    window: UsableWindow, source: PackSource, between: float, assumed: tuple[str, ...]
) -> tuple[Finding, ...]:
    """Return what was found; `between` is the charge that lies between the settings at rest."""
    share = window.share.quantity
    found = [
        at_least(
            ANY,
            share,
            SHARE.of(_ANY_AT),
            about="pack",
            otherwise=Severity.STOP if between < _ANY_AT else Severity.CAUTION,
            value_name="the reachable share of the energy",
            limit_name="the least that makes sense",
            remedy="Change the number of cells in series, or the equipment."
            if between < _ANY_AT
            else "Under this load and cold the voltage sags too far: use a smaller load, warmer "
            "cells, or more strings.",
            assumed=assumed,
        ),
        at_least(
            MOST,
            share,
            SHARE.of(_MOST_AT),
            about="pack",
            otherwise=Severity.CAUTION,
            value_name="the reachable share of the energy",
            limit_name="half",
            remedy="Try another number of cells in series, a smaller load, more strings or an "
            "inverter with a wider window.",
            assumed=assumed,
        ),
        state(
            STRANDED,
            Severity.NOTE,
            about="pack",
            detail=_out_of_reach(window)
            + ("" if source.cable_known else " Drop in the cables is not counted: unknown.")
            + (
                ""
                if source.cold_factor == 1
                else " All this at the coldest that the cells get, with "
                f"{number(source.cold_factor, 3)} times their resistance at room temperature."
            ),
            assumed=assumed,
        ),
    ]
    if window.soc_float is not None:
        found.append(
            state(
                FLOATED,
                Severity.NOTE,
                about=window.float_by,
                detail="It goes on to float. When a charge has been over for hours, the pack rests "
                f"at {say(window.soc_float, '')} of charge, not at "
                f"{say(window.soc_top, '')}: so it may go into the evening.",
            )
        )
    if window.bottom_by == "weak pack":
        found.append(
            state(
                CARRIED,
                Severity.STOP,
                about="pack",
                detail=f"Under {say(window.load, 'W')} the voltage collapses at "
                f"{say(window.soc_bottom, '')} of charge, before the cut-off is reached.",
                remedy="More strings, or a smaller continuous load.",
                assumed=assumed,
            )
        )
    else:
        found.append(
            state(
                CARRIED,
                Severity.OK,
                about="pack",
                detail=f"The pack carries {say(window.load, 'W')} down to "
                f"{say(window.soc_bottom, '')} of charge.",
                assumed=assumed,
            )
        )
    return tuple(found)
