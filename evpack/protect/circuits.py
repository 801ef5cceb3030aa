"""The circuits of the installation: strings, mains, chargers, arrays, each with its bounds."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.basis import Basis
from evpack.base.units import CURRENT
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.safeguards import FuseCatalogue, FuseFamily
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork, Sharing
from evpack.outcome.protection import (
    ARRAY,
    CHARGER,
    MAIN,
    STRING,
    Circuit,
    FaultBand,
    HeldBy,
    Hours,
)
from evpack.outcome.settings import SettingsSheet
from evpack.protect.bounds import (
    all_charge,
    array_bound,
    evenly,
    guarded_rating,
    inverter_current,
    inverter_surge,
    least_rating,
    needed_voltage,
    run_bound,
    string_bound,
    string_charge,
    unevenly,
    warmth,
)
from evpack.protect.fault import BUS, FED, at_terminals
from evpack.protect.fault import STRING as OWN

Bands = Mapping[str, FaultBand]


def circuits(
    ground: Groundwork,
    sharing: Sharing | None,
    bands: Bands,
    solar: tuple[SolarSide, ...],
    catalogue: FuseCatalogue,
    *,
    settings: SettingsSheet | None = None,
) -> tuple[Circuit, ...]:
    """Return every circuit, the strings first."""
    build, guards = ground.build, ground.build.safeguards
    wants = (guards.string_fuse, guards.main_fuse, guards.charger_fuse)
    string, main, charging = (held_by(build, catalogue, wanted) for wanted in wants)
    panels = held_by(build, catalogue, guards.array_fuse or _MADE_FOR_PANELS)
    sides = {side.array: side for side in solar}
    return (
        _strings(ground, sharing, bands, settings, string),
        *(_main(ground, inverter, bands, main) for inverter in build.inverters),
        *(_charger(ground, charger, bands, charging) for charger in build.joined_chargers),
        *(_array(ground, a, sides.get(a.name), panels) for a in build.solar_arrays),
    )


# Links that may carry more than 1.45 times their rating for hours: 1.6 times (IEC 60269-1). Those
# for solar strings open at 1.45 times (IEC 60269-6), breakers at 1.45 or 1.3 times (IEC 60898-1,
# 60947-2), UL 248 links at 1.35 times. All from memory.
_SLOW_FOR_HOURS = frozenset({"gG", "gR"})


def held_by(build: Build, catalogue: FuseCatalogue, wanted: FuseFamily | str) -> HeldBy:
    """Return by what the rating of a fuse that is wanted is held."""
    family, rules = catalogue.family(wanted), build.site.rules
    as_gg = family is not None and family.characteristic in _SLOW_FOR_HOURS
    if rules == "iec" and family is not None and family.kind == "fuse":
        as_gg = as_gg or not family.characteristic  # unsaid counts as the slowest
    elif rules == "iec" and family is None:
        as_gg = True  # gG links are tried first
    # What NEC calls the next standard size is of its own list, whatever sizes are made.
    return HeldBy(rules=rules, as_gg=as_gg, sizes=catalogue.sizes)


def _strings(
    ground: Groundwork,
    sharing: Sharing | None,
    bands: Bands,
    settings: SettingsSheet | None,
    held: HeldBy,
) -> Circuit:
    build = ground.build
    strings, lead = build.pack.strings, build.cabling.module_lead
    highs = [b.high for b in (bands[OWN], bands.get(FED)) if b is not None]
    charging, lower, guarded, better, carries, even, hours = (
        string_charge(ground, settings),
        None,
        None,
        None,
        None,
        None,
        None,
    )
    if sharing is not None:
        name, carries, even = "least string fuse", sharing.worst, evenly(sharing)
        rippling = True
        if charging is not None and charging.value > even.value:
            name, carries, even = f"{name}, charging", unevenly(ground, charging), charging
            rippling = False  # chargers give smooth current
        lower = least_rating(ground, name, from_worked("I", even))
        guarded = guarded_rating(ground, name, from_worked("I", carries), rippling=rippling)
        alone = max(sharing.total.value, all_charge(ground, settings))
        hours = Hours(share=even.value, alone=alone)
        if sharing.one_out is not None:
            better = guarded_rating(
                ground, "least string fuse, one string out", from_worked("I", sharing.one_out)
            )
    return Circuit(
        kind=STRING,
        place=f"each string, at {_string_end(build)}",
        source="string",
        end="bus",
        count=strings,
        ends=2 if build.safeguards.both_ends else 1,
        run=lead,
        run_key="[cabling.module_lead]",
        carries=carries,
        evenly=even,
        hours=hours,
        surge=_string_surge(ground, sharing),
        lower=lower,
        lower_guard=guarded,
        better=better,
        upper=string_bound(ground, held, hours),
        upper_guard=string_bound(ground, held, None, guarded=True),
        held=held,
        voltage=needed_voltage(ground),
        interrupting=max(highs, key=lambda w: w.value),
        surely=max(bands[place].known_high for place in (OWN, FED) if place in bands),
        least_fault=_least_through_string(strings, {k: b.low for k, b in bands.items()}),
        firm_fault=_least_through_string(strings, {k: b.firm for k, b in bands.items()}),
        wanted=build.safeguards.string_fuse,
        section="protection.string_fuse",
        guarded_by="[cabling.module_lead], and link_limit or discharge_limit under [module]",
    )


def _string_end(build: Build) -> str:
    end = f"its {build.pack.fused_pole} terminal"
    if build.safeguards.both_poles:
        end = "both its terminals"
    return f"{end} and at the bus end of its lead" if build.safeguards.both_ends else end


def _string_surge(ground: Groundwork, sharing: Sharing | None) -> Worked | None:
    """Return what the busiest string carries while the inverters surge [A]."""
    surge, rated = ground.demand.surge, ground.demand.rated
    if sharing is None or surge is None or rated is None:
        return None
    return Worked(
        name="worst string at full surge",
        kind=CURRENT,
        formula="{I} · {P_surge} / {P}",
        inputs=(
            from_worked("I", sharing.worst),
            from_worked("P_surge", surge),
            from_worked("P", rated),
        ),
        source="arithmetic",
    )


def _least_through_string(strings: int, bands: Mapping[str, Worked | None]) -> Worked | None:
    """Return the lowest fault current that a string's fuse must clear [A]; None is unknown.

    A fault in its own string is fed by the others; one on the bus by every string, and then each
    fuse sees only what its own string gives.
    """
    if strings == 1:
        return bands[BUS]
    fed, bus = bands[FED], bands[BUS]
    if fed is None or bus is None:
        return None
    share = Worked(
        name="what one string gives into a fault at the bus",
        kind=CURRENT,
        formula="{I} / {N}",
        inputs=(from_worked("I", bus), count("N", "strings in parallel", strings)),
        source="ohms-law",
    )
    return min(fed, share, key=lambda w: w.value)


def _at_bus(build: Build) -> str:
    """Return where a fuse at the bus stands; an earthed plus is worth a word."""
    plus = build.pack.earthed == "plus" and not build.safeguards.both_poles
    return "at the negative bus" if plus else "at the bus"


def _main(ground: Groundwork, inverter: Inverter, bands: Bands, held: HeldBy) -> Circuit:
    build = ground.build
    run = build.cabling.run_of(inverter, build.cabling.main)
    carries, lower, guarded = inverter_current(inverter), None, None
    if carries is not None:
        name, rippling = "least main fuse", True
        charger = inverter.charger_in_use
        if charger and charger.current is not None:
            own = _most(charger, "current of the built-in charger", charger.count)
            if own.value > carries.value:
                name, carries, rippling = f"{name}, charging", own, False
        current = from_worked("I", carries)
        lower = least_rating(ground, name, current)
        guarded = guarded_rating(ground, name, current, rippling=rippling)
    own_run = inverter.name in build.cabling.own
    return Circuit(
        kind=MAIN,
        place=f"main, {_at_bus(build)}, to {inverter.name}",
        device=inverter.name,
        source="bus",
        end=inverter.name,
        count=inverter.count,
        run=run,
        run_key=f'[cabling.own."{inverter.name}"]' if own_run else "[cabling.main]",
        carries=carries,
        surge=inverter_surge(inverter),
        lower=lower,
        lower_guard=guarded,
        upper=run_bound(run, "highest main fuse", "I_main", held),
        upper_guard=run_bound(run, "highest main fuse", "I_main", held, guarded=True),
        held=held,
        voltage=needed_voltage(ground),
        interrupting=bands[BUS].high,
        surely=bands[BUS].known_high,
        least_fault=bands[at_terminals(inverter.name)].low,
        firm_fault=bands[at_terminals(inverter.name)].firm,
        wanted=build.safeguards.main_fuse,
        section="protection.main_fuse",
        guarded_by="[cabling.main]",
        both_ways=inverter.may_charge,
    )


def _most(charger: Charger, what: str, units: int = 1) -> Worked:
    """Return what so many units of a charger give together, on one cable [A]."""
    assert charger.current is not None  # noqa: S101  (asked by the callers)
    given = known("I_most", what, charger.current, charger.basis.of("current"))
    return Worked(
        name=what,
        kind=CURRENT,
        formula="{I_most}" if units == 1 else "{N_u} · {I_most}",
        inputs=(given,) if units == 1 else (count("N_u", "units on one cable", units), given),
        source="equipment-manual",
    )


def _charger(ground: Groundwork, charger: Charger, bands: Bands, held: HeldBy) -> Circuit:
    build = ground.build
    run = build.cabling.run_of(charger, build.cabling.charger)
    carries = None if charger.current is None else _most(charger, f"current of {charger.name}")
    name, lower, guarded = "least charger fuse", None, None
    if carries is not None:
        lower = least_rating(ground, name, from_worked("I", carries))
        guarded = guarded_rating(ground, name, from_worked("I", carries), rippling=False)
    own_run = charger.name in build.cabling.own
    return Circuit(
        kind=CHARGER,
        place=f"charger, {_at_bus(build)}, from {charger.name}",
        device=charger.name,
        source="bus",
        end=charger.name,
        count=charger.count,
        run=run,
        run_key=f'[cabling.own."{charger.name}"]' if own_run else "[cabling.charger]",
        carries=carries,
        lower=lower,
        lower_guard=guarded,
        upper=run_bound(run, "highest charger fuse", "I_cable", held),
        upper_guard=run_bound(run, "highest charger fuse", "I_cable", held, guarded=True),
        held=held,
        voltage=needed_voltage(ground),
        interrupting=bands[BUS].high,
        surely=bands[BUS].known_high,
        least_fault=bands[at_terminals(charger.name)].low,
        firm_fault=bands[at_terminals(charger.name)].firm,
        wanted=build.safeguards.charger_fuse,
        section="protection.charger_fuse",
        guarded_by="[cabling.charger]",
    )


# Strings at one input of a charger from which on a faulted one can be fed more than a panel
# stands: the others give (N − 1) · Isc (NEC 690.9(A), from memory). Two may be too many already
# where the panel allows less than one of them gives.
_STRINGS_TO_FUSE = 3
_MADE_FOR_PANELS = "gpv"  # the family tried where the builder names none
_DUST = 1e-9  # binary dust of a product
# What a solar string's fuse is rated above the short-circuit current of a panel, from memory.
_STRING_FUSE = {
    "nec": (
        Input("k", "1.25 for strong sun, 1.25 for hours of it", 1.5625, "", Basis.COMPUTED),
        "nec-690.8",
    ),
    "iec": (Input("k", "1.5 for strong sun", 1.5, "", Basis.COMPUTED), "iec-62548"),
}
_STRONG_SUN = Input("k_s", "strong sun", 1.25, "", Basis.COMPUTED)


def _backfed(array: Array, joined: list[Array]) -> Worked | None:
    """Return what the other arrays at its input feed back into its cable [A]; None is unknown."""
    if any(other.short_circuit is None for other in joined):
        return None
    amps = sum(float(a.short_circuit.m) * a.in_parallel for a in joined if a.short_circuit)
    return Worked(
        name=f"what the other arrays at its input feed back towards {array.name}",
        kind=CURRENT,
        formula="{I_oth} · {k_s}",
        inputs=(
            Input("I_oth", "short-circuit current of those arrays", amps, "A", Basis.COMPUTED),
            _STRONG_SUN,
        ),
        source="nec-690.8",
    )


def _fed_into_a_string(array: Array, one: Input, joined: list[Array]) -> Worked | None:
    """Return what all other strings at the input give into a faulted one [A]; None is unknown."""
    back = _backfed(array, joined)
    if back is None:
        return None
    others = count("N_o", "other strings of the array", array.in_parallel - 1)
    beside = back.inputs[0]
    return Worked(
        name="what the other strings give",
        kind=CURRENT,
        formula="({I_sc} · {N_o} + {I_oth}) · {k_s}" if joined else "{I_sc} · {N_o} · {k_s}",
        inputs=(one, others, *((beside,) if joined else ()), _STRONG_SUN),
        source="nec-690.8",
    )


def _needs_string_fuses(array: Array, strings: int, fed: Worked | None) -> bool:
    if strings >= _STRINGS_TO_FUSE:
        return True
    if strings == 1:
        return False
    if fed is None:
        return True
    if array.largest_fuse is None or array.basis.of("largest_fuse") is Basis.ASSUMED:
        # Every panel stands what one string like its own gives in strong sun; more is not known.
        own = 0.0 if array.short_circuit is None else float(array.short_circuit.m)
        return fed.value > own * _STRONG_SUN.value * (1 + _DUST)
    return fed.value > float(array.largest_fuse.m)


def _array(ground: Groundwork, array: Array, side: SolarSide | None, held: HeldBy) -> Circuit:
    build = ground.build
    run = build.cabling.run_of(array, build.cabling.array)
    own_run = array.name in build.cabling.own
    carries = None if side is None or side.short is None else side.short
    joined = [
        other
        for other in build.solar_arrays
        if other is not array and (other.feeds, other.socket) == (array.feeds, array.socket)
    ]
    strings = array.in_parallel + sum(other.in_parallel for other in joined)
    units = next(c.count for c in build.all_chargers if c.name == array.feeds)
    lower = guarded = interrupting = None
    if array.short_circuit is not None:
        one = known(
            "I_sc",
            "short-circuit current of a panel",
            array.short_circuit,
            array.basis.of("short_circuit"),
        )
        factor, source = _STRING_FUSE[build.site.rules]
        warm = warmth(ground)
        lower = Worked(
            name="least array string fuse",
            kind=CURRENT,
            formula="{I_sc} · {k}",
            inputs=(one, factor),
            source=source,
        )
        guarded = Worked(
            name="least array string fuse, with our margin",
            kind=CURRENT,
            formula="{I_sc} · {k} / {k_t}",
            inputs=(one, factor, warm),
            source="common-practice",
        )
        interrupting = _fed_into_a_string(array, one, joined)
    fused = _needs_string_fuses(array, strings, interrupting)
    return Circuit(
        kind=ARRAY,
        place=f"each string of {array.name}",
        device=array.name,
        source=array.name,
        end=array.feeds,
        count=array.in_parallel * units,
        run=run,
        run_key=f'[cabling.own."{array.name}"]' if own_run else "[cabling.array]",
        carries=carries,
        lower=lower,
        lower_guard=guarded,
        upper=array_bound(array, run, held),
        upper_guard=array_bound(array, run, held, guarded=True),
        held=held,
        voltage=None if side is None else side.cold_open,
        interrupting=interrupting,
        least_fault=None,
        wanted=build.safeguards.array_fuse or _MADE_FOR_PANELS,
        section="protection.array_fuse",
        guarded_by=f"largest_fuse of {array.name} under [[pv]], and [cabling.array]",
        needs_fuse=fused,
        no_fuse=""
        if fused
        else f"{strings} at this input of the charger: no other can feed a faulted string with "
        "more than its panels stand.",
        backfed=_backfed(array, joined) if joined else None,
        joined=len(joined),
        strings=strings,
        units=units,
    )


def fused(every: tuple[Circuit, ...]) -> tuple[Circuit, ...]:
    """Return the circuits that need a fuse."""
    return tuple(circuit for circuit in every if circuit.needs_fuse)
