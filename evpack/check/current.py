"""Do the modules stand the load, the full output, starting motors, and the temperatures?"""

from __future__ import annotations

import math

from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state
from evpack.base.units import CURRENT, POWER, TEMPERATURE, VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.check.usable import lowest_working_voltage, voltage_of_greatest_currents
from evpack.kernels.load_line import terminal_voltage
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import SettingsSheet
from evpack.outcome.usable import UsableWindow

DISCHARGE_COLD = Rule(
    key="current.discharge-cold",
    says="Cells are not discharged below their temperature limit.",
    source="cell-limits",
    kind=TEMPERATURE,
)
DISCHARGE_HOT = Rule(
    key="current.discharge-hot",
    says="Cells are not discharged above their temperature limit.",
    source="cell-limits",
    kind=TEMPERATURE,
)
COLD_SAG = Rule(
    key="current.cold-sag",
    says="In the cold the resistance of cells grows several times.",
    source="common-practice",
)
LOAD = Rule(
    key="current.load",
    says="At the lowest voltage the continuous load must not draw more than the modules give.",
    source="module-datasheet",
    kind=CURRENT,
)
FULL_OUTPUT = Rule(
    key="current.full-output",
    says="Nothing but the builder's word keeps an inverter from its full output.",
    source="nec-706",
    kind=CURRENT,
)
DISCHARGE_RATE = Rule(
    key="current.discharge-rate",
    says="A continuous load of more than the capacity an hour heats salvaged cells.",
    source="common-practice",
    kind=CURRENT,
)
PEAK = Rule(
    key="current.peak",
    says="At the lowest voltage the peak load must not draw more than the modules' peak.",
    source="module-datasheet",
    kind=CURRENT,
)
FULL_SURGE = Rule(
    key="current.full-surge",
    says="Nothing but the builder's word keeps an inverter from its full surge.",
    source="common-practice",
    kind=CURRENT,
)
SAG = Rule(
    key="current.sag",
    says="A peak load should not pull the voltage under the cut-off while charge is left.",
    source="ohms-law",
    kind=VOLTAGE,
)
COLLAPSE = Rule(
    key="current.collapse",
    says="A source behind a resistance gives E²/4R at most; beyond it the voltage collapses.",
    source="ohms-law",
    kind=POWER,
)
OUTPUT = Rule(
    key="current.output",
    says="The inverters must be able to carry the continuous load.",
    source="equipment-manual",
    kind=POWER,
)
OUTPUT_PEAK = Rule(
    key="current.output-peak",
    says="The inverters must be able to carry the peak load.",
    source="equipment-manual",
    kind=POWER,
)


# Cell temperature below which a resistance measured at room temperature says little [°C].
_COLD_CELL = 5.0


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
    site, limits = ground.build.site, ground.build.pack.module.chemistry.limits
    found = [
        at_least(
            DISCHARGE_COLD,
            site.coldest,
            limits.discharge_coldest,
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
            about="cells",
            otherwise=Severity.STOP,
            value_name="the warmest the cells get",
            limit_name="the warmest they may be discharged at",
            remedy="Shade and air the place, or find a cooler one.",
            ask="Say warmest under [site].",
        ),
    ]
    if site.coldest is not None and site.coldest.m < _COLD_CELL:
        found.append(
            state(
                COLD_SAG,
                Severity.NOTE,
                about="cells",
                detail=f"At {say(float(site.coldest.m), '°C')} expect more sag under load than is "
                "worked out here: resistance about doubles at freezing point and is three to five "
                "times as high at -20 °C.",
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
            )
        )
    return found


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
            None if peak is None else peak.quantity,
            most,
            about="pack",
            otherwise=Severity.STOP,
            value_name=f"the peak load{at}",
            limit_name="the most that the pack can give",
            remedy="Add strings, use thicker cables, or keep the peak down.",
            ask=ask,
        )
    ]
    if found[0].severity is not Severity.STOP:
        found.append(
            at_least(
                SAG,
                sagged,
                None if lowest is None else VOLTAGE.of(lowest),
                about="pack",
                otherwise=Severity.CAUTION,
                value_name=f"the voltage under the peak load{at}",
                limit_name="the cut-off",
                remedy="Expect the inverter to stop when a motor starts on a low battery: raise "
                "the reserve, add strings, or start big loads by day.",
                ask=ask,
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
    for power, number in powers:
        if power is None:
            return None
        watts += power.m * number
    return POWER.of(watts)
