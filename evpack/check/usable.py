"""How much of the energy stays reachable between the charge setting and the cut-off under load."""

from __future__ import annotations

import numpy as np

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, state, unknown
from evpack.base.units import ENERGY, SHARE
from evpack.base.wording import number, say
from evpack.base.worked import Input, Worked, from_worked
from evpack.describe.build import Build
from evpack.kernels import load_line
from evpack.outcome.cell_imbalance import EMPTY
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Thresholds
from evpack.outcome.source import PackSource
from evpack.outcome.usable import UsableWindow

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
    power = demand.continuous.value
    tail = build.policy.tail_current.m * source.capacity
    ohms_full = float(path[-1])
    top = source.state_at_rest(thresholds.charge - tail * ohms_full)
    bottom, collapsed = load_line.lowest_state(source.soc, source.emf, path, power, bottom_voltage)
    bottom = min(bottom, top)
    change = None
    if thresholds.changeover is not None and demand.typical is not None:
        change, _ = load_line.lowest_state(
            source.soc, source.emf, path, demand.typical.value, thresholds.changeover
        )
        change = min(max(change, bottom), top)

    def energy(low: float, high: float, watts: float) -> float:
        return load_line.energy_between(
            source.soc, source.emf, path, power=watts, capacity=source.capacity, low=low, high=high
        )

    total, reachable = energy(0.0, 1.0, 0.0), energy(bottom, top, power)
    above, below = energy(top, 1.0, 0.0), energy(0.0, bottom, 0.0)
    states = (
        Input("s_bottom", "state of charge at the end of discharge", bottom, "", Basis.COMPUTED),
        Input("s_top", "state of charge at the end of charge", top, "", Basis.COMPUTED),
    )
    load = from_worked("P", demand.continuous)

    def worked(name: str, value: float, what: str, *inputs: Input) -> Worked:
        return Worked(
            name=name,
            value=value,
            kind=ENERGY,
            formula=f"integral of {what}",
            inputs=inputs,
            source="arithmetic",
        )

    total_worked = worked(
        "energy from empty to full, at rest", total, "rest voltage over the whole charge"
    )
    reachable_worked = worked(
        "reachable energy",
        reachable,
        "the voltage at the inverter under {P}, from {s_bottom} to {s_top}",
        load,
        *states,
    )
    share = Worked(
        name="reachable share",
        value=reachable / total,
        kind=SHARE,
        formula="{E_reach} / {E_total}",
        inputs=(from_worked("E_reach", reachable_worked), from_worked("E_total", total_worked)),
        source="arithmetic",
    )
    everyday = reserve = None
    if change is not None:
        turn = Input("s_go", "state of charge at the changeover", change, "", Basis.COMPUTED)
        everyday = worked(
            "everyday energy",
            energy(change, top, power),
            "the voltage at the inverter under {P}, from {s_go} to {s_top}",
            load,
            turn,
            states[1],
        )
        reserve = worked(
            "energy kept for outages",
            energy(bottom, change, power),
            "the voltage at the inverter under {P}, from {s_bottom} to {s_go}",
            load,
            states[0],
            turn,
        )
    window = UsableWindow(
        soc_top=top,
        soc_bottom=bottom,
        soc_changeover=change,
        bottom_by=_ended_by(
            bottom,
            thresholds.cut_off,
            bottom_voltage,
            collapsed=collapsed,
            weak=ground.spread_empty().means == EMPTY,
        ),
        total=total_worked,
        reachable=reachable_worked,
        share=share,
        everyday=everyday,
        reserve=reserve,
        stranded_above=worked(
            "stranded above the charge setting",
            above,
            "rest voltage from {s_top} to full",
            states[1],
        ),
        stranded_below=worked(
            "stranded below the end of discharge",
            below,
            "rest voltage from empty to {s_bottom}",
            states[0],
        ),
        lost_inside=worked(
            "lost as heat on the way at the continuous load",
            total - above - below - reachable,
            "the drop in cells and cables under {P}, from {s_bottom} to {s_top}",
            load,
            *states,
        ),
        load=power,
        soc=source.soc,
        rest=source.emf,
        loaded=load_line.terminal_voltages(source.emf, np.asarray(path), power),
    )
    return window, _findings(window, source)


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


def _findings(window: UsableWindow, source: PackSource) -> tuple[Finding, ...]:
    share = window.share.quantity
    found = [
        at_least(
            ANY,
            share,
            SHARE.of(_ANY_AT),
            about="pack",
            otherwise=Severity.STOP,
            value_name="the reachable share of the energy",
            limit_name="the least that makes sense",
            remedy="Change the number of cells in series, the load or the equipment.",
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
        ),
        state(
            STRANDED,
            Severity.NOTE,
            about="pack",
            detail=f"{window.stranded_above} stays above the charge setting and "
            f"{window.stranded_below} below the end of discharge; {window.lost_inside} turns to "
            "heat on the way at the continuous load."
            + ("" if source.cable_known else " Drop in the cables is not counted: unknown.")
            + (
                ""
                if source.cold_factor == 1
                else " All this at the coldest that the cells get, with "
                f"{number(source.cold_factor, 3)} times their resistance at room temperature."
            ),
        ),
    ]
    if window.bottom_by == "weak pack":
        found.append(
            state(
                CARRIED,
                Severity.STOP,
                about="pack",
                detail=f"Under {say(window.load, 'W')} the voltage collapses at "
                f"{say(window.soc_bottom, '')} of charge, before the cut-off is reached.",
                remedy="More strings, or a smaller continuous load.",
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
            )
        )
    return tuple(found)
