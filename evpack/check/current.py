"""Do the modules stand the currents: charging warm and cold, load, full output, starting motors?"""

from __future__ import annotations

from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, POWER, VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.check.usable import lowest_working_voltage, voltage_of_greatest_currents
from evpack.kernels.cold import charge_rate_limit
from evpack.kernels.load_line import terminal_voltage
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import SettingsSheet
from evpack.outcome.usable import UsableWindow

CHARGE = Rule(
    key="current.charge",
    says="All chargers together must not give more than the modules take.",
    source="module-datasheet",
    kind=CURRENT,
)
CHARGE_RATE = Rule(
    key="current.charge-rate",
    says="Salvaged cells are charged gently.",
    source="common-practice",
    kind=CURRENT,
)
CHARGE_COLD = Rule(
    key="current.charge-cold",
    says="The colder the cells, the less charge current they take without harm.",
    source="common-practice",
    kind=CURRENT,
)
CHARGE_HOT = Rule(
    key="current.charge-hot",
    says="Cells are not charged above their temperature limit.",
    source="cell-limits",
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


def currents(
    ground: Groundwork, settings: SettingsSheet, usable: UsableWindow | None
) -> tuple[Finding, ...]:
    """Return the findings on every current that the modules see."""
    lowest = lowest_working_voltage(ground.build, settings.thresholds)
    return (
        *_charging(ground, settings),
        *_discharging(ground, voltage_of_greatest_currents(ground.build, settings.thresholds)),
        *_sagging(ground, lowest, usable),
        *_output(ground),
    )


def charge_current_set(ground: Groundwork, settings: SettingsSheet) -> float | None:
    """Return what all chargers give together once set [A]; None where one is unknown."""
    total = 0.0
    for charger in ground.build.all_chargers:
        device = settings.device(charger.name)
        line = device.line("charge current limit") if device else None
        if charger.current is None:
            return None
        entered = line.worked.value if line is not None and line.worked is not None else None
        # Where nothing is entered the charger gives all it has.
        total += charger.count * (charger.current.m if entered is None else entered)
    return total


def _charging(ground: Groundwork, settings: SettingsSheet) -> list[Finding]:
    build, figures = ground.build, ground.figures
    if not build.all_chargers:
        return []
    total = charge_current_set(ground, settings)
    amount = None if total is None else CURRENT.of(total)
    limit = figures.charge_limit
    rate = build.policy.charge_rate.m
    common = {
        "about": "all chargers",
        "value_name": "the charge current of all chargers as set",
        "ask": "Find out what each charger gives, and what the modules take when charging.",
    }
    found = [
        at_most(
            CHARGE,
            amount,
            None if limit is None else limit.quantity,
            otherwise=Severity.STOP,
            limit_name="the charge limit of the modules",
            remedy="Set a lower charge current, or use fewer or smaller chargers.",
            **common,
        ),
        at_most(
            CHARGE_RATE,
            amount,
            CURRENT.of(rate * figures.capacity.value),
            otherwise=Severity.CAUTION,
            limit_name=f"{say(rate, '')} of the capacity an hour",
            remedy="Set a lower charge current, or accept faster ageing knowingly.",
            **common,
        ),
    ]
    return [*found, *_cold_and_hot(ground, amount.m if amount is not None else None)]


def _cold_and_hot(ground: Groundwork, total: float | None) -> list[Finding]:
    site, limits = ground.build.site, ground.build.pack.module.chemistry.limits
    found = []
    if site.coldest is None:
        found.append(
            unknown(
                CHARGE_COLD,
                about="all chargers",
                detail="Nobody said how cold the cells get.",
                remedy="Say coldest under [site].",
            )
        )
    else:
        cold = float(site.coldest.m)
        allowed = charge_rate_limit(cold) if cold >= limits.charge_coldest.m else 0.0
        found.append(
            at_most(
                CHARGE_COLD,
                None if total is None else CURRENT.of(total),
                CURRENT.of(allowed * ground.figures.capacity.value),
                about="all chargers",
                otherwise=Severity.CAUTION,
                value_name="the charge current of all chargers as set",
                limit_name=f"what cells at {say(cold, '°C')} take",
                remedy="Below this temperature no charge at all: let the cell monitoring block it, "
                "or keep the cells warm."
                if allowed <= 0
                else "In the cold months enter a lower charge current, or keep the cells warm.",
                ask="Find out what each charger gives.",
            )
        )
    if site.warmest is None:
        hot = unknown(
            CHARGE_HOT,
            about="all chargers",
            detail="Nobody said how warm the cells get.",
            remedy="Say warmest under [site].",
        )
    elif site.warmest.m > limits.charge_hottest.m:
        hot = state(
            CHARGE_HOT,
            Severity.CAUTION,
            about="all chargers",
            detail=f"The cells get as warm as {say(site.warmest.m, '°C')}; above "
            f"{say(limits.charge_hottest.m, '°C')} they are not charged.",
            remedy="Shade and air the place, and let the cell monitoring block hot charging.",
        )
    else:
        hot = state(
            CHARGE_HOT,
            Severity.OK,
            about="all chargers",
            detail=f"The cells get as warm as {say(site.warmest.m, '°C')}; they may be charged "
            f"up to {say(limits.charge_hottest.m, '°C')}.",
        )
    return [*found, hot]


def _discharging(ground: Groundwork, lowest: float | None) -> list[Finding]:
    figures, demand, policy = ground.figures, ground.demand, ground.build.policy
    ask = "Give the modules' limits, the inverter's output, efficiency, idle draw and window."

    def at_lowest(power: Worked | None) -> Quantity | None:
        return None if power is None or lowest is None else CURRENT.of(power.value / lowest)

    limit = None if figures.discharge_limit is None else figures.discharge_limit.quantity
    peak = None if figures.discharge_peak is None else figures.discharge_peak.quantity
    load_remedy = (
        f"Keep the load under {say(limit.m * lowest, 'W')} at the DC side, or add strings."
        if limit is not None and lowest is not None
        else ""
    )
    return [
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
    ask = "Give the modules' resistance, the peak load or surge output, and all settings."
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
