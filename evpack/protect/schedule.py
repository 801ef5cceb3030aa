"""The protection schedule: a fuse for every string, main protection for every inverter.

The first cut. Chargers' own fuses, clearing times, selectivity by curves, breakers, precharge and
bars follow in this room.
"""

from __future__ import annotations

import attrs

from evpack.base.finding import Finding
from evpack.base.units import CURRENT
from evpack.base.worked import Worked, from_worked, known
from evpack.describe.charger import Charger
from evpack.describe.fuses import FuseCatalogue
from evpack.describe.inverter import Inverter
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FaultBand, FuseChoice, ProtectionSchedule
from evpack.outcome.sharing import Sharing
from evpack.protect.bounds import (
    conductor_bound,
    inverter_current,
    least_rating,
    needed_voltage,
    string_bound,
    string_charge,
)
from evpack.protect.choice import choose
from evpack.protect.fault import fault_bands
from evpack.protect.judge import judged, section_of


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
    named = (attrs.evolve(f, change=f.change.replace("SECTION", section_of(f))) for f in fuses)
    schedule = ProtectionSchedule(faults=faults, fuses=tuple(named))
    return schedule, judged(ground, sharing, schedule, by_place)


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
    charging = string_charge(ground)
    lower = None
    if sharing is not None:
        lower = least_rating(ground, "least string fuse", from_worked("I", sharing.worst))
        if charging is not None and charging.value > sharing.worst.value:
            lower = least_rating(ground, "least string fuse, charging", from_worked("I", charging))
    return choose(
        catalogue,
        place="each string, at its positive terminal",
        count=pack.strings,
        lower=lower,
        upper=string_bound(ground),
        voltage=needed_voltage(ground),
        interrupting=max(known_faults, key=lambda w: w.value, default=None),
        wanted=ground.build.string_fuse,
        guarded_by="[cabling.module_lead], and link_limit or discharge_limit under [module]",
        better=None
        if sharing is None or sharing.one_out is None
        else least_rating(
            ground, "least string fuse, one string out", from_worked("I", sharing.one_out)
        ),
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
        formula, guarded, wire = conductor_bound(ground, main, "I_main")
        upper = Worked(
            name="highest main fuse",
            value=guarded,
            kind=CURRENT,
            formula=formula,
            inputs=wire,
            source=main.conductor.ampacity_source,
        )
    current = inverter_current(inverter)
    lower = None
    if current is not None:
        lower = least_rating(ground, "least main fuse", from_worked("I", current))
        charger = inverter.charger if isinstance(inverter.charger, Charger) else None
        if charger and charger.current is not None and charger.current.m > current.value:
            basis = charger.basis.of("current")
            own = known("I", "current of the built-in charger", charger.current, basis)
            lower = least_rating(ground, "least main fuse, charging", own)
    return choose(
        catalogue,
        place=f"main, at the bus, to {inverter.name}",
        count=inverter.count,
        lower=lower,
        upper=upper,
        voltage=needed_voltage(ground),
        interrupting=faults["bus, all strings"].high,
        wanted=ground.build.main_fuse,
        guarded_by="[cabling.main]",
    )
