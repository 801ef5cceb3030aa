"""What to enter on a charger, so that the highest cell stays at its target and no higher.

The charge voltage is rounded down, and its floor is a fact: a charger that cannot be set low
enough is no charger for this pack. A coarse step costs energy, never safety.
"""

from __future__ import annotations

import attrs

from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.charger import Charger
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.kernels.cold import charge_rate_limit
from evpack.kernels.rounding import down_to_step
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, DeviceSettings, Setting
from evpack.setpoint.basics import ask_for, entered, offered, steps, voltage_line

SETTABLE = Rule(
    key="charge.settable",
    says="A charger must be able to be set as low as the pack needs.",
    source="equipment-manual",
    kind=VOLTAGE,
)
RANGE_KNOWN = Rule(
    key="charge.range-known",
    says="What a charger can be set to must be known before it is trusted with this pack.",
    source="equipment-manual",
)
REAL_TOP = Rule(
    key="charge.real-top",
    says="With the charger's error and the cell spread added, no cell may pass its highest "
    "voltage.",
    source="cell-limits",
    kind=VOLTAGE,
)
FLOAT = Rule(
    key="charge.float",
    says="A lithium pack is not floated: holding it at a high voltage ages it.",
    source="common-practice",
    kind=VOLTAGE,
)
COMPENSATION = Rule(
    key="charge.compensation",
    says="Temperature compensation is made for lead-acid batteries and must be off.",
    source="lead-acid-manuals",
)
EQUALISE = Rule(
    key="charge.equalise",
    says="Equalising overcharges on purpose and must be off.",
    source="lead-acid-manuals",
)


@attrs.frozen(kw_only=True)
class ChargeOutcome:
    """The lines of one charger, its findings, and the voltage it ends up at [V]."""

    settings: DeviceSettings
    findings: tuple[Finding, ...]
    voltage: float | None
    voltage_most: float | None

    @property
    def voltage_least(self) -> float | None:
        """Return what it reaches with its error downwards [V]; `voltage_most` is upwards."""
        if self.voltage is None or self.voltage_most is None:
            return None
        return 2 * self.voltage - self.voltage_most


def charger_settings(ground: Groundwork, charger: Charger, current: Worked | None) -> ChargeOutcome:
    """Return what to enter on a charger.

    Parameters
    ----------
    current : Worked or None
        This charger's part of the charge current that the pack allows [A]; None is unknown.
    """
    line, findings, voltage, most = _charge_voltage(ground, charger)
    lines = [line]
    for step in (_float, _equalise, _compensation):
        more, found = step(ground, charger, voltage)
        lines.append(more)
        findings.append(found)
    lines += [
        _current(charger, current),
        *_current_when_cold(ground, charger, current),
        *_absorption_end(ground, charger),
    ]
    return ChargeOutcome(
        settings=DeviceSettings(device=charger.name, lines=tuple(lines)),
        findings=tuple(findings),
        voltage=voltage,
        voltage_most=most,
    )


def wanted_charge_voltage(ground: Groundwork, charger: Charger) -> tuple[float, tuple[Input, ...]]:
    """Return the charge voltage before rounding [V], and what went into it."""
    target, spread = ground.charge_target(), ground.spread()
    error = ground.accuracy(
        charger.accuracy,
        charger.basis.of("accuracy"),
        "charger_accuracy",
        "voltage error of the charger",
    )
    value = ground.n * (target.value - spread.value) / (1 + error.value)
    return value, (ground.cells(), target, spread, error)


_CHARGE_WHY = (
    "End of charge for the whole pack. It keeps the highest cell at or under {top} although "
    "cells differ by up to {spread} and the charger may be off by {error}."
)


def _charge_voltage(
    ground: Groundwork, charger: Charger
) -> tuple[Setting, list[Finding], float | None, float | None]:
    name, reach = "charge voltage (absorption)", charger.charge_voltage
    wanted, inputs = wanted_charge_voltage(ground, charger)
    needed = VOLTAGE.of(wanted)
    if reach is None:
        found = unknown(
            RANGE_KNOWN,
            about=charger.name,
            detail="Nobody said which charge voltages can be entered.",
            remedy=f"Find its range and step in the manual. It must reach down to "
            f"{say(wanted, 'V')}.",
        )
        line = ask_for(name, "which charge voltages this charger can be set to", charger.where)
        return line, [found], None, None
    if reach is NOT_FITTED:
        found = state(
            SETTABLE,
            Severity.STOP,
            about=charger.name,
            detail=f"Its voltage is fixed; this pack needs {say(wanted, 'V')} or less.",
            remedy="Use a charger whose charge voltage can be set.",
        )
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            why=f"The voltage of this charger is fixed; the pack needs {say(wanted, 'V')} or less.",
        )
        return line, [found], None, None
    settable = at_least(
        SETTABLE,
        needed,
        reach.low,
        about=charger.name,
        otherwise=Severity.STOP,
        value_name="the charge voltage this pack needs",
        limit_name="the lowest that can be entered",
        remedy="Use a charger that can be set lower, or more cells in series.",
    )
    if settable.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            why=f"The lowest entry, {say(reach.low.m, 'V')}, is above the {say(wanted, 'V')} that "
            "this pack needs.",
            offers=offered(reach),
        )
        return line, [settable], None, None
    worked = _rounded_down(name, wanted, inputs, reach)
    target, spread, error = inputs[1], inputs[2], inputs[3]
    most = worked.value * (1 + error.value)
    module = ground.build.pack.module
    top = at_most(
        REAL_TOP,
        VOLTAGE.of(most / ground.n + spread.value),
        module.highest,
        about=charger.name,
        otherwise=Severity.STOP,
        value_name="the highest cell, errors included",
        limit_name="the highest voltage of a cell",
        remedy=f"Lower the charge target to {say(module.highest.m, 'V')} a cell or less.",
    )
    if top.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            why=f"The charge target, {say(target.value, 'V')}, is more than a cell stands, "
            f"{say(module.highest.m, 'V')}. Lower it first.",
            offers=offered(reach),
        )
        return line, [settable, top], None, None
    line = voltage_line(
        ground,
        name,
        worked,
        why=_CHARGE_WHY.format(
            top=say(target.value, "V"),
            spread=say(spread.value, "V"),
            error=say(error.value, ""),
        ),
        offers=offered(reach),
        lost=_lost_to_step(ground, wanted, worked.value),
        where=charger.where,
    )
    return line, [settable, top], worked.value, most


def _rounded_down(
    name: str, wanted: float, inputs: tuple[Input, ...], reach: VoltageRange
) -> Worked:
    formula = "{n} · ({V_high} − {δ}) / (1 + {ε})"
    first, step = steps(reach)
    value = down_to_step(min(wanted, reach.high.m), first.value, step.value)
    clipped = wanted > reach.high.m
    top = known("most", "the device's highest entry", reach.high, step.basis)
    return Worked(
        name=name,
        value=value,
        kind=VOLTAGE,
        formula=f"down(min({formula}, {{most}}), {{from}}, {{step}})"
        if clipped
        else f"down({formula}, {{from}}, {{step}})",
        inputs=(*inputs, *((top,) if clipped else ()), first, step),
        source="common-practice",
    )


def _lost_to_step(ground: Groundwork, wanted: float, entered: float) -> str:
    source = ground.source
    gone = source.state_at_rest(wanted) - source.state_at_rest(entered)
    if wanted - entered < 0.005:  # noqa: PLR2004  (half of the last digit that is written)
        return ""
    return f"{say(wanted - entered, 'V')} to the step or range, {say(gone, '')} of the charge"


def _most_for_float(ground: Groundwork, charger: Charger) -> float:
    """Return the most that a float may be where no charge voltage is settled [V]."""
    wanted, (cells, _, spread, error) = wanted_charge_voltage(ground, charger)
    stands = float(ground.build.pack.module.highest.m) - spread.value
    return min(wanted, cells.value * stands / (1 + error.value))


def _float(ground: Groundwork, charger: Charger, charge: float | None) -> tuple[Setting, Finding]:
    name, about = "float voltage", charger.name
    bound = _most_for_float(ground, charger) if charge is None else charge
    if charger.float_can_be_off:
        line = Setting(
            name=name,
            act=Act.TURN_OFF,
            entry="off",
            why="A lithium pack rests after the charge; floating it only ages it. If the device "
            "insists on a number although float is off, enter no more than "
            f"{say(min(ground.n * ground.targets.float_most.m, bound), 'V')}.",
            where=charger.where,
        )
        return line, state(FLOAT, Severity.OK, about=about, detail="Float can be turned off.")
    if charger.float_can_be_off is None:
        return ask_for(name, "whether float can be turned off", charger.where), unknown(
            FLOAT,
            about=about,
            detail="Nobody said whether float can be turned off.",
            remedy="Find out in its manual and say float_can_be_off in the build sheet.",
        )
    reach = charger.float_setting
    if reach is None or reach is NOT_FITTED:
        return ask_for(name, "which float voltages can be entered", charger.where), unknown(
            FLOAT,
            about=about,
            detail="Float cannot be turned off, and nobody said how low it can be set.",
            remedy="Find the range of its float voltage, or use another charger.",
        )
    error = ground.accuracy(
        charger.accuracy,
        charger.basis.of("accuracy"),
        "charger_accuracy",
        "voltage error of the charger",
    )
    chemistry = ground.build.pack.module.chemistry
    most = known(
        "V_float",
        "highest float of a cell",
        ground.targets.float_most,
        chemistry.basis.of("float_most"),
    )
    wanted = min(ground.n * most.value / (1 + error.value), bound)
    first, step = steps(reach)
    value = max(down_to_step(min(wanted, reach.high.m), first.value, step.value), reach.low.m)
    worked = Worked(
        name=name,
        value=value,
        kind=VOLTAGE,
        formula="read: {n} · {V_float} / (1 + {ε}), not above the charge voltage, on the "
        "device's grid {from} + k · {step}",
        inputs=(ground.cells(), most, error, first, step),
        source="common-practice",
    )
    found = at_most(
        FLOAT,
        VOLTAGE.of(value),
        VOLTAGE.of(wanted),
        about=about,
        otherwise=Severity.STOP if value > bound else Severity.CAUTION,
        value_name="the lowest float that can be entered",
        limit_name="the highest float that does little harm",
        remedy="Use a charger whose float can be turned off or set lower.",
    )
    line = voltage_line(
        ground,
        name,
        worked,
        why="Float cannot be turned off on this device; this entry holds the pack as low as it "
        "can be set without harm.",
        offers=offered(reach),
        act=Act.ENTER if not found.holds else Act.CANNOT,
        where=charger.where,
    )
    return line, found


def _equalise(
    ground: Groundwork, charger: Charger, charge: float | None
) -> tuple[Setting, Finding]:
    instead = f", {say(charge, 'V')}," if charge else ""
    return _turn_off(
        EQUALISE,
        charger,
        can=charger.equalise_can_be_off,
        name="equalise",
        field="equalise_can_be_off",
        why="Equalising pushes every cell above its target on purpose. If the device insists on "
        f"a voltage, enter the charge voltage{instead} "
        "and a time of 0.",
        harm=f"An equalising charge of 62 V would be {say(62.0 / ground.n, 'V/cell')} here.",
    )


def _compensation(
    ground: Groundwork, charger: Charger, charge: float | None
) -> tuple[Setting, Finding]:
    cold = ground.build.site.coldest
    harm = "In the cold it raises the charge voltage when the cells stand it least."
    if cold is not None and charge is not None:
        # 5 mV a cell and kelvin on the 2 V cells that a lead-acid battery of this voltage has.
        raised = charge + 0.005 * round(charge / 2.4) * max(0.0, 25.0 - float(cold.m))
        harm = (
            f"Left at 5 mV a lead cell and kelvin it would charge to {say(raised, 'V')}, "
            f"{say(raised / ground.n, 'V/cell')}, at {say(float(cold.m), '°C')}."
        )
    return _turn_off(
        COMPENSATION,
        charger,
        can=charger.compensation_can_be_off,
        name="temperature compensation",
        field="compensation_can_be_off",
        why="Enter 0 mV/K, or unplug the sensor only if the manual says that this turns it off. "
        "Lithium cells want the same voltage warm and cold.",
        harm=harm,
    )


def _turn_off(
    rule: Rule, charger: Charger, *, can: bool | None, name: str, field: str, why: str, harm: str
) -> tuple[Setting, Finding]:
    if can:
        line = Setting(
            name=name, act=Act.TURN_OFF, entry="off", why=f"{why} {harm}", where=charger.where
        )
        return line, state(
            rule,
            Severity.OK,
            about=charger.name,
            detail=f"{name.capitalize()} can be turned off.",
        )
    if can is None:
        return ask_for(name, f"whether {name} can be turned off", charger.where), unknown(
            rule,
            about=charger.name,
            detail=f"Nobody said whether {name} can be turned off. {harm}",
            remedy=f"Find out in its manual and say {field} in the build sheet.",
        )
    line = Setting(name=name, act=Act.CANNOT, entry="cannot be turned off", why=harm)
    return line, state(
        rule,
        Severity.STOP,
        about=charger.name,
        detail=f"{name.capitalize()} cannot be turned off. {harm}",
        remedy=f"Use a charger whose {name} can be turned off.",
    )


def _current(charger: Charger, allowed: Worked | None) -> Setting:
    name, reach = "charge current limit", charger.current_setting
    if charger.current is None or allowed is None:
        return ask_for(
            name, "how much this charger gives, or how much the modules take", charger.where
        )
    why = (
        "Keeps the sum of all chargers within what the pack takes, as this charger's part of it. "
        "In the cold a lower limit rules; see the findings on cold charging."
    )
    if reach is None:
        return ask_for(name, "which current limits can be entered", charger.where)
    if reach is NOT_FITTED:
        return Setting(
            name=name,
            act=Act.CANNOT,
            entry=f"fixed, {say(charger.current.m, 'A')}",
            why="The current of this charger cannot be set; the findings say whether the pack "
            "takes it.",
            where=charger.where,
        )
    first, step = steps(reach)
    bound = min(allowed.value, reach.high.m)
    value = max(down_to_step(bound, first.value, step.value), reach.low.m)
    return Setting(
        name=name,
        act=Act.ENTER,
        entry=entered(value, "A"),
        why=why,
        worked=Worked(
            name=name,
            value=value,
            kind=CURRENT,
            formula="read: this charger's part of the charge current, {I_part}, on the device's "
            "grid {from} + k · {step}",
            inputs=(from_worked("I_part", allowed), first, step),
            source="common-practice",
        ),
        offers=offered(reach),
        where=charger.where,
    )


_NO_COLD_LIMIT = 15.0  # °C, from which on the cold sets no limit: the first of `cold.STEPS`


def _current_when_cold(
    ground: Groundwork, charger: Charger, allowed: Worked | None
) -> tuple[Setting, ...]:
    """Return what to enter in the cold months, where the cells get that cold."""
    coldest, current = ground.build.site.coldest, charger.current
    if coldest is None or coldest.m >= _NO_COLD_LIMIT or allowed is None or current is None:
        return ()
    name, cold = "charge current limit in the cold", float(coldest.m)
    limit = ground.build.pack.module.chemistry.limits.charge_coldest.m
    rate = charge_rate_limit(cold) if cold >= limit else 0.0
    if rate <= 0:
        return (
            Setting(
                name=name,
                act=Act.ENTER,
                entry="no charge",
                why=f"The cells get as cold as {say(cold, '°C')}; below {say(limit, '°C')} they "
                "must not be charged at all. The cell monitoring has to block it.",
                where=charger.where,
            ),
        )
    total = sum(c.count * c.current.m for c in ground.build.all_chargers if c.current is not None)
    part = min(allowed.value, rate * ground.source.capacity * current.m / total)
    reach = charger.current_setting
    if not isinstance(reach, CurrentRange):
        return ()
    entry = down_to_step(min(part, reach.high.m), reach.low.m, reach.step.m)
    return (
        Setting(
            name=name,
            act=Act.ENTER if entry >= reach.low.m else Act.CANNOT,
            entry=entered(entry, "A") if entry >= reach.low.m else "turn this charger off",
            why=f"Cells at {say(cold, '°C')} take {say(rate, '')} of the capacity an hour, all "
            f"chargers together; this is this charger's part, {say(part, 'A')}, rounded down.",
            offers=offered(reach),
            where=charger.where,
        ),
    )


# Longest absorption where a timer, not a current, ends it [min]. Common practice, no source.
_TIMER = {"flat": 60, "sloping": 15}


def _absorption_end(ground: Groundwork, charger: Charger) -> tuple[Setting, Setting]:
    tail = ground.guard("k_tail", "tail_current")
    pack = ground.build.pack
    capacity = known("Q", "capacity", pack.capacity, pack.module.basis.of("capacity"))
    worked = Worked(
        name="absorption end current",
        value=capacity.value * tail.value,
        kind=CURRENT,
        formula="{Q} · {k_tail} / 1 h",
        inputs=(capacity, tail),
        source="common-practice",
    )
    flat = ground.build.pack.module.chemistry.flat
    minutes = _TIMER["flat" if flat else "sloping"]
    return (
        Setting(
            name="absorption end current",
            act=Act.ENTER,
            entry=str(worked),
            why="The charge is over when the current has fallen to this; holding on longer "
            "brings little charge and more wear. Where the device takes only a share of "
            f"capacity, enter {say(tail.value, '')}.",
            worked=worked,
            where=charger.where,
        ),
        Setting(
            name="absorption time",
            act=Act.ENTER,
            entry=f"{minutes} min at most",
            why="Where the device ends absorption by a clock. Prefer the end current if it "
            "offers both.",
            where=charger.where,
        ),
    )
