"""The bounds of a fuse's rating: what it must carry for good, and what it has to guard."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, VOLTAGE
from evpack.base.worked import Input, Worked, count, known
from evpack.describe.array import Array
from evpack.describe.cabling import Run
from evpack.describe.inverter import Inverter
from evpack.outcome.groundwork import Groundwork


def needed_voltage(ground: Groundwork) -> Worked:
    """Return the DC voltage that every fuse must break [V]."""
    pack, chemistry = ground.build.pack, ground.build.pack.module.chemistry
    # Not the module's own tighter limit: it is kept by settings, and a fuse must not lean on them.
    highest = chemistry.limits.highest
    return Worked(
        name="DC voltage to break",
        value=pack.cells_in_series * highest.m,
        kind=VOLTAGE,
        formula="{n} · {V_max}",
        inputs=(
            ground.cells(),
            known(
                "V_max",
                "highest voltage of a cell of this chemistry",
                highest,
                chemistry.basis.of("highest"),
            ),
        ),
        source="arithmetic",
    )


def least_rating(ground: Groundwork, name: str, current: Input, *, rippling: bool = True) -> Worked:
    """Return the least fuse rating for a continuous current [A].

    Parameters
    ----------
    rippling : bool
        Whether an inverter's ripple flows in it.
    """
    factor = ground.guard("k_c", "continuous_factor")
    ripple = ground.guard("k_r", "ripple")
    warm = ground.guard("k_t", "fuse_ambient")
    if not rippling:
        return Worked(
            name=name,
            value=current.value * factor.value / warm.value,
            kind=CURRENT,
            formula=f"{{{current.symbol}}} · {{k_c}} / {{k_t}}",
            inputs=(current, factor, warm),
            source="nec-706",
        )
    return Worked(
        name=name,
        value=current.value * factor.value * ripple.value / warm.value,
        kind=CURRENT,
        formula=f"{{{current.symbol}}} · {{k_c}} · {{k_r}} / {{k_t}}",
        inputs=(current, factor, ripple, warm),
        source="nec-706",
    )


def _ampacity(run: Run, symbol: str) -> Input:
    return Input(
        symbol,
        f"ampacity of {run.parallel} × {run.conductor.size} ({run.conductor.conditions})",
        float(run.ampacity.m),
        "A",
        run.basis.of("conductor"),
    )


# IEC 60364-4-43, 433.1 (from memory): I2 ≤ 1.45 Iz. What a gG link may carry for hours against its
# rating (I2 / In): 1.6 from 16 A on, 1.9 above 4 A, else 2.1 (IEC 60269-1, from memory).
_WIRE_FOR_HOURS = 1.45
_GG_FOR_HOURS = ((16.0, 1.6), (4.0, 1.9), (0.0, 2.1))


def _gg_for_hours(ampacity: float) -> float:
    """Return how many times its rating a gG link for a wire carries for hours.

    That of the larger links only where the wire stands the smaller ones too, up to their end.
    """
    (most, large), (more, middle), (_, small) = _GG_FOR_HOURS
    if ampacity * _WIRE_FOR_HOURS / middle >= most:
        return large
    return middle if ampacity * _WIRE_FOR_HOURS / small >= more else small


def guards(ampacity: float, *, as_gg: bool) -> float:
    """Return the highest fuse rating that guards a conductor of an ampacity [A].

    Parameters
    ----------
    as_gg : bool
        Whether it is guarded as by a gG link: by IEC always, by NEC where one is used.
    """
    if not as_gg:
        return ampacity
    return ampacity * (_WIRE_FOR_HOURS / _gg_for_hours(ampacity))


def conductor_bound(run: Run, symbol: str, *, as_gg: bool) -> tuple[str, float, tuple[Input, ...]]:
    """Return the highest rating that guards a run [A]: its formula, value and inputs."""
    wire = _ampacity(run, symbol)
    if not as_gg:
        return f"{{{symbol}}}", wire.value, (wire,)
    times = _gg_for_hours(wire.value)
    part = Input(
        "k_2",
        f"1.45 / {times:g}: a gG or gR link of this size may carry {times:g} times its rating for "
        "hours, a conductor 1.45 times",
        _WIRE_FOR_HOURS / times,
        "",
        Basis.ASSUMED,
    )
    return f"{{{symbol}}} · {{k_2}}", wire.value * part.value, (wire, part)


def run_bound(run: Run | None, name: str, symbol: str, *, as_gg: bool) -> Worked | None:
    """Return the highest fuse that guards a run [A]; None where the run is unknown."""
    if run is None:
        return None
    formula, guarded, wire = conductor_bound(run, symbol, as_gg=as_gg)
    return Worked(
        name=name,
        value=guarded,
        kind=CURRENT,
        formula=formula,
        inputs=wire,
        source=run.conductor.ampacity_source,
    )


def array_bound(array: Array, run: Run | None, *, as_gg: bool) -> Worked | None:
    """Return the highest fuse of a solar string [A]: what panel and cable stand."""
    if run is None or array.largest_fuse is None:
        return None
    formula, guarded, wire = conductor_bound(run, "I_cable", as_gg=as_gg)
    panel = known(
        "I_panel",
        "largest fuse that the panel allows",
        array.largest_fuse,
        array.basis.of("largest_fuse"),
    )
    return Worked(
        name="highest array string fuse",
        value=min(guarded, panel.value),
        kind=CURRENT,
        formula=f"min({formula}, {{I_panel}})",
        inputs=(*wire, panel),
        source=run.conductor.ampacity_source,
    )


def string_bound(ground: Groundwork, *, as_gg: bool) -> Worked | None:
    """Return the highest string fuse that guards lead, link cables and the modules' links [A].

    Where the modules' own link limit is unknown, their discharge limit stands in for it.
    """
    lead, module = ground.build.cabling.module_lead, ground.build.pack.module
    if lead is None:
        return None
    if module.link_limit is not None:
        link = known(
            "I_link",
            "limit of the modules' links",
            module.link_limit,
            module.basis.of("link_limit"),
        )
    elif module.discharge_limit is not None:
        link = known(
            "I_link",
            "discharge limit of a module, links not stated",
            module.discharge_limit,
            module.basis.of("discharge_limit"),
        )
    else:
        return None
    formula, guarded, wire = conductor_bound(lead, "I_lead", as_gg=as_gg)
    inputs, cable = (*wire, link), ground.build.cabling.link
    if cable is not None:
        part, held, joint = conductor_bound(cable, "I_joint", as_gg=as_gg)
        formula, guarded = f"{formula}, {part}", min(guarded, held)
        inputs = (*wire, *(i for i in joint if i not in wire), link)
    return Worked(
        name="highest string fuse",
        value=min(guarded, link.value),
        kind=CURRENT,
        formula=f"min({formula}, {{I_link}})",
        inputs=inputs,
        source=lead.conductor.ampacity_source,
    )


def inverter_current(inverter: Inverter) -> Worked | None:
    """Return the current of one inverter at full output and its lowest input voltage [A].

    The bottom of its own window, not the cut-off that somebody entered: an entry can be changed.
    """
    return _at_lowest(inverter, "continuous", "continuous output", "full output", "nec-706")


def inverter_surge(inverter: Inverter) -> Worked | None:
    """Return the current of one inverter at full surge and its lowest input voltage [A]."""
    return _at_lowest(inverter, "surge", "surge output", "full surge", "common-practice")


def _at_lowest(inverter: Inverter, field: str, means: str, when: str, source: str) -> Worked | None:
    power, low = getattr(inverter, field), inverter.window_low
    if power is None or inverter.efficiency is None or inverter.idle is None:
        return None
    if low is None or low.m <= 0:
        return None
    basis = inverter.basis
    return Worked(
        name=f"current of {inverter.name} at {when} and lowest voltage",
        value=(power.m / inverter.efficiency.m + inverter.idle.m) / low.m,
        kind=CURRENT,
        formula="({P} / {η} + {P_idle}) / {V_low}",
        inputs=(
            known("P", means, power, basis.of(field)),
            known("η", "efficiency", inverter.efficiency, basis.of("efficiency")),
            known("P_idle", "idle draw", inverter.idle, basis.of("idle")),
            known("V_low", "bottom of its window", low, basis.of("window_low")),
        ),
        source=source,
    )


def string_charge(ground: Groundwork) -> Worked | None:
    """Return what the busiest string takes with every charger at its most [A]; None without any.

    Not what was entered: an entry can be changed. A charger that does not say what it gives is
    left out here, and held up by a finding of its own.
    """
    total = sum(c.count * c.current.m for c in ground.build.all_chargers if c.current is not None)
    strings = ground.build.pack.strings
    if total <= 0:
        return None
    uneven = ground.uneven(strings)
    return Worked(
        name="worst string with every charger at its most",
        value=total / strings * ground.unevenness(strings),
        kind=CURRENT,
        formula="{I_all} / {N}" + "".join(f" · {{{factor.symbol}}}" for factor in uneven),
        inputs=(
            Input("I_all", "current of all chargers", float(total), "A", Basis.COMPUTED),
            count("N", "strings in parallel", strings),
            *uneven,
        ),
        source="common-practice",
    )
