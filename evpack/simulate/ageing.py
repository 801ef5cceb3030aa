"""Years till the cells are spent, as a range over the published models that fit their chemistry.

Nothing here foretells what a given module does: salvaged cells have a first life behind them that
no model saw. What comes out is an order of size, and which way a change moves it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.source import Seen
from evpack.base.units import CHARGE, SHARE, Quantity
from evpack.base.units import share as as_share
from evpack.base.wording import COUNT, say
from evpack.base.worked import Input, Worked, from_worked
from evpack.describe.ageing_model import AgeingModel
from evpack.describe.build import Build
from evpack.kernels.ageing import MODELS, Stress
from evpack.outcome.ageing import Ageing, ModelAgeing
from evpack.outcome.design import Design
from evpack.simulate.ageing_years import (
    SCATTER,
    YEAR,
    Case,
    History,
    count_cycles,
    history,
    lowered,
    range_of,
    same_length,
    stress_of,
    till,
)

Array = NDArray[np.float64]

MODEL = Rule(
    key="ageing.model",
    says="Years are told only where a published model fits the chemistry.",
    source="common-practice",
    stands=Standing.QUESTION,
)
HISTORY = Rule(
    key="ageing.history",
    says="How long cells last hangs on how full and how warm they stand, and how far they cycle.",
    source="common-practice",
    stands=Standing.QUESTION,
)
ALONE = Rule(
    key="ageing.alone",
    says="One model alone shows no spread, though models of one chemistry differ by a factor.",
    source="common-practice",
    stands=Standing.REMARK,
)
SUDDEN = Rule(
    key="ageing.sudden",
    says="No model here foretells the sudden end that some cells meet after years of slow loss.",
    source="common-practice",
    stands=Standing.REMARK,
)

_WARMTH = 25.0  # of cells where nobody says [°C]
_DAY = (0.0, 8.0, 20.0, 24.0)  # a day of one cycle: full till 8 h, empty at 20 h, full at 24 h [h]


def ageing_of(
    design: Design,
    models: Sequence[AgeingModel],
    *,
    soc: ArrayLike | None = None,
    temperature: ArrayLike | None = None,
    hours: ArrayLike | None = None,
    end: object = "70 %",
    lower: Quantity | None = None,
    redesign: Callable[[Build], Design],
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
    redesign : callable
        Designs a build: what a lower target leaves reachable is what the whole design says.
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
                f"loss {say(SCATTER, COUNT)} times, and by {say(SCATTER, COUNT)}.",
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
    stress = stress_of(past, curve.soc, curve.volts)
    grid = np.linspace(0.0, 20.0, 81)
    each = tuple(_by_model(model, stress, ended, grid) for model in fitting)
    case = Case(models=fitting, past=past, end=ended)
    years = range_of(case, stress, "")
    lower_target, found = lowered(design, case, years, lower, redesign)
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
        lower=lower_target,
        grid=grid,
        findings=(*findings, *found),
        assumed=past.assumed,
    )


def daily_years(
    design: Design, models: Sequence[AgeingModel], *, end: float
) -> tuple[float, float] | None:
    """Return the least and most years of one cycle a day of all that the settings leave usable.

    The same that `ageing_of` tells where no history is given, without what it tells besides.

    Parameters
    ----------
    end : float
        Share of today's capacity at which the cells are spent [1].

    Returns
    -------
    tuple of float or None
        [years], rounded down; None where no model fits, or nothing is usable.
    """
    chemistry = design.build.pack.module.chemistry
    fitting = [model for model in models if chemistry.key in model.chemistries]
    past = _history(design, None, None, None) if fitting else None
    if past is None:
        return None
    curve = design.build.pack.module.curve
    case = Case(models=fitting, past=past, end=end)
    years = range_of(case, stress_of(past, curve.soc, curve.volts), "")
    return years.least.value / (YEAR * 3600.0), years.most.value / (YEAR * 3600.0)


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
    detail = (
        f"{len(fitting)} published model{'s' if len(fitting) > 1 else ''} for '{key}': "
        f"{'; '.join(model.name for model in fitting)}."
    )
    by_heart = [m.name for m in fitting if any(c.how is Seen.MEMORY for c in m.constants)]
    if by_heart:
        return state(
            MODEL,
            Severity.CAUTION,
            about="cells",
            detail=f"{detail} The years are an order of size: constants from memory, not seen in "
            f"the publication, of {_which(by_heart, len(fitting))}.",
            remedy="Do not plan by these years. Check the constants in the publications, and log "
            "the capacity once a year.",
        )
    return state(MODEL, Severity.OK, about="cells", detail=detail)


def _which(names: list[str], of: int) -> str:
    return ("each" if of > 1 else "it") if len(names) == of else "; ".join(names)


def _told(past: History | None) -> Finding:
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
) -> History | None:
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
    return History(
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


def _through(design: Design, past: History) -> Worked:
    pack = design.build.pack
    cycles = past.cycles.full_cycles * YEAR / past.cycles.hours
    basis = Basis.ASSUMED if past.assumed else Basis.COMPUTED
    return Worked(
        name="charge out of the pack in a year",
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
            kind=SHARE,
            formula="{q_rest} + {q_cycle}",
            inputs=(from_worked("q_rest", parts[0]), from_worked("q_cycle", parts[1])),
            source=model.source,
        ),
        years=till(model, stress, end, 1.0, f"years till {say(end, '')} of today's capacity"),
        losses=losses,
    )


def _nothing(
    design: Design, end: float, past: History | None, findings: tuple[Finding, ...]
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
