"""The protection schedule: a fuse for every string, main protection for every inverter.

The first cut. Chargers' own fuses, clearing times, selectivity by curves, breakers, precharge and
bars follow in this room.
"""

from __future__ import annotations

import math

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.cabling import Run
from evpack.describe.fuses import FuseCatalogue
from evpack.describe.inverter import Inverter
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.outcome.sharing import Sharing
from evpack.protect.choice import choose
from evpack.protect.fault import fault_bands

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


def protection(
    ground: Groundwork, sharing: Sharing | None, catalogue: FuseCatalogue
) -> tuple[ProtectionSchedule, tuple[Finding, ...]]:
    """Return the protection schedule and what was found of it."""
    faults = fault_bands(ground)
    by_place = {band.place: band for band in faults}
    fuses = [_string_fuse(ground, sharing, catalogue, by_place)]
    fuses += [
        _main_fuse(ground, inverter, catalogue, by_place) for inverter in ground.build.inverters
    ]
    named = (attrs.evolve(f, change=f.change.replace("SECTION", _section(f))) for f in fuses)
    schedule = ProtectionSchedule(faults=faults, fuses=tuple(named))
    return schedule, _findings(ground, sharing, schedule, by_place)


def _needed_voltage(ground: Groundwork) -> Worked:
    pack = ground.build.pack
    return Worked(
        name="DC voltage to break",
        value=pack.highest.m,
        kind=VOLTAGE,
        formula="{n} · {V_max}",
        inputs=(
            ground.cells(),
            known(
                "V_max",
                "highest voltage of a cell",
                pack.module.highest,
                pack.module.limit_basis("highest"),
            ),
        ),
        source="arithmetic",
    )


def _lower(ground: Groundwork, name: str, current: Input) -> Worked:
    """Return the least fuse rating for a continuous current [A]."""
    factor = ground.guard("k_c", "continuous_factor")
    ripple = ground.guard("k_r", "ripple")
    warm = ground.guard("k_t", "fuse_ambient")
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


# IEC 60364-4-43, 433.1 (from memory): I2 ≤ 1.45 Iz, and a gG link of 16 A or more has I2 = 1.6 In.
_GG_PART = 1.45 / 1.6


def _guarded(ground: Groundwork, run: Run, symbol: str) -> tuple[str, float, tuple[Input, ...]]:
    """Return the highest rating that guards a run [A]: its formula, value and inputs."""
    wire = _ampacity(run, symbol)
    if ground.build.site.rules != "iec":
        return f"{{{symbol}}}", wire.value, (wire,)
    part = Input(
        "k_2",
        "1.45 / 1.6: a gG link may carry 1.6 times its rating for hours, a conductor 1.45 times",
        _GG_PART,
        "",
        Basis.ASSUMED,
    )
    return f"{{{symbol}}} · {{k_2}}", wire.value * part.value, (wire, part)


def _string_upper(ground: Groundwork) -> Worked | None:
    """Return the highest string fuse that guards both the lead and the modules' links [A].

    Where the links' own limit is unknown, the modules' discharge limit stands in for it.
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
    formula, guarded, wire = _guarded(ground, lead, "I_lead")
    return Worked(
        name="highest string fuse",
        value=min(guarded, link.value),
        kind=CURRENT,
        formula=f"min({formula}, {{I_link}})",
        inputs=(*wire, link),
        source=lead.conductor.ampacity_source,
    )


def _string_fuse(
    ground: Groundwork,
    sharing: Sharing | None,
    catalogue: FuseCatalogue,
    faults: dict[str, FaultBand],
) -> FuseChoice:
    pack = ground.build.pack
    own = faults["string, at its own terminals"].high
    others = faults.get("one string, fed by the others")
    candidates = [own, others.high if others else None]
    known_faults = [c for c in candidates if c is not None]
    return choose(
        catalogue,
        place="each string, at its positive terminal",
        count=pack.strings,
        lower=None
        if sharing is None
        else _lower(ground, "least string fuse", from_worked("I", sharing.worst)),
        upper=_string_upper(ground),
        voltage=_needed_voltage(ground),
        interrupting=max(known_faults, key=lambda w: w.value, default=None),
        wanted=ground.build.string_fuse,
        guarded_by="[cabling.module_lead], and link_limit or discharge_limit under [module]",
        better=None
        if sharing is None or sharing.one_out is None
        else _lower(ground, "least string fuse, one string out", from_worked("I", sharing.one_out)),
    )


def _main_fuse(
    ground: Groundwork,
    inverter: Inverter,
    catalogue: FuseCatalogue,
    faults: dict[str, FaultBand],
) -> FuseChoice:
    main = ground.build.cabling.main
    upper = None
    if main is not None:
        formula, guarded, wire = _guarded(ground, main, "I_main")
        upper = Worked(
            name="highest main fuse",
            value=guarded,
            kind=CURRENT,
            formula=formula,
            inputs=wire,
            source=main.conductor.ampacity_source,
        )
    current = inverter_current(inverter)
    return choose(
        catalogue,
        place=f"main, at the bus, to {inverter.name}",
        count=inverter.count,
        lower=None
        if current is None
        else _lower(ground, "least main fuse", from_worked("I", current)),
        upper=upper,
        voltage=_needed_voltage(ground),
        interrupting=faults["bus, all strings"].high,
        wanted=ground.build.main_fuse,
        guarded_by="[cabling.main]",
    )


def inverter_current(inverter: Inverter) -> Worked | None:
    """Return the current of one inverter at full output and its lowest input voltage [A].

    The bottom of its own window, not the cut-off that somebody entered: an entry can be changed.
    """
    if (
        inverter.continuous is None
        or inverter.efficiency is None
        or inverter.idle is None
        or inverter.window_low is None
        or inverter.window_low.m <= 0
    ):
        return None
    basis = inverter.basis
    power, eta = inverter.continuous.m, inverter.efficiency.m
    return Worked(
        name=f"current of {inverter.name} at full output and lowest voltage",
        value=(power / eta + inverter.idle.m) / inverter.window_low.m,
        kind=CURRENT,
        formula="({P} / {η} + {P_idle}) / {V_low}",
        inputs=(
            known("P", "continuous output", inverter.continuous, basis.of("continuous")),
            known("η", "efficiency", inverter.efficiency, basis.of("efficiency")),
            known("P_idle", "idle draw", inverter.idle, basis.of("idle")),
            known("V_low", "bottom of its window", inverter.window_low, basis.of("window_low")),
        ),
        source="nec-706",
    )


def _findings(
    ground: Groundwork,
    sharing: Sharing | None,
    schedule: ProtectionSchedule,
    faults: dict[str, FaultBand],
) -> tuple[Finding, ...]:
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


def _section(choice: FuseChoice) -> str:
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
                f"interrupting rating, and describe it under {_section(choice)}.",
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
        factors = _lower(
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
