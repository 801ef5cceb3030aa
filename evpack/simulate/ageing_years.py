"""Years by a model: the year as the models take it, and the range of what they give."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.units import TIME
from evpack.base.wording import COUNT, say
from evpack.base.worked import Input, Worked, from_worked
from evpack.describe.ageing_model import AgeingModel
from evpack.kernels.ageing import DAYS, MODELS, Stress, years_till
from evpack.outcome.ageing import Cycles, YearsRange

Array = NDArray[np.float64]

YEAR = DAYS * 24.0  # [h]
MOST = 40.0  # years beyond which nothing is told; common practice, no source
_TENTH = YEAR * 3600.0 / 10  # what years are rounded down to [s]
SCATTER = 1.5  # on the loss of a model that stands alone, both ways; common practice, no source
_MOVES = 1e-3  # slower than this a cell counts as resting [1/h]


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
