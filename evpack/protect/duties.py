"""What every cable has to do, and how its fuse would be chosen for another conductor."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping

import attrs

from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.describe.fuses import FuseCatalogue
from evpack.kernels.conductor import COLD_COPPER
from evpack.kernels.fault import fault_current
from evpack.outcome.circuits import ARRAY, MAIN, STRING, Circuit
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FuseChoice
from evpack.outcome.solar import SolarSide
from evpack.protect.bounds import guards
from evpack.protect.fault import credible
from evpack.protect.sizing import Duty, LetThrough, Refit, let_through


def rippling(circuit: Circuit) -> bool:
    """Return whether an inverter's ripple flows in a circuit."""
    return circuit.kind in {STRING, MAIN}


@attrs.frozen(kw_only=True)
class Faults:
    """The strings as sources of a fault, in plain numbers; see `fault.py` for why.

    Parameters
    ----------
    full, flat : float
        Voltage of a string at its highest and at its least [V].
    strong, weak : float
        Its lowest and highest credible resistance [Ω].
    lead, links, bar : float or None
        Resistance of a string's lead and links, and of the bars, warm [Ω].
    shortest : float
        Length of the shortest string lead against the longest [1].
    """

    full: float
    flat: float
    strong: float
    weak: float
    strings: int
    lead: float | None
    links: float
    bar: float
    shortest: float = 1.0

    def string_most(self, lead: float | None, links: float) -> float:
        """Return the most that the fuse of a string must break [A]."""
        own = fault_current(self.full, self.strong + links * COLD_COPPER, 0.0)
        if self.strings == 1:
            return own
        cold = ((lead or 0.0) * self.shortest + links) * COLD_COPPER
        return max(own, fault_current(self.full, self.strong + cold, 0.0, self.strings - 1))

    def string_least(self, lead: float | None, links: float) -> float | None:
        """Return the least fault current that the fuse of a string must clear [A]."""
        if lead is None:
            return None
        each = self.weak + links + lead
        if self.strings == 1:
            return fault_current(self.flat, each, 0.0)
        fed = fault_current(self.flat, each, lead, self.strings - 1)
        return min(fed, fault_current(self.flat, each, 0.0, self.strings) / self.strings)

    def device_least(self, run: float) -> float | None:
        """Return the least fault current at the far end of a device's cable [A]."""
        if self.lead is None:
            return None
        each = self.weak + self.links + self.lead
        return fault_current(self.flat, each, run + self.bar, self.strings)


def faults_of(ground: Groundwork) -> Faults:
    """Return the strings of a build as sources of a fault."""
    pack, cabling = ground.build.pack, ground.build.cabling
    limits = pack.module.chemistry.limits
    lead, link, bar = cabling.module_lead, cabling.link, cabling.bar
    strong, weak = credible(ground)
    return Faults(
        full=pack.cells_in_series * float(limits.highest.m),
        flat=pack.cells_in_series * float(limits.least.m),
        strong=strong,
        weak=weak,
        strings=pack.strings,
        lead=None if lead is None else _there_and_back(lead, lead.conductor),
        links=0.0 if link is None else _links(link, link.conductor, pack.modules_in_series),
        bar=0.0 if bar is None else float(bar.resistance.m),
        shortest=1.0 if lead is None else lead.shortest_part,
    )


def _there_and_back(run: Run, conductor: Conductor) -> float:
    return 2 * float(run.length.m) * conductor.ohm_per_metre / run.parallel


def _links(run: Run, conductor: Conductor, modules: int) -> float:
    return float(run.length.m) * conductor.ohm_per_metre / run.parallel * (modules - 1)


@attrs.frozen(kw_only=True)
class Installation:
    """What every cable is judged by: the build, the fuses chosen, the sun, the faults."""

    ground: Groundwork
    fuses: Mapping[str, FuseChoice]
    catalogue: FuseCatalogue
    solar: tuple[SolarSide, ...]
    faults: Faults

    def fuse(self, circuit: Circuit) -> FuseChoice | None:
        """Return the fuse that guards the cable of a circuit; those of an array sit before it."""
        return None if circuit.kind == ARRAY else self.fuses.get(circuit.place)

    def volts(self, circuit: Circuit) -> Worked | None:
        """Return what a voltage drop is a share of [V]; None is unknown."""
        if circuit.kind != ARRAY:
            return self.ground.figures.nominal
        return next((s.hot_working for s in self.solar if s.array == circuit.device), None)


def circuit_duty(whole: Installation, circuit: Circuit, run: Run, needed: Worked | None) -> Duty:
    """Return what the cable of a circuit has to do."""
    policy, volts = whole.ground.build.policy, whole.volts(circuit)
    duty = attrs.evolve(
        _plain(whole.ground, circuit, run, needed), volts=None if volts is None else volts.value
    )
    if circuit.kind == ARRAY:
        return attrs.evolve(
            duty,
            drop_most=None if volts is None else float(policy.array_drop.m),
            fed=_fed(circuit),
        )
    return attrs.evolve(
        duty,
        surge=None if circuit.surge is None else circuit.surge.value,
        drop_most=float(policy.cable_drop.m),
        surge_most=float(policy.surge_drop.m) if rippling(circuit) else None,
        laid=_laid(whole, circuit),
        refit=_refit(whole, circuit, run),
    )


def _fed(circuit: Circuit) -> float | None:
    """Return what can be fed into the cable of an array [A], by itself or from the others."""
    if circuit.carries is None or (circuit.joined and circuit.backfed is None):
        return None
    return max(circuit.carries.value, 0.0 if circuit.backfed is None else circuit.backfed.value)


def link_duty(whole: Installation, strings: Circuit, run: Run, needed: Worked | None) -> Duty:
    """Return what the cables between modules have to do: they lie in their string's path."""
    ground, faults = whole.ground, whole.faults
    modules = ground.build.pack.modules_in_series
    return attrs.evolve(
        _plain(ground, strings, run, needed),
        laid=_laid(whole, strings),
        refit=Refit(
            circuit=strings,
            catalogue=whole.catalogue,
            others=_others(ground, strings, strings.run),
            generous=run.left_open,
            interrupting=lambda c: faults.string_most(faults.lead, _links(run, c, modules)),
            least=lambda c: faults.string_least(faults.lead, _links(run, c, modules)),
        ),
    )


def _plain(ground: Groundwork, circuit: Circuit, run: Run, needed: Worked | None) -> Duty:
    carries = None if circuit.carries is None else circuit.carries.value
    ripple = float(ground.build.policy.ripple.m) if rippling(circuit) else 1.0
    return Duty(
        run=run,
        needed=None if needed is None else needed.value,
        carries=carries,
        warming=None if carries is None else carries * ripple,
        guards=functools.partial(guards, as_gg=circuit.as_gg),
    )


def _laid(whole: Installation, circuit: Circuit) -> LetThrough:
    fuse = whole.fuse(circuit)
    assert fuse is not None  # noqa: S101  (every circuit but an array's has one)
    least = None if circuit.least_fault is None else circuit.least_fault.value
    return let_through(whole.catalogue, fuse.family, fuse.size, least)


def _refit(whole: Installation, circuit: Circuit, run: Run) -> Refit:
    ground, faults = whole.ground, whole.faults
    if circuit.kind == STRING:
        link = ground.build.cabling.link
        return Refit(
            circuit=circuit,
            catalogue=whole.catalogue,
            others=_module_limit(ground) if link is None else _others(ground, circuit, link),
            generous=run.left_open,
            interrupting=lambda c: faults.string_most(_there_and_back(run, c), faults.links),
            least=lambda c: faults.string_least(_there_and_back(run, c), faults.links),
        )
    breaking = None if circuit.interrupting is None else circuit.interrupting.value
    return Refit(
        circuit=circuit,
        catalogue=whole.catalogue,
        others=math.inf,
        generous=run.left_open,
        interrupting=lambda _: breaking,
        least=lambda c: faults.device_least(_there_and_back(run, c)),
    )


def _module_limit(ground: Groundwork) -> float | None:
    """Return what the modules' own links stand, as `bounds.string_bound` takes it [A]."""
    module = ground.build.pack.module
    limit = module.discharge_limit if module.link_limit is None else module.link_limit
    return None if limit is None else float(limit.m)


def _others(ground: Groundwork, strings: Circuit, beside: Run | None) -> float | None:
    """Return what else the fuse of a string guards: the modules' links and one more run [A]."""
    limit = _module_limit(ground)
    if limit is None or beside is None:
        return None
    return min(limit, guards(float(beside.ampacity.m), as_gg=strings.as_gg))
