"""The bounds of a fuse's rating: what it must carry for good, and what it has to guard."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from evpack.base.basis import Basis, weakest
from evpack.base.units import CURRENT, VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.array import Array
from evpack.describe.cabling import Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.outcome.groundwork import Groundwork, Sharing, unequal_leads
from evpack.outcome.protection import HeldBy, Hours
from evpack.outcome.settings import Act, Line, SettingsSheet


def needed_voltage(ground: Groundwork) -> Worked:
    """Return the DC voltage that every fuse must break [V]."""
    chemistry = ground.build.pack.module.chemistry
    # Not the module's own tighter limit: it is kept by settings, and a fuse must not lean on them.
    highest = chemistry.limits.highest
    return Worked(
        name="DC voltage to break",
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


# NEC 215.3, 706.31 and 690.9(B), from memory: a device for a continuous current is rated 125 % of
# it. IEC 60364-4-43, 433.1 asks no more than the current itself.
_NEC_CONTINUOUS = 1.25
# What is left of a fuse in warm air: all of it up to 25 °C, the 85 % of the trade at 60 °C, on a
# straight line between. Common practice, no source.
_COOL, _WARM, _WARM_PART = 25.0, 60.0, 0.85


def clause_factor(rules: str) -> float:
    """Return what a rule set multiplies a continuous current with [1]."""
    return _NEC_CONTINUOUS if rules == "nec" else 1.0


def continuous(ground: Groundwork) -> Input | None:
    """Return what the rule set multiplies a continuous current with; None: with nothing."""
    if ground.build.site.rules == "iec":
        return None
    return Input("k_c", "125 % of a continuous current", _NEC_CONTINUOUS, "", Basis.COMPUTED)


def least_rating(ground: Groundwork, name: str, current: Input) -> Worked:
    """Return the least fuse rating that the rule set allows for a continuous current [A]."""
    factor = continuous(ground)
    if factor is None:
        return Worked(
            name=name,
            kind=CURRENT,
            formula=f"{{{current.symbol}}}",
            inputs=(current,),
            source="iec-60364-4-43",
        )
    return Worked(
        name=name,
        kind=CURRENT,
        formula=f"{{{current.symbol}}} · {{k_c}}",
        inputs=(current, factor),
        source="nec-706",
    )


def guarded_rating(
    ground: Groundwork, name: str, current: Input, *, rippling: bool = True
) -> Worked:
    """Return the least fuse rating with our margins: hours of it, ripple, a warm box [A].

    Parameters
    ----------
    rippling : bool
        Whether an inverter's ripple flows in it.
    """
    factors = [ground.guard("k_c", "continuous_factor")]
    if rippling:
        factors.append(ground.guard("k_r", "ripple"))
    warm = warmth(ground)
    return Worked(
        name=f"{name}, with our margin",
        kind=CURRENT,
        formula=" · ".join(f"{{{i.symbol}}}" for i in (current, *factors)) + " / {k_t}",
        inputs=(current, *factors, warm),
        source="common-practice",
    )


def warmth(ground: Groundwork) -> Input:
    """Return what a warm enclosure leaves of a fuse [1]: a stated ambient goes before the guard.

    The warmest that the site gets counts where it lies above that, as it does for conductors.
    """
    air = fuse_air(ground)
    if air is None:
        return ground.guard("k_t", "fuse_ambient")
    celsius = air.value
    part = 1 - (1 - _WARM_PART) * max(0.0, celsius - _COOL) / (_WARM - _COOL)
    means = f"what air of {say(celsius, '°C')} leaves of a fuse"
    return Input("k_t", means, part, "", air.basis)


def fuse_air(ground: Groundwork) -> Input | None:
    """Return the warmest air that is reckoned with around the fuses [°C]; None: nobody said."""
    safeguards, site = ground.build.safeguards, ground.build.site
    if safeguards.ambient is None:
        return None
    if site.warmest is not None and site.warmest.m > safeguards.ambient.m:
        means = "warmest of the site, above what was said of the fuses"
        return known("T", means, site.warmest, site.basis.of("warmest"))
    means = "warmest air around the fuses"
    return known("T", means, safeguards.ambient, safeguards.basis.of("ambient"))


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


@attrs.frozen
class Limit:
    """The highest rating for something that a fuse guards [A]: its formula, value and inputs."""

    formula: str
    value: float
    inputs: tuple[Input, ...]


def conductor_bound(run: Run, symbol: str, held: HeldBy) -> Limit:
    """Return the highest rating that the rule set allows for a run [A].

    By NEC the next standard size above its ampacity, where that is none itself (240.4(B)); by IEC
    what the fuse carries for hours within what the conductor does (433.1).
    """
    wire = _ampacity(run, symbol)
    if held.rules == "iec":
        return _for_hours(wire) if held.as_gg else Limit(f"{{{symbol}}}", wire.value, (wire,))
    value = next_size_up(wire.value, held.sizes)
    if value == wire.value:
        return Limit(f"{{{symbol}}}", wire.value, (wire,))
    means = f"next standard size above the {wire.means}, {say(wire.value, 'A')}"
    return Limit(f"{{{symbol}}}", value, (attrs.evolve(wire, means=means, value=value),))


def conductor_guard(run: Run, symbol: str, held: HeldBy) -> Limit:
    """Return the highest rating for a run with our margin: no more than it carries [A]."""
    wire = _ampacity(run, symbol)
    return _for_hours(wire) if held.as_gg else Limit(f"{{{symbol}}}", wire.value, (wire,))


def _for_hours(wire: Input) -> Limit:
    times = _gg_for_hours(wire.value)
    part = Input(
        "k_2",
        f"1.45 / {times:g}: a gG or gR link of this size may carry {times:g} times its rating for "
        "hours, a conductor 1.45 times",
        _WIRE_FOR_HOURS / times,
        "",
        Basis.ASSUMED,
    )
    return Limit(f"{{{wire.symbol}}} · {{k_2}}", wire.value * part.value, (wire, part))


# NEC 240.4(B), from memory: the next standard size up ends at 800 A.
_NEXT_UP_ENDS = 800.0


def next_size_up(ampacity: float, sizes: Sequence[float]) -> float:
    """Return the highest standard rating that NEC allows for an ampacity [A] (240.4(B))."""
    above = next((size for size in sizes if size >= ampacity), ampacity)
    return above if above <= _NEXT_UP_ENDS else ampacity


def most_rating(held: HeldBy, ampacity: float) -> float:
    """Return the highest rating that the rule set allows for an ampacity [A]."""
    if held.rules == "nec":
        return next_size_up(ampacity, held.sizes)
    return guards(ampacity, as_gg=held.as_gg)


def least_of(name: str, limits: Sequence[Limit], source: str) -> Worked:
    """Return the least of several limits [A]."""
    formulas = ", ".join(limit.formula for limit in limits)
    inputs = dict.fromkeys(i for limit in limits for i in limit.inputs)
    return Worked(
        name=name,
        kind=CURRENT,
        formula=formulas if len(limits) == 1 else f"min({formulas})",
        inputs=tuple(inputs),
        source=source,
    )


def run_bound(
    run: Run | None, name: str, symbol: str, held: HeldBy, *, guarded: bool = False
) -> Worked | None:
    """Return the highest fuse that guards a run [A]; None where the run is unknown."""
    if run is None:
        return None
    limit = (conductor_guard if guarded else conductor_bound)(run, symbol, held)
    return least_of(name, [limit], run.conductor.ampacity_source)


def array_bound(
    array: Array, run: Run | None, held: HeldBy, *, guarded: bool = False
) -> Worked | None:
    """Return the highest fuse of a solar string [A]: what panel and cable stand."""
    if run is None or array.largest_fuse is None:
        return None
    panel = known(
        "I_panel",
        "largest fuse that the panel allows",
        array.largest_fuse,
        array.basis.of("largest_fuse"),
    )
    wire = (conductor_guard if guarded else conductor_bound)(run, "I_cable", held)
    return least_of(
        "highest array string fuse",
        [wire, Limit("{I_panel}", panel.value, (panel,))],
        run.conductor.ampacity_source,
    )


def string_bound(
    ground: Groundwork, held: HeldBy, flows: Hours | None, *, guarded: bool = False
) -> Worked | None:
    """Return the highest string fuse that guards lead, link cables and the modules' links [A].

    Parameters
    ----------
    flows : Hours or None
        What flows in a string for hours; not asked for with our margin.
    """
    lead, cable = ground.build.cabling.module_lead, ground.build.cabling.link
    if lead is None or _link_limit(ground) is None:
        return None
    of = conductor_guard if guarded else conductor_bound
    limits = [of(lead, "I_lead", held)]
    if cable is not None:
        joint = of(cable, "I_joint", held)
        limits.append(joint)
    link = link_most(ground, held, flows, guarded=guarded)
    if link is not None:
        limits.append(Limit("{I_link}", link.value, (link,)))
    return least_of("highest string fuse", limits, lead.conductor.ampacity_source)


def link_most(
    ground: Groundwork, held: HeldBy, flows: Hours | None, *, guarded: bool = False
) -> Input | None:
    """Return what the modules' links let a string fuse be [A]; None where they do not bound it.

    Where their own limit is unknown, the discharge limit of the modules stands in for it, and
    without that nobody can tell. Links that must carry more than that for hours are bounded by
    it. Where they do so only when other strings are out, a fuse for that current and the next
    standard size is as far as we go: no clause speaks of links that nobody knows. Links that
    never do need no guard against it, and the stand-in is our margin alone.
    """
    link, module = _link_limit(ground), ground.build.pack.module
    if link is None or guarded or module.link_limit is not None or flows is None:
        return link
    if flows.share > link.value:
        return link
    if flows.alone <= link.value:
        return None
    size = next_size_up(link.value * clause_factor(ground.build.site.rules), held.sizes)
    means = f"a fuse for the {link.means}, {say(link.value, 'A')}"
    return attrs.evolve(link, means=means, value=max(size, link.value))


def _link_limit(ground: Groundwork) -> Input | None:
    """Return what the modules' links stand [A]; the discharge limit where nobody said it."""
    module = ground.build.pack.module
    if module.link_limit is not None:
        basis = module.basis.of("link_limit")
        return known("I_link", "limit of the modules' links", module.link_limit, basis)
    if module.discharge_limit is None:
        return None
    return known(
        "I_link",
        "discharge limit of a module, links not stated",
        module.discharge_limit,
        module.basis.of("discharge_limit"),
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


def charge_of(settings: SettingsSheet | None, charger: Charger) -> Input | None:
    """Return what one unit of a charger gives [A]: as set, else all that it can; None is unknown.

    A current that is set and not merely rated is a fact. Where it is changed, the fuses open.
    """
    device = None if settings is None else settings.device(charger.name)
    line = None if device is None else device.line(Line.CURRENT)
    if line is not None and line.worked is not None and line.act is Act.ENTER:
        return from_worked("I_set", line.worked)
    if charger.current is None:
        return None
    basis = charger.basis.of("current")
    return known("I_set", f"current of {charger.name}", charger.current, basis)


def _given(ground: Groundwork, settings: SettingsSheet | None) -> list[tuple[int, Input]]:
    return [
        (c.count, one)
        for c in ground.build.all_chargers
        if (one := charge_of(settings, c)) is not None
    ]


def all_charge(ground: Groundwork, settings: SettingsSheet | None) -> float:
    """Return what all chargers give together as they are set [A]."""
    return sum(units * one.value for units, one in _given(ground, settings))


def string_charge(ground: Groundwork, settings: SettingsSheet | None) -> Worked | None:
    """Return what a string takes with every charger as set, shared evenly [A]; None without any.

    Unlike leads count, since they are there; what else may be uneven is a guard. A charger that
    does not say what it gives is left out here, and held up by a finding of its own.
    """
    given = _given(ground, settings)
    total = all_charge(ground, settings)
    strings = ground.build.pack.strings
    if total <= 0:
        return None
    basis = weakest(one.basis for _, one in given)
    leads = unequal_leads(ground.build, strings)
    factors = () if leads is None else (from_worked("k_lead", leads),)
    return Worked(
        name="a string with every charger as it is set",
        kind=CURRENT,
        formula="{I_all} / {N}" + "".join(f" · {{{factor.symbol}}}" for factor in factors),
        inputs=(
            Input("I_all", "current of all chargers as set", float(total), "A", basis),
            count("N", "strings in parallel", strings),
            *factors,
        ),
        source="arithmetic",
    )


def evenly(sharing: Sharing) -> Worked:
    """Return what a string carries of an even share, with what unlike leads do to it [A]."""
    if sharing.leads is None:
        return sharing.even
    return Worked(
        name="string on the shortest lead",
        kind=CURRENT,
        formula="{I_even} · {k_lead}",
        inputs=(from_worked("I_even", sharing.even), from_worked("k_lead", sharing.leads)),
        source="ohms-law",
    )


def unevenly(ground: Groundwork, current: Worked) -> Worked:
    """Return a string's current with the imbalance that we reckon with [A]."""
    if ground.build.pack.strings == 1:
        return current
    uneven = ground.guard("k", "sharing_imbalance")
    return Worked(
        name=f"{current.name}, shared unevenly",
        kind=CURRENT,
        formula="{I} · {k}",
        inputs=(from_worked("I", current), uneven),
        source="common-practice",
    )
