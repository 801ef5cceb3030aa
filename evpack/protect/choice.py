"""Choosing a fuse between two bounds: a named size and family, or the reason why none fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from evpack.base.units import CURRENT, Quantity
from evpack.base.wording import say, say_down, say_up
from evpack.base.worked import Worked
from evpack.describe.safeguards import FuseCatalogue, FuseFamily
from evpack.outcome.protection import FuseChoice


def choose(
    catalogue: FuseCatalogue,
    *,
    place: str,
    count: int,
    lower: Worked | None,
    upper: Worked | None,
    voltage: Worked | None,
    interrupting: Worked | None,
    wanted: FuseFamily | str,
    guarded_by: str,
    described_in: str = "",
    lower_guard: Worked | None = None,
    upper_guard: Worked | None = None,
    better: Worked | None = None,
    as_gg: bool = False,
    surely: float | None = None,
    carried_known_by: str = "the inverter's output, efficiency, idle draw and window",
    fault_known_by: str = "the resistance of the modules",
    voltage_known_by: str = "open_circuit and coldest_outside",
) -> FuseChoice:
    """Return the fuse for a place.

    Parameters
    ----------
    lower, upper : Worked or None
        Bounds of the rating [A]; None is unknown, and then no size is named.
    lower_guard, upper_guard : Worked or None
        The same with our margin [A]: kept where a size allows it. None asks for none.
    voltage : Worked or None
        DC voltage that the fuse must break [V]; None is unknown.
    interrupting : Worked or None
        Fault current that it must break [A]; None is unknown.
    wanted : FuseFamily or str
        The family asked for, or its key; empty tries the catalogue in its order.
    guarded_by : str
        Which lines of the build sheet tell what the fuse has to guard.
    described_in : str
        Where in the build sheet a fuse that is bought is described.
    carried_known_by, fault_known_by, voltage_known_by : str
        What tells those, for messages.
    as_gg : bool
        Whether the upper bound reckons with what a gG link carries for hours; if not, none is
        taken unasked.
    surely : float or None
        The part of `interrupting` that hangs on no guess [A]; None: all of it.
    better : Worked or None
        A higher lower bound that is met where the upper bound allows it.
    """

    def none(reason: str, change: str, *, asks: bool = False) -> FuseChoice:
        return FuseChoice(
            place=place,
            count=count,
            lower=lower,
            upper=upper,
            lower_guard=lower_guard,
            upper_guard=upper_guard,
            voltage=voltage,
            interrupting=interrupting,
            size=None,
            family=None,
            reason=reason,
            change=change,
            asks=asks,
        )

    if lower is None or upper is None or interrupting is None or voltage is None:
        missing = [
            (name, fix)
            for name, fix, value in (
                ("the current it carries", carried_known_by, lower),
                ("what it has to guard", guarded_by, upper),
                ("the fault current", fault_known_by, interrupting),
                ("the voltage that it must break", voltage_known_by, voltage),
            )
            if value is None
        ]
        return none(
            f"Cannot tell yet, for want of: {' and '.join(name for name, _ in missing)}.",
            f"Say in the build sheet: {'; '.join(fix for _, fix in missing)}.",
        )
    sizes = catalogue.sizes_of(wanted)
    size, family, refused = fitting(
        sizes_within(
            sizes,
            low=lower.value,
            high=upper.value,
            low_guard=None if lower_guard is None else lower_guard.value,
            high_guard=None if upper_guard is None else upper_guard.value,
            better=None if better is None else better.value,
        ),
        lambda amps: family_for(
            catalogue, wanted, amps, voltage.quantity, interrupting.quantity, as_gg=as_gg
        ),
    )
    if size is None:
        return none(*_none_fits(catalogue, wanted, lower, upper))
    if family is None:
        buy = (
            f"Buy a fuse whose print says {_low(voltage)} DC or more and that it interrupts "
            f"{_low(interrupting)} or more at that voltage, and describe it under {described_in}."
        )
        perhaps = None
        if surely is not None:
            least = CURRENT.of(surely)
            perhaps, _ = family_for(catalogue, wanted, size, voltage.quantity, least, as_gg=as_gg)
        if perhaps is None or surely is None:
            return none(f"No fuse fits: {refused}", buy)
        return none(
            f"Whether {perhaps.name} does hangs on the ohmic part of the modules' resistance, "
            f"which nobody measured: a fault is {say_up(surely, 'A')} if it is all of what was "
            f"read over 10 s, up to {_low(interrupting)} if it is as little as is credible.",
            f"{buy} Or measure the resistance within 0.1 s or at 1 kHz, and say its part as "
            "ohmic_part under [policy].",
            asks=True,
        )
    return FuseChoice(
        place=place,
        count=count,
        lower=lower,
        upper=upper,
        lower_guard=lower_guard,
        upper_guard=upper_guard,
        voltage=voltage,
        interrupting=interrupting,
        size=size,
        family=family,
        reason=f"{say(size, 'A')} lies between {_low(lower)} and {_high(upper)}; {family.name}: "
        f"{say(family.dc_voltage.m, 'V')} DC for {_low(voltage)}, interrupts "
        f"{say(family.interrupting.m, 'A')} for {_low(interrupting)}.",
    )


def _low(bound: Worked) -> str:
    return say_up(bound.value, bound.unit)


def _high(bound: Worked) -> str:
    return say_down(bound.value, bound.unit)


def _none_fits(
    catalogue: FuseCatalogue, wanted: FuseFamily | str, lower: Worked, upper: Worked
) -> tuple[str, str]:
    there = catalogue.family(wanted)
    if there is not None and there.rating is not None:
        return _not_that_size(catalogue.made_of(there), there, lower, upper)
    return _no_size(catalogue.sizes_of(wanted), lower, upper)


def _not_that_size(
    made: Sequence[float], family: FuseFamily, lower: Worked, upper: Worked
) -> tuple[str, str]:
    """Say why the size that is there already will not do, and which would."""
    assert family.rating is not None  # noqa: S101  (asked by the caller)
    there = float(family.rating.m)
    broken = (
        f"is less than {_low(lower)}, what it must carry"
        if there < lower.value
        else f"is more than {_high(upper)}, what it has to guard"
    )
    would = [say(size, "A") for size in made if lower.value <= size <= upper.value]
    would_do = f"{' or '.join(would[:3])} would do." if would else "No standard size would do."
    return (
        f"The {family.kind} that is there, {say(there, 'A')}, does not fit: it {broken}.",
        f"{would_do} Leave rating out to let one be chosen.",
    )


def _no_size(sizes: Sequence[float], lower: Worked, upper: Worked) -> tuple[str, str]:
    """Say why no standard size fits, and what would have to stand more for one to fit."""
    above = next((size for size in sizes if size >= lower.value), None)
    if above is None:
        return (
            f"No fuse fits: {_low(lower)} is more than the largest standard size.",
            "Split the current over more circuits, each with a fuse and a cable of its own.",
        )
    if lower.value > upper.value:
        why = (
            f"No fuse fits: to carry the current it must be at least {_low(lower)}, and to guard "
            f"what it feeds at most {_high(upper)}."
        )
    else:
        why = (
            f"No fuse fits: it must be at least {_low(lower)} and at most {_high(upper)}, and "
            "no standard size lies between."
        )
    return why, f"{_too_weak(upper, above)}"


def _too_weak(upper: Worked, size: float) -> str:
    """Say which of the things that a fuse guards stand less than a size."""
    # Where a gG link may carry more than its rating for hours, conductors must carry more than it.
    part = min((i.value for i in upper.inputs if i.symbol == "k_2"), default=1.0)
    told = []
    for i in upper.inputs:
        if i.symbol in _CONDUCTORS and i.value * part < size:
            told.append(f"a conductor that carries {say_up(size / part, 'A')} or more")
        elif i.symbol == "I_link" and i.value < size:
            told.append(f"module links that stand {say(size, 'A')} (or more strings to share it)")
        elif i.symbol == "I_panel" and i.value < size:
            told.append(f"panels that allow a fuse of {say(size, 'A')}")
    return f"For a fuse of {say(size, 'A')} it takes {' and '.join(dict.fromkeys(told))}."


# Symbols of the conductors in the upper bounds.
_CONDUCTORS = frozenset({"I_lead", "I_joint", "I_main", "I_cable"})


def sizes_within(
    sizes: Sequence[float],
    *,
    low: float,
    high: float,
    low_guard: float | None = None,
    high_guard: float | None = None,
    better: float | None = None,
) -> list[float]:
    """Return the sizes to try within both bounds, the one that keeps most of our margins first [A].

    Guarding goes before carrying: a fuse that opens early is a nuisance, a cable that burns is not.
    Where no size carries as much as we would like, the largest that guards well comes nearest.
    """
    kept = max(low, 0.0 if low_guard is None else low_guard)
    guarded = min(high, math.inf if high_guard is None else high_guard)
    well = [size for size in sizes if low <= size <= guarded]
    found = [
        None if better is None else size_between(sizes, max(kept, better), guarded),
        size_between(sizes, kept, guarded),
        *reversed(well),
        size_between(sizes, low, high),
    ]
    return list(dict.fromkeys(size for size in found if size is not None))


Fits = Callable[[float], tuple[FuseFamily | None, str]]


def fitting(sizes: Sequence[float], fits: Fits) -> tuple[float | None, FuseFamily | None, str]:
    """Return the first size that a family makes and is good for; else the last one, and why not."""
    why = ""
    for size in sizes:
        family, why = fits(size)
        if family is not None:
            return size, family, ""
    return (sizes[-1] if sizes else None), None, why


def size_between(sizes: Sequence[float], lower: float, upper: float) -> float | None:
    """Return the smallest standard size within both bounds."""
    return next((s for s in sizes if lower <= s <= upper), None)


def family_for(
    catalogue: FuseCatalogue,
    wanted: FuseFamily | str,
    size: float,
    voltage: Quantity,
    interrupting: Quantity,
    *,
    as_gg: bool = True,
) -> tuple[FuseFamily | None, str]:
    """Return the first family that stands voltage, fault and size, else why the last did not."""
    if isinstance(wanted, FuseFamily):
        families = [wanted]
    else:
        families = [f for f in catalogue.families if wanted in {"", f.key}]
        if not wanted and not as_gg:  # the bounds were not made for those
            families = [f for f in families if f.characteristic != "gG"]
    if not families:
        names = ", ".join(f.key for f in catalogue.families)
        return None, f"the family '{wanted}' is not in the catalogue ({names})."
    refused = []
    for family in families:
        short = []
        if family.dc_voltage.m < voltage.m:
            short.append(
                f"{say(family.dc_voltage.m, 'V')} DC is less than {say_up(voltage.m, 'V')}"
            )
        if family.interrupting.m < interrupting.m:
            breaks, faulty = say(family.interrupting.m, "A"), say_up(interrupting.m, "A")
            short.append(f"it interrupts {breaks}, not {faulty}")
        if family.largest.m < size:
            short.append(f"it ends at {say(family.largest.m, 'A')}")
        if not short:
            return family, ""
        refused.append(f"{family.name}: {' and '.join(short)}")
    # The last of a long list helps nobody; the one that interrupts most is the nearest.
    nearest = max(families, key=lambda f: (f.dc_voltage.m >= voltage.m, f.interrupting.m))
    told = refused[families.index(nearest)]
    others = f" None of the {len(families)} families held does." if len(families) > 1 else ""
    return None, f"{told}.{others}"
