"""How the strings share: a full discharge and a charge, stepped through time, case by case.

What a run says can go back into the build: fuses and cables are then sized for it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.units import CURRENT, POWER, SHARE
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, count, known
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.policy import means
from evpack.kernels.network import State, rested
from evpack.kernels.runs import NEVER, Followed, Limits, follow
from evpack.outcome.design import Design
from evpack.outcome.runs import AT_ONCE, COLLAPSED, SharedRun, SharingCase, SharingRun
from evpack.simulate.sharing_rules import cannot_run, judged, reckoned
from evpack.simulate.strings import PackedStrings, StringScale, main_cable, pack_strings

Array = NDArray[np.float64]

# How a module may differ. Common practice, no source: at 80 % of its capacity a cell resists about
# twice as much; a new one among worn ones is the same turned round.
WEAK = StringScale(capacity=0.8, resistance=2.0, modules=1)
NEW = StringScale(capacity=1.25, resistance=0.5, modules=1)
WARM, COLD = 20.0, 0.0  # cells and air, and a string that stands in the cold [°C]
_STEPS = 1500  # about so many for a discharge
_BUSY = 0.5  # of the greatest load, from which on a share tells something

ALIKE, OPPOSITE, LOW = "all alike", "opposite ends", "least resistance"
ONE_OUT, WEAK_ONE, COLD_ONE, NEW_ONE = (
    "one string out",
    "a weak module",
    "a cold string",
    "a new module",
)

_STEP = 0.01  # to which an imbalance is rounded up [1]
_DUST = 1e-9


@attrs.frozen(kw_only=True)
class _Asked:
    """What is run: scales of the strings, ends of the bars, the last string's temperature."""

    name: str
    says: str
    scales: tuple[StringScale, ...]
    usual: bool = True
    opposite: bool = False
    last_at: float = WARM

    @property
    def strings(self) -> int:
        """Return how many strings carry."""
        return sum(not scale.is_open for scale in self.scales)


def simulate_sharing(
    design: Design, *, more: Mapping[str, Sequence[StringScale]] | None = None
) -> SharingRun:
    """Run a discharge at full inverter output and a charge, and see what each string carries.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    more : mapping of sequence of StringScale, optional
        Cases of your own by name: how each string differs from the design's.

    Returns
    -------
    SharingRun
        Never raises for a risky design: that is a finding.
    """
    need("simulate_sharing", design, Design)
    build = design.build
    power, charging = full_output(design), _charge_current(design)
    lacking = cannot_run(design, power)
    if lacking:
        return SharingRun(
            title=build.title,
            invented=build.invented,
            strings=build.pack.strings,
            power=power,
            charge_current=charging,
            cases=(),
            findings=lacking,
            assumed=(),
        )
    assert power is not None  # noqa: S101  (told to the type checker; `cannot_run` asked)
    asked = _asked(design, more or {})
    cases = tuple(_case(design, case, power.value, charging.value) for case in asked)
    packed = pack_strings(design)
    return SharingRun(
        title=build.title,
        invented=build.invented,
        strings=build.pack.strings,
        power=power,
        charge_current=charging,
        cases=cases,
        findings=judged(design, cases),
        assumed=(*packed.assumed, f"cells and air at {WARM:g} °C"),
    )


def _asked(design: Design, more: Mapping[str, Sequence[StringScale]]) -> list[_Asked]:
    """Return the cases: what the design reckons with, then what may befall it, then the user's."""
    n, policy = design.build.pack.strings, design.build.policy
    alike = (StringScale(),) * n
    low = float(policy.ohmic_part.m)
    found = [_Asked(name=ALIKE, says="Every string as the design has it.", scales=alike)]
    if n > 1:
        found += [
            _Asked(
                name=OPPOSITE,
                says="The same, plus and minus taken off opposite ends of the bars.",
                scales=alike,
                opposite=True,
            ),
            _Asked(
                name=LOW,
                says=f"All modules at their lowest credible resistance, {say(low, '')} of that "
                "over 10 s: leads and bars then count most.",
                scales=(StringScale(resistance=low),) * n,
            ),
            _Asked(
                name=ONE_OUT,
                says="The last string is off, by its fuse or by hand.",
                scales=(*alike[1:], StringScale(is_open=True)),
                usual=False,
            ),
            _Asked(
                name=WEAK_ONE,
                says=f"One module of the last string has {say(WEAK.capacity, '')} of the capacity "
                f"and {say(WEAK.resistance, '')} of the resistance.",
                scales=(*alike[1:], WEAK),
                usual=False,
            ),
            _Asked(
                name=COLD_ONE,
                says=f"The last string starts at {COLD:g} °C, the others at {WARM:g} °C.",
                scales=alike,
                usual=False,
                last_at=COLD,
            ),
            _Asked(
                name=NEW_ONE,
                says="One module of the first string was replaced by a new one: "
                f"{say(NEW.capacity, '')} of the capacity, {say(NEW.resistance, '')} of the "
                "resistance.",
                scales=(NEW, *alike[1:]),
                usual=False,
            ),
        ]
    for name, scales in more.items():
        if len(scales) != n or all(scale.is_open for scale in scales):
            raise DescriptionError(
                f"case '{name}': {n} strings need {n} scales, not all open; got {len(scales)}"
            )
        found.append(_Asked(name=name, says="Your own case.", scales=tuple(scales), usual=False))
    return found


def full_output(design: Design) -> Worked | None:
    """Return what all inverters draw at full output [W]; None where it is unknown."""
    shared = design.sharing
    if shared is None:
        return None
    of = next(i for i in shared.total.inputs if i.symbol == "P")
    return Worked(
        name=of.means,
        kind=POWER,
        formula="{P}",
        inputs=(of,),
        source="nec-706",
    )


def _charge_current(design: Design) -> Worked:
    """Return the most that the pack is charged with [A]: its rate, its modules, its chargers."""
    build = design.build
    pack, policy = build.pack, build.policy
    rate = known("k_rate", means("charge_rate"), policy.charge_rate, policy.basis.of("charge_rate"))
    of = Input("Q", "capacity", float(pack.capacity.m), "Ah", pack.module.basis.of("capacity"))
    formula, value, inputs = "{Q} · {k_rate} / 1 h", of.value * rate.value, [of, rate]
    chargers = [(c.current, c.count, c.basis.of("current")) for c in build.all_chargers]
    given = [(float(amps.m) * units, basis) for amps, units, basis in chargers if amps is not None]
    others = []
    if pack.module.charge_limit is not None and pack.module.charge_limit.m > 0:
        basis = pack.module.basis.of("charge_limit")
        most = float(pack.module.charge_limit.m) * pack.strings
        others.append(Input("I_modules", "charge limit of all strings", most, "A", basis))
    total = sum(amps for amps, _ in given)
    # Chargers that give nothing charge nothing: then the pack's own rate is run, to be seen.
    if total > 0 and len(given) == len(chargers):
        others.append(Input("I_given", "all chargers together", total, "A", given[0][1]))
    if others:
        formula = f"min({formula}, {', '.join(f'{{{i.symbol}}}' for i in others)})"
        value = min(value, *(i.value for i in others))
    return Worked(
        name="charge current of the pack",
        kind=CURRENT,
        formula=formula,
        inputs=(*inputs, *others),
        source="common-practice",
    )


def _case(design: Design, asked: _Asked, power: float, charging: float) -> SharingCase:
    packed = pack_strings(design, scales=asked.scales, opposite_ends=asked.opposite)
    return SharingCase(
        name=asked.name,
        says=asked.says,
        usual=asked.usual,
        strings=asked.strings,
        discharge=_discharge(design, packed, asked, power),
        charge=_charge(design, packed, asked, charging),
    )


def _start(packed: PackedStrings, asked: _Asked, volts: float) -> State:
    """Return strings that stood joined and rested: all at one voltage [V], as they come to it."""
    strings = packed.strings
    state = rested(strings, 0.0, WARM)
    grid = np.linspace(0.0, 1.0, strings.ocv.shape[1])
    state.soc[:] = [np.interp(volts, curve, grid) for curve in strings.ocv]
    state.temperature[-1] = asked.last_at
    return state


def _at_rest(design: Design, soc: float) -> float:
    """Return the voltage of the pack as designed, at rest [V]."""
    pack = design.build.pack
    curve = pack.module.curve
    return pack.cells_in_series * float(np.interp(soc, curve.soc, curve.volts))


def _discharge(design: Design, packed: PackedStrings, asked: _Asked, power: float) -> SharedRun:
    """Discharge at a power from the charge setting to the cut-off, or till a string is empty."""
    usable, settings, shared = design.usable, design.settings, design.sharing
    assert shared is not None  # noqa: S101  (told to the type checker; the power came from it)
    top = 1.0 if usable is None else usable.soc_top
    bottom = next(i.value for i in shared.total.inputs if i.symbol == "V_low")
    cut_off = None if settings is None else settings.thresholds.cut_off
    lowest = bottom if cut_off is None else cut_off
    seconds = float(design.build.pack.energy.m) * 3600.0 * 1.3 / power / _STEPS
    start, cable = _start(packed, asked, _at_rest(design, top)), main_cable(design)

    def gone(steps: int, limits: Limits) -> Followed:
        return follow(
            packed.strings,
            start,
            np.full(steps, power),
            seconds,
            power=True,
            limits=limits,
            stops=steps > 1,
            ambient=WARM,
        )

    done = gone(_STEPS, Limits(lowest=lowest, cable=cable))
    if done.books.steps == 0:  # one step all the same, to see what would flow
        return _told("discharge", gone(1, Limits(cable=cable)), asked, AT_ONCE)
    ended = f"cut off at {say(lowest, 'V')}" if done.books.cut != NEVER else "its time was over"
    return _told("discharge", done, asked, COLLAPSED if done.books.collapsed != NEVER else ended)


def _charge(design: Design, packed: PackedStrings, asked: _Asked, amps: float) -> SharedRun:
    """Charge with a current to the charge setting, and hold it there till the tail current."""
    build, usable, settings = design.build, design.usable, design.settings
    highest = None if settings is None else settings.thresholds.charge
    if highest is None:
        highest = float(build.pack.highest.m)
    tail = float(build.policy.tail_current.m) * float(build.pack.capacity.m)
    bottom = 0.1 if usable is None else max(0.0, usable.soc_bottom)
    hours = 2.0 + 1.3 * float(build.pack.capacity.m) / amps
    start = _start(packed, asked, _at_rest(design, bottom))

    def gone(steps: int, limits: Limits) -> Followed:
        return follow(
            packed.strings,
            start,
            np.full(steps, -amps),
            hours * 3600.0 / _STEPS,
            limits=limits,
            stops=steps > 1,
            ambient=WARM,
        )

    done = gone(_STEPS, Limits(highest=highest, tail=tail))
    if done.books.steps == 0:
        return _told("charge", gone(1, Limits()), asked, f"above {say(highest, 'V')} at once")
    full = f"held at {say(highest, 'V')} till {say(tail, 'A')}"
    return _told("charge", done, asked, full if done.books.full != NEVER else "its time was over")


def _told(way: str, done: Followed, asked: _Asked, ended: str) -> SharedRun:
    """Return what a run shows, up to where a string is empty."""
    record, n = done.record, asked.strings
    rows = record.load.size
    empty = np.flatnonzero((record.soc < 0).any(axis=1)) if way == "discharge" else np.empty(0)
    if empty.size:
        rows, ended = max(1, int(empty[0])), "a string is empty"
    current, load, time = record.current[:rows], record.load[:rows], done.time[:rows]
    soc = record.soc[:rows]
    carries = np.array([not scale.is_open for scale in asked.scales])
    sizes = np.abs(current)
    row, string = np.unravel_index(int(sizes.argmax()), sizes.shape)
    busy = np.abs(load) >= _BUSY * np.abs(load).max()
    shares = np.where(
        busy[:, np.newaxis], current * n / np.where(busy, load, 1.0)[:, np.newaxis], 0
    )
    first, most = np.unravel_index(int(shares.argmax()), shares.shape)
    last = int(np.flatnonzero(busy)[-1])
    strings = count("N_on", "strings that carry", n)

    def amps(symbol: str, words: str, value: float) -> Input:
        return Input(symbol, words, float(value), "A", Basis.COMPUTED)

    worst_share = abs(float(current[row, string] * n / load[row]))
    return SharedRun(
        way=way,
        time=time,
        current=current,
        soc=soc,
        load=load,
        volts=record.volts[:rows],
        ended_by=ended,
        early=tuple(float(x) for x in current[0]),
        late=tuple(float(x) for x in current[last]),
        worst=Worked(
            name=f"busiest string in the {way}",
            kind=CURRENT,
            formula="{k_run} · {I} / {N_on}",
            inputs=(
                Input(
                    "k_run",
                    "its share against an even one, in the run",
                    worst_share,
                    "",
                    Basis.COMPUTED,
                ),
                amps("I", "current of the pack then", abs(load[row])),
                strings,
            ),
            source="ohms-law",
            note=f"String {string + 1}, after {say(float(time[row]), 's')}.",
        ),
        busiest=int(string) + 1,
        at=float(time[row]),
        uneven=Worked(
            name=f"busiest string in the {way} against an even share",
            kind=SHARE,
            formula="{I_str} · {N_on} / {I}",
            inputs=(
                amps(
                    "I_str", f"current of string {most + 1}, in the run", abs(current[first, most])
                ),
                strings,
                amps("I", "current of the pack then", abs(load[first])),
            ),
            source="ohms-law",
            note=f"After {say(float(time[first]), 's')}.",
        ),
        apart=float(np.ptp(soc[:, carries], axis=1).max()),
        charge_lost=abs(done.charge_residual) / done.books.moved,
        energy_lost=abs(done.energy_residual) / done.energy_handled,
    )


def reckon_with(design: Design, run: SharingRun) -> Build:
    """Return the build with the imbalance that a run of its strings showed, never with less.

    The worst of all cases counts: a new module among worn ones, a weak one, a string out. Design
    the build that comes back, and its string fuses, leads and limits are for that.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    run : SharingRun
        Of that design, by `evpack.simulate_sharing`.

    Raises
    ------
    DescriptionError
        The run has no cases, or shows more than any design may reckon with.
    """
    need("reckon_with", design, Design)
    need("reckon_with", run, SharingRun)
    if not run.cases:
        raise DescriptionError("this run has no cases: its findings say what is not known")
    build = design.build
    # Unlike leads come on top of what is assumed, so the factor is raised by what is missing.
    beyond = max(
        one.uneven.value / reckoned(design, case.strings) for case in run.cases for one in case.runs
    )
    if beyond <= 1:
        return build
    raised = float(build.policy.sharing_imbalance.m) * beyond
    value = _STEP * math.ceil(raised / _STEP - _DUST)
    basis = build.policy.basis.but(sharing_imbalance=Basis.COMPUTED)
    policy = attrs.evolve(build.policy, sharing_imbalance=SHARE.of(value), basis=basis)
    return attrs.evolve(build, policy=policy, sheet="")
