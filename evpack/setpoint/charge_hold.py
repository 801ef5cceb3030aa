"""What a charger does after and besides the charge: float, equalise, temperature compensation.

All three are made for lead-acid batteries; on lithium cells the right entry is "off".
"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.rounding import down_to_step
from evpack.base.units import VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, known
from evpack.describe.charger import LEAD_CELL, LEAD_COMPENSATION, Charger
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, Line, Setting
from evpack.setpoint.basics import (
    ask_for,
    charger_error,
    offered,
    steps,
    voltage_line,
    wanted_charge_voltage,
)

FLOAT = Rule(
    key="hold.float",
    says="A lithium pack is not floated: holding it at a high voltage ages it.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
COMPENSATION = Rule(
    key="hold.compensation",
    says="Temperature compensation is made for lead-acid batteries and must be off.",
    source="lead-acid-manuals",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
)
EQUALISE = Rule(
    key="hold.equalise",
    says="Equalising overcharges on purpose and must be off.",
    source="lead-acid-manuals",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
)


def _most_for_float(ground: Groundwork, charger: Charger) -> float:
    """Return the most that a float may be where no charge voltage is settled [V]."""
    wanted, (cells, _, spread, error) = wanted_charge_voltage(ground, charger)
    stands = float(ground.build.pack.module.highest.m) - spread.value
    return min(wanted, cells.value * stands / (1 + error.value))


def _harmless_float(ground: Groundwork, charger: Charger, bound: float) -> float:
    """Return the highest float that does little harm [V], in whole tenths, rounded down."""
    error = charger_error(ground, charger).value
    return down_to_step(min(ground.n * ground.targets.float_most.m / (1 + error), bound), 0.0, 0.1)


def float_line(
    ground: Groundwork, charger: Charger, charge: float | None
) -> tuple[Setting, Finding]:
    """Return what to do with float, and what was found."""
    name, about = Line.FLOAT, charger.name
    bound = _most_for_float(ground, charger) if charge is None else charge
    if charger.float_can_be_off:
        line = Setting(
            name=name,
            act=Act.TURN_OFF,
            entry="off",
            why="A lithium pack rests after the charge; floating it only ages it. If the device "
            "insists on a number although float is off, enter no more than "
            f"{say(_harmless_float(ground, charger, bound), 'V')}.",
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
    error = charger_error(ground, charger)
    chemistry = ground.build.pack.module.chemistry
    most = known(
        "V_float",
        "highest float of a cell",
        ground.targets.float_most,
        chemistry.basis.of("float_most"),
    )
    wanted = min(ground.n * most.value / (1 + error.value), bound)
    first, step = steps(reach, charger.basis.of("float_setting"))
    value = max(down_to_step(min(wanted, reach.high.m), first.value, step.value), reach.low.m)
    worked = Worked(
        name=name,
        kind=VOLTAGE,
        formula="max(down(min({n} · {V_float} / (1 + {ε}), {V_charge}, {most}), {from}, {step}), "
        "{from})",
        inputs=(
            ground.cells(),
            most,
            error,
            Input(
                "V_charge", "what the pack needs at the end of charge", bound, "V", Basis.COMPUTED
            ),
            known("most", "the device's highest entry", reach.high, step.basis),
            first,
            step,
        ),
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
        why="Float cannot be turned off on this device. "
        + (
            "This is the highest that does little harm; a lower entry is gentler still."
            if found.severity is Severity.OK
            else f"This is the lowest that can be entered, and more than the {say(wanted, 'V')} "
            "that would do little harm: it ages the cells."
        ),
        offers=offered(reach),
        act=Act.ENTER if not found.holds else Act.CANNOT,
        where=charger.where,
    )
    return line, found


def equalise_line(
    ground: Groundwork, charger: Charger, charge: float | None
) -> tuple[Setting, Finding]:
    """Return what to do with equalising, and what was found."""
    instead = f", {say(charge, 'V')}," if charge else ""
    return _turn_off(
        EQUALISE,
        charger,
        can=charger.equalise_can_be_off,
        name=Line.EQUALISE,
        field="equalise_can_be_off",
        why="Equalising pushes every cell above its target on purpose. If the device insists on "
        f"a voltage, enter the charge voltage{instead} "
        "and a time of 0.",
        harm=_equalise_harm(ground),
    )


def _equalise_harm(ground: Groundwork) -> str:
    """Say what the equalising charge of a usual profile would do to this pack."""
    volts = max((float(p.equalise.m) for p in ground.build.profiles), default=0.0)
    if volts / ground.n <= ground.targets.charge.m:
        return ""
    return f"The {say(volts, 'V')} that is usual would be {say(volts / ground.n, 'V/cell')} here."


def compensation_line(
    ground: Groundwork, charger: Charger, charge: float | None
) -> tuple[Setting, Finding]:
    """Return what to do with temperature compensation, and what was found."""
    cold = ground.coldest_sensor()
    harm = "In the cold it raises the charge voltage when the cells stand it least."
    if cold is not None and charge is not None:
        # On the 2 V cells that a lead-acid battery of this voltage has.
        lead_cells = round(charge / LEAD_CELL)
        raised = charge + LEAD_COMPENSATION * lead_cells * max(0.0, 25.0 - cold)
        harm = (
            f"Left at 5 mV per lead cell per kelvin it would charge to {say(raised, 'V')}, "
            f"{say(raised / ground.n, 'V/cell')}, at {say(cold, '°C')}."
        )
    return _turn_off(
        COMPENSATION,
        charger,
        can=charger.compensation_can_be_off,
        name=Line.COMPENSATION,
        field="compensation_can_be_off",
        why="Enter 0 mV/K. Unplug the sensor only if the manual says that this turns the "
        "compensation off and leaves the charger's own cold and heat stops working. Lithium cells "
        "want the same voltage warm and cold.",
        harm=harm,
    )


def _turn_off(
    rule: Rule, charger: Charger, *, can: bool | None, name: Line, field: str, why: str, harm: str
) -> tuple[Setting, Finding]:
    if can:
        line = Setting(
            name=name,
            act=Act.TURN_OFF,
            entry="off",
            why=f"{why} {harm}".strip(),
            where=charger.where,
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
            detail=f"Nobody said whether {name} can be turned off. {harm}".strip(),
            remedy=f"Find out in its manual and say {field} in the build sheet.",
        )
    line = Setting(name=name, act=Act.CANNOT, entry="cannot be turned off", why=harm)
    return line, state(
        rule,
        Severity.STOP,
        about=charger.name,
        detail=f"{name.capitalize()} cannot be turned off. {harm}".strip(),
        remedy=f"Use a charger whose {name} can be turned off.",
    )
