"""What the readings of a module say of it, each worked out or refused with the reason."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.units import SHARE, VOLTAGE, Quantity
from evpack.base.worked import Input, Worked, count, known
from evpack.describe.batch import Batch, Rest, TestedModule
from evpack.describe.chemistry import Chemistry
from evpack.kernels.load_line import state_at
from evpack.kernels.robust import median
from evpack.match.alike import Yardstick, capacity_unlike, most_of, of_new, resistance_unlike

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

_MONTH = 30 * 86400.0
# Fewer modules than this have no middle to be held against.
_LEAST = 3
# Only a cell that rests near empty shows by its voltage that it is the weakest.
# Common practice, no source.
_NEAR_EMPTY = 0.3


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


@attrs.frozen(kw_only=True)
class Reading:
    """One measure of a module: worked out, or why it could not be."""

    value: Worked | None = None
    why: str = ""
    error: Worked | None = None


@attrs.frozen(kw_only=True)
class Readings:
    """All measures of a module, and which cell group of it is the weakest and how that is known.

    `capacity_unlike` and `resistance_unlike` say why it is not compared with most of the batch.
    """

    health: Reading
    resistance: Reading
    spread: Reading
    imbalance: Reading
    drift: Reading
    self_discharge: Reading
    weakest: int | None
    weakest_by: str
    capacity_unlike: str
    resistance_unlike: str


@attrs.frozen(kw_only=True)
class Heap:
    """What the modules of a batch have in common, worked out once.

    `usual_loss` is what the middle module lost a cell group in seven days [V]; None where fewer
    than three were read.
    """

    batch: Batch
    most: Yardstick
    new: Yardstick
    usual_loss: float | None


def heap(batch: Batch) -> Heap:
    """Return what the modules of a batch have in common."""
    most = most_of(batch)
    found = [loss(batch, module) for module in batch.modules]
    lost = [_a_cell(batch, one) for one in found if isinstance(one, Loss)]
    usual = median(lost) if len(lost) >= _LEAST else None
    return Heap(batch=batch, most=most, new=of_new(batch, most), usual_loss=usual)


def readings(common: Heap, module: TestedModule) -> Readings:
    """Return what the readings of one module say."""
    weakest, by = _weakest(common.batch, module)
    return Readings(
        health=_health(common, module),
        resistance=_resistance(common, module),
        spread=_spread(common.batch, module),
        imbalance=_imbalance(module),
        drift=_drift(common, module),
        self_discharge=_self_discharge(common.batch, module),
        weakest=weakest,
        weakest_by=by,
        capacity_unlike=capacity_unlike(common.batch, module, common.most),
        resistance_unlike=resistance_unlike(module, common.most, "most of the batch"),
    )


def _health(common: Heap, module: TestedModule) -> Reading:
    batch = common.batch
    why = capacity_unlike(batch, module, common.most)
    if why:
        return Reading(why=why)
    assert module.capacity is not None  # noqa: S101  (else it would be unlike)
    if batch.new_capacity is None:
        return Reading(why="nobody said what capacity such a module had when new")
    return Reading(
        value=Worked(
            name="capacity against new",
            kind=SHARE,
            formula="{Q} / {Q_new}",
            inputs=(
                known("Q", "capacity", module.capacity, Basis.MEASURED),
                known(
                    "Q_new",
                    "capacity when new",
                    batch.new_capacity,
                    batch.basis_of("new_capacity"),
                ),
            ),
            source="common-practice",
        ),
        error=_error("capacity", "Q", module.capacity_error, batch.new_capacity, batch),
    )


def _error(
    what: str, symbol: str, error: Quantity | None, new: Quantity, batch: Batch
) -> Worked | None:
    """Return by how much a share of the new value may be off; None where nobody knows."""
    if error is None:
        return None
    return Worked(
        name=f"uncertainty of the {what} against new",
        kind=SHARE,
        formula=f"{{δ{symbol}}} / {{{symbol}_new}}",
        inputs=(
            known(f"δ{symbol}", f"uncertainty of the {what}", error, Basis.COMPUTED),
            known(f"{symbol}_new", f"{what} when new", new, batch.basis_of(f"new_{what}")),
        ),
        source="arithmetic",
    )


def _resistance(common: Heap, module: TestedModule) -> Reading:
    batch = common.batch
    if module.resistance is None:
        return Reading(why="its resistance was not read")
    if batch.new_resistance is None:
        return Reading(why="nobody said what resistance such a module had when new")
    why = resistance_unlike(module, common.new, "a new module")
    if why:
        return Reading(why=why)
    return Reading(
        value=Worked(
            name="resistance against new",
            kind=SHARE,
            formula="{R} / {R_new}",
            inputs=(
                known("R", f"resistance by {module.resistance_method}", module.resistance, _READ),
                known(
                    "R_new",
                    "resistance when new",
                    batch.new_resistance,
                    batch.basis_of("new_resistance"),
                ),
            ),
            source="common-practice",
        ),
        error=_error("resistance", "R", module.resistance_error, batch.new_resistance, batch),
    )


_READ = Basis.MEASURED


def _volts(symbol: str, means: str, volts: float) -> Input:
    return Input(symbol, means, float(volts), "V", _READ)


def _spread(batch: Batch, module: TestedModule) -> Reading:
    found = spread_rest(batch, module)
    if isinstance(found, str):
        return Reading(why=found)
    high, low = max(found.cells), min(found.cells)
    error = None
    if batch.voltage_accuracy is not None:
        error = Worked(
            name="uncertainty of the cell spread",
            kind=VOLTAGE,
            formula="2 · {ε}",
            inputs=(
                known(
                    "ε",
                    "accuracy of the voltmeter",
                    batch.voltage_accuracy,
                    batch.basis_of("voltage_accuracy"),
                ),
            ),
            source="arithmetic",
            note="Two readings, each off by as much, and the other way.",
        )
    return Reading(
        value=Worked(
            name="cell spread at rest",
            kind=VOLTAGE,
            formula="{V_high} − {V_low}",
            inputs=(
                _volts("V_high", f"highest cell group on {found.date}", high),
                _volts("V_low", f"lowest cell group on {found.date}", low),
            ),
            source="common-practice",
        ),
        error=error,
    )


def _imbalance(module: TestedModule) -> Reading:
    if module.imbalance_empty is None:
        return Reading(why="its cell voltages were not logged in the capacity test")
    return Reading(
        value=Worked(
            name="weakest cell group below the mean towards empty",
            kind=VOLTAGE,
            formula="{δ}",
            inputs=(known("δ", "as its record shows it", module.imbalance_empty, _READ),),
            source="common-practice",
        )
    )


def _a_cell(batch: Batch, lost: Loss) -> float:
    """Return what a mean cell group lost in seven days [V]."""
    first, last = lost.whole()
    return (first - last) * WEEK / lost.seconds / batch.cells_in_series


def _drift(common: Heap, module: TestedModule) -> Reading:
    """Return what the worst cell group lost in seven days more than the middle of the batch.

    Where only the whole module was read, one cell group is taken to have lost all of it. The
    meter's own error is the same at both rests and in all modules, and falls out.
    """
    batch = common.batch
    found = loss(batch, module)
    if isinstance(found, str):
        return Reading(why=found)
    if common.usual_loss is None:
        return Reading(why="fewer than three modules were read at two rests")
    span = (
        Input("t_week", "seven days", WEEK, "s", Basis.CHOSEN),
        Input("t", f"from {found.first.date} to {found.last.date}", found.seconds, "s", _READ),
        Input(
            "V_usual",
            "what a cell group of the middle module lost in seven days",
            common.usual_loss,
            "V",
            Basis.COMPUTED,
        ),
    )
    more: tuple[Input, ...] = ()
    if found.by_cell:
        cell = found.worst
        first, last = found.first.cells[cell], found.last.cells[cell]
        what, formula = f"cell group {cell + 1}", "{V_usual}"
    else:
        first, last = found.whole()
        cells = batch.cells_in_series
        what, formula = "the whole module", "{n} · {V_usual}"
        more = (count("n", "cell groups in series", cells),)
    return Reading(
        value=Worked(
            name="loss in seven days against the batch",
            kind=VOLTAGE,
            formula=f"({{V_1}} − {{V_2}}) · {{t_week}} / {{t}} − {formula}",
            inputs=(
                _volts("V_1", f"{what} at the first rest", first),
                _volts("V_2", f"{what} at the last rest", last),
                *span,
                *more,
            ),
            source="common-practice",
            note="" if found.by_cell else "One cell group is taken to have lost all of it.",
        )
    )


def _self_discharge(batch: Batch, module: TestedModule) -> Reading:
    found = loss(batch, module)
    if isinstance(found, str):
        return Reading(why=found)
    if found.by_cell:
        cell = found.worst
        what, volts = f"cell group {cell + 1}", (found.first.cells[cell], found.last.cells[cell])
    else:
        first, last = found.whole()
        what = "a mean cell group"
        volts = (first / batch.cells_in_series, last / batch.cells_in_series)
    before, after = (state_of(batch.chemistry, volt) for volt in volts)
    if before is None or after is None:
        return Reading(why="its voltage lies beyond the ends of the open-circuit curve")
    if batch.chemistry.flat and any(FLAT_FROM < s < FLAT_TO for s in (before, after)):
        return Reading(why="on the flat part of the curve the voltage does not tell the charge")
    return Reading(
        value=Worked(
            name="self-discharge a month",
            kind=SHARE,
            formula="({s_1} − {s_2}) · {t_month} / {t}",
            inputs=(
                _state("s_1", f"charge of {what} at {volts[0]:.4g} V, off the curve", before),
                _state("s_2", f"charge of {what} at {volts[1]:.4g} V, off the curve", after),
                Input("t_month", "thirty days", _MONTH, "s", Basis.CHOSEN),
                Input("t", "between the rests", found.seconds, "s", _READ),
            ),
            source=batch.chemistry.ocv.source if batch.chemistry.ocv else "arithmetic",
            note="What a cell loses in the first days after a charge is counted too.",
        )
    )


def _state(symbol: str, means: str, state: float) -> Input:
    return Input(symbol, means, state, "", Basis.COMPUTED)


def _weakest(batch: Batch, module: TestedModule) -> tuple[int | None, str]:
    """Return the cell group that ends the discharge, and how that is known."""
    if module.ended_by is not None:
        return module.ended_by, "it ended the discharge in the capacity test"
    read = [r for r in module.rests if r.cells and rested(batch.chemistry, r)]
    if not read:
        return None, "nobody noted which ended the discharge, and no cells were read at rest"
    emptiest = min(read, key=lambda r: sum(r.cells))
    mean = sum(emptiest.cells) / len(emptiest.cells)
    curve = batch.chemistry.ocv
    low = curve is not None and mean <= float(curve.volts[0])
    state = state_of(batch.chemistry, mean)
    if not low and (state is None or state > _NEAR_EMPTY):
        return None, "nobody noted which ended the discharge, and it was not read near empty"
    if max(emptiest.cells) == min(emptiest.cells):
        return None, "near empty all its cells read the same"
    least = emptiest.cells.index(min(emptiest.cells))
    return least + 1, f"it was the lowest at rest near empty, on {emptiest.date}"
