"""How a line of the settings sheet is told."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.wording import number, say
from evpack.base.worked import Input, Worked
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, Setting


def voltage_line(
    ground: Groundwork,
    name: str,
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
    return f"{say(reach.low.m, unit)} to {say(reach.high.m, unit)} in {say(reach.step.m, unit)}"


def steps(reach: VoltageRange | CurrentRange) -> tuple[Input, Input]:
    """Return the first entry and the step of a range, as inputs of ``down`` and ``up``."""
    unit = "V" if isinstance(reach, VoltageRange) else "A"
    return (
        Input("from", "the device's lowest entry", reach.low.m, unit, Basis.DATASHEET),
        Input("step", "the device's step", reach.step.m, unit, Basis.DATASHEET),
    )


def ask_for(name: str, what: str, where: str = "") -> Setting:
    """Return the line for an entry whose range nobody gave."""
    return Setting(
        name=name,
        act=Act.FIND_OUT,
        entry="?",
        why=f"Nobody said {what}; find it in the device's manual and put it in the build sheet.",
        where=where,
    )
