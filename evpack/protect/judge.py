"""Does the protection carry, guard and clear, and what with one string out?"""

from __future__ import annotations

import math

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, Quantity
from evpack.base.wording import say
from evpack.base.worked import from_worked
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.outcome.sharing import Sharing
from evpack.protect.bounds import least_rating

FITS = Rule(
    key="protection.fits",
    says="Every string has its own fuse at its positive terminal, and every inverter main "
    "protection, of a rating that carries the current and guards the conductor.",
    source="common-practice",
)
FAULT_KNOWN = Rule(
    key="protection.fault-known",
    says="A fuse cannot be chosen against a fault current that nobody knows.",
    source="ohms-law",
)
ONE_OUT = Rule(
    key="protection.one-out",
    says="With one string out, the fuses of the others must still carry the load, or the load "
    "must be limited.",
    source="common-practice",
    kind=CURRENT,
)
ONE_OUT_MODULE = Rule(
    key="protection.one-out-modules",
    says="With one string out, the modules of the others must still stand the current.",
    source="module-datasheet",
    kind=CURRENT,
)
CLEARS = Rule(
    key="protection.clears",
    says="The lowest fault current must be many times the fuse's rating, or it clears slowly.",
    source="common-practice",
    kind=CURRENT,
)
NOT_COVERED = Rule(
    key="protection.not-covered",
    says="What was not judged must be said, so that nobody takes it for judged.",
    source="common-practice",
)
PARALLEL = Rule(
    key="protection.parallel-conductors",
    says="Only large conductors may be laid in parallel under one fuse: the fuse does not see one "
    "that has come loose or carries more than its part.",
    source="common-practice",
)
TWO_STRINGS = Rule(
    key="protection.two-strings",
    says="With two strings a fault in one passes the same current through both fuses: both may "
    "open.",
    source="ohms-law",
)


def judged(
    ground: Groundwork,
    sharing: Sharing | None,
    schedule: ProtectionSchedule,
    faults: dict[str, FaultBand],
) -> tuple[Finding, ...]:
    """Return the findings on a schedule; `faults` are its bands by place."""
    found = [_fault_known(band) for band in schedule.faults[:1]]
    found += [_fits(choice) for choice in schedule.fuses]
    found += _clears(ground, schedule, faults)
    found += _parallel_runs(ground)
    found.append(
        state(
            NOT_COVERED,
            Severity.NOTE,
            about="protection",
            detail="Not judged here: the chargers' own fuses and cables, disconnects, breakers, "
            "bars, precharge of the inverter's input, clearing times, bundled cables, what the "
            "cell monitoring and its switches can carry and break, which modules belong together, "
            "bringing strings to one voltage before they are joined, place and ventilation, the "
            "solar side and the AC side. Have them settled by a licensed person.",
        )
    )
    if sharing is not None and sharing.one_out is not None:
        found += _one_out(ground, sharing, schedule.fuses[0])
    if ground.build.pack.strings == 2:  # noqa: PLR2004
        found.append(
            state(
                TWO_STRINGS,
                Severity.NOTE,
                about="string fuses",
                detail="A fault in one of the two strings is fed by the other alone; both fuses "
                "see the same current and both may open. The pack then stands still, safely.",
            )
        )
    return tuple(found)


def _fault_known(band: FaultBand) -> Finding:
    if band.high is None:
        return unknown(
            FAULT_KNOWN,
            about="fuses",
            detail="The modules' resistance is unknown, so the fault current is.",
            remedy="Measure the DC internal resistance of the modules.",
        )
    return state(
        FAULT_KNOWN,
        Severity.OK,
        about="fuses",
        detail=f"Prospective fault current of a string up to {band.high}.",
    )


def section_of(choice: FuseChoice) -> str:
    """Return the section of the build sheet that describes the fuse of a place."""
    key = "main_fuse" if choice.place.startswith("main") else "string_fuse"
    return f"[protection.{key}] (name, dc_voltage, interrupting, largest)"


def _fits(choice: FuseChoice) -> Finding:
    if choice.size is not None and choice.family is not None:
        if choice.family.basis is Basis.ASSUMED:
            return state(
                FITS,
                Severity.CAUTION,
                about=choice.place,
                detail=f"{choice.reason} These ratings are only typical of the family.",
                remedy="Buy a fuse whose print says at least this DC voltage and this "
                f"interrupting rating, and describe it under {section_of(choice)}.",
                assumed=("DC ratings of the fuse",),
            )
        return state(FITS, Severity.OK, about=choice.place, detail=choice.reason)
    missing = choice.lower is None or choice.upper is None or choice.interrupting is None
    assumed = [
        name
        for worked in (choice.lower, choice.upper, choice.interrupting)
        if worked is not None
        for name in worked.assumed
    ]
    return state(
        FITS,
        Severity.UNKNOWN if missing else Severity.STOP,
        about=choice.place,
        detail=choice.reason,
        remedy=choice.change,
        assumed=tuple(dict.fromkeys(assumed)),
    )


def _least_through_string(ground: Groundwork, faults: dict[str, FaultBand]) -> Quantity | None:
    """Return the lowest fault current that a string's fuse must clear [A]; None is unknown.

    A fault in its own string is fed by the others; one on the bus by every string, and then each
    fuse sees only what its own string gives.
    """
    strings = ground.build.pack.strings
    if strings == 1:
        own = faults["string, at its own terminals"].low
        return None if own is None else own.quantity
    fed, bus = faults["one string, fed by the others"].low, faults["bus, all strings"].low
    if fed is None or bus is None:
        return None
    return CURRENT.of(min(fed.value, bus.value / strings))


# Below this many times its rating a fuse takes minutes, while the cable burns.
# Common practice, no source.
_SLOW = 3.0

# Smallest conductor that may be laid in parallel [mm²]: 1/0 AWG (NEC 310.10(G), from memory).
_PARALLEL_FROM = 53.0


def _parallel_runs(ground: Groundwork) -> list[Finding]:
    cabling = ground.build.cabling
    found = []
    for run in (cabling.module_lead, cabling.main):
        if run is None or run.parallel == 1:
            continue
        small = run.conductor.area < _PARALLEL_FROM
        found.append(
            state(
                PARALLEL,
                Severity.STOP if small else Severity.NOTE,
                about=run.name,
                detail=f"{run.parallel} × {run.conductor.size} under one fuse."
                + ("" if small else " They must be alike in length, size and ends."),
                remedy="Use one thicker conductor, or conductors of 1/0 AWG or 70 mm2 and up, "
                "alike in length, size and ends."
                if small
                else "",
            )
        )
    return found


def _clears(
    ground: Groundwork, schedule: ProtectionSchedule, faults: dict[str, FaultBand]
) -> list[Finding]:
    times = max(float(ground.build.policy.clearing.m), _SLOW)  # whatever the policy says
    far = faults["inverter's terminals, all strings"].low
    mains = None if far is None else far.quantity
    places = [
        (schedule.fuses[0], _least_through_string(ground, faults)),
        *((fuse, mains) for fuse in schedule.fuses[1:]),
    ]
    found = []
    for fuse, least in places:
        if fuse.size is None:
            continue  # a finding of its own
        found.append(
            at_least(
                CLEARS,
                least,
                CURRENT.of(times * fuse.size),
                about=fuse.place,
                otherwise=Severity.STOP
                if least is not None and least.m < _SLOW * fuse.size
                else Severity.CAUTION,
                value_name="the lowest fault current",
                limit_name=f"{say(times, '')} of the fuse's rating",
                remedy="Shorter or thicker cables, or a smaller fuse if the load allows it; else "
                "a quicker kind of fuse.",
                ask="Describe the leads and the main run under [cabling].",
            )
        )
    return found


def _one_out(ground: Groundwork, sharing: Sharing, fuse: FuseChoice) -> list[Finding]:
    assert sharing.one_out is not None  # noqa: S101  (asked by the caller)
    share = sharing.one_out.value / sharing.total.value
    rated = ground.demand.rated
    found = []
    if fuse.size is not None:
        factors = least_rating(
            ground, "least string fuse, one string out", from_worked("I", sharing.one_out)
        )
        carried = fuse.size * sharing.one_out.value / factors.value
        most = None
        if rated is not None:
            most = ground.demand.load_for(rated.value * min(1.0, carried / sharing.one_out.value))
        watts = "what the fuses carry" if most is None else say(math.floor(most), "W")
        found.append(
            at_most(
                ONE_OUT,
                sharing.one_out.quantity,
                CURRENT.of(carried),
                about="string fuses",
                otherwise=Severity.CAUTION,
                value_name="the current of a string with one string out, at full output",
                limit_name="what its fuse carries for good",
                remedy=f"With one string out keep the AC load under {watts}, and fit "
                "an alarm that tells when a string is out.",
            )
        )
    limit = ground.build.pack.module.discharge_limit
    loaded = ground.demand.continuous
    one_out = None
    if loaded is not None and rated is not None:
        one_out = CURRENT.of(sharing.total.value * loaded.value / rated.value * share)
    found.append(
        at_most(
            ONE_OUT_MODULE,
            one_out,
            limit,
            about="modules",
            otherwise=Severity.CAUTION,
            value_name="the current of a string with one string out, at the continuous load",
            limit_name="the discharge limit of a module",
            remedy="With one string out reduce the load, and fit an alarm that tells when a "
            "string is out.",
            ask="Give the discharge limit of a module.",
        )
    )
    return found
