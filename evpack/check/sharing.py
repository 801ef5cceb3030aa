"""How the strings share the current: a simple bound until a simulation says better."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import CURRENT
from evpack.base.worked import Input, Worked, count, from_worked
from evpack.check.usable import bottom_of_windows
from evpack.outcome.groundwork import Groundwork, Sharing, unequal_leads


def sharing(ground: Groundwork) -> Sharing | None:
    """Return the string currents at full inverter output and the bottom of the window.

    Not at the cut-off that somebody entered: an entry can be changed, and fuses are chosen by
    these currents. None where the output, the efficiency, the idle draw or the window is unknown.
    """
    rated = ground.demand.rated
    lowest = bottom_of_windows(ground.build)
    if rated is None or lowest is None:
        return None
    number = ground.build.pack.strings
    total = Worked(
        name="current at full inverter output and the bottom of the window",
        kind=CURRENT,
        formula="{P} / {V_low}",
        inputs=(
            from_worked("P", rated),
            Input("V_low", "bottom of the window", lowest, "V", _basis_of(ground, lowest)),
        ),
        source="nec-706",
    )
    strings = count("N", "strings in parallel", number)
    even = Worked(
        name="even share of a string",
        kind=CURRENT,
        formula="{I} / {N}",
        inputs=(from_worked("I", total), strings),
        source="arithmetic",
    )
    if number == 1:
        return Sharing(
            strings=1, total=total, even=even, worst=even, one_out=None, method="one string"
        )
    uneven, fewer = ground.uneven(number), ground.uneven(number - 1)
    leads = unequal_leads(ground.build, number)
    worst = Worked(
        name="worst string",
        kind=CURRENT,
        formula="{I_even}" + "".join(f" · {{{i.symbol}}}" for i in uneven),
        inputs=(from_worked("I_even", even), *uneven),
        source="common-practice",
    )
    one_out = Worked(
        name="worst string with one string out",
        kind=CURRENT,
        formula="{I} / ({N} − 1)" + "".join(f" · {{{i.symbol}}}" for i in fewer),
        inputs=(from_worked("I", total), strings, *fewer),
        source="common-practice",
    )
    return Sharing(
        strings=number,
        total=total,
        even=even,
        worst=worst,
        one_out=one_out,
        method="a simple bound: even share times an assumed imbalance"
        + ("" if leads is None else ", and times what unequal leads do"),
        leads=leads,
    )


def _basis_of(ground: Groundwork, lowest: float) -> Basis:
    """Return how the lowest bottom of all windows is known."""
    inverters = ground.build.inverters
    lows = {float(i.window_low.m): i.basis for i in inverters if i.window_low is not None}
    return lows[lowest].of("window_low")
