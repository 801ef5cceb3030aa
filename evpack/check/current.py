"""Do the modules stand the currents: charging warm and cold, load, full output, starting motors?"""

from __future__ import annotations

import math

from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, POWER, TEMPERATURE, VOLTAGE, Quantity
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
CHARGE_ONE_OUT = Rule(
    key="current.charge-one-out",
    says="With one string out, the chargers must not give the others more than they take.",
    source="module-datasheet",
    kind=CURRENT,
)
NO_CHARGER = Rule(
    key="current.no-charger",
    says="What charges the pack must be known: a charger that nobody thought of charges with "
    "whatever it came with.",
    source="common-practice",
)
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


# Capacities an hour above which charging salvaged cells asks for a word whatever the policy says.
# Common practice, no source.
_FAST_CHARGE = 0.5
# Cell temperature below which a resistance measured at room temperature says little [°C].
_COLD_CELL = 5.0


def currents(
    ground: Groundwork, settings: SettingsSheet, usable: UsableWindow | None
) -> tuple[Finding, ...]:
    """Return the findings on every current that the modules see."""
    lowest = lowest_working_voltage(ground.build, settings.thresholds)
    return (
        *_chargers_known(ground),
        *_charging(ground, settings),
        *_temperatures(ground),
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


def _chargers_known(ground: Groundwork) -> list[Finding]:
    build, found = ground.build, []
    if not build.all_chargers:
        found.append(
            unknown(
                NO_CHARGER,
                about="pack",
                detail="Nobody said what charges this pack.",
                remedy="Describe it in a section [[charger]], or under [inverter.charger].",
            )
        )
    found += [
        unknown(
            NO_CHARGER,
            about=inverter.name,
            detail="Nobody said whether it has a built-in charger.",
            remedy="Describe it under [inverter.charger] even if you do not mean to use it, or "
            "say charger = 'none' under [[inverter]].",
        )
        for inverter in build.inverters
        if inverter.charger is None
    ]
    return found


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
            CURRENT.of(min(rate, _FAST_CHARGE) * figures.capacity.value),
            otherwise=Severity.CAUTION,
            limit_name=f"{say(min(rate, _FAST_CHARGE), '')} of the capacity an hour",
            remedy="Set a lower charge current, or accept faster ageing knowingly.",
            **common,
        ),
    ]
    strings, module_limit = build.pack.strings, build.pack.module.charge_limit
    if strings > 1:
        uneven = build.policy.sharing_imbalance.m if strings > 2 else 1.0  # noqa: PLR2004
        found.append(
            at_most(
                CHARGE_ONE_OUT,
                None if amount is None else CURRENT.of(amount.m / (strings - 1) * uneven),
                module_limit,
                about="all chargers",
                otherwise=Severity.CAUTION,
                value_name="the charge current of a string with one string out",
                limit_name="the charge limit of a module",
                remedy="Fit an alarm that tells when a string is out, and then charge with "
                f"{say((strings - 1) * module_limit.m / uneven, 'A')} at most, all chargers "
                "together; or enter that from the start."
                if module_limit is not None
                else "",
                ask=common["ask"],
            )
        )
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
                else "In the cold months enter the limits 'in the cold' of the settings sheet, or "
                "keep the cells warm.",
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
