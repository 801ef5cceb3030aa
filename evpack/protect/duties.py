"""What every cable has to do, and how its fuse would be chosen for another conductor."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping

import attrs

from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.describe.safeguards import FuseCatalogue
from evpack.kernels.conductor import COLD_COPPER
from evpack.kernels.load_line import fault_current
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, MAIN, STRING, Circuit, FuseChoice
from evpack.protect.bounds import clause_factor, guards, link_most, most_rating
from evpack.protect.fault import credible
from evpack.protect.sizing import PARALLEL_FROM, Duty, LetThrough, Refit, Seen, let_through


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
    strong, firm, weak : float
        Its lowest credible resistance, the known one, and the highest credible one [Ω].
    lead, links, bar : float or None
        Resistance of a string's lead and links, and of the bars, warm [Ω].
    shortest : float
        Length of the shortest string lead against the longest [1].
    """

    full: float
    flat: float
    strong: float
    firm: float
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

    def string_least(self, ohms: float, lead: float | None, links: float) -> float | None:
        """Return the least fault current that a string's fuse must clear, by its resistance [A]."""
        if lead is None:
            return None
        each = ohms + links + lead
        if self.strings == 1:
            return fault_current(self.flat, each, 0.0)
        fed = fault_current(self.flat, each, lead, self.strings - 1)
        return min(fed, fault_current(self.flat, each, 0.0, self.strings) / self.strings)

    def beside_least(self, ohms: float, lead: float | None) -> float | None:
        """Return the least that each other string gives into a fault in a lead's far end [A]."""
        if lead is None or self.strings == 1:
            return None
        each = ohms + self.links + lead
        return fault_current(self.flat, each, lead, self.strings - 1) / (self.strings - 1)

    def device_least(self, ohms: float, run: float) -> float | None:
        """Return the least fault current at the far end of a device's cable [A]."""
        if self.lead is None:
            return None
        each = ohms + self.links + self.lead
        return fault_current(self.flat, each, run + self.bar, self.strings)


def faults_of(ground: Groundwork) -> Faults:
    """Return the strings of a build as sources of a fault."""
    pack, cabling = ground.build.pack, ground.build.cabling
    limits = pack.module.chemistry.limits
    lead, link, bar = cabling.module_lead, cabling.link, cabling.bar
    strong, firm, weak = credible(ground)
    return Faults(
        full=pack.cells_in_series * float(limits.highest.m),
        flat=pack.cells_in_series * float(limits.least.m),
        strong=strong,
        firm=firm,
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
        laid=_laid(whole, circuit, run),
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
        laid=_laid(whole, strings, run),
        refit=Refit(
            circuit=strings,
            catalogue=whole.catalogue,
            others=_others(ground, strings, strings.run),
            others_guard=_others(ground, strings, strings.run, well=True),
            generous=run.left_open,
            interrupting=lambda c: faults.string_most(faults.lead, _links(run, c, modules)),
            least=lambda c, ohms: faults.string_least(ohms, faults.lead, _links(run, c, modules)),
            ohms=(faults.firm, faults.weak),
        ),
    )


_AS_SHORT = {"nec": 3.05, "iec": 3.0}  # m: 10 ft by NEC 240.21(B)(1); IEC 60364-4-43, 434.2.1
_TAP = 10.0  # times its ampacity that the devices before such a tap may be rated together


def feeding(ground: Groundwork, circuit: Circuit) -> int:
    """Return how many other strings feed a fault in a string's lead; 1 where none counts more.

    With a fuse at both ends of it they feed none, and of two strings the other feeds no more than
    its own fuse lets pass.
    """
    others = circuit.count - 1
    if circuit.kind != STRING or ground.build.safeguards.both_ends:
        return 1
    return max(others, 1)


def short_enough(ground: Groundwork, run: Run) -> bool:
    """Return whether a lead is so short that protecting it all along does for a second fuse."""
    return float(run.length.m) <= _AS_SHORT[ground.build.site.rules]


def _tap(ground: Groundwork, run: Run) -> float:
    """Return how many times what guards a lead the others may feed into it together.

    A lead of which nobody said whether it is protected counts as if it were, and is asked about.
    """
    return _TAP if short_enough(ground, run) and run.protected is not False else 1.0


def _plain(ground: Groundwork, circuit: Circuit, run: Run, needed: Worked | None) -> Duty:
    carries = None if circuit.carries is None else circuit.carries.value
    policy, by_nec = ground.build.policy, ground.build.site.rules == "nec"
    ripple = float(policy.ripple.m) if rippling(circuit) else 1.0
    margin = ripple * (1.0 if circuit.kind == ARRAY else float(policy.continuous_factor.m))
    least = None if needed is None else needed.value
    return Duty(
        run=run,
        needed=least,
        needed_guard=None if least is None or carries is None else max(least, carries * margin),
        loadable=functools.partial(loadable, nec=by_nec),
        carries=carries,
        warming=None if carries is None else carries * ripple,
        guards=functools.partial(most_rating, circuit.held),
        guards_well=functools.partial(guards, as_gg=circuit.held.as_gg),
        summed=functools.partial(guards, as_gg=circuit.held.as_gg and not by_nec),
        tap=_tap(ground, run),
        kept=None if circuit.lower_guard is None else circuit.lower_guard.value,
        least_parallel=PARALLEL_FROM if by_nec else 0.0,
    )


def loadable(conductor: Conductor, ampacity: float, *, nec: bool) -> float:
    """Return what 125 % of a continuous current may reach by NEC, or the current by IEC [A].

    By NEC 215.2(A)(1) 125 % of it may reach what the column of the terminals says without
    correction, and the current itself the ampacity with it.
    """
    if not nec:
        return ampacity
    factor = clause_factor("nec")
    together = ampacity / conductor.ampacity
    plain = conductor.ampacity if conductor.plain is None else conductor.plain
    return min(plain * together, factor * ampacity)


def _laid(whole: Installation, circuit: Circuit, run: Run) -> LetThrough:
    fuse = whole.fuse(circuit)
    assert fuse is not None  # noqa: S101  (every circuit but an array's has one)
    beside = feeding(whole.ground, circuit) if run is circuit.run else 1
    lead, faults = _there_and_back(run, run.conductor), whole.faults
    firm, weak = (
        _least(
            [
                None if told is None else told.value,
                *([faults.beside_least(ohms, lead)] if beside > 1 else []),
            ]
        )
        for told, ohms in ((circuit.firm_fault, faults.firm), (circuit.least_fault, faults.weak))
    )
    fault = Seen(
        firm=firm,
        weak=weak,
        highest=None if circuit.interrupting is None else circuit.interrupting.value,
        surely=circuit.surely or None,
    )
    return let_through(whole.catalogue, fuse.family, fuse.size, fault, beside)


def _least(currents: list[float | None]) -> float | None:
    """Return the least of several currents [A]; None where one is unknown."""
    known = [amps for amps in currents if amps is not None]
    return min(known) if len(known) == len(currents) else None


def _refit(whole: Installation, circuit: Circuit, run: Run) -> Refit:
    ground, faults = whole.ground, whole.faults
    if circuit.kind == STRING:
        link, beside = ground.build.cabling.link, feeding(ground, circuit)

        def least(conductor: Conductor, ohms: float) -> float | None:
            lead = _there_and_back(run, conductor)
            own = faults.string_least(ohms, lead, faults.links)
            return _least([own, faults.beside_least(ohms, lead)] if beside > 1 else [own])

        return Refit(
            circuit=circuit,
            catalogue=whole.catalogue,
            others=_others(ground, circuit, link),
            others_guard=_others(ground, circuit, link, well=True),
            generous=run.left_open,
            interrupting=lambda c: faults.string_most(_there_and_back(run, c), faults.links),
            least=least,
            ohms=(faults.firm, faults.weak),
            beside=beside,
        )
    breaking = None if circuit.interrupting is None else circuit.interrupting.value
    return Refit(
        circuit=circuit,
        catalogue=whole.catalogue,
        others=math.inf,
        others_guard=math.inf,
        generous=run.left_open,
        interrupting=lambda _: breaking,
        least=lambda c, ohms: faults.device_least(ohms, _there_and_back(run, c)),
        ohms=(faults.firm, faults.weak),
    )


def _others(
    ground: Groundwork, strings: Circuit, beside: Run | None, *, well: bool = False
) -> float | None:
    """Return what else the fuse of a string guards: the modules' links and one more run [A]."""
    module = ground.build.pack.module
    unsaid = module.link_limit is None and module.discharge_limit is None
    if unsaid or (beside is None and strings.run is None):
        return None
    link = link_most(ground, strings.held, strings.hours, guarded=well)
    limit = math.inf if link is None else link.value
    if beside is None:
        return limit
    ampacity = float(beside.ampacity.m)
    if well:
        return min(limit, guards(ampacity, as_gg=strings.held.as_gg))
    return min(limit, most_rating(strings.held, ampacity))
