"""Which rests of a module say something, and between which two it lost voltage."""

from __future__ import annotations

import attrs

from evpack.describe.batch import Batch, Rest, TestedModule
from evpack.describe.chemistry import Chemistry
from evpack.kernels.load_line import state_at

DAY = 86400.0
WEEK = 7 * DAY
# Between these states of charge a flat chemistry's voltage tells next to nothing.
# Common practice, no source.
FLAT_FROM, FLAT_TO = 0.15, 0.95
# Rests closer together than this tell nothing of a loss, and their temperatures must agree.
# Common practice, no source.
_LEAST_DAYS = 2
_KELVINS = 3.0
_NOISE = 1e-9


@attrs.frozen(kw_only=True)
class Loss:
    """Two rests of a module, and what it lost between them."""

    first: Rest
    last: Rest
    seconds: float

    @property
    def by_cell(self) -> bool:
        """Whether each cell group was read both times."""
        return bool(self.first.cells and self.last.cells)

    @property
    def worst(self) -> int:
        """The cell group that lost most, counted from 0."""
        pairs = zip(self.first.cells, self.last.cells, strict=True)
        fallen = [one - other for one, other in pairs]
        return fallen.index(max(fallen))

    def whole(self) -> tuple[float, float]:
        """Return the voltage of the module at both [V]."""
        first, last = module_volts(self.first), module_volts(self.last)
        assert first is not None  # noqa: S101  (a loss is made of rests that were read)
        assert last is not None  # noqa: S101
        return first, last


def module_volts(rest: Rest) -> float | None:
    """Return the voltage of the whole module [V]; None where neither it nor its cells were read."""
    if rest.voltage is not None:
        return float(rest.voltage.m)
    return sum(rest.cells) if rest.cells else None


def rested(chemistry: Chemistry, rest: Rest) -> bool:
    """Return whether a module is known to have rested long enough to be read."""
    long_enough = chemistry.targets is not None and rest.rested is not None
    return long_enough and bool(rest.rested.m >= chemistry.targets.rest.m)  # type: ignore[union-attr]


def state_of(chemistry: Chemistry, volts: float) -> float | None:
    """Return the state of charge of a cell at rest [1]; None beyond the ends of the curve."""
    curve = chemistry.ocv
    if curve is None or not curve.volts[0] < volts < curve.volts[-1]:
        return None
    return state_at(curve.soc, curve.volts, volts)


def last_read(batch: Batch, module: TestedModule) -> Rest | None:
    """Return the last rest that was long enough and at which a voltage was read."""
    read = [r for r in module.rests if rested(batch.chemistry, r) and module_volts(r) is not None]
    return read[-1] if read else None


def spread_rest(batch: Batch, module: TestedModule) -> Rest | str:
    """Return the last rest whose cell voltages can be compared, or why there is none."""
    if batch.chemistry.targets is None:
        return "the cells of this chemistry are not judged by voltage"
    with_cells = [r for r in module.rests if r.cells]
    if not with_cells:
        if module.imbalance_empty is not None:
            return "its cells were read under load only, in its record, and not rested at full"
        return "its cell voltages were not read"
    settled = [r for r in with_cells if rested(batch.chemistry, r)]
    if not settled:
        return "its cells were read after too short a rest, or nobody said how long they rested"
    if batch.chemistry.flat:
        settled = [r for r in settled if r.full]
    return settled[-1] if settled else "its cells were not read when full, and only then they tell"


def loss(batch: Batch, module: TestedModule) -> Loss | str:
    """Return the first and the last rest that can be compared, or why there are none."""
    settled = [
        r for r in module.rests if rested(batch.chemistry, r) and module_volts(r) is not None
    ]
    if len(settled) < 2:  # noqa: PLR2004
        return "it was not read at two rests on different days"
    first = settled[0]
    if batch.chemistry.flat and not first.full:
        return "its first rest was not when full, and only then its voltage tells"
    why = "its rests lie less than two days apart"
    for last in reversed(settled[1:]):
        days = (last.date - first.date).days
        if days < _LEAST_DAYS:
            break
        if first.temperature is None or last.temperature is None:
            why = "nobody said at what temperature it rested"
        elif abs(first.temperature.m - last.temperature.m) > _KELVINS + _NOISE:
            why = "its rests were not at like temperature"
        elif last.full and last.rested is not None and last.rested.m < (days - 1) * DAY:
            why = "it was charged between its rests, or nobody said that it rested all the time"
        else:
            return Loss(first=first, last=last, seconds=days * DAY)
    return why
