"""Years by a model: cycles in a history, the year as models take it, what a lower target buys."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np
import rainflow
from numpy.typing import ArrayLike, NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.units import ENERGY, TIME, VOLTAGE, Quantity
from evpack.base.wording import COUNT, say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.ageing_model import AgeingModel
from evpack.describe.build import Build
from evpack.kernels.ageing import DAYS, MODELS, Stress, years_till
from evpack.outcome.ageing import Cycles, LowerTarget, YearsRange
from evpack.outcome.design import Design

Array = NDArray[np.float64]

_DIGITS = 9  # of a state of charge that are counted
_SLACK = 1e-6  # a state of charge this far outside 0 to 1 is rounding

YEAR = DAYS * 24.0  # [h]
MOST = 40.0  # years beyond which nothing is told; common practice, no source
_TENTH = YEAR * 3600.0 / 10  # what years are rounded down to [s]
SCATTER = 1.5  # on the loss of a model that stands alone, both ways; common practice, no source
_MOVES = 1e-3  # slower than this a cell counts as resting [1/h]

LOWER = Rule(
    key="lower-target.serves",
    says="A lower charge target buys years only where the pack, so filled, still gives what is "
    "drawn from it.",
    source="common-practice",
    stands=Standing.QUESTION,
)

_WITH_LOWER = " with the lower charge target"
_LOWER = 0.05  # by how much a lower charge target lies lower, where nobody says [V]


def count_cycles(soc: ArrayLike, hours: ArrayLike) -> Cycles:
    """Count the cycles in a history of the state of charge.

    Parameters
    ----------
    soc : array, shape (n,)
        State of charge [1], two samples or more.
    hours : array, shape (n,)
        When each was read [h], rising.

    Returns
    -------
    Cycles
        What is left over at the ends counts as half cycles.

    Raises
    ------
    DescriptionError
        No such history.

    References
    ----------
    astm-e1049 (a key in data/sources.toml), as the library rainflow has it.
    """
    states, when = history(soc, hours)
    # The library multiplies slopes, which must not underflow; and it counts nothing in two
    # samples, so one more stands in the middle.
    plain = np.round(states, _DIGITS)
    counted = np.insert(plain, 1, (plain[0] + plain[1]) / 2)
    found = list(rainflow.extract_cycles(counted.tolist()))
    return Cycles(
        depth=[cycle[0] for cycle in found],
        middle=[cycle[1] for cycle in found],
        number=[cycle[2] for cycle in found],
        hours=float(when[-1] - when[0]),
    )


def history(soc: ArrayLike, hours: ArrayLike) -> tuple[Array, Array]:
    """Return a history as arrays, or refuse what is none."""
    states, when = np.asarray(soc, dtype=float), np.asarray(hours, dtype=float)
    if states.ndim != 1 or states.size < 2 or states.shape != when.shape:  # noqa: PLR2004
        raise DescriptionError(
            "a history needs two samples or more, and a time in hours for each: got "
            f"{states.shape} states of charge and {when.shape} times"
        )
    if not (np.isfinite(states).all() and np.isfinite(when).all() and (np.diff(when) > 0).all()):
        raise DescriptionError("a history needs finite numbers, its hours rising")
    if states.min() < -_SLACK or states.max() > 1 + _SLACK:
        raise DescriptionError(
            f"states of charge run from 0 to 1, got {states.min():g} to {states.max():g}"
        )
    return np.clip(states, 0.0, 1.0), when


def same_length(name: str, values: ArrayLike, times: Sequence[float] | Array) -> Array:
    """Return values for each time, one number standing for all, or refuse."""
    array = np.asarray(values, dtype=float)
    if array.ndim == 0:
        array = np.full(len(times), float(array))
    if array.shape != (len(times),) or not np.isfinite(array).all():
        raise DescriptionError(f"{name}: needs one finite number for each of {len(times)} times")
    return array


@attrs.frozen(kw_only=True, eq=False)
class History:
    """A history as plain arrays, the cycles in it, and what of it was assumed."""

    soc: Array
    celsius: Array
    hours: Array
    cycles: Cycles
    assumed: tuple[str, ...]


@attrs.frozen(kw_only=True, eq=False)
class Case:
    """What years are told of: the models that fit, the history, the end."""

    models: Sequence[AgeingModel]
    past: History
    end: float


def stress_of(past: History, grid: Array, volts: Array) -> Stress:
    """Return the year as the models take it."""
    soc, step = past.soc, np.diff(past.hours)
    middle = (soc[1:] + soc[:-1]) / 2
    change = np.abs(np.diff(soc))
    moves = change > _MOVES * step
    whole = float(change.sum())
    cycles = past.cycles
    return Stress(
        part=step / step.sum(),
        soc=middle,
        volts=np.interp(middle, grid, volts),
        celsius=(past.celsius[1:] + past.celsius[:-1]) / 2,
        moved=change / whole if whole > 0 else change,
        depth=cycles.depth,
        middle_soc=cycles.middle,
        middle_volts=np.interp(cycles.middle, grid, volts),
        number=cycles.number * YEAR / cycles.hours,
        rate=float(change[moves].sum() / step[moves].sum()) if moves.any() else 0.0,
    )


def till(model: AgeingModel, stress: Stress, end: float, scale: float, name: str) -> Worked:
    """Return how long a model gives till the end [s]."""
    years = years_till(MODELS[model.form], stress, model.values, 1.0 - end, most=MOST, scale=scale)
    seconds = years * YEAR * 3600
    more = " or more: no further is told" if years >= MOST else ""
    twice = f", its loss times {say(scale, COUNT)}" if scale != 1 else ""
    return Worked(
        name=name,
        kind=TIME,
        formula="{t}",
        inputs=(
            Input("t", f"solved for, {model.name}{twice}{more}", seconds, "s", Basis.COMPUTED),
        ),
        source=model.source,
    )


def range_of(case: Case, stress: Stress, with_it: str) -> YearsRange:
    """Return the least and the most years of the models, rounded down."""
    name, models = f"years till {say(case.end, '')} of today's capacity", case.models
    alone = SCATTER if len(models) == 1 else 1.0
    low = [till(model, stress, case.end, alone, name) for model in models]
    high = [till(model, stress, case.end, 1 / alone, name) for model in models]
    zero = Input("zero", "counted from", 0.0, "s", Basis.CHOSEN)
    step = Input("tenth", "a tenth of a year", _TENTH, "s", Basis.CHOSEN)

    def ends(word: str, pick: str, among: list[Worked]) -> Worked:
        inputs = tuple(from_worked(f"t_{k}", one) for k, one in enumerate(among, start=1))
        named = ", ".join(f"{{{one.symbol}}}" for one in inputs)
        alike = len(inputs) == 1
        return Worked(
            name=f"{word} years{with_it}",
            kind=TIME,
            formula=f"down({named if alike else f'{pick}({named})'}, {{zero}}, {{tenth}})",
            inputs=(*inputs, zero, step),
            source="common-practice",
        )

    return YearsRange(least=ends("least", "min", low), most=ends("most", "max", high))


def gained(then: YearsRange, years: YearsRange) -> Worked:
    """Return by how much the pessimistic end grows, before it is rounded."""
    sides = []
    for sign, one in (("b", then.least), ("a", years.least)):
        held = [i for i in one.inputs if i.symbol.startswith("t_")]
        sides.append([attrs.evolve(i, symbol=i.symbol.replace("t", sign)) for i in held])
    named = [", ".join(f"{{{i.symbol}}}" for i in side) for side in sides]
    told = [names if len(sides[0]) == 1 else f"min({names})" for names in named]
    return Worked(
        name="least years gained",
        kind=TIME,
        formula=" − ".join(told),
        inputs=(*sides[0], *sides[1]),
        source="common-practice",
    )


def lowered(
    design: Design,
    case: Case,
    years: YearsRange,
    lower: Quantity | None,
    redesign: Callable[[Build], Design],
) -> tuple[LowerTarget | None, tuple[Finding, ...]]:
    """Return what a lower charge target buys and costs, by the design made anew with it."""
    pack, policy = design.build.pack, design.build.policy
    if pack.module.chemistry.targets is None:
        return None, ()
    target = _lower_target(design, lower)
    then = redesign(
        attrs.evolve(
            design.build,
            policy=attrs.evolve(
                policy,
                charge_target=VOLTAGE.of(target.value),
                basis=policy.basis.but(charge_target=Basis.CHOSEN),
            ),
        )
    )
    now, less = design.usable, then.usable
    shift = 0.0 if now is None or less is None else now.soc_top - less.soc_top
    if now is None or less is None or shift <= 0:
        return None, (
            unknown(
                LOWER,
                about="charge target",
                detail=f"What {target} a cell would buy is not known: the design with it has no "
                "usable window, or its charge setting comes no lower.",
                remedy="Clear the other findings first, or give a target further down.",
            ),
        )
    past, floor = _shifted(case.past, shift, less.soc_bottom)
    range_then = range_of(
        case, stress_of(past, pack.module.curve.soc, pack.module.curve.volts), _WITH_LOWER
    )
    as_before = float(case.past.soc.min()) - shift >= floor
    told = LowerTarget(
        target=target,
        as_before=as_before,
        years=range_then,
        gained=gained(range_then, years),
        given_up=Worked(
            name="reachable energy given up, DC",
            kind=ENERGY,
            formula="{E_now} − {E_low}",
            inputs=(
                attrs.evolve(from_worked("E_now", now.reachable), means="reachable energy now, DC"),
                attrs.evolve(
                    from_worked("E_low", less.reachable),
                    means="reachable energy, DC, designed with the lower charge target",
                ),
            ),
            source="arithmetic",
        ),
    )
    return told, (_serves(told, case.past, shift, floor, _newly_held(design, then)),)


def _lower_target(design: Design, lower: Quantity | None) -> Worked:
    """Return the lower charge target; a target that is not lower is refused."""
    pack, policy = design.build.pack, design.build.policy
    curve, chemistry = pack.module.curve, pack.module.chemistry
    stated = chemistry.targets
    assert stated is not None  # noqa: S101  (asked by the caller)
    own = policy.charge_target
    now = known(
        "V_high",
        "charge target for the highest cell",
        stated.charge if own is None else own,
        chemistry.basis.of("charge") if own is None else policy.basis.of("charge_target"),
    )
    less = now.value - float(lower.m) if lower is not None else _LOWER
    if not 0 < less < now.value - float(curve.volts[0]):
        raise DescriptionError(
            f"a lower charge target lies below {say(now.value, 'V')} and above "
            f"{say(float(curve.volts[0]), 'V')}, got {say(now.value - less, 'V')}"
        )
    return Worked(
        name="lower charge target of a cell",
        kind=VOLTAGE,
        formula="{V_high} − {ΔV}",
        inputs=(now, Input("ΔV", "by how much it is lowered", less, "V", Basis.CHOSEN)),
        source="common-practice",
    )


def _shifted(past: History, shift: float, bottom: float) -> tuple[History, float]:
    """Return the same use from a lower top, cut short where the discharge ends, and where that is.

    Whoever already drew below the end of discharge, at a lighter load, draws no further than that.
    """
    floor = min(bottom, float(past.soc.min()))
    soc = np.maximum(past.soc - shift, floor)
    return attrs.evolve(past, soc=soc, cycles=count_cycles(soc, past.hours)), floor


def _newly_held(design: Design, then: Design) -> tuple[str, ...]:
    """Return the rules that hold up the design with the lower target, and not the one now."""
    before = design.found_from(Severity.UNKNOWN)
    after = [f for f in then.findings if f.holds and (f.rule.key, f.about) not in before]
    return tuple(dict.fromkeys(f"{f.rule.key} ({f.about})" for f in after))


def _serves(
    lowered: LowerTarget, past: History, shift: float, floor: float, held: tuple[str, ...]
) -> Finding:
    """Say whether the pack can still be used as before with the lower target."""
    if lowered.as_before and not held:
        return state(
            LOWER,
            Severity.OK,
            about="charge target",
            detail=f"With {lowered.target} a cell the pack ends {say(shift, '')} less full, and "
            "can be used as before.",
        )
    words = []
    if not lowered.as_before:
        lowest = float(past.soc.min())
        words.append(
            f"With {lowered.target} a cell the pack ends {say(shift, '')} less full. It cannot be "
            f"used as before: from {say(lowest, '')} at the lowest it would have to go to "
            f"{say(lowest - shift, '')}, and the discharge ends at {say(floor, '')}. The years "
            "told with it are of use cut short there."
        )
    if held:
        words.append(f"The design with {lowered.target} is held up by {', '.join(held)}.")
    return state(
        LOWER,
        Severity.CAUTION,
        about="charge target",
        detail=" ".join(words),
        remedy="Draw less each day, add a string, or keep the charge target.",
    )
