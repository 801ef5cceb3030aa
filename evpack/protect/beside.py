"""What stands beside the DC side: AC cautions and surge protection, never design."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state
from evpack.base.units import VOLTAGE
from evpack.base.wording import say, say_up
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, Circuit, FuseChoice

LICENSED = Rule(
    key="beside.licensed",
    says="The AC side is for a licensed person.",
    source="common-practice",
    stands=Standing.REMARK,
)
BOND = Rule(
    key="beside.neutral-bond",
    says="Neutral and earth are joined at one place at a time.",
    source="nec-250-bonding",
    stands=Standing.REMARK,
)
TRANSFER = Rule(
    key="beside.transfer",
    says="An inverter's output never feeds back into the utility's wires.",
    source="nec-transfer",
    stands=Standing.REMARK,
)
RAPID_SHUTDOWN = Rule(
    key="beside.rapid-shutdown",
    says="The shutdown of the panels is apart from the battery disconnect.",
    source="nec-690.12",
    stands=Standing.REMARK,
)
ISOLATOR = Rule(
    key="beside.array-isolator",
    says="An array has a switch of its own, so that its charger can be worked on.",
    source="nec-690.13",
    stands=Standing.REMARK,
)
ARC_FAULT = Rule(
    key="beside.array-arc-fault",
    says="Solar circuits of 80 V or more on or in a building need protection against arcs.",
    source="nec-690.11",
    stands=Standing.REMARK,
    kind=VOLTAGE,
)
EARTH_FAULT = Rule(
    key="beside.array-earth-fault",
    says="A fault of an array to earth must be found and the array be stopped.",
    source="nec-690.41",
    stands=Standing.REMARK,
)
LEADS = Rule(
    key="beside.array-leads",
    says="The leads of the panels themselves carry and are guarded like every other conductor.",
    source="nec-690.8",
    stands=Standing.REMARK,
)
HIGH_ARRAY = Rule(
    key="beside.array-high-voltage",
    says="On a home an array has no more than 600 V by NEC, and above it parts are made otherwise.",
    source="nec-690.7",
    stands=Standing.REMARK,  # a clause for roofs of homes; the site says where the pack stands
    kind=VOLTAGE,
)
SURGE = Rule(
    key="beside.surge",
    says="Long solar, AC and data lines need surge protective devices.",
    source="iec-60364-7-712",
    stands=Standing.GUARD,
)
DATA_LINES = Rule(
    key="beside.data-lines",
    says="The lines of the cell monitoring pick up what power cables give off.",
    source="common-practice",
    stands=Standing.REMARK,
)

# From here on a line counts as long [m]. The standard puts surge protection at both ends of solar
# lines longer than this (from memory).
_LONG = 10.0


_ARC_FROM = 80.0  # V DC, NEC 690.11, from memory
_HOME_MOST = 600.0  # V DC, NEC 690.7 for one- and two-family dwellings, from memory


def beside(
    ground: Groundwork,
    solar: tuple[SolarSide, ...] = (),
    circuits: tuple[Circuit, ...] = (),
    fuses: Mapping[str, FuseChoice] | None = None,
) -> tuple[Finding, ...]:
    """Return the cautions on the AC side and on surges."""
    build = ground.build
    found = [
        _note(
            LICENSED,
            "AC side",
            "Have breakers, residual current protection, earthing and the connection to the "
            "building designed and tested by a licensed person.",
        ),
        _note(
            BOND,
            "AC side",
            "An inverter, a generator and the utility may each bring a bond of neutral to earth: "
            "see that only one is in force at a time, also while changing over.",
        ),
        _note(
            TRANSFER,
            "AC side",
            "Use a transfer switch or an interlock that is listed for it. Never feed a building "
            "through a socket: such a backfeed kills people who work on the line.",
        ),
    ]
    if build.solar_arrays or any(c.source == "solar" for c in build.all_chargers):
        found.append(
            _note(
                RAPID_SHUTDOWN,
                "solar array",
                "Opening the battery disconnect leaves the array's wires live. Panels on a "
                "building need a shutdown of their own where its code asks for one.",
            )
        )
    return (
        *found,
        *(finding for side in solar for finding in _array(side)),
        *(_leads(circuit, fuses or {}) for circuit in circuits if circuit.kind == ARRAY),
        _note(
            DATA_LINES,
            "data lines",
            "Keep the lines of the cell monitoring short, twisted or screened, and away from "
            "power cables; fuse its sense wires at the cells.",
        ),
        _surge(build),
    )


def _array(side: SolarSide) -> list[Finding]:
    """Say what an array needs beside its fuses and cables: never designed here."""
    volts = side.cold_open
    found = [
        _note(
            ISOLATOR,
            side.array,
            "Fit a DC switch that opens plus and minus under load, rated for the array's voltage "
            f"on the coldest morning{'' if volts is None else f' ({volts})'} and its short-circuit "
            "current, within sight of its charger. Plugs are never to be pulled under load.",
        ),
        _note(
            EARTH_FAULT,
            side.array,
            "Its charger, or a device before it, must find a fault to earth and stop the array: "
            "see whether the charger's manual says that it does.",
        ),
    ]
    if volts is None:
        return [*found, _note(ARC_FAULT, side.array, "Its voltage is not known: ask for it.")]
    arc = at_most(
        ARC_FAULT,
        volts,
        VOLTAGE.of(_ARC_FROM),
        about=side.array,
        otherwise=Severity.NOTE,
        value_name="its highest voltage",
        limit_name="from where on arcs go on burning",
        remedy="On or in a building it needs a charger or a device that notices an arc and stops "
        "the array.",
    )
    high = at_most(
        HIGH_ARRAY,
        volts,
        VOLTAGE.of(_HOME_MOST),
        about=side.array,
        otherwise=Severity.CAUTION,
        value_name="its highest voltage",
        limit_name="the most on a home (NEC 690.7)",
        remedy="Fewer panels in series; or have a licensed person design it.",
    )
    return [*found, arc, high]


def _leads(circuit: Circuit, fuses: Mapping[str, FuseChoice]) -> Finding:
    """Say what the leads between panels and the point where strings join must carry."""
    fuse = fuses.get(circuit.place)
    fed = [w for w in (circuit.lower, circuit.interrupting) if w is not None]
    carry = "an unknown current"
    if circuit.lower is not None:  # and what the other strings may feed back into a faulted one
        carry = f"{say_up(max(w.value for w in fed), 'A')} or more"
    guarded = ""
    if fuse is not None and fuse.size is not None:
        guarded = f", and no less than their fuse, {say(fuse.size, 'A')}"
    return _note(
        LEADS,
        circuit.device,
        f"The leads of its panels, up to where strings join, must carry {carry}{guarded}; they are "
        "not judged here. Use leads made for panels, out of reach of sun-warmed roofs where "
        "possible.",
    )


def _note(rule: Rule, about: str, detail: str) -> Finding:
    return state(rule, Severity.NOTE, about=about, detail=detail)


def _surge(build: Build) -> Finding:
    if build.safeguards.surge_protection:
        return state(
            SURGE,
            Severity.OK,
            about="long lines",
            detail="Surge protective devices are said to be fitted. Each long line needs one at "
            "both ends, rated for its voltage, with short straight leads to earth.",
        )
    long, unsaid = _long_lines(build)
    if not long and not unsaid:
        return state(
            SURGE,
            Severity.OK,
            about="long lines",
            detail=f"No cable of the build is longer than {say(_LONG, 'm')}. Judge AC and data "
            "lines that leave the building in the same way.",
        )
    why = f"Longer than {say(_LONG, 'm')}: {', '.join(long)}. " if long else ""
    if unsaid:
        why += f"Length not known: {', '.join(unsaid)}. "
    bare = build.safeguards.surge_protection is False
    return state(
        SURGE,
        Severity.CAUTION,
        about="long lines",
        detail=why
        + ("No surge protection is fitted." if bare else "Nobody said whether it is fitted."),
        remedy="Fit surge protective devices at both ends of long solar lines, on AC lines that "
        "leave the building and on long data lines, and say surge_protection = true under "
        "[protection].",
    )


def _long_lines(build: Build) -> tuple[list[str], list[str]]:
    """Return the long lines by name, and those whose length nobody said."""
    cabling = build.cabling
    lines: list[tuple[str, Run | None]] = [("module leads", cabling.module_lead)]
    if cabling.link is not None:  # else bolted straight
        lines.append(("links", cabling.link))
    lines += [(i.name, cabling.run_of(i, cabling.main)) for i in build.inverters]
    lines += [(c.name, cabling.run_of(c, cabling.charger)) for c in build.joined_chargers]
    lines += [(a.name, cabling.run_of(a, cabling.array)) for a in build.solar_arrays]
    fed = {array.feeds for array in build.solar_arrays}
    lines += [
        (f"panels of {charger.name}", cabling.array)
        for charger in build.all_chargers
        if charger.source == "solar" and charger.name not in fed
    ]
    long = [
        f"{name}, {say(run.length.m, 'm')}" for name, run in lines if run and run.length.m > _LONG
    ]
    return long, [name for name, run in lines if run is None]
