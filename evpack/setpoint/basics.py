"""How a line of the settings sheet is told, and how the thresholds of the monitoring come about."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import VOLTAGE
from evpack.base.wording import number, say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, Line, Setting

# As `Groundwork.cell_thresholds` makes them, as formulas for the settings sheet.
THRESHOLDS = {
    "cut_high": "min({V_chem}, {V_max} − ({V_limit} − {V_chem}))",
    "warn_high": "min({V_chem}, {V_cut} − {gap})",
    "warn_low": "max({V_chem}, {V_cut} + {gap})",
    "cut_low": "max({V_chem}, {V_min} + min({V_chem} − {V_limit}, {gap}))",
}


def voltage_line(
    ground: Groundwork,
    name: Line,
    worked: Worked,
    *,
    why: str,
    offers: str,
    lost: str = "",
    act: Act = Act.ENTER,
    where: str = "",
) -> Setting:
    """Return a line of the sheet for a voltage of the whole pack, with what it means."""
    asked = ground.demand.continuous
    return Setting(
        name=name,
        act=act,
        entry=entered(worked.value, "V"),
        why=why,
        worked=worked,
        shows=worked.value,
        offers=offers,
        per_cell=worked.value / ground.n,
        soc_rest=ground.source.state_at_rest(worked.value),
        soc_loaded=ground.source.state_under(asked.value if asked else None, worked.value),
        lost=lost,
        where=where,
    )


def entered(value: float, unit: str) -> str:
    """Write what to enter with every digit of the device's grid: rounding it could be unsafe."""
    return f"{number(value, 9)} {unit}"


def offered(reach: VoltageRange | CurrentRange) -> str:
    """Say what a device lets a person enter."""
    unit = "V" if isinstance(reach, VoltageRange) else "A"
    step = entered(reach.step.m, unit)  # as the device has it: a step of 0.025 V is no 0.03 V
    return f"{say(reach.low.m, unit)} to {say(reach.high.m, unit)} in {step}"


def steps(reach: VoltageRange | CurrentRange, basis: Basis) -> tuple[Input, Input]:
    """Return the first entry and the step of a range, as inputs of ``down`` and ``up``."""
    unit = "V" if isinstance(reach, VoltageRange) else "A"
    return (
        Input("from", "the device's lowest entry", reach.low.m, unit, basis),
        Input("step", "the device's step", reach.step.m, unit, basis),
    )


def ask_for(name: Line, what: str, where: str = "") -> Setting:
    """Return the line for an entry whose range nobody gave."""
    return Setting(
        name=name,
        act=Act.FIND_OUT,
        entry="?",
        why=f"Nobody said {what}; find it in the device's manual and put it in the build sheet.",
        where=where,
    )


def charger_error(ground: Groundwork, charger: Charger) -> Input:
    """Return the voltage error of a charger: stated, else assumed."""
    return ground.accuracy(
        charger.accuracy,
        charger.basis.of("accuracy"),
        "charger_accuracy",
        "voltage error of the charger",
    )


def wanted_charge_voltage(ground: Groundwork, charger: Charger) -> tuple[float, tuple[Input, ...]]:
    """Return the charge voltage before rounding [V], and what went into it."""
    target, spread = ground.charge_target(), ground.spread()
    error = charger_error(ground, charger)
    value = ground.n * (target.value - spread.value) / (1 + error.value)
    return value, (ground.cells(), target, spread, error)


def meter_error(ground: Groundwork, inverter: Inverter) -> Input:
    """Return the error of an inverter's voltmeter: stated, else assumed."""
    return ground.accuracy(
        inverter.meter_accuracy,
        inverter.basis.of("meter_accuracy"),
        "meter_accuracy",
        "error of the inverter's voltmeter",
    )


def rounded_up(
    name: Line,
    formula: str,
    wanted: float,
    inputs: tuple[Input, ...],
    grid: tuple[VoltageRange, Basis],
) -> Worked:
    """Return a voltage rounded up to what can be entered, at least the lowest entry."""
    reach, basis = grid
    first, step = steps(reach, basis)
    least = wanted < reach.low.m
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula=f"up(max({formula}, {{from}}), {{from}}, {{step}})"
        if least
        else f"up({formula}, {{from}}, {{step}})",
        inputs=(*inputs, first, step),
        source="common-practice",
    )


def threshold_inputs(ground: Groundwork, key: str, name: str) -> tuple[Input, ...]:
    """Return what a threshold is made of, for its formula."""
    module, chemistry = ground.build.pack.module, ground.build.pack.module.chemistry
    side = "highest" if key.endswith("high") else "least"
    cut = f"cut_{key.partition('_')[2]}"
    every = (
        known(
            "V_chem",
            f"threshold of the chemistry: {name}",
            getattr(ground.targets, key),
            chemistry.basis.of(key),
        ),
        known(
            "V_limit",
            f"{side} voltage of a cell of this chemistry",
            getattr(chemistry.limits, side),
            chemistry.basis.of(side),
        ),
        known(
            "V_max" if side == "highest" else "V_min",
            f"{side} voltage of a cell of this module",
            getattr(module, side),
            module.limit_basis(side),
        ),
        Input("V_cut", "the cut beyond it", ground.cell_thresholds()[cut], "V", Basis.COMPUTED),
        known(
            "gap",
            "least step between thresholds",
            ground.targets.ladder_gap,
            chemistry.basis.of("ladder_gap"),
        ),
    )
    found = tuple(i for i in every if f"{{{i.symbol}}}" in THRESHOLDS[key])
    stands = ground.cut_that_inverters_stand()
    if key == "cut_high" and stands is not None:
        found = (*found, from_worked("V_inv", stands))
    return found


def threshold_formula(ground: Groundwork, key: str) -> str:
    """Return the formula of a threshold; the high cut minds what the inverters stand."""
    if key == "cut_high" and ground.cut_that_inverters_stand() is not None:
        return f"{THRESHOLDS[key][:-1]}, {{V_inv}})"
    return THRESHOLDS[key]
