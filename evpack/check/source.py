"""From the build to the pack as a source, and to what is asked of it."""

from __future__ import annotations

import attrs
import numpy as np

from evpack.base.basis import Basis, weakest
from evpack.base.units import POWER, Quantity
from evpack.base.worked import Input, Worked, known
from evpack.describe.build import Build
from evpack.describe.inverter import Inverter
from evpack.kernels.cold import resistance_factor
from evpack.outcome.cells import factor
from evpack.outcome.groundwork import Demand, PackSource

# Points at which pictures and integrals are taken, besides those of the curves themselves.
_EVEN = np.linspace(0.0, 1.0, 101)


def pack_source(build: Build) -> PackSource:
    """Return the pack as a source behind its resistance and its cables.

    The resistance of a module without a curve of its own is taken as the same at every state of
    charge, which flatters the empty end; the reserve covers it. Brought to room temperature, it
    is scaled for the coldest that the cells get: no higher than it was read, if as cold.
    """
    pack, module = build.pack, build.pack.module
    curve, bends = module.curve, module.resistance_curve
    points = [_EVEN, curve.soc] if bends is None else [_EVEN, curve.soc, bends.soc]
    soc = np.unique(np.concatenate(points))
    scale = pack.modules_in_series / pack.strings
    ohms, read_by = None, factor(module, least=False)
    if bends is not None:
        ohms = np.interp(soc, bends.soc, bends.ohms) * scale / read_by
    elif module.resistance is not None:
        ohms = np.full_like(soc, module.resistance.m * scale / read_by)
    cable = _cable(build)
    return PackSource(
        cells=pack.cells_in_series,
        soc=soc,
        emf=np.interp(soc, curve.soc, curve.volts) * pack.cells_in_series,
        ohms=ohms,
        cable=sum(ohms for ohms in cable if ohms is not None),
        cable_known=None not in cable,
        capacity=pack.capacity.m,
        long_factor=build.policy.long_resistance.m,
        cold_factor=_cold(build, read_by),
    )


def _cold(build: Build, read_by: float) -> float:
    """Return the cells' resistance at the coldest they get, against that at room temperature."""
    coldest, read_at = build.site.coldest, build.pack.module.resistance_temperature
    if coldest is None:
        return 1.0
    cold = resistance_factor(float(coldest.m))
    as_cold = read_at is not None and read_by > 1.0 and read_at.m <= coldest.m
    return min(cold, read_by) if as_cold else cold


def _cable(build: Build) -> tuple[float | None, ...]:
    """Return what leads with their links, and the mains, add [Ω]; None is unknown.

    A string's links stand in series with its lead; mains of several inverters stand in parallel.
    The bars are left out: they are short and thick, some ten µΩ, and no current runs their length.
    """
    cabling, pack = build.cabling, build.pack
    lead, link = cabling.module_lead, cabling.link
    links = 0.0 if link is None else float(link.one_way.m) * (pack.modules_in_series - 1)
    mains = [(cabling.run_of(i, cabling.main), i.count) for i in build.inverters]
    known = [(run, count) for run, count in mains if run is not None]
    conducts = sum(count / float(run.resistance.m) for run, count in known)
    return (
        None if lead is None else (float(lead.resistance.m) + links) / pack.strings,
        None if not known or len(known) < len(mains) else 1 / conducts,
    )


def _of_all(
    inverters: tuple[Inverter, ...], symbol: str, what: str, total: float, field: str
) -> Input:
    """Return a sum over all inverters [W], known as the worst known of them."""
    return Input(symbol, what, total, "W", weakest(i.basis.of(field) for i in inverters))


def demand(build: Build) -> Demand:
    """Return what the load and the inverters ask of the pack.

    The least efficiency of all inverters is taken for the whole load.
    """
    inverters = build.inverters
    efficiencies = [i.efficiency for i in inverters if i.efficiency is not None]
    idles = [i.idle.m * i.count for i in inverters if i.idle is not None]
    outputs = [i.continuous.m * i.count for i in inverters if i.continuous is not None]
    surges = [i.surge.m * i.count for i in inverters if i.surge is not None]
    every = len(inverters)
    if not every or len(efficiencies) < every or len(idles) < every:
        return Demand(continuous=None, typical=None, peak=None, rated=None, surge=None)
    worst = min(inverters, key=lambda i: i.efficiency.m if i.efficiency is not None else 1.0)
    assert worst.efficiency is not None  # noqa: S101  (told to the type checker; counted above)
    losses = (
        known(
            "η",
            "least inverter efficiency",
            worst.efficiency,
            weakest(i.basis.of("efficiency") for i in inverters),
        ),
        _of_all(inverters, "P_idle", "idle draw of all inverters", sum(idles), "idle"),
    )

    def asked(name: str, power: Input | None) -> Worked | None:
        if power is None:
            return None
        return Worked(
            name=name,
            kind=POWER,
            formula="{P} / {η} + {P_idle}",
            inputs=(power, *losses),
            source="ohms-law",
        )

    def stated(means: str, quantity: Quantity, field: str) -> Input:
        return known("P", means, quantity, build.load.basis.of(field))

    load = build.load
    surge = stand_in = None
    if len(surges) == every:
        surge = _of_all(inverters, "P", "full surge of all inverters", sum(surges), "surge")
        # In place of a peak load that nobody stated it is an assumption, however well known.
        stand_in = attrs.evolve(surge, basis=Basis.ASSUMED)
    peak = stand_in if load.peak is None else stated("peak load", load.peak, "peak")
    rated = None
    if len(outputs) == every:
        what = "continuous output of all inverters"
        rated = _of_all(inverters, "P", what, sum(outputs), "continuous")
    return Demand(
        continuous=asked(
            "DC power at the continuous load",
            stated("continuous load", load.continuous, "continuous"),
        ),
        typical=asked(
            "DC power at the typical load",
            stated("continuous load, typical not stated", load.continuous, "continuous")
            if load.typical is None
            else stated("typical load", load.typical, "typical"),
        ),
        peak=asked("DC power at the peak load", peak),
        rated=asked("DC power at full inverter output", rated),
        surge=asked("DC power at full inverter surge", surge),
    )
