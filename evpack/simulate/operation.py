"""A year of operation: how the pack lives through its load, its sun and its outages."""

from __future__ import annotations

from collections.abc import Callable

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding
from evpack.base.units import ENERGY, MONEY, SHARE, seconds
from evpack.base.worked import Input, Worked, from_worked
from evpack.describe.checked import need
from evpack.describe.operation import (
    BATTERY_FIRST,
    DAY,
    HOUR,
    ISLAND,
    Operation,
    Outage,
)
from evpack.kernels import operation_nouns as kernel
from evpack.kernels.network import State, bench, rested
from evpack.kernels.operation import run as step_through
from evpack.kernels.runs import in_branches, stored
from evpack.outcome.design import Design
from evpack.outcome.operation import (
    EVENTS,
    Daily,
    Event,
    Hunting,
    OperationRun,
    OutageRun,
    Outcome,
    Series,
)
from evpack.outcome.settings import Line
from evpack.simulate.at_work import AtWork, at_work
from evpack.simulate.operation_judge import judged

Array = NDArray[np.float64]

_EVENTS_KEPT = 4000
_FINE, _COARSE = 60.0, 600.0  # about how far rows lie apart, up to a year and beyond [s]
_LONG = 400 * DAY
_PIECE = 2_000_000  # steps between two words on how far a long run is
_OUTAGE_STEP = 300.0  # [s]
_NO_STEPS = "no operation is described: add a section [operation] to the build sheet, or give one"

Progress = Callable[[float], None]


def simulate_operation(
    design: Design, operation: Operation | None = None, *, progress: Progress | None = None
) -> OperationRun:
    """Work a pack through its operation, a year as a rule, and see how it fares.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    operation : Operation, optional
        By default that of the build sheet.
    progress : callable, optional
        Called with the part that is done (0 to 1) now and then, if the run is a long one.

    Returns
    -------
    OperationRun
        Never raises for a risky design: that is a finding.

    Raises
    ------
    DescriptionError
        Neither an operation is given nor does the build describe one.
    EvpackError
        The sun of a place is asked for and pvlib is not installed.
    """
    operation = _asked(design, operation)
    work = at_work(design, operation)
    if not isinstance(work, AtWork):
        return _run_of(design, operation, work)
    mode = (BATTERY_FIRST, "utility first", ISLAND)[work.rules.inverters.mode]
    came = _outcome(design, operation, work, progress)
    found = (*work.findings, *judged(design, operation, mode, came, _most_asked(work)))
    return attrs.evolve(
        _run_of(design, operation, found),
        mode=mode,
        thresholds=work.thresholds,
        outcome=came,
        assumed=work.assumed,
    )


def _asked(design: Design, operation: Operation | None) -> Operation:
    need("simulate_operation", design, Design)
    found = design.build.operation if operation is None else operation
    if found is None:
        raise DescriptionError(_NO_STEPS)
    need("simulate_operation", found, Operation)
    return found


def _run_of(design: Design, operation: Operation, findings: tuple[Finding, ...]) -> OperationRun:
    """Return a run of which nothing came yet."""
    tariff = operation.tariff
    return OperationRun(
        title=design.build.title,
        invented=design.build.invented,
        mode=operation.mode,
        currency="" if tariff is None else tariff.price.currency,
        first_day=operation.first_day,
        step=float(operation.step.m),
        length=float(operation.length.m),
        thresholds={},
        outcome=None,
        findings=findings,
        assumed=(),
    )


def _kept(rows: int) -> kernel.Kept:
    return kernel.Kept(
        rows=np.zeros((rows, kernel.ROW_WIDTH), dtype=np.float32),
        event_step=np.zeros(_EVENTS_KEPT, dtype=np.int64),
        event_kind=np.zeros(_EVENTS_KEPT, dtype=np.int64),
        event_volts=np.zeros(_EVENTS_KEPT),
        counts=np.zeros(kernel.KINDS, dtype=np.int64),
        soc_seconds=np.zeros(kernel.SOC_BINS),
        celsius_seconds=np.zeros(kernel.CELSIUS_BINS),
    )


def _every(operation: Operation) -> int:
    """Return how many steps make a row: a whole number of rows fills an hour."""
    step = float(operation.step.m)
    wanted = _FINE if operation.length.m <= _LONG else _COARSE
    hour = round(HOUR / step)
    most = max(1, int(wanted / step))
    return max(k for k in range(1, most + 1) if hour % k == 0)


def _outcome(
    design: Design, operation: Operation, work: AtWork, progress: Progress | None
) -> Outcome:
    step, every = float(operation.step.m), _every(operation)
    air = _air_at_start(work, operation)
    state = rested(work.strings, float(operation.start.m), air)
    before = stored(work.strings, state.soc), in_branches(work.strings, state)
    soc_before = state.soc.copy()
    kept = _kept(operation.steps // every)
    room = bench(work.strings, step)
    books = kernel.nothing()
    memory = kernel.beginning(work.rules.inverters.mode, len(work.names))
    first = round((operation.first_day - 1) * DAY / step)
    piece = max(every, _PIECE // every * every)
    while books.steps < operation.steps:
        books, memory = step_through(
            work.strings,
            state,
            room,
            work.plan,
            work.chargers,
            work.rules,
            kept,
            books,
            memory,
            step,
            first + books.steps,
            min(piece, operation.steps - books.steps),
            every,
            stop=False,
        )
        if progress is not None and operation.steps > piece:
            progress(books.steps / operation.steps)
    change = float((before[0] - stored(work.strings, state.soc)).sum())
    banked = float((in_branches(work.strings, state) - before[1]).sum())
    fallen = float(((soc_before - state.soc) * work.strings.coulombs).sum())
    moved = books.pack_out + books.pack_in
    out = change - banked - books.heat - (books.pack_out - books.pack_in)
    series = _series(kept, step * every)
    daily, hunts = _daily(series), _days_of(kept, memory.events, step, kernel.HUNT)
    tally = _energies(books, change)
    through = max(books.charge_out + abs(books.charge_net), 1e-9)
    return Outcome(
        energies=tally,
        served=_share("part of the load that was served", tally, "1 − {E_un} / {E_load}"),
        own=_share(
            "part of the load that did not come from the utility",
            tally,
            "({E_inv} − {E_ch}) / {E_load}",
        ),
        saved=_saved(operation, work, books),
        cycles=books.charge_out / float(work.strings.coulombs.sum()),
        counts=dict(zip(EVENTS, (int(n) for n in kept.counts), strict=True)),
        events=_events(kept, memory.events, step),
        hunting=_hunting(design, work, kept, rise=books.rise, by_day=hunts),
        series=series,
        daily=daily,
        soc_hours=kept.soc_seconds / HOUR,
        celsius_hours=kept.celsius_seconds / HOUR,
        highest_cell=books.highest_cell,
        lowest_cell=books.lowest_cell,
        coldest=books.coldest,
        hottest=books.hottest,
        coldest_charging=books.coldest_charging,
        cold_limited=books.cold_limited,
        longest_not_full=books.longest_not_full,
        overloaded=books.overloaded,
        charge_lost=abs(fallen - books.charge_net) / through,
        energy_lost=abs(out) / moved if moved > 0 else 0.0,
        days_to_show=_days_to_show(daily, hunts),
    )


def _most_asked(work: AtWork) -> float:
    """Return the most that is asked in any step of the load profile [W]."""
    plan, j = work.plan, kernel.LOAD
    return float(plan.flat[plan.begin[j] : plan.begin[j] + plan.size[j]].max())


def _air_at_start(work: AtWork, operation: Operation) -> float:
    plan, j = work.plan, kernel.AIR
    steps = round((operation.first_day - 1) * DAY / float(operation.step.m))
    return float(plan.flat[plan.begin[j] + steps // plan.hold[j] % plan.size[j]])


# --- What came of it ---------------------------------------------------------------------------

_NAMES = {
    "E_load": ("load asked", "load"),
    "E_inv": ("load carried by the inverters", "inverter"),
    "E_dir": ("of it straight from the sun", "direct"),
    "E_by": ("load carried by the utility", "by_utility"),
    "E_un": ("load that nobody carried", "unserved"),
    "E_util": ("taken from the utility, all in all", "utility"),
    "E_ch": ("taken from the utility to charge", "charging"),
    "E_sun": ("taken from the sun", "sun"),
    "E_left": ("left unused of the sun", "unused"),
    "E_out": ("out of the pack", "pack_out"),
    "E_in": ("into the pack", "pack_in"),
}


def _energies(books: kernel.Books, change: float) -> tuple[Worked, ...]:
    """Return the energies of a run [Wh], and what of them was lost on the way."""
    found = {
        symbol: Worked(
            name=name,
            value=float(getattr(books, field)) / HOUR,
            kind=ENERGY,
            formula="integral of its power over the run",
            inputs=(),
            source="ohms-law",
        )
        for symbol, (name, field) in _NAMES.items()
    }
    fallen = Input("ΔE", "fall of what the pack holds", change / HOUR, "Wh", Basis.COMPUTED)
    sun, charging, inverter = found["E_sun"], found["E_ch"], found["E_inv"]
    lost = Worked(
        name="lost on the way",
        kind=ENERGY,
        formula="{E_sun} + {E_ch} + {ΔE} − {E_inv}",
        inputs=(
            from_worked("E_sun", sun),
            from_worked("E_ch", charging),
            fallen,
            from_worked("E_inv", inverter),
        ),
        source="ohms-law",
        note="In chargers, inverters with their idle draw, cells and cables.",
    )
    return (*found.values(), lost)


def _share(name: str, energies: tuple[Worked, ...], formula: str) -> Worked:
    by_symbol = {
        symbol: next(e for e in energies if e.name == told) for symbol, (told, _) in _NAMES.items()
    }
    used = [symbol for symbol in _NAMES if f"{{{symbol}}}" in formula]
    return Worked(
        name=name,
        kind=SHARE,
        formula=formula,
        inputs=tuple(from_worked(symbol, by_symbol[symbol]) for symbol in used),
        source="arithmetic",
    )


def _saved(operation: Operation, work: AtWork, books: kernel.Books) -> Worked | None:
    tariff = operation.tariff
    if tariff is None or work.rules.inverters.mode == kernel.ISLAND:
        return None
    whole, paid = books.cost_all / HOUR / 1000, books.cost / HOUR / 1000
    return Worked(
        name="money saved",
        kind=MONEY,
        formula="{C_all} − {C_run}",
        inputs=(
            Input("C_all", "all of the load from the utility", whole, MONEY.unit, Basis.COMPUTED),
            Input("C_run", "what the utility was paid", paid, MONEY.unit, Basis.COMPUTED),
        ),
        source="arithmetic",
        note=f"In {tariff.price.currency}; what stands in the pack at the end is not counted.",
    )


def _events(kept: kernel.Kept, count: int, step: float) -> tuple[Event, ...]:
    rows = zip(
        kept.event_step[:count], kept.event_kind[:count], kept.event_volts[:count], strict=True
    )
    return tuple(
        Event(time=float(at) * step, what=EVENTS[kind], volts=float(volts))
        for at, kind, volts in rows
    )


def _hunting(
    design: Design, work: AtWork, kept: kernel.Kept, *, rise: float, by_day: NDArray[np.int64]
) -> Hunting:
    """Return how often it went to and fro, beside what the design foretells."""
    foretold = [
        f.limit
        for f in design.findings
        if f.rule.key == "changeover.hunting" and f.limit is not None
    ]
    used = work.thresholds
    go, back = used.get(Line.CHANGEOVER), used.get(Line.RETURN)
    return Hunting(
        times=int(kept.counts[kernel.HUNT]),
        worst_day=int(np.argmax(by_day)) if by_day.size else -1,
        seen=rise,
        gap=None if go is None or back is None else back - go,
        foretold=max(foretold, default=None),
    )


def _days_of(kept: kernel.Kept, count: int, step: float, kind: int) -> NDArray[np.int64]:
    """Return how many events of a kind each day had, up to the last that is listed."""
    at = kept.event_step[:count][kept.event_kind[:count] == kind]
    found: NDArray[np.int64] = np.bincount((at * step // DAY).astype(int))
    return found


def _series(kept: kernel.Kept, every: float) -> Series:
    columns = kept.rows.T
    return Series(
        every=every,
        load=columns[kernel.ROW_LOAD],
        inverter=columns[kernel.ROW_INVERTER],
        utility=columns[kernel.ROW_UTILITY],
        unserved=columns[kernel.ROW_UNSERVED],
        sun=columns[kernel.ROW_SUN],
        unused=columns[kernel.ROW_UNUSED],
        charging=columns[kernel.ROW_CHARGING],
        pack=columns[kernel.ROW_PACK],
        soc=columns[kernel.ROW_SOC],
        volts=columns[kernel.ROW_VOLTS],
        celsius=columns[kernel.ROW_CELSIUS],
        carrier=columns[kernel.ROW_CARRIER],
    )


def _daily(series: Series) -> Daily:
    rows = round(DAY / series.every)
    days = series.soc.size // rows

    def by_day(values: NDArray[np.float32]) -> Array:
        return values[: days * rows].reshape(days, rows).astype(float)

    def energy(values: NDArray[np.float32]) -> Array:
        found: Array = by_day(values).sum(axis=1) * series.every / HOUR
        return found

    soc = by_day(series.soc)
    return Daily(
        load=energy(series.load),
        inverter=energy(series.inverter),
        utility=energy(series.utility),
        unserved=energy(series.unserved),
        sun=energy(series.sun),
        unused=energy(series.unused),
        charging=energy(series.charging),
        soc_least=soc.min(axis=1),
        soc_most=soc.max(axis=1),
    )


def _days_to_show(daily: Daily, hunts: NDArray[np.int64]) -> dict[str, int]:
    """Return the days worth a picture, by what they show; none where no day is whole."""
    found: dict[str, int] = {}
    if not daily.load.size:
        return found
    if hunts.any() and int(np.argmax(hunts)) < daily.load.size:
        found["the day with most going to and fro"] = int(np.argmax(hunts))
    found["the day on which the pack was lowest"] = int(np.argmin(daily.soc_least))
    if daily.sun.any():
        found["the day with most of the sun"] = int(np.argmax(daily.sun))
    return found


# --- Outages -----------------------------------------------------------------------------------


def outage_runtimes(
    design: Design,
    operation: Operation | None = None,
    *,
    run: OperationRun | None = None,
    day: int | None = None,
    every: object = "1 h",
    most: object = "3 days",
) -> OutageRun:
    """Return how long the pack carries the load alone if the utility fails, from many starts.

    Parameters
    ----------
    design, operation
        As of `simulate_operation`.
    run : OperationRun, optional
        Of the same operation, if there is one already: it says how full the pack is.
    day : int, optional
        A day of the run, from 0; by default each hour of all its days.
    every : quantity or text
        From start to start.
    most : quantity or text
        How far to look.

    Returns
    -------
    OutageRun
        Without starts where no run is possible.
    """
    operation = _asked(design, operation)
    run = run or simulate_operation(design, operation)
    longest = float(seconds(most).m)
    came = run.outcome
    alone = attrs.evolve(
        operation,
        step=f"{max(_OUTAGE_STEP, float(operation.step.m))} s",
        length=f"{DAY} s",
        outages=(Outage(day=1, at="00:00", lasts="365 days"),),
    )
    work = at_work(design, alone)
    if came is None or not isinstance(work, AtWork):
        none = np.empty(0)
        return OutageRun(title=run.title, starts=none, hours=none, soc=none, most=longest / HOUR)
    between = float(seconds(every).m)
    whole = float(operation.length.m) if day is None else DAY
    starts = np.arange(0.0, whole, between) + (0.0 if day is None else day * DAY)
    rows = np.minimum((starts / came.series.every).astype(int), came.series.soc.size)
    soc = np.array([came.series.soc[row - 1] if row else operation.start.m for row in rows])
    celsius = np.array([came.series.celsius[max(row - 1, 0)] for row in rows])
    step = float(alone.step.m)
    steps = round(longest / step)
    room, kept = bench(work.strings, step), _kept(0)
    offset = (operation.first_day - 1) * DAY
    hours = []
    for start, at, warm in zip(starts, soc, celsius, strict=True):
        state: State = rested(work.strings, float(at), float(warm))
        books, _ = step_through(
            work.strings,
            state,
            room,
            work.plan,
            work.chargers,
            work.rules,
            kept,
            kernel.nothing(),
            kernel.beginning(work.rules.inverters.mode, len(work.names)),
            step,
            round((offset + start) / step),
            steps,
            1,
            stop=True,
        )
        hours.append(books.steps * step / HOUR)
    return OutageRun(
        title=run.title,
        starts=starts,
        hours=np.array(hours),
        soc=soc.astype(float),
        most=longest / HOUR,
    )
