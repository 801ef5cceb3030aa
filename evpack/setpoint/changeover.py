"""When the load goes to the utility, and when it comes back to the battery.

The changeover is judged under the typical load, the return by what the voltage does when the load
goes away: too small a gap and the inverter hunts.
"""

from __future__ import annotations

import math

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.rounding import down_to_step, up_to_step
from evpack.base.units import VOLTAGE
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.inverter import Inverter
from evpack.describe.ranges import VoltageRange
from evpack.kernels.load_line import terminal_voltage
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, Line, Setting
from evpack.setpoint.basics import ask_for, meter_error, offered, rounded_up, steps, voltage_line

CHANGEOVER = Rule(
    key="changeover.reserve",
    says="The changeover to the utility must leave the reserve in the pack and stand clear of "
    "the cut-off.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
CHANGEOVER_KNOWN = Rule(
    key="changeover.known",
    says="What the changeover and the return can be set to must be known.",
    source="equipment-manual",
    stands=Standing.GUARD,
)
REACHED = Rule(
    key="changeover.return-reached",
    says="The return to battery must lie under the voltage that charging reaches, or the pack is "
    "never used again.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="physics: charging does not reach that voltage",
    kind=VOLTAGE,
)
HUNTING = Rule(
    key="changeover.hunting",
    says="The return must lie further above the changeover than the voltage rises when the load "
    "goes away, or the inverter switches to and fro.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)

_NOISE = 1e-6  # of a step: 0.1 is not stored exactly


def changeover_and_return(
    ground: Groundwork,
    inverter: Inverter,
    cut: float | None,
    charge: float | None,
    entered: float | None,
) -> tuple[tuple[Setting, ...], list[Finding], float | None, float | None]:
    """Return both lines, the findings, and the voltages of changeover and return [V].

    Parameters
    ----------
    cut : float or None
        The inverter's cut-off [V]; None is not settled.
    charge : float or None
        The voltage that charging surely reaches, as the inverter reads it [V].
    entered : float or None
        The highest charge voltage that is entered on a charger [V]: no more is ever reached.
    """
    goes, comes = inverter.changeover, inverter.return_to_battery
    if goes is NOT_FITTED:
        return (), [], None, None  # without a changeover there is nothing to return from
    names = (Line.CHANGEOVER, Line.RETURN)
    if goes is None or comes is None:
        lines = tuple(ask_for(n, "what can be entered for it", inverter.where) for n in names)
        missing = unknown(
            CHANGEOVER_KNOWN,
            about=inverter.name,
            detail="Nobody said what the changeover to the utility and the return to battery can "
            "be set to.",
            remedy="Find the range and step of both; if the inverter has neither, say "
            "changeover = 'none' and return_to_battery = 'none'.",
        )
        return lines, [missing], None, None
    typical, continuous = ground.demand.typical, ground.demand.continuous
    reserve = ground.build.policy.reserve.m
    # Warm cells sag least, so a changeover set for them keeps the reserve in the cold as well. The
    # return must stand clear of the rebound, which is greatest in the cold.
    ohms = ground.source.ohms_at(reserve, hours=True, warm=True)
    cold_ohms = ground.source.ohms_at(reserve, hours=True)
    if typical is None or continuous is None or ohms is None or cold_ohms is None or cut is None:
        lines = tuple(
            ask_for(n, "all that this setting depends on (see the findings)", inverter.where)
            for n in names
        )
        missing = unknown(
            CHANGEOVER_KNOWN,
            about=inverter.name,
            detail="The changeover depends on the pack's resistance, the inverter's efficiency "
            "and the cut-off, and one of them is unknown.",
            remedy="Clear the findings on those first.",
        )
        return lines, [missing], None, None
    rests = ground.source_rests
    resistance = Input(
        "R", "resistance over hours, cables included", ohms, "Ω", Basis.COMPUTED, rests
    )
    go_line, found, leave = _changeover(
        ground, inverter, goes, resistance=resistance, typical=typical, cut=cut
    )
    if comes is NOT_FITTED:
        by_hand, unset = _return_not_set(inverter, leave, charge)
        return (go_line, by_hand), [*found, unset], None if leave is None else leave.value, None
    if leave is None:
        return (go_line, ask_for(names[1], "a changeover that works")), found, None, None
    cold = "resistance over hours, cables included, cold cells"
    rebounding = Input("R", cold, cold_ohms, "Ω", Basis.COMPUTED, rests)
    back_line, more, back = _return(
        ground,
        inverter,
        comes,
        leave=leave,
        resistance=resistance if cold_ohms == ohms else rebounding,
        continuous=continuous,
        reached=None if charge is None or entered is None else (charge, entered),
    )
    return (go_line, back_line), found + more, leave.value, back


def _return_not_set(
    inverter: Inverter, leave: Worked | None, charge: float | None
) -> tuple[Setting, Finding]:
    """Return the line and the finding for a return that cannot be set.

    Nobody said whether such a device returns by hand, at a voltage of its own or when it holds
    the pack for full, and no entry changes it.
    """
    above = "" if leave is None else f" above the changeover, {leave},"
    under = (
        "" if charge is None else f" and under the {say(charge, 'V')} that charging surely reaches"
    )
    line = Setting(
        name=Line.RETURN,
        act=Act.CANNOT,
        entry="by hand",
        why="This inverter has no entry for it. Return by hand when the pack is well charged. If "
        f"it returns at a voltage of its own, that must lie{above}{under or ' in reach'}. Till "
        "then the utility carries the load and the pack stays charged: no harm to either.",
        where=inverter.where,
    )
    return line, state(
        REACHED,
        Severity.NOTE,
        about=inverter.name,
        detail="Its return cannot be set. Nobody can tell here whether it comes back by itself, at "
        "a voltage of its own or when it holds the pack for full; one that lies above what "
        "charging reaches never comes back, and one too near the changeover goes to and fro. "
        "Neither harms the pack: it rests charged while the utility carries the load.",
        remedy="Try it at commissioning: let it change over, charge, and see that it comes back "
        "once and stays, or return by hand.",
    )


def _changeover(
    ground: Groundwork,
    inverter: Inverter,
    reach: VoltageRange,
    *,
    resistance: Input,
    typical: Worked,
    cut: float,
) -> tuple[Setting, list[Finding], Worked | None]:
    name = Line.CHANGEOVER
    policy, source = ground.build.policy, ground.source
    reserve = ground.guard("reserve", "reserve")
    emf = source.rest_voltage(reserve.value)
    loaded = terminal_voltage(emf, resistance.value, typical.value)
    stops = cut
    if inverter.window_low is not None:  # it stops there, however low its cut-off is set
        stops = max(cut, float(inverter.window_low.m))
    clear = stops + ground.n * ground.targets.ladder_gap.m
    if math.isnan(loaded):
        loaded = 0.0  # the weak pack is a finding of its own; the cut-off rules here
    if loaded >= clear:
        formula = "({E} + √({E}^2 − 4 · {R} · {P})) / 2"
        inputs: tuple[Input, ...] = (
            Input(
                *("E", f"rest voltage at {say(reserve.value, '')}", emf, "V", Basis.COMPUTED),
                (reserve, ground.curve),
            ),
            resistance,
            from_worked("P", typical),
        )
        reason = (
            f"With the typical load the pack shows this voltage when {say(reserve.value, '')} of "
            "its charge is left, kept for outages."
        )
    else:
        formula = "{V_cut} + {n} · {gap}"
        inputs = (
            Input("V_cut", "where the inverter stops", stops, "V", Basis.COMPUTED),
            ground.cells(),
            known(
                "gap",
                "least step between thresholds",
                ground.targets.ladder_gap,
                ground.build.pack.module.chemistry.basis.of("ladder_gap"),
            ),
        )
        reason = (
            f"The reserve of {say(policy.reserve.m, '')} alone would lie too near the cut-off; "
            "this stands clear of it."
        )
    wanted = max(loaded, clear)
    found = at_least(
        CHANGEOVER,
        reach.high,
        VOLTAGE.of(wanted),
        about=inverter.name,
        otherwise=Severity.CAUTION,
        value_name="the highest changeover that can be entered",
        limit_name="the changeover that keeps the reserve",
        remedy=f"Accept a reserve of about {say(source.state_at_rest(reach.high.m), '')}, or "
        "change over by hand or by a counted state of charge.",
    )
    if reach.high.m < clear:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="cannot be set high enough",
            why=f"{say(wanted, 'V')} is needed, and at least {say(clear, 'V')} to stand clear of "
            "the cut-off.",
            offers=offered(reach),
            where=inverter.where,
        )
        return line, [found], None
    if reach.high.m < wanted:
        reason = (
            f"The {say(wanted, 'V')} that would keep {say(reserve.value, '')} cannot be entered; "
            "this is the highest that can, and keeps less for outages."
        )
        first, step = steps(reach, inverter.basis.of("changeover"))
        worked = Worked(
            name=name,
            kind=VOLTAGE,
            formula=f"down(min({formula}, {{most}}), {{from}}, {{step}})",
            inputs=(
                *inputs,
                known("most", "the device's highest entry", reach.high, step.basis),
                first,
                step,
            ),
            source="common-practice",
        )
    else:
        basis = inverter.basis.of("changeover")
        worked = rounded_up(name, formula, wanted, inputs, (reach, basis))
    flat = ground.build.pack.module.chemistry.flat
    line = voltage_line(
        ground,
        name,
        worked,
        why=f"Below this the load goes to the utility. {reason}"
        + (
            " With this chemistry voltage tells little of the charge left; prefer a counted "
            "state of charge where the device has one."
            if flat
            else ""
        ),
        offers=offered(reach),
        where=inverter.where,
    )
    return line, [found], worked


def _return(
    ground: Groundwork,
    inverter: Inverter,
    reach: VoltageRange,
    *,
    leave: Worked,
    resistance: Input,
    continuous: Worked,
    reached: tuple[float, float] | None,
) -> tuple[Setting, list[Finding], float | None]:
    """Return the voltage at which the load comes back to the battery.

    Wanted is: the changeover, plus what the voltage rises when the greatest load goes away, plus
    the rise in open-circuit voltage over the charge to regain, plus both meter errors. Where
    charging does not surely reach that, the highest that it does reach is taken. `reached` are
    what charging surely reaches, and the most that is entered on a charger [V].
    """
    name, source = Line.RETURN, ground.source
    error = meter_error(ground, inverter)
    rise = ground.guard("ΔSoC", "return_rise")
    reserve = ground.build.policy.reserve.m
    top = min(1.0, reserve + rise.value)
    gained = source.rest_voltage(top) - source.rest_voltage(reserve)
    rebound = continuous.value / leave.value * resistance.value
    errors = 2 * error.value * leave.value
    wanted = leave.value + rebound + gained + errors
    if reached is None:
        return (
            ask_for(name, "a charge voltage; settle that first", inverter.where),
            [
                unknown(
                    REACHED,
                    about=inverter.name,
                    detail="No charger's charge voltage is settled, so nobody knows what "
                    "charging reaches.",
                    remedy="Settle a charge voltage: see the findings on what charges the pack.",
                )
            ],
            None,
        )
    surely, entered = reached
    basis = inverter.basis.of("return_to_battery")
    first, step = steps(reach, basis)
    # The next entry above the changeover: at it or below, the load would come back at once.
    after = down_to_step(leave.value, first.value, step.value) + step.value
    least = max(float(reach.low.m), after)
    if least > reach.high.m + _NOISE * step.value:
        return _too_low(inverter, reach, leave, rebound + errors)
    in_reach = at_most(
        REACHED,
        VOLTAGE.of(least),
        VOLTAGE.of(entered),
        about=inverter.name,
        otherwise=Severity.STOP,
        value_name="the lowest return that could work",
        limit_name="the highest charge voltage that is entered",
        guarded=VOLTAGE.of(least + entered - surely),
        guarded_for="the charger that ends lowest and the errors of the meters",
        remedy="Lower the reserve, or raise the charge target. If it is returned by hand, say "
        "return_to_battery = 'none'.",
    )
    if in_reach.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="no entry works",
            why=f"It must lie above the changeover, {leave}, and under the {say(entered, 'V')} "
            "that charging reaches: with what can be entered the pack is never used again.",
            offers=offered(reach),
            where=inverter.where,
        )
        return line, [in_reach], None
    most = down_to_step(min(reach.high.m, surely), first.value, step.value)
    value = up_to_step(max(wanted, reach.low.m), first.value, step.value)
    cut_short = value > most
    value = max(least, min(value, most))
    inputs = (
        from_worked("V_go", leave),
        from_worked("P", continuous),
        resistance,
        Input("ΔE", f"rise at rest over {say(rise.value, '')}", gained, "V", Basis.COMPUTED),
        error,
    )
    formula = "{V_go} + {P} / {V_go} · {R} + {ΔE} + 2 · {ε} · {V_go}"
    if cut_short:
        in_reach_at_most = Input(
            "V_reach", "highest return that charging surely reaches", most, "V", Basis.COMPUTED
        )
        at_least_ = Input(
            "V_least", "lowest entry above the changeover", least, "V", Basis.COMPUTED
        )
        worked = Worked(
            name=name,
            kind=VOLTAGE,
            formula=f"max({{V_least}}, min({formula}, {{V_reach}}))",
            inputs=(*inputs, in_reach_at_most, at_least_),
            source="common-practice",
        )
    else:
        worked = rounded_up(name, formula, wanted, inputs, (reach, basis))
    hunting = at_least(
        HUNTING,
        VOLTAGE.of(value - leave.value),
        VOLTAGE.of(rebound + errors),
        rests=(resistance, continuous, leave, error),
        about=inverter.name,
        otherwise=Severity.CAUTION,
        value_name="the gap between changeover and return",
        limit_name="the rise when the load goes away, meter errors included",
        remedy="Lower the reserve or the continuous load, or use thicker cables: the inverter "
        "would switch to and fro.",
    )
    short = (
        f" Charging does not reach the {say(wanted, 'V')} wanted, so less is regained."
        if cut_short
        else ""
    )
    line = voltage_line(
        ground,
        name,
        worked,
        why=f"Above this the load comes back to the battery. At rest that is "
        f"{say(source.state_at_rest(value), '')} of charge; while it is being charged the pack "
        f"shows it sooner. When the full load goes away the voltage alone rises by "
        f"{say(rebound, 'V')}; the gap is wider than that, so the inverter does not switch to and "
        f"fro.{short}"
        if hunting.severity is Severity.OK
        else f"Above this the load comes back to the battery. The gap is too narrow: see the "
        f"findings.{short}",
        offers=offered(reach),
        where=inverter.where,
    )
    if cut_short and in_reach.severity is Severity.OK:
        in_reach = state(
            REACHED,
            Severity.NOTE,
            about=inverter.name,
            detail=f"Charging surely reaches {say(most, 'V')}; the return is set to {worked}.",
        )
    return line, [hunting, in_reach], value


def _too_low(
    inverter: Inverter, reach: VoltageRange, leave: Worked, needed: float
) -> tuple[Setting, list[Finding], None]:
    """Tell that every return that can be entered lies at or below the changeover."""
    found = at_least(
        HUNTING,
        VOLTAGE.of(float(reach.high.m) - leave.value),
        VOLTAGE.of(needed),
        about=inverter.name,
        otherwise=Severity.CAUTION,
        value_name="the gap between the changeover and the highest return that can be entered",
        limit_name="the rise when the load goes away, meter errors included",
        remedy=f"Lower the reserve till the changeover lies {say_up(needed, 'V')} or more under "
        f"{say(reach.high.m, 'V')}, or turn the changeover by voltage off and change over by hand: "
        "as it is the inverter switches to and fro.",
    )
    line = Setting(
        name=Line.RETURN,
        act=Act.CANNOT,
        entry="cannot be set high enough",
        why=f"The highest entry, {say(reach.high.m, 'V')}, does not lie above the changeover, "
        f"{leave}: the load would come back at once, and go again.",
        offers=offered(reach),
        where=inverter.where,
    )
    return line, [found], None
