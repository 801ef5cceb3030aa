"""Prospective fault current as a band: what a fuse must interrupt, and what must clear it fast."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, TIME
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.cabling import Run
from evpack.kernels.cold import resistance_factor
from evpack.kernels.conductor import COLD_COPPER
from evpack.kernels.load_line import fault_current
from evpack.outcome.cells import at_room
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import AT_BUS, AT_STRING, FaultBand

MODULE = "module, at its own terminals"
STRING = AT_STRING
FED = "one string, fed by the others"
BUS = AT_BUS

# Resistance times capacity of a cell group [Ω·Ah], from a power cell to a tired energy cell. Where
# nobody measured, each end of the band takes its own. Common practice, from memory.
_CREDIBLE = (0.010, 0.130)
# Inductance of a two-wire run laid close together [H/m of its length]. Common practice, no source.
_INDUCTANCE = 1e-6


def at_terminals(device: str) -> str:
    """Return the name of the place where the cable of a device ends."""
    return f"terminals of {device}"


def fault_bands(ground: Groundwork) -> tuple[FaultBand, ...]:
    """Return the bands at a module, a string, the bus, and the far end of every device's cable.

    The high end takes full cells by their chemistry, the lowest credible resistance, and of the
    cables only the links and module leads that the current must pass, cold. The low end takes
    cells at their least, aged, cold cells, and every cable and the bar warm.
    """
    build = ground.build
    cabling, strings = build.cabling, build.pack.strings
    lead = _Way(runs=(cabling.module_lead,))
    bands = [
        _band(ground, MODULE, 1, modules=1, lead=_Way(), path=_Way()),
        _band(ground, STRING, 1, lead=_Way(), path=_Way()),
    ]
    if strings > 1:
        bands.append(_band(ground, FED, strings - 1, lead=lead, path=lead))
    bands.append(_band(ground, BUS, strings, lead=lead, path=_Way()))
    devices = [(d, cabling.main) for d in build.inverters]
    ends = [(d.name, cabling.run_of(d, usual)) for d, usual in devices]
    ends += [(c.name, cabling.run_of(c, cabling.charger)) for c in build.joined_chargers]
    bar = 0.0 if cabling.bar is None else float(cabling.bar.resistance.m)
    for name, run in ends:
        way = _Way(runs=(run,), bar=bar)
        bands.append(_band(ground, at_terminals(name), strings, lead=lead, path=way))
    return tuple(bands)


@attrs.frozen(kw_only=True)
class _Way:
    """What a fault current passes; a run that is None is unknown."""

    runs: tuple[Run | None, ...] = ()
    bar: float = 0.0

    @property
    def ohms(self) -> float | None:
        """Return the resistance of all of it, warm [Ω]; None where a run is unknown."""
        found = [None if run is None else float(run.resistance.m) for run in self.runs]
        return None if None in found else self.bar + sum(o for o in found if o is not None)

    @property
    def least_ohms(self) -> float:
        """Return the least that stands in the way, warm [Ω]: the shortest of unlike leads."""
        known = [run for run in self.runs if run is not None]
        return sum(float(run.resistance.m) * run.shortest_part for run in known)

    @property
    def metres(self) -> float:
        """Return how long all of it is, one way [m]."""
        return sum(float(run.length.m) for run in self.runs if run is not None)


def _own(ground: Groundwork, modules: int, end: int) -> Input:
    """Return the 10 s resistance of modules in series; of an unknown one the worst credible."""
    module = ground.build.pack.module
    what = "10 s resistance of a string" if modules > 1 else "10 s resistance of a module"
    read = at_room(module, least=end == 0)
    if read is not None:
        told = read.means.removeprefix("10 s resistance of a module")
        return Input("R_src", f"{what}{told}", read.value * modules, "Ω", read.basis)
    cells = module.cells_in_series * modules
    ohms = _CREDIBLE[end] * cells / float(module.capacity.m)
    return Input("R_src", f"{what}, unknown: the worst credible", ohms, "Ω", Basis.ASSUMED)


def _weakness(ground: Groundwork) -> Input:
    """Return how many times its resistance a string may have: aged, cold and empty.

    The guard reckons with cells at freezing, which have twice the resistance; colder ones have
    more, and age and emptiness come on top all the same.
    """
    guard, cold = ground.guard("k_high", "weak_part"), ground.source.cold_factor
    at_freezing = resistance_factor(0.0)
    if cold <= at_freezing:
        return guard
    means = f"{guard.means}, at the coldest that the cells get"
    return Input("k_high", means, guard.value * cold / at_freezing, "", Basis.ASSUMED)


def _firmness(ground: Groundwork) -> Input:
    """Return how many times its resistance a string has in the cold of its site, and no more."""
    means = "what the coldest that the cells get does to it"
    return Input("k_cold", means, max(1.0, ground.source.cold_factor), "", Basis.ASSUMED)


def credible(ground: Groundwork) -> tuple[float, float, float]:
    """Return the lowest, the known and the highest credible resistance of a string [Ω].

    Without cables; the known one in the cold of its site.
    """
    policy, modules = ground.build.policy, ground.build.pack.modules_in_series
    most = _own(ground, modules, 1).value
    return (
        _own(ground, modules, 0).value * float(policy.ohmic_part.m),
        most * _firmness(ground).value,
        most * _weakness(ground).value,
    )


def _links(ground: Groundwork, modules: int) -> float:
    """Return the resistance of the links between modules of a string, warm [Ω]."""
    link = ground.build.cabling.link
    return 0.0 if link is None else float(link.one_way.m) * (modules - 1)


def _band(
    ground: Groundwork,
    place: str,
    strings: int,
    *,
    lead: _Way,
    path: _Way,
    modules: int | None = None,
) -> FaultBand:
    pack = ground.build.pack
    number = pack.modules_in_series if modules is None else modules
    cells = count("n", "cells in series", number * pack.module.cells_in_series)
    feeding = count("N_f", "strings that feed the fault", strings)
    joined = _links(ground, number)
    high = _high(
        ground,
        place,
        cells=cells,
        feeding=feeding,
        ohms=_own(ground, number, 0),
        links=joined,
        lead=lead,
    )
    length = path.metres + lead.metres / strings
    tau = Worked(
        name=f"time constant: {place}",
        kind=TIME,
        formula="{l} · {len} / ({n} · {V_max} / {I})",
        inputs=(
            Input("l", "inductance of a two-wire run", _INDUCTANCE, "H/m", Basis.ASSUMED),
            Input("len", "length of the runs on the way", length, "m", Basis.COMPUTED),
            cells,
            high.inputs[1],
            from_worked("I", high),
        ),
        source="ohms-law",
    )
    lead_ohms, path_ohms = lead.ohms, path.ohms
    low = firm = None
    if lead_ohms is not None and path_ohms is not None:
        low, firm = (
            _low(
                ground,
                place,
                times,
                cells=cells,
                feeding=feeding,
                ohms=_own(ground, number, 1),
                links=joined,
                lead=lead_ohms,
                path=path_ohms,
            )
            for times in (_weakness(ground), _firmness(ground))
        )
    return FaultBand(
        place=place,
        low=low,
        firm=firm,
        high=high,
        known_high=_known_high(ground, high),
        time_constant=tau,
        assumed=pack.module.resistance is None,
    )


def _high(
    ground: Groundwork,
    place: str,
    *,
    cells: Input,
    feeding: Input,
    ohms: Input,
    links: float,
    lead: _Way,
) -> Worked:
    chemistry = ground.build.pack.module.chemistry
    # Not the module's own tighter limit: settings keep it, and a fuse must not lean on them.
    full = known(
        "V_max",
        "highest voltage of a cell of this chemistry",
        chemistry.limits.highest,
        chemistry.basis.of("highest"),
    )
    ohmic = ground.guard("k_low", "ohmic_part")
    cold = (lead.least_ohms + links) * COLD_COPPER
    return Worked(
        name=f"highest fault current: {place}",
        kind=CURRENT,
        formula="{n} · {V_max} / (({k_low} · {R_src} + {R_lead}) / {N_f})",
        inputs=(
            cells,
            full,
            ohmic,
            ohms,
            Input("R_lead", "links and module lead, both ways, cold", cold, "Ω", Basis.COMPUTED),
            feeding,
        ),
        source="common-practice",
    )


def _known_high(ground: Groundwork, high: Worked) -> float:
    """Return the high end with the whole of the resistance over 10 s [A].

    A part of it that was measured to be ohmic, or read off a print, is no guess.
    """
    if ground.build.policy.basis.of("ohmic_part") in {Basis.MEASURED, Basis.DATASHEET}:
        return high.value
    value = {i.symbol: i.value for i in high.inputs}
    volts = value["n"] * value["V_max"]
    return fault_current(volts, value["R_src"] + value["R_lead"], 0.0, int(value["N_f"]))


def _low(
    ground: Groundwork,
    place: str,
    times: Input,
    *,
    cells: Input,
    feeding: Input,
    ohms: Input,
    links: float,
    lead: float,
    path: float,
) -> Worked:
    chemistry = ground.build.pack.module.chemistry
    least = known(
        "V_min",
        "least voltage of a cell of this chemistry",
        chemistry.limits.least,
        chemistry.basis.of("least"),
    )
    return Worked(
        name=f"lowest fault current: {place}",
        kind=CURRENT,
        formula=f"{{n}} · {{V_min}} / (({{{times.symbol}}} · {{R_src}} + {{R_lead}}) / {{N_f}} + "
        "{R_path})",
        inputs=(
            cells,
            least,
            times,
            ohms,
            Input("R_lead", "links and module lead, both ways", links + lead, "Ω", Basis.COMPUTED),
            feeding,
            Input("R_path", "common path, both ways", path, "Ω", Basis.COMPUTED),
        ),
        source="common-practice",
    )
