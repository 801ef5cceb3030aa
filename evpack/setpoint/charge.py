"""What to enter on a charger, so that the highest cell stays at its target and no higher.

The charge voltage is rounded down, and its floor is a fact: a charger that cannot be set low
enough is no charger for this pack. A coarse step costs energy, never safety.
"""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import (
    Finding,
    Rule,
    Severity,
    Standing,
    at_least,
    at_most,
    inside,
    state,
    unknown,
)
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE
from evpack.base.wording import say, say_down
from evpack.base.worked import Input, Worked, known
from evpack.describe.charger import NOT_WIRED, Charger, LeadAcidProfile
from evpack.describe.pack import Monitoring
from evpack.describe.ranges import VoltageRange
from evpack.outcome.cells import known_imbalance
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, DeviceSettings, Line, Setting
from evpack.setpoint.basics import (
    ask_for,
    charger_error,
    offered,
    steps,
    voltage_line,
    wanted_charge_voltage,
)
from evpack.setpoint.charge_current import absorption_end, current_lines
from evpack.setpoint.charge_hold import compensation_line, equalise_line, float_line

SETTABLE = Rule(
    key="charge.settable",
    says="A charger must be able to be set as low as the pack needs.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
RANGE_KNOWN = Rule(
    key="charge.range-known",
    says="What a charger can be set to must be known before it is trusted with this pack.",
    source="equipment-manual",
    stands=Standing.QUESTION,
)
REAL_TOP = Rule(
    key="charge.real-top",
    says="With the charger's error and the cell spread added, no cell may pass its highest "
    "voltage.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)


@attrs.frozen(kw_only=True)
class ChargeOutcome:
    """The lines of one charger, its findings, and the voltages it ends up and floats at [V]."""

    settings: DeviceSettings
    findings: tuple[Finding, ...]
    voltage: float | None
    voltage_most: float | None
    error: float
    floated: float | None = None

    @property
    def voltage_least(self) -> float | None:
        """Return what it reaches with its error downwards [V]; `voltage_most` is upwards."""
        return None if self.voltage is None else self.voltage * (1 - self.error)


def charger_settings(ground: Groundwork, charger: Charger, current: Worked | None) -> ChargeOutcome:
    """Return what to enter on a charger.

    Parameters
    ----------
    current : Worked or None
        This charger's part of the charge current that the pack allows [A]; None is unknown.
    """
    if charger.left_on is not None:
        return _left_on(ground, charger, charger.left_on, current)
    line, findings, voltage, most = _charge_voltage(ground, charger)
    floats, found = float_line(ground, charger, voltage)
    lines = [line, floats]
    findings.append(found)
    for step in (equalise_line, compensation_line):
        more, found = step(ground, charger, voltage)
        lines.append(more)
        findings.append(found)
    currents, found_currents = current_lines(ground, charger, current)
    lines += [*currents, *absorption_end(ground, charger, currents[0])]
    findings += found_currents
    return ChargeOutcome(
        settings=DeviceSettings(device=charger.name, lines=tuple(lines)),
        findings=tuple(findings),
        voltage=voltage,
        voltage_most=most,
        error=charger_error(ground, charger).value,
        floated=None if floats.worked is None else floats.worked.value,
    )


def kept_off_settings(charger: Charger) -> DeviceSettings:
    """Return the one line of a charger that is there and is to charge nothing."""
    unwired = charger.kept_off == NOT_WIRED
    entry = f"leave its {charger.source} supply unwired" if unwired else "off"
    why = (
        "It counts nowhere in this design. Whoever wires it puts it in the build sheet first."
        if unwired
        else "Turn it off in its menu; where there is no such entry, set its charge current to 0 A "
        "or its charging by this source to never. A reset or an update may turn it on again: look "
        "after each."
    )
    line = Setting(name=Line.KEPT_OFF, act=Act.TURN_OFF, entry=entry, why=why, where=charger.where)
    return DeviceSettings(device=charger.name, lines=(line,))


def _left_on(
    ground: Groundwork, charger: Charger, profile: LeadAcidProfile, current: Worked | None
) -> ChargeOutcome:
    """Return the lines of a charger whose lead-acid profile stays on: nothing can be entered.

    Whether the pack stands the profile is judged beside the other profiles, not here.
    """
    error = charger_error(ground, charger).value
    absorption = float(profile.absorption.m)
    cold, unstated = ground.coldest_or_freezing(), charger.unstated_compensation
    most = max(
        profile.compensated(cold, equalising=equalising, least=unstated)
        for equalising in (False, True)
    )
    told = (
        (Line.CHARGE, absorption),
        (Line.FLOAT, float(profile.float_voltage.m)),
        (Line.EQUALISE, float(profile.equalise.m)),
    )
    fixed = [
        Setting(
            name=name,
            act=Act.CANNOT,
            entry=f"stays at {say(volts, 'V')}",
            why=f"The profile '{profile.name}' stays on; see the findings on whether the pack "
            "stands it.",
            per_cell=volts / ground.n,
            soc_rest=ground.source.state_at_rest(volts),
        )
        for name, volts in told
    ]
    fixed.append(
        Setting(
            name=Line.COMPENSATION,
            act=Act.CANNOT,
            entry="stays on",
            why=f"At a sensor of {say(cold, '°C')} this profile rises to as much as "
            f"{say(most, 'V')}, {say(most / ground.n, 'V/cell')}.",
            per_cell=most / ground.n,
        )
    )
    currents, found = current_lines(ground, charger, current)
    if unstated and charger.compensation_can_be_off is None:
        _, unsaid = compensation_line(ground, charger, None)
        found = [*found, unsaid]
    return ChargeOutcome(
        settings=DeviceSettings(device=charger.name, lines=(*fixed, *currents)),
        findings=tuple(found),
        # A profile that the pack does not stand settles nothing: no energy is counted with it.
        voltage=absorption if _stands(ground, absorption * (1 + error)) else None,
        voltage_most=most * (1 + error),
        error=error,
        floated=float(profile.float_voltage.m),
    )


def _stands(ground: Groundwork, volts: float) -> bool:
    """Return whether the highest cell stays under its high warning at a pack voltage [V]."""
    return volts / ground.n + ground.spread().value <= ground.cell_thresholds()["warn_high"]


_CHARGE_WHY = (
    "End of charge for the whole pack. It keeps the highest cell at or under {top} although "
    "cells differ by up to {spread} and the charger may be off by {error}."
)


def _watched(ground: Groundwork) -> bool:
    """Return whether the monitoring watches every cell and ends the charge by itself."""
    watch = ground.build.pack.monitoring
    return isinstance(watch, Monitoring) and bool(watch.every_cell and watch.stops_charge)


def _charge_voltage(
    ground: Groundwork, charger: Charger
) -> tuple[Setting, list[Finding], float | None, float | None]:
    name, reach = Line.CHARGE, charger.charge_voltage
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
            not_connected=True,
            why=f"The voltage of this charger is fixed; the pack needs {say(wanted, 'V')} or less.",
        )
        return line, [found], None, None
    module, (target, spread, error) = ground.build.pack.module, inputs[1:4]
    apart = known_imbalance(ground.build.pack, full=True).value
    allowed = ground.n * (module.highest.m - apart) / (1 + error.value)
    if _watched(ground) and module.chemistry.flat:
        # Such cells bear the error, and the monitoring ends the charge of the highest at its print.
        allowed = max(allowed, ground.n * float(module.highest.m))
    if target.value <= module.least.m:  # a slip, and no wish that a print could go before
        allowed = wanted
    settable = at_least(
        SETTABLE,
        VOLTAGE.of(max(allowed, wanted)),
        reach.low,
        rests=ground.errors,
        about=charger.name,
        otherwise=Severity.STOP,
        value_name="the highest charge voltage that the cells' print allows, errors included",
        limit_name="the lowest that can be entered",
        guarded=needed,
        guarded_for=f"a charge target of {say(target.value, 'V')} a cell",
        remedy=f"A charger that can be set to {say_down(wanted, 'V')} keeps the target.",
    )
    if settable.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            not_connected=True,
            why=f"The lowest entry, {say(reach.low.m, 'V')}, is above the {say(allowed, 'V')} that "
            "the cells stand.",
            offers=offered(reach),
        )
        return line, [settable], None, None
    worked = _rounded_down(name, wanted, inputs, reach, charger.basis.of("charge_voltage"))
    most = worked.value * (1 + error.value)
    real = most / ground.n + spread.value
    mean = worked.value / ground.n
    borne = _watched(ground) and module.chemistry.flat and inside(mean, float(module.highest.m))
    top = at_most(
        REAL_TOP,
        VOLTAGE.of(most / ground.n + apart),
        module.highest,
        rests=(worked, *ground.errors),
        about=charger.name,
        otherwise=Severity.CAUTION if borne else Severity.STOP,
        value_name="the highest cell, errors included",
        limit_name="the highest voltage of a cell",
        guarded=VOLTAGE.of(real),
        guarded_for="cells further apart than was measured",
        remedy=f"Lower the charge target to {say(module.highest.m, 'V')} a cell or less.",
    )
    if top.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            not_connected=True,
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
            top=say(max(target.value, real), "V"),
            spread=say(spread.value, "V"),
            error=say(error.value, ""),
        ),
        offers=offered(reach),
        lost=_lost_to_step(ground, wanted, worked.value),
        where=charger.where,
    )
    return line, [settable, top], worked.value, most


def _rounded_down(
    name: str, wanted: float, inputs: tuple[Input, ...], reach: VoltageRange, basis: Basis
) -> Worked:
    formula = "{n} · ({V_high} − {δ}) / (1 + {ε})"
    first, step = steps(reach, basis)
    if wanted < reach.low.m:  # above the target, and still within what the cells stand
        return Worked(
            name=name,
            kind=VOLTAGE,
            formula=f"max({formula}, {{from}})",
            inputs=(*inputs, first),
            source="equipment-manual",
        )
    clipped = wanted > reach.high.m
    top = known("most", "the device's highest entry", reach.high, step.basis)
    return Worked(
        name=name,
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
