"""The protection schedule: fault levels, a fuse and a cable for every circuit, and the rest."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from evpack.base.finding import Finding, Severity
from evpack.describe.safeguards import FuseCatalogue
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork, Sharing
from evpack.outcome.protection import ARRAY, CHARGER, Circuit, FuseChoice, ProtectionSchedule
from evpack.outcome.settings import SettingsSheet
from evpack.protect.beside import beside
from evpack.protect.cables import cables
from evpack.protect.choice import choose
from evpack.protect.circuits import circuits, fused
from evpack.protect.devices import devices
from evpack.protect.fault import BUS, fault_bands
from evpack.protect.judge import clearing, judged, section_of
from evpack.protect.parts import parts
from evpack.protect.poles import poles
from evpack.protect.precharge import precharge
from evpack.protect.selective import selective

_CARRIED_BY = {
    CHARGER: "current of the charger",
    ARRAY: "short_circuit of the panels under [[pv]]",
}


def protection(
    ground: Groundwork,
    sharing: Sharing | None,
    catalogue: FuseCatalogue,
    solar: tuple[SolarSide, ...] = (),
    settings: SettingsSheet | None = None,
) -> tuple[ProtectionSchedule, tuple[Finding, ...]]:
    """Return the protection schedule and what was found of it."""
    faults = fault_bands(ground)
    bands = {band.place: band for band in faults}
    every = circuits(ground, sharing, bands, solar, catalogue, settings=settings)
    fuses = {c.place: _fuse(ground, c, catalogue) for c in fused(every)}
    fuses |= _no_larger_than_good(ground, every[0], fuses, catalogue)
    laid, found = cables(ground, every, fuses, catalogue, solar)
    needed, found_of_devices = devices(ground, every, fuses, bands[BUS])
    plans, found_of_precharge = precharge(ground, every, fuses, catalogue)
    schedule = ProtectionSchedule(
        faults=faults,
        circuits=every,
        fuses=tuple(fuses.values()),
        cables=laid,
        needs=needed,
        precharge=plans,
    )
    return attrs.evolve(schedule, parts=parts(ground.build, schedule)), (
        *judged(ground, sharing, schedule, catalogue),
        *selective(ground, every, fuses),
        *found,
        *found_of_devices,
        *poles(ground, every, fuses),
        *found_of_precharge,
        *beside(ground, solar, every, fuses),
    )


def _no_larger_than_good(
    ground: Groundwork,
    strings: Circuit,
    fuses: Mapping[str, FuseChoice],
    catalogue: FuseCatalogue,
) -> dict[str, FuseChoice]:
    """Return the fuse of a string that is smaller than one string out asks for, where it must be.

    The larger one is a wish; where it would clear slowly or upset the lead, and the smaller does
    not, the wish is dropped.
    """
    larger = fuses[strings.place]
    if strings.better is None or larger.size is None:
        return {}
    plain = attrs.evolve(strings, better=None)
    smaller = _fuse(ground, plain, catalogue)
    if smaller.size is None or smaller.size >= larger.size:
        return {}

    def cautions(fuse: FuseChoice) -> int:
        _, found = cables(ground, (plain,), {strings.place: fuse}, catalogue)
        every = (*found, *clearing(ground, [(plain, fuse)], catalogue))
        return sum(f.severity >= Severity.CAUTION for f in every)

    return {strings.place: smaller} if cautions(smaller) < cautions(larger) else {}


def _fuse(ground: Groundwork, circuit: Circuit, catalogue: FuseCatalogue) -> FuseChoice:
    each = circuit.ends * (2 if ground.build.safeguards.both_poles else 1)
    told: dict[str, str] = {}
    if circuit.kind in _CARRIED_BY:
        told["carried_known_by"] = _CARRIED_BY[circuit.kind]
    if circuit.kind == ARRAY:
        told["fault_known_by"] = _CARRIED_BY[ARRAY]
    return choose(
        catalogue,
        place=circuit.place,
        count=circuit.count * each,
        lower=circuit.lower,
        lower_guard=circuit.lower_guard,
        better=circuit.better,
        upper=circuit.upper,
        upper_guard=circuit.upper_guard,
        voltage=circuit.voltage,
        interrupting=circuit.interrupting,
        surely=circuit.surely,
        wanted=circuit.wanted,
        as_gg=circuit.held.as_gg,
        guarded_by=circuit.guarded_by,
        described_in=section_of(circuit),
        **told,
    )
