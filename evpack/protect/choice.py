"""Choosing a fuse between two bounds: a named size and family, or the reason why none fits."""

from __future__ import annotations

from evpack.base.units import Quantity
from evpack.base.wording import say
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
    voltage: Worked,
    interrupting: Worked | None,
    wanted: FuseFamily | str,
    better: Worked | None = None,
) -> FuseChoice:
    """Return the fuse for a place.

    Parameters
    ----------
    lower, upper : Worked or None
        Bounds of the rating [A]; None is unknown, and then no size is named.
    voltage : Worked
        DC voltage that the fuse must break [V].
    interrupting : Worked or None
        Fault current that it must break [A]; None is unknown.
    wanted : FuseFamily or str
        The family asked for, or its key; empty tries the catalogue in its order.
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

    if lower is None or upper is None or interrupting is None:
        missing = [
            name
            for name, value in (
                ("the current it carries", lower),
                ("what its conductor and the modules' links carry", upper),
                ("the fault current", interrupting),
            )
            if value is None
        ]
        return none(
            f"Cannot tell yet: {' and '.join(missing)} unknown.",
            "Give what is missing in the build sheet; see the findings.",
        )
    size = _size(catalogue, lower.value, upper.value)
    if size is None:
        above = next((s for s in catalogue.sizes if s >= lower.value), None)
        change = (
            f"Use conductors and links that carry {say(above, 'A')} or more, or lower the current."
            if above is not None
            else "Split the current over more strings or circuits."
        )
        return none(
            f"No fuse fits: it must be at least {lower} and at most {upper}, and no standard "
            "size lies between.",
            change,
        )
    if better is not None:
        size = _size(catalogue, max(lower.value, better.value), upper.value) or size
    family, refused = _family(catalogue, wanted, size, voltage.quantity, interrupting.quantity)
    if family is None:
        return none(
            f"No fuse fits: {refused}",
            f"Choose a family rated {voltage} DC or more that interrupts {interrupting} or more "
            "at that voltage.",
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
        reason=f"{say(size, 'A')} lies between {lower} and {upper}; {family.name}: "
        f"{say(family.dc_voltage.m, 'V')} DC for {voltage}, interrupts "
        f"{say(family.interrupting.m, 'A')} for {interrupting}.",
    )


def _size(catalogue: FuseCatalogue, lower: float, upper: float) -> float | None:
    """Return the smallest standard size within both bounds."""
    return next((s for s in catalogue.sizes if lower <= s <= upper), None)


def _family(
    catalogue: FuseCatalogue,
    wanted: FuseFamily | str,
    size: float,
    voltage: Quantity,
    interrupting: Quantity,
) -> tuple[FuseFamily | None, str]:
    """Return the first family that stands voltage, fault and size, else why the last did not."""
    if isinstance(wanted, FuseFamily):
        families = [wanted]
    else:
        families = [f for f in catalogue.families if wanted in {"", f.key}]
    if not families:
        names = ", ".join(f.key for f in catalogue.families)
        return None, f"the family '{wanted}' is not in the catalogue ({names})."
    refused = []
    for family in families:
        short = []
        if family.dc_voltage.m < voltage.m:
            short.append(f"{say(family.dc_voltage.m, 'V')} DC is less than {say(voltage.m, 'V')}")
        if family.interrupting.m < interrupting.m:
            short.append(
                f"it interrupts {say(family.interrupting.m, 'A')}, not {say(interrupting.m, 'A')}"
            )
        if family.largest.m < size:
            short.append(f"it ends at {say(family.largest.m, 'A')}")
        if not short:
            return family, ""
        refused.append(f"{family.name}: {' and '.join(short)}")
    return None, "; ".join(refused) + "."
