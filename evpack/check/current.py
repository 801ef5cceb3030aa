"""Do the modules stand the load, the full output, starting motors, and the temperatures?"""

from __future__ import annotations

import math

from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state
from evpack.base.units import CURRENT, POWER, TEMPERATURE, VOLTAGE, Quantity
from evpack.base.wording import number, say
from evpack.base.worked import Input, Worked, resting_on, stated
from evpack.check.usable import lowest_working_voltage, voltage_of_greatest_currents
from evpack.describe.build import Build
from evpack.kernels.load_line import terminal_voltage
from evpack.outcome.design import UsableWindow
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import SettingsSheet

DISCHARGE_COLD = Rule(
    key="current.discharge-cold",
    says="Cells are not discharged below their temperature limit.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: discharge temperature",
    kind=TEMPERATURE,
)
DISCHARGE_HOT = Rule(
    key="current.discharge-hot",
    says="Cells are not discharged above their temperature limit.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: discharge temperature",
    kind=TEMPERATURE,
)
COLD_SAG = Rule(
    key="current.cold-sag",
    says="In the cold the resistance of cells grows several times; what sags and what collapses is "
    "judged with it.",
    source="common-practice",
    stands=Standing.REMARK,
)
LOAD = Rule(
    key="current.load",
    says="At the lowest voltage the continuous load must not draw more than the modules give.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: discharge current",
    kind=CURRENT,
)
FULL_OUTPUT = Rule(
    key="current.full-output",
    says="Nothing but the builder's word keeps an inverter from its full output.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="print of the module: discharge current",
    kind=CURRENT,
)
DISCHARGE_RATE = Rule(
    key="current.discharge-rate",
    says="A continuous load of more than the capacity an hour heats salvaged cells.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
PEAK = Rule(
    key="current.peak",
    says="At the lowest voltage the peak load must not draw more than the modules' peak.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: peak current",
    kind=CURRENT,
)
FULL_SURGE = Rule(
    key="current.full-surge",
    says="Nothing but the builder's word keeps an inverter from its full surge.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the module: peak current",
    kind=CURRENT,
)
PEAK_ONE_OUT = Rule(
    key="current.peak-one-out",
    says="With one string out, the peak load must not draw more than the peak of the others.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: peak current",
    kind=CURRENT,
)
LONG_SURGE = Rule(
    key="current.long-surge",
    says="A surge that outlasts the time for which modules stand their peak, about 10 s, is to "
    "them a continuous current.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the module: discharge current",
    kind=CURRENT,
)
SAG = Rule(
    key="current.sag",
    says="A peak load should not pull the voltage under the cut-off while charge is left.",
    source="ohms-law",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
COLLAPSE = Rule(
    key="current.collapse",
    says="A source behind a resistance gives E²/4R at most; beyond it the voltage collapses.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="physics: a source gives E²/4R at most",
    kind=POWER,
)
OUTPUT = Rule(
    key="current.output",
    says="The inverters must be able to carry the continuous load.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: continuous output",
    kind=POWER,
)
OUTPUT_PEAK = Rule(
    key="current.output-peak",
    says="The inverters must be able to carry the peak load.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: surge output",
    kind=POWER,
)


# How long the modules stand their peak current [s]. Common practice, no source.
_PEAK_HOLDS = 10.0


def currents(
    ground: Groundwork, settings: SettingsSheet, usable: UsableWindow | None
) -> tuple[Finding, ...]:
    """Return the findings on every current that the modules see."""
    lowest = lowest_working_voltage(ground.build, settings.thresholds)
    return (
        *_temperatures(ground),
        *_discharging(ground, voltage_of_greatest_currents(ground.build, settings.thresholds)),
        *_sagging(ground, lowest, usable),
        *_output(ground),
    )


def _temperatures(ground: Groundwork) -> list[Finding]:
    """Judge the site's temperatures against what the cells stand while giving current."""
    factor = ground.source.cold_factor
    site, limits = ground.build.site, ground.build.pack.module.chemistry.limits
    found = [
        at_least(
            DISCHARGE_COLD,
            site.coldest,
            limits.discharge_coldest,
            rests=stated(site, "coldest"),
            about="cells",
            otherwise=Severity.STOP,
            value_name="the coldest the cells get",
            limit_name="the coldest they may be discharged at",
            remedy="Keep the cells warmer.",
            ask="Say coldest under [site].",
        ),
        at_most(
            DISCHARGE_HOT,
            site.warmest,
            limits.discharge_hottest,
            rests=stated(site, "warmest"),
            about="cells",
            otherwise=Severity.STOP,
            value_name="the warmest the cells get",
            limit_name="the warmest they may be discharged at",
            remedy="Shade and air the place, or find a cooler one.",
            ask="Say warmest under [site].",
        ),
    ]
    if site.coldest is not None and factor > 1:
        found.append(
            state(
                COLD_SAG,
                Severity.NOTE,
                about="cells",
                detail=f"At {say(float(site.coldest.m), '°C')} the cells are reckoned with "
                f"{number(factor, 3)} times their resistance at room temperature: it about doubles "
                "at freezing point and is about four times as high at -20 °C. Cells differ; a "
                "load step in the cold tells.",
            )
        )
    return found


def missing_for_currents(ground: Groundwork) -> str:
    """Say which lines the build sheet lacks for judging the currents."""
    module, gone = ground.build.pack.module, []
    wanted = [
        f"{field} under [module]"
        for field in ("discharge_limit", "discharge_peak", "resistance")
        if getattr(module, field) is None
    ]
    for inverter in ground.build.inverters:
        gone += [
            f"{field} of {inverter.name}"
            for field in ("continuous", "surge", "efficiency", "idle", "window_low")
            if getattr(inverter, field) is None
        ]
    if not ground.build.inverters:
        gone.append("an inverter")
    return f"Say in the build sheet: {'; '.join(wanted + gone)}." if wanted + gone else ""


def _discharging(ground: Groundwork, lowest: float | None) -> list[Finding]:
    figures, demand, policy = ground.figures, ground.demand, ground.build.policy
    ask = missing_for_currents(ground)

    def at_lowest(power: Worked | None) -> Quantity | None:
        return None if power is None or lowest is None else CURRENT.of(power.value / lowest)

    limit = None if figures.discharge_limit is None else figures.discharge_limit.quantity
    peak = None if figures.discharge_peak is None else figures.discharge_peak.quantity
    most = None if limit is None or lowest is None else demand.load_for(limit.m * lowest)
    load_remedy = (
        ""
        if most is None
        else f"Keep the AC load under {say(math.floor(most), 'W')}, or add strings."
    )
    found = [
        at_most(
            LOAD,
            at_lowest(demand.continuous),
            limit,
            about="pack",
            otherwise=Severity.STOP,
            value_name="the current of the continuous load at the lowest voltage",
            limit_name="the discharge limit of the pack",
            remedy=load_remedy,
            ask=ask,
            assumed=resting_on(demand.continuous, figures.discharge_limit),
        ),
        at_most(
            FULL_OUTPUT,
            at_lowest(demand.rated),
            limit,
            about="pack",
            otherwise=Severity.CAUTION,
            value_name="the current at full inverter output and the lowest voltage",
            limit_name="the discharge limit of the pack",
            remedy=f"{load_remedy} See that no more can be switched on: limit the output in the "
            "inverter if it can, or fit an alarm.",
            ask=ask,
            assumed=resting_on(demand.rated, figures.discharge_limit),
        ),
        at_most(
            DISCHARGE_RATE,
            at_lowest(demand.continuous),
            CURRENT.of(policy.discharge_rate_warn.m * figures.capacity.value),
            about="pack",
            otherwise=Severity.CAUTION,
            value_name="the current of the continuous load at the lowest voltage",
            limit_name=f"{say(policy.discharge_rate_warn.m, '')} of the capacity an hour",
            remedy="Add strings or keep the load down.",
            ask=ask,
            assumed=resting_on(demand.continuous, figures.capacity),
        ),
        at_most(
            PEAK,
            at_lowest(demand.peak),
            peak,
            about="pack",
            otherwise=Severity.STOP,
            value_name="the current of the peak load at the lowest voltage",
            limit_name="the peak discharge limit of the pack",
            remedy="Add strings, use motors with soft start, or state the real peak load.",
            ask=ask,
            assumed=resting_on(demand.peak, figures.discharge_peak),
        ),
    ]
    if ground.build.load.peak is not None and demand.surge is not None:
        found.append(
            at_most(
                FULL_SURGE,
                at_lowest(demand.surge),
                peak,
                about="pack",
                otherwise=Severity.CAUTION,
                value_name="the current at full inverter surge and the lowest voltage",
                limit_name="the peak discharge limit of the pack",
                remedy="See that nothing bigger than the stated peak load can be started.",
                ask=ask,
                assumed=resting_on(demand.surge, figures.discharge_peak),
            )
        )
    return [
        *found,
        *_peak_one_out(ground, at_lowest(demand.peak), ask),
        _long_surge(ground, at_lowest(demand.surge), ask),
    ]


def _peak_one_out(ground: Groundwork, total: Quantity | None, ask: str) -> list[Finding]:
    """Judge the peak load with one string out; a lone string has none to lose."""
    strings, limit = ground.build.pack.strings, ground.build.pack.module.discharge_peak
    if strings == 1:
        return []
    uneven = ground.unevenness(strings - 1)
    return [
        at_most(
            PEAK_ONE_OUT,
            None if total is None else CURRENT.of(total.m / (strings - 1) * uneven),
            limit,
            about="pack",
            otherwise=Severity.CAUTION,
            value_name="the current of a string at the peak load, with one string out",
            limit_name="the peak discharge limit of a module",
            remedy="Fit an alarm that tells when a string is out, and start nothing big until it "
            "is back.",
            ask=ask,
            assumed=resting_on(ground.demand.peak, ground.figures.discharge_peak),
        )
    ]


def _long_surge(ground: Groundwork, current: Quantity | None, ask: str) -> Finding:
    """Judge the full surge as a continuous current where it lasts longer than a peak may.

    Where a peak load is stated, the builder's word keeps the inverter from its full surge.
    """
    inverters, limit = ground.build.inverters, ground.figures.discharge_limit
    times = [float(i.surge_time.m) for i in inverters if i.surge_time is not None]
    unsaid = len(times) < len(inverters)
    if not unsaid and max(times, default=0.0) <= _PEAK_HOLDS:
        return state(
            LONG_SURGE,
            Severity.OK,
            about="pack",
            detail=f"No inverter keeps its surge up for more than {say(_PEAK_HOLDS, 's')}, for "
            "which the modules' peak limit is taken to hold.",
        )
    if unsaid:
        otherwise, name = Severity.UNKNOWN, "the current at full surge, which may last any time,"
        if ground.build.load.peak is not None:  # the builder's word keeps it from that
            otherwise = Severity.CAUTION
        remedy = "Find out for how long each inverter keeps its surge up, and say surge_time."
    else:
        stated = ground.build.load.peak is not None
        otherwise = Severity.CAUTION if stated else Severity.STOP
        name = f"the current at full surge, kept up for {say(max(times), 's')}"
        remedy = "Add strings, or limit the surge in the inverter if it can be limited." + (
            f" Start nothing that holds the peak load for longer than {say(_PEAK_HOLDS, 's')}."
            if stated
            else " Or state the real peak load."
        )
    return at_most(
        LONG_SURGE,
        current,
        limit,
        about="pack",
        otherwise=otherwise,
        value_name=name,
        limit_name="the discharge limit of the pack",
        remedy=remedy,
        ask=ask,
        assumed=resting_on(ground.demand.surge, ground.figures.discharge_limit),
    )


def _sagging(
    ground: Groundwork, lowest: float | None, usable: UsableWindow | None
) -> list[Finding]:
    """Judge the peak load where everyday use ends: at the changeover, else at the reserve."""
    source, peak = ground.source, ground.demand.peak
    where = float(ground.build.policy.reserve.m)
    if usable is not None and usable.soc_changeover is not None:
        where = usable.soc_changeover
    ohms = source.ohms_at(where, hours=False)
    if ohms is None or peak is None:
        sagged, most = None, None
    else:
        emf = source.rest_voltage(where)
        most = POWER.of(emf * emf / (4.0 * ohms))
        value = terminal_voltage(emf, ohms, peak.value)
        sagged = VOLTAGE.of(value)
    at = f" at {say(where, '')} of charge"
    ask = missing_for_currents(ground)
    found = [
        at_most(
            COLLAPSE,
            peak,
            most,
            about="pack",
            otherwise=Severity.STOP,
            value_name=f"the peak load{at}",
            limit_name="the most that the pack can give",
            remedy="Add strings, use thicker cables, or keep the peak down.",
            ask=ask,
            assumed=resting_on(peak, ground.figures.resistance),
        )
    ]
    if found[0].severity is not Severity.STOP:
        found.append(
            at_least(
                SAG,
                sagged,
                None if lowest is None else VOLTAGE.of(lowest),
                rests=_sag_rests(ground),
                about="pack",
                otherwise=Severity.CAUTION,
                value_name=f"the voltage under the peak load{at}",
                limit_name="the cut-off",
                remedy="Expect the inverter to stop when a motor starts on a low battery: raise "
                "the reserve, add strings, or start big loads by day.",
                ask=ask,
                assumed=resting_on(peak, ground.figures.resistance),
            )
        )
    return found


def _output(ground: Groundwork) -> list[Finding]:
    build = ground.build
    outputs = [(i.continuous, i.count) for i in build.inverters]
    surges = [(i.surge, i.count) for i in build.inverters]
    found = [
        at_least(
            OUTPUT,
            _sum(outputs),
            build.load.continuous,
            rests=_of_all(build, "continuous"),
            about="all inverters",
            otherwise=Severity.STOP,
            value_name="the continuous output of all inverters",
            limit_name="the continuous load",
            remedy="A smaller load, or a bigger inverter.",
        )
    ]
    if build.load.peak is not None:
        found.append(
            at_least(
                OUTPUT_PEAK,
                _sum(surges),
                build.load.peak,
                rests=_of_all(build, "surge"),
                about="all inverters",
                otherwise=Severity.CAUTION,
                value_name="the surge output of all inverters",
                limit_name="the peak load",
                remedy="Start big loads one after the other, or use a bigger inverter.",
            )
        )
    return found


def _sum(powers: list[tuple[Quantity | None, int]]) -> Quantity | None:
    """Return the power of all units together; None where one is unknown."""
    watts = 0.0
    for power, units in powers:
        if power is None:
            return None
        watts += power.m * units
    return POWER.of(watts)


def _of_all(build: Build, field: str) -> tuple[Input, ...]:
    """Return what inverters and load say, as what their sum rests on."""
    of_load = "peak" if field == "surge" else field
    said = [one for i in build.inverters for one in stated(i, field)]
    return (*said, *stated(build.load, of_load))


def _sag_rests(ground: Groundwork) -> tuple[Input | Worked, ...]:
    """Return what a voltage under the peak load rests on."""
    peak, typical = ground.demand.peak, ground.demand.typical
    asked = (one for one in (peak, typical) if one is not None)
    return (*ground.source_rests, *ground.errors, *asked)
