"""Choosing a fuse between two bounds: a named size and family, or the reason why none fits."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.base.units import Quantity
from evpack.base.wording import say, say_down, say_up
from evpack.base.worked import Worked
from evpack.describe.fuses import FuseCatalogue, FuseFamily
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
    better: Worked | None = None,
    as_gg: bool = False,
    carried_known_by: str = "the inverter's output, efficiency, idle draw and window",
    fault_known_by: str = "the resistance of the modules",
    voltage_known_by: str = "open_circuit and coldest_outside",
) -> FuseChoice:
    """Return the fuse for a place.

    Parameters
    ----------
    lower, upper : Worked or None
        Bounds of the rating [A]; None is unknown, and then no size is named.
    voltage : Worked or None
        DC voltage that the fuse must break [V]; None is unknown.
    interrupting : Worked or None
        Fault current that it must break [A]; None is unknown.
    wanted : FuseFamily or str
        The family asked for, or its key; empty tries the catalogue in its order.
    guarded_by : str
        Which lines of the build sheet tell what the fuse has to guard.
    carried_known_by, fault_known_by, voltage_known_by : str
        What tells those, for messages.
    as_gg : bool
        Whether the upper bound reckons with what a gG link carries for hours; if not, none is
        taken unasked.
    better : Worked or None
        A higher lower bound that is met where the upper bound allows it.
    """

    def none(reason: str, change: str) -> FuseChoice:
        return FuseChoice(
            place=place,
            count=count,
            lower=lower,
            upper=upper,
            voltage=voltage,
            interrupting=interrupting,
            size=None,
            family=None,
            reason=reason,
            change=change,
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
    size = size_between(sizes, lower.value, upper.value)
    if size is None:
        return none(*_no_size(sizes, lower, upper))
    if better is not None:
        size = size_between(sizes, max(lower.value, better.value), upper.value) or size
    family, refused = family_for(
        catalogue, wanted, size, voltage.quantity, interrupting.quantity, as_gg=as_gg
    )
    if family is None:
        return none(
            f"No fuse fits: {refused}",
            f"Buy a fuse whose print says {_low(voltage)} DC or more and that it "
            f"interrupts {_low(interrupting)} or more at that voltage, and describe it under "
            "SECTION; or have fewer strings, longer leads, or a resistance that is measured and "
            "not assumed.",
        )
    return FuseChoice(
        place=place,
        count=count,
        lower=lower,
        upper=upper,
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


def _no_size(sizes: Sequence[float], lower: Worked, upper: Worked) -> tuple[str, str]:
    """Say why no standard size fits, and what would make one fit."""
    above = next((size for size in sizes if size >= lower.value), None)
    if above is None:
        return (
            f"No fuse fits: {_low(lower)} is more than the largest standard size.",
            "Split the current over more strings or circuits.",
        )
    # Where a gG link may carry more than its rating for hours, conductors must carry more than it.
    part = min((i.value for i in upper.inputs if i.symbol == "k_2"), default=1.0)
    wires = f"conductors that carry {say_up(above / part, 'A')} or more and links"
    change = (
        f"Use {wires if part < 1 else 'conductors and links'} that carry {say(above, 'A')} or "
        "more, or more strings, or a smaller inverter."
    )
    if lower.value > upper.value:
        why = (
            f"No fuse fits: to carry the current it must be at least {_low(lower)}, and to guard "
            f"conductor and links at most {_high(upper)}."
        )
    else:
        why = (
            f"No fuse fits: it must be at least {_low(lower)} and at most {_high(upper)}, and "
            "no standard size lies between."
        )
    return why, change


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
