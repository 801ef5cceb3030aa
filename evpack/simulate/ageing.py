"""Years till the cells are spent, as a range over the published models that fit their chemistry.

Nothing here foretells what a given module does: salvaged cells have a first life behind them that
no model saw. What comes out is an order of size, and which way a change moves it.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Rule, Severity, state, unknown
from evpack.base.units import CHARGE, ENERGY, SHARE, TIME, VOLTAGE, Quantity
from evpack.base.units import share as as_share
from evpack.base.wording import COUNT, say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.ageing_model import AgeingModel
from evpack.kernels.ageing import DAYS, MODELS, Stress, years_till
from evpack.outcome.ageing import Ageing, Cycles, LowerTarget, ModelAgeing, YearsRange
from evpack.outcome.design import Design
from evpack.simulate.cycles import count_cycles, history, same_length

Array = NDArray[np.float64]

MODEL = Rule(
    key="ageing.model",
    says="Years are told only where a published model fits the chemistry.",
    source="common-practice",
)
HISTORY = Rule(
    key="ageing.history",
    says="How long cells last hangs on how full and how warm they stand, and how far they cycle.",
    source="common-practice",
)
ALONE = Rule(
    key="ageing.alone",
    says="One model alone shows no spread, though models of one chemistry differ by a factor.",
    source="common-practice",
)
SUDDEN = Rule(
    key="ageing.sudden",
    says="No model here foretells the sudden end that some cells meet after years of slow loss.",
    source="common-practice",
)

YEAR = DAYS * 24.0  # [h]
MOST = 40.0  # years beyond which nothing is told; common practice, no source
_TENTH = YEAR * 3600.0 / 10  # what years are rounded down to [s]
_SCATTER = 1.5  # on the loss of a model that stands alone, both ways; common practice, no source
_LOWER = 0.05  # by how much a lower charge target lies lower, where nobody says [V]
_WARMTH = 25.0  # of cells where nobody says [°C]
_MOVES = 1e-3  # slower than this a cell counts as resting [1/h]
_DAY = (0.0, 8.0, 20.0, 24.0)  # a day of one cycle: full till 8 h, empty at 20 h, full at 24 h [h]


@attrs.frozen(kw_only=True, eq=False)
class _History:
    """A history as plain arrays, the cycles in it, and what of it was assumed."""

    soc: Array
    celsius: Array
    hours: Array
    cycles: Cycles
    assumed: tuple[str, ...]


@attrs.frozen(kw_only=True, eq=False)
class _Case:
    """What years are told of: the models that fit, the history, the end."""

    models: Sequence[AgeingModel]
    past: _History
    end: float


def ageing_of(
    design: Design,
    models: Sequence[AgeingModel],
    *,
    soc: ArrayLike | None = None,
    temperature: ArrayLike | None = None,
    hours: ArrayLike | None = None,
    end: object = "70 %",
    lower: Quantity | None = None,
) -> Ageing:
    """Return how long the cells of a design last; `evpack.ageing` calls it with the library's.

    Parameters
    ----------
    models : sequence of AgeingModel
        Those that may fit; the others are left aside.
    soc, temperature, hours : array, shape (n,), optional
        A history: states of charge [1], temperatures [°C], and when [h]. It is taken to come back
        over and over. Without it, one cycle a day of all that the settings leave usable.
    end : quantity or text
        Share of today's capacity at which the cells are spent.
    lower : quantity, optional
        A lower charge target of a cell [V]; by default 50 mV lower.
    """
    ended = float(as_share(end).m)
    if not 0 < ended < 1:
        raise DescriptionError(f"end must lie between 0 and 100 %, got {say(ended, '')}")
    chemistry = design.build.pack.module.chemistry
    fitting = [model for model in models if chemistry.key in model.chemistries]
    past = _history(design, soc, temperature, hours)
    findings = [_fits(chemistry.key, chemistry.name, fitting), _told(past)]
    if past is None or not fitting:
        return _nothing(design, ended, past, tuple(findings))
    if len(fitting) == 1:
        findings.append(
            state(
                ALONE,
                Severity.CAUTION,
                about="cells",
                detail=f"Only '{fitting[0].name}' fits: the range takes its "
                f"loss {say(_SCATTER, COUNT)} times, and by {say(_SCATTER, COUNT)}.",
                remedy="Take the range as an order of size, and log the capacity once a year.",
            )
        )
    findings.append(
        state(
            SUDDEN,
            Severity.NOTE,
            about="cells",
            detail="Salvaged cells have a first life behind them that no model here saw.",
            remedy="Measure the capacity once a year; from a fast loss on, end their use.",
        )
    )
    curve = design.build.pack.module.curve
    stress = _stress(past, curve.soc, curve.volts)
    grid = np.linspace(0.0, 20.0, 81)
    each = tuple(_by_model(model, stress, ended, grid) for model in fitting)
    case = _Case(models=fitting, past=past, end=ended)
    years = _range(case, stress, "")
    return Ageing(
        title=design.build.title,
        invented=design.build.invented,
        chemistry=chemistry.name,
        end=ended,
        cycles=past.cycles,
        through=_through(design, past),
        warmth=float(stress.part @ stress.celsius),
        models=each,
        years=years,
        lower=_lowered(design, case, years, lower),
        grid=grid,
        findings=tuple(findings),
        assumed=past.assumed,
    )


def _fits(key: str, name: str, fitting: list[AgeingModel]) -> Finding:
    """Say which models fit, or that none does: then nothing is told."""
    if not fitting:
        return unknown(
            MODEL,
            about="cells",
            detail=f"evpack holds no published model that fits {name}; how long they last is not "
            "known.",
            remedy="Do not count on years for these cells; log their capacity once a year.",
        )
    return state(
        MODEL,
        Severity.OK,
        about="cells",
        detail=f"{len(fitting)} published model{'s' if len(fitting) > 1 else ''} for '{key}': "
        f"{'; '.join(model.name for model in fitting)}.",
    )


def _told(past: _History | None) -> Finding:
    """Say whether the history was given, assumed, or is missing."""
    if past is None:
        return unknown(
            HISTORY,
            about="cells",
            detail="Neither a history of the state of charge nor a usable window is known.",
            remedy="Clear the other findings first, or give soc, temperature and hours.",
        )
    if past.assumed:
        return state(
            HISTORY,
            Severity.CAUTION,
            about="cells",
            detail=f"Assumed: {'; '.join(past.assumed)}.",
            remedy="Simulate a year of operation and give its states of charge and temperatures.",
            assumed=past.assumed,
        )
    return state(
        HISTORY,
        Severity.OK,
        about="cells",
        detail=f"A history of {say(float(past.hours[-1] - past.hours[0]) * 3600, 's')} was given.",
    )


def _history(
    design: Design,
    soc: ArrayLike | None,
    temperature: ArrayLike | None,
    hours: ArrayLike | None,
) -> _History | None:
    assumed: list[str] = []
    if soc is None:
        if hours is not None:
            raise DescriptionError("hours without soc say nothing; give both")
        made = _every_day(design)
        if made is None:
            return None
        states, when = made
        assumed.append("one cycle a day of all that the settings leave usable")
    else:
        if hours is None:
            raise DescriptionError("soc needs hours: when each state of charge was read")
        states, when = history(soc, hours)
    if temperature is None:
        celsius, words = _warmth(design, when)
        assumed.append(words)
    else:
        celsius = same_length("temperature", temperature, when)
    span = float(when[-1] - when[0])
    if span < YEAR * 0.99:
        assumed.append(f"{say(span * 3600, 's')} stand for every day of every year")
    return _History(
        soc=states,
        celsius=celsius,
        hours=when,
        cycles=count_cycles(states, when),
        assumed=tuple(assumed),
    )


def _every_day(design: Design) -> tuple[Array, Array] | None:
    """Return a year of one cycle a day between full and the end of the discharge."""
    usable = design.usable
    if usable is None:
        return None
    high, low = usable.soc_top, min(usable.soc_bottom, usable.soc_top)
    hour = np.arange(0.0, 365 * 24 + 1)
    return np.interp(hour % 24, _DAY, (high, high, low, high)), hour


def _warmth(design: Design, hours: Array) -> tuple[Array, str]:
    """Return temperatures through the year between the coldest and the warmest of the cells."""
    site = design.build.site
    if site.coldest is None or site.warmest is None:
        return np.full(hours.size, _WARMTH), f"cells at {say(_WARMTH, '°C')}"
    low, high = float(site.coldest.m), float(site.warmest.m)
    swing = np.cos(2 * np.pi * hours / YEAR)
    words = f"cells from {say(low, '°C')} to {say(high, '°C')} through the year and back"
    return (low + high) / 2 - (high - low) / 2 * swing, words


def _stress(past: _History, grid: Array, volts: Array, shift: float = 0.0) -> Stress:
    """Return the year as the models take it; `shift` lowers every state of charge [1]."""
    lower = min(shift, float(past.soc.min()))  # nothing falls below empty
    soc, step = past.soc - lower, np.diff(past.hours)
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
        middle_soc=cycles.middle - lower,
        middle_volts=np.interp(cycles.middle - lower, grid, volts),
        number=cycles.number * YEAR / cycles.hours,
        rate=float(change[moves].sum() / step[moves].sum()) if moves.any() else 0.0,
    )


def _through(design: Design, past: _History) -> Worked:
    pack = design.build.pack
    cycles = past.cycles.full_cycles * YEAR / past.cycles.hours
    basis = Basis.ASSUMED if past.assumed else Basis.COMPUTED
    return Worked(
        name="charge out of the pack in a year",
        value=cycles * float(pack.capacity.m),
        kind=CHARGE,
        formula="{N} · {Q}",
        inputs=(
            Input("N", "equivalent full cycles in a year, by rainflow", cycles, COUNT, basis),
            Input(
                "Q",
                "capacity of the pack",
                float(pack.capacity.m),
                "Ah",
                pack.module.basis.of("capacity"),
            ),
        ),
        source="astm-e1049",
    )


def _by_model(model: AgeingModel, stress: Stress, end: float, grid: Array) -> ModelAgeing:
    kernel = MODELS[model.form]
    rest, cycle = (float(loss) for loss in kernel(stress, 1.0, model.values))
    losses = np.add(*kernel(stress, grid, model.values))
    parts = [
        Worked(
            name=f"loss of the first year {way}",
            value=loss,
            kind=SHARE,
            formula="{q}",
            inputs=(Input("q", f"by the model: {model.name}", loss, "", Basis.COMPUTED),),
            source=model.source,
        )
        for way, loss in (("at rest", rest), ("by cycling", cycle))
    ]
    return ModelAgeing(
        model=model,
        resting=parts[0],
        cycling=parts[1],
        first=Worked(
            name="loss of the first year",
            value=rest + cycle,
            kind=SHARE,
            formula="{q_rest} + {q_cycle}",
            inputs=(from_worked("q_rest", parts[0]), from_worked("q_cycle", parts[1])),
            source=model.source,
        ),
        years=_till(model, stress, end, 1.0, f"years till {say(end, '')} of today's capacity"),
        losses=losses,
    )


def _till(model: AgeingModel, stress: Stress, end: float, scale: float, name: str) -> Worked:
    """Return how long a model gives till the end [s]."""
    years = years_till(MODELS[model.form], stress, model.values, 1.0 - end, most=MOST, scale=scale)
    seconds = years * YEAR * 3600
    more = " or more: no further is told" if years >= MOST else ""
    twice = f", its loss times {say(scale, COUNT)}" if scale != 1 else ""
    return Worked(
        name=name,
        value=seconds,
        kind=TIME,
        formula="{t}",
        inputs=(
            Input("t", f"solved for, {model.name}{twice}{more}", seconds, "s", Basis.COMPUTED),
        ),
        source=model.source,
    )


def _range(case: _Case, stress: Stress, with_it: str) -> YearsRange:
    """Return the least and the most years of the models, rounded down."""
    name, models = f"years till {say(case.end, '')} of today's capacity", case.models
    alone = _SCATTER if len(models) == 1 else 1.0
    low = [_till(model, stress, case.end, alone, name) for model in models]
    high = [_till(model, stress, case.end, 1 / alone, name) for model in models]
    zero = Input("zero", "counted from", 0.0, "s", Basis.CHOSEN)
    step = Input("tenth", "a tenth of a year", _TENTH, "s", Basis.CHOSEN)

    def ends(word: str, pick: str, among: list[Worked]) -> Worked:
        inputs = tuple(from_worked(f"t_{k}", one) for k, one in enumerate(among, start=1))
        named = ", ".join(f"{{{one.symbol}}}" for one in inputs)
        alike = len(inputs) == 1
        picked = min(inputs, key=lambda i: i.value if pick == "min" else -i.value).value
        return Worked(
            name=f"{word} years{with_it}",
            value=int(picked / _TENTH + 1e-9) * _TENTH,
            kind=TIME,
            formula=f"down({named if alike else f'{pick}({named})'}, {{zero}}, {{tenth}})",
            inputs=(*inputs, zero, step),
            source="common-practice",
        )

    return YearsRange(least=ends("least", "min", low), most=ends("most", "max", high))


def _lowered(
    design: Design, case: _Case, years: YearsRange, lower: Quantity | None
) -> LowerTarget | None:
    """Return what a lower charge target buys, the same energy drawn every day."""
    pack, policy = design.build.pack, design.build.policy
    targets, curve = pack.module.chemistry.targets, pack.module.curve
    if targets is None:
        return None
    target = policy.charge_target or targets.charge
    basis = (
        policy.basis.of("charge_target")
        if policy.charge_target is not None
        else pack.module.chemistry.basis.of("charge")
    )
    now = known("V_high", "charge target for the highest cell", target, basis)
    less = now.value - float(lower.m) if lower is not None else _LOWER
    if not 0 < less < now.value - float(curve.volts[0]):
        raise DescriptionError(
            f"a lower charge target lies below {say(now.value, 'V')} and above "
            f"{say(float(curve.volts[0]), 'V')}, got {say(now.value - less, 'V')}"
        )
    step = Input("ΔV", "by how much it is lowered", less, "V", Basis.CHOSEN)
    high, low = (float(np.interp(v, curve.volts, curve.soc)) for v in (now.value, now.value - less))
    stress = _stress(case.past, curve.soc, curve.volts, high - low)
    then = _range(case, stress, " with the lower charge target")
    energy = known("E", "energy of the pack by its label", pack.energy, Basis.COMPUTED)
    fuller = Input("s_now", "charged to the target now", high, "", Basis.COMPUTED)
    emptier = Input("s_low", "charged to the lower one", low, "", Basis.COMPUTED)
    return LowerTarget(
        target=Worked(
            name="lower charge target of a cell",
            value=now.value - less,
            kind=VOLTAGE,
            formula="{V_high} − {ΔV}",
            inputs=(now, step),
            source="common-practice",
        ),
        years=then,
        gained=_gained(then, years),
        given_up=Worked(
            name="energy no longer charged",
            value=(high - low) * energy.value,
            kind=ENERGY,
            formula="({s_now} − {s_low}) · {E}",
            inputs=(fuller, emptier, energy),
            source="arithmetic",
        ),
    )


def _gained(then: YearsRange, years: YearsRange) -> Worked:
    """Return by how much the pessimistic end grows, before it is rounded."""
    sides = []
    for sign, one in (("b", then.least), ("a", years.least)):
        held = [i for i in one.inputs if i.symbol.startswith("t_")]
        sides.append([attrs.evolve(i, symbol=i.symbol.replace("t", sign)) for i in held])
    least = [min(i.value for i in side) for side in sides]
    named = [", ".join(f"{{{i.symbol}}}" for i in side) for side in sides]
    told = [names if len(sides[0]) == 1 else f"min({names})" for names in named]
    return Worked(
        name="least years gained",
        value=least[0] - least[1],
        kind=TIME,
        formula=" − ".join(told),
        inputs=(*sides[0], *sides[1]),
        source="common-practice",
    )


def _nothing(
    design: Design, end: float, past: _History | None, findings: tuple[Finding, ...]
) -> Ageing:
    """Return what can be said without a model or without a history: no years."""
    return Ageing(
        title=design.build.title,
        invented=design.build.invented,
        chemistry=design.build.pack.module.chemistry.name,
        end=end,
        cycles=None if past is None else past.cycles,
        through=None if past is None else _through(design, past),
        warmth=None,
        models=(),
        years=None,
        lower=None,
        grid=(),
        findings=findings,
        assumed=() if past is None else past.assumed,
    )
