"""From a design and how it is worked to what the kernel steps through: series, chargers, rules."""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding
from evpack.base.fitted import NOT_FITTED, Fitted
from evpack.base.units import Quantity
from evpack.base.wording import say
from evpack.describe.charger import Charger
from evpack.describe.operation import (
    BATTERY_FIRST,
    DAY,
    DAYS,
    EVENLY,
    HOUR,
    ISLAND,
    MAINS_CHARGING,
    MODES,
    NEVER,
    Operation,
    Sun,
)
from evpack.describe.pack import Monitoring
from evpack.kernels import operation_nouns as kernel
from evpack.kernels.cold import charge_rate_limit
from evpack.kernels.network import COLDEST, Strings
from evpack.outcome.cells import imbalance
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, DeviceSettings, Line
from evpack.simulate import operation_rules as rules
from evpack.simulate.sky import CLEAR_DAY, DULL_DAY, EVERY, is_drawn, under_clouds
from evpack.simulate.strings import main_cable, pack_strings

Array = NDArray[np.float64]

# All of these: common practice, no source.
SOLAR_EFFICIENCY, MAINS_EFFICIENCY = 0.96, 0.90  # of chargers
SUN_KEPT = 0.78  # what dirt, heat and mismatch leave of a rated array over a year
RESTART_ABOVE = 0.2  # a cut-off inverter starts again so far above it, for each cell [V]
BEGINS_ANEW = 0.05  # a charger without a float begins anew at least so far below, each cell [V]
UNKNOWN_AIR = 20.0  # [°C]
MONTH = 30 * DAY  # up to which days alike are no wrong picture [s]
_HOTTEST_TABLE = 100  # last temperature of the table of charge currents [°C]
_FOR_GOOD = 10**12  # steps for which a constant holds
_NEVER_TRIPS = math.inf
MONITORING = "cell monitoring (BMS)"


@attrs.frozen(kw_only=True, eq=False)
class AtWork:
    """All that a run steps through, what was found on the way, and what was assumed."""

    strings: Strings
    plan: kernel.Plan
    chargers: kernel.Chargers
    rules: kernel.Rules
    names: tuple[str, ...]
    thresholds: dict[str, float]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief


def at_work(design: Design, operation: Operation) -> AtWork | tuple[Finding, ...]:
    """Return what a run steps through, or the findings of what no run can do without."""
    lacking = rules.cannot_run(design, operation)
    if lacking:
        return lacking
    packed = pack_strings(design)
    mode, found = _mode(design, operation)
    told = [
        *packed.assumed,
        "powers are even within each value of a load or sun profile",
        "voltmeters without error, cells alike in each string but for the spread",
        "while the utility carries the load, the idle draw of the inverters is the utility's",
        "the cell monitoring opens and closes all strings at once",
        "while the utility carries the load, the sun does nothing but charge the pack",
    ]
    thresholds, volts, more = _thresholds(design, operation, mode)
    found += more
    chargers, names, more, said = _chargers(design)
    found += more
    told += said
    suns, more, said = _suns(design, operation, names)
    found += more
    told += said
    air, more = _air(design, operation)
    found += more
    told += thresholds_assumed(design, operation)
    plan = _plan(operation, air, suns)
    return AtWork(
        strings=packed.strings,
        plan=plan,
        chargers=chargers,
        rules=_rules(design, operation, mode, volts),
        names=names,
        thresholds=thresholds,
        findings=tuple(found),
        assumed=tuple(told),
    )


# --- Who carries the load, and when ------------------------------------------------------------


def _mode(design: Design, operation: Operation) -> tuple[str, list[Finding]]:
    """Return the mode that can be run: without a changeover battery first is an island."""
    if operation.mode != BATTERY_FIRST:
        return operation.mode, []
    fitted = [inverter.changeover for inverter in design.build.inverters]
    sheet = None if design.settings is None else design.settings.thresholds.changeover
    if _typed(operation.changeover, sheet) is None:
        return ISLAND, [rules.no_changeover(fitted=any(f is not NOT_FITTED for f in fitted))]
    if NOT_FITTED in fitted:
        lacking = [i.name for i in design.build.inverters if i.changeover is NOT_FITTED]
        return ISLAND, [rules.without_changeover(lacking)]
    if None in fitted:
        return operation.mode, [rules.changeover_unknown()]
    return operation.mode, [rules.has_changeover()]


def _thresholds(
    design: Design, operation: Operation, mode: str
) -> tuple[dict[str, float], dict[str, float], list[Finding]]:
    """Return the voltages that are used, by name for people and by the kernel's names [V]."""
    settings = design.settings
    assert settings is not None  # noqa: S101  (told to the type checker; `cannot_run` asked)
    sheet = settings.thresholds
    set_cut = sheet.cut_off
    cut = set_cut if operation.cut_off is None else float(operation.cut_off.m)
    lows = [float(i.window_low.m) for i in design.build.inverters if i.window_low is not None]
    assert cut is not None  # noqa: S101
    stops = max([cut, *lows])
    restart = _restart(design, operation, stops)
    volts = {"cut": stops, "restart": restart, "go": 0.0, "back": math.inf}
    named = {"cut-off": stops, "restart": restart}
    found = [rules.cut_off_set(cut, set_cut)]
    if mode == BATTERY_FIRST:
        go = _typed(operation.changeover, sheet.changeover)
        assert go is not None  # noqa: S101  (`_mode` asked)
        volts["go"] = named[Line.CHANGEOVER] = go
        back = _typed(operation.return_to_battery, sheet.back)
        if back is not None:
            volts["back"] = named[Line.RETURN] = back
        fitted = [inverter.return_to_battery for inverter in design.build.inverters]
        found.append(rules.changeover_set(go, sheet.changeover))
        found.append(
            rules.return_set(back, sheet.back, none=NOT_FITTED in fitted, asked=None in fitted)
        )
    return named, volts, found


def _typed(typed: Quantity | None, sheet: float | None) -> float | None:
    return sheet if typed is None else float(typed.m)


def _restart(design: Design, operation: Operation, stops: float) -> float:
    if operation.restart is not None:
        return float(operation.restart.m)
    own = [float(volts.m) for volts in _restarts(design)]
    return max(own) if own else stops + RESTART_ABOVE * design.build.pack.cells_in_series


def _restarts(design: Design) -> list[Quantity]:
    """Return the voltages at which inverters say that they start again."""
    every = [inverter.restart for inverter in design.build.inverters]
    return [volts for volts in every if volts is not None and not isinstance(volts, Fitted)]


def thresholds_assumed(design: Design, operation: Operation) -> tuple[str, ...]:
    """Return what is assumed of starting again and of coming back, in words."""
    found = []
    if operation.restart is None and not _restarts(design):
        found.append(f"inverters start again {say(RESTART_ABOVE, 'V')} a cell above their cut-off")
    sheet = design.settings
    if (
        operation.mode == BATTERY_FIRST
        and operation.return_to_battery is None
        and sheet is not None
        and sheet.thresholds.back is None
    ):
        found.append("somebody returns the load to the battery when the pack is full")
    return tuple(found)


def _rules(
    design: Design, operation: Operation, mode: str, volts: dict[str, float]
) -> kernel.Rules:
    build = design.build
    pack, limits = build.pack, build.pack.module.chemistry.limits
    inverters = build.inverters
    cells = {
        name: _per_cell(design, line)
        for name, line in (
            ("high", Line.CELL_CUT_HIGH),
            ("high_clear", Line.CELL_WARN_HIGH),
            ("low", Line.CELL_CUT_LOW),
            ("low_clear", Line.CELL_WARN_LOW),
        )
    }
    monitoring = pack.monitoring if isinstance(pack.monitoring, Monitoring) else None
    charge_stops = monitoring is not None and bool(monitoring.stops_charge)
    load_stops = monitoring is not None and bool(monitoring.stops_discharge)
    working = kernel.Inverters(
        mode=MODES.index(mode),
        charging=MAINS_CHARGING.index(operation.mains_charging if mode != ISLAND else NEVER),
        efficiency=min(_plain(i.efficiency) for i in inverters),
        idle=sum(_plain(i.idle) * i.count for i in inverters),
        most=sum(_plain(i.continuous) * i.count for i in inverters),
        cable=main_cable(design),
        go=volts["go"],
        back=volts["back"],
        cut=volts["cut"],
        restart=volts["restart"],
        go_delay=float(operation.changeover_delay.m),
        back_delay=float(operation.return_delay.m),
    )
    watching = kernel.Monitoring(
        cells=float(pack.cells_in_series),
        spread=imbalance(pack, full=True).value,
        below=imbalance(pack, full=False).value,
        high=cells["high"] if charge_stops else _NEVER_TRIPS,
        high_clear=cells["high_clear"],
        low=cells["low"] if load_stops else -_NEVER_TRIPS,
        low_clear=cells["low_clear"],
        over_out=_over(design, Line.OVER_OUT, works=load_stops),
        over_in=_over(design, Line.OVER_IN, works=charge_stops),
        coldest=float(limits.discharge_coldest.m) if load_stops else -math.inf,
        hottest=float(limits.discharge_hottest.m) if load_stops else math.inf,
    )
    return kernel.Rules(working, watching, may_charge=_may_charge(design))


def _plain(quantity: Quantity | None) -> float:
    assert quantity is not None  # noqa: S101  (told to the type checker; `cannot_run` asked)
    return float(quantity.m)


def _monitoring(design: Design) -> DeviceSettings | None:
    return None if design.settings is None else design.settings.device(MONITORING)


def _per_cell(design: Design, name: Line) -> float:
    device = _monitoring(design)
    line = None if device is None else device.line(name)
    assert line is not None  # noqa: S101  (every sheet has the four)
    assert line.per_cell is not None  # noqa: S101
    return line.per_cell


def _over(design: Design, name: Line, *, works: bool) -> float:
    device = _monitoring(design)
    line = None if device is None else device.line(name)
    if not works or line is None or line.worked is None:
        return math.inf
    return line.worked.value


def _may_charge(design: Design) -> Array:
    """Return the most current into the pack at whole temperatures from -40 °C on [A]."""
    pack = design.build.pack
    limits = pack.module.chemistry.limits
    cold, hot = float(limits.charge_coldest.m), float(limits.charge_hottest.m)
    celsius = np.arange(COLDEST, _HOTTEST_TABLE + 1.0)
    # An entry holds up to the next whole temperature: both ends must be allowed.
    return np.array(
        [
            charge_rate_limit(t) * float(pack.capacity.m) if cold <= t and t + 1 <= hot else 0.0
            for t in map(float, celsius)
        ]
    )


# --- Chargers ----------------------------------------------------------------------------------


@attrs.frozen
class _Set:
    """One charger as it is set, all its units together."""

    name: str
    absorb: float
    hold: float
    current: float
    ending: float
    mains: bool
    per_kelvin: float = 0.0
    reference: float = 25.0


def _chargers(
    design: Design,
) -> tuple[kernel.Chargers, tuple[str, ...], list[Finding], list[str]]:
    """Return the chargers as the settings sheet has them; one that is not settled is left out."""
    found, given, told = [], [], []
    for charger in design.build.all_chargers:
        if charger.source == "generator":
            told.append(f"{charger.name}: a generator, which does not run")
            continue
        made = _as_set(design, charger)
        if made is None:
            found.append(rules.charger_left_out(charger.name))
        else:
            given.append(made)
    if given:
        told.append(
            f"chargers of {say(SOLAR_EFFICIENCY, '')} efficiency on the sun and "
            f"{say(MAINS_EFFICIENCY, '')} on the mains"
        )
        told.append("a charger ends its charge by its own current, the load's part included")
        told.append(
            "the charge current follows the cold limits of the cells, and the sun still feeds the "
            "load while the pack may take nothing"
        )
    cells = design.build.pack.cells_in_series
    targets = design.build.pack.module.chemistry.targets
    floats = math.inf if targets is None else cells * float(targets.float_most.m)
    chargers = kernel.Chargers(
        absorb=_column([c.absorb for c in given]),
        hold=_column([c.hold for c in given]),
        again=_column([min(floats, c.absorb - BEGINS_ANEW * cells) for c in given]),
        current=_column([c.current for c in given]),
        ending=_column([c.ending for c in given]),
        efficiency=_column([MAINS_EFFICIENCY if c.mains else SOLAR_EFFICIENCY for c in given]),
        mains=np.array([int(c.mains) for c in given], dtype=np.int64),
        per_kelvin=_column([c.per_kelvin for c in given]),
        reference=_column([c.reference for c in given]),
    )
    return chargers, tuple(c.name for c in given), found, told


def _column(values: Sequence[float]) -> Array:
    return np.array(values, dtype=float)


def _as_set(design: Design, charger: Charger) -> _Set | None:
    """Return a charger as the sheet sets it; None where a line of it is not settled."""
    device = None if design.settings is None else design.settings.device(charger.name)
    if device is None or charger.current is None:
        return None
    limit, end = device.line(Line.CURRENT), device.line(Line.END_CURRENT)
    own = float(charger.current.m)
    if limit is not None and limit.worked is not None:
        own = min(own, limit.worked.value)
    elif limit is None or limit.act is Act.FIND_OUT or limit.not_connected:
        return None
    count, mains = charger.count, charger.source == "mains"
    ending = own / 2 if end is None or end.worked is None else end.worked.value
    profile = charger.left_on
    if profile is not None:
        return _Set(
            charger.name,
            absorb=float(profile.absorption.m),
            hold=float(profile.float_voltage.m),
            current=own * count,
            ending=ending * count,
            mains=mains,
            per_kelvin=max(abs(float(profile.compensation.m)), charger.unstated_compensation),
            reference=float(profile.reference.m),
        )
    charge, held = device.line(Line.CHARGE), device.line(Line.FLOAT)
    if charge is None or charge.worked is None or charge.act is not Act.ENTER:
        return None
    hold = 0.0
    if held is not None and held.act is Act.ENTER and held.worked is not None:
        hold = held.worked.value
    return _Set(
        charger.name,
        absorb=charge.worked.value,
        hold=hold,
        current=own * count,
        ending=ending * count,
        mains=mains,
    )


# --- Series over time --------------------------------------------------------------------------


def _suns(
    design: Design, operation: Operation, names: tuple[str, ...]
) -> tuple[list[tuple[Array, float] | None], list[Finding], list[str]]:
    """Return what the panels of each charger could give [W], each over equal times [s]."""
    build = design.build
    feeds = {array.name: array.feeds for array in build.solar_arrays}
    rated = {side.array: side.rated for side in design.solar}
    found: list[Finding] = []
    told: list[str] = []
    on: dict[str, list[tuple[Array, float]]] = {name: [] for name in names}
    every = {charger.name for charger in build.all_chargers}
    for sun in operation.sun:
        charger = feeds.get(sun.on, sun.on)
        if charger not in every:
            found.append(rules.sun_unknown(sun.on, "the build has no solar array called so"))
            continue
        worked = rated.get(sun.on)
        most = None if worked is None else worked.value
        if sun.rated is not None:
            most = float(sun.rated.m)
        series = _sun(sun, most)
        if series is None:
            found.append(rules.sun_unknown(sun.on, "its rated power is not known"))
        elif charger in on:  # one that is left out has its finding already
            on[charger].append(series)
    lit = {feeds.get(sun.on, sun.on) for sun in operation.sun}
    dark = [c.name for c in build.all_chargers if c.source == "solar" and c.name not in lit]
    dark += [a.name for a in build.solar_arrays if a.feeds in lit and not _has(a.name, operation)]
    found += [rules.sun_unknown(name, "nobody said what the sun gives it") for name in dark]
    if operation.sun and not found:
        found.append(rules.sun_known())
    placed = [sun for sun in operation.sun if sun.profile is None]
    found += _weather(operation)
    if placed:
        told.append(f"an array keeps {say(SUN_KEPT, '')} of its rated power")
    if not all(_drawn(sun) for sun in placed):
        told.append("a clear sky with the months' clouds spread evenly over all hours")
    if any(_drawn(sun) for sun in placed):
        told.append(
            f"days drawn once and for all, clear ones with {say(CLEAR_DAY, '')} and dull ones with "
            f"{say(DULL_DAY, '')} of a clear sky and one a month between, each after the day "
            "before, so that the energy of each month is what its weather leaves"
        )
    return [_together(on[name]) for name in names], found, told


def _drawn(sun: Sun) -> bool:
    return sun.clouds != EVENLY and any(is_drawn(float(month.m)) for month in sun.weather)


def _weather(operation: Operation) -> list[Finding]:
    """Return how far the weather of the run is to be believed."""
    placed = [sun for sun in operation.sun if sun.profile is None]
    cloudless = [sun.on for sun in placed if all(month.m >= 1 for month in sun.weather)]
    even = [sun.on for sun in placed if sun.on not in cloudless and not _drawn(sun)]
    alike = [
        sun.on
        for sun in operation.sun
        if sun.profile is not None and sun.profile.period <= DAY and operation.length.m > MONTH
    ]
    found = []
    if cloudless:
        found.append(rules.no_clouds(cloudless))
    if even:
        found.append(rules.clouds_even(even))
    if alike:
        found.append(rules.days_alike(alike))
    if any(_drawn(sun) for sun in placed):
        found.append(rules.days_drawn())
    return found


def _has(array: str, operation: Operation) -> bool:
    return any(sun.on == array for sun in operation.sun)


def _sun(sun: Sun, rated: float | None) -> tuple[Array, float] | None:
    if sun.profile is not None:
        return sun.profile.values, float(sun.profile.every.m)
    if rated is None:
        return None
    return under_clouds(sun) / 1000.0 * (rated * SUN_KEPT), EVERY


def _together(series: list[tuple[Array, float]]) -> tuple[Array, float] | None:
    """Return several series as one; unlike ones are laid over a year at the finest of them."""
    if len(series) < 2:  # noqa: PLR2004
        return series[0] if series else None
    alike = {(values.size, every) for values, every in series}
    if len(alike) == 1:
        return np.sum([values for values, _ in series], axis=0), series[0][1]
    finest = min(every for _, every in series)
    steps = round(DAYS * DAY / finest)
    return np.sum([averaged(v, every, finest, steps) for v, every in series], axis=0), finest


def _air(design: Design, operation: Operation) -> tuple[tuple[Array, float], list[Finding]]:
    """Return the air around the pack [°C] over a year, each value for so many seconds."""
    if operation.air is not None:
        return (operation.air.values, float(operation.air.every.m)), [rules.air_known()]
    site = design.build.site
    coldest = operation.coldest if operation.coldest is not None else site.coldest
    warmest = operation.warmest if operation.warmest is not None else site.warmest
    if coldest is None or warmest is None:
        known = [float(t.m) for t in (coldest, warmest) if t is not None]
        flat = known[0] if known else UNKNOWN_AIR
        return (np.array([flat]), HOUR), [rules.air_unknown(flat)]
    low, high = float(coldest.m), float(warmest.m)
    if low > high:
        low, high = high, low
    days = np.arange(1, DAYS + 1)
    swing = np.cos(2 * np.pi * (days - operation.coldest_day) / DAYS)
    return ((low + high) / 2 - (high - low) / 2 * swing, DAY), [rules.air_known()]


def _plan(
    operation: Operation, air: tuple[Array, float], suns: list[tuple[Array, float] | None]
) -> kernel.Plan:
    """Return all series on the grid of the steps, one behind the other."""
    load = operation.load
    tariff = operation.tariff
    prices = np.zeros(1) if tariff is None else tariff.by_minute()
    cheap = (prices == prices.min()).astype(float)
    series: list[tuple[Array, float]] = [
        (load.values, float(load.every.m)),
        air,
        (_outages(operation), 60.0),
        (prices, 60.0),
        (cheap, 60.0),
        *((np.zeros(1), 60.0) if sun is None else sun for sun in suns),
    ]
    laid = [on_grid(values, every, float(operation.step.m)) for values, every in series]
    sizes = [values.size for values, _ in laid]
    return kernel.Plan(
        flat=np.concatenate([values for values, _ in laid]),
        begin=np.array([0, *np.cumsum(sizes)[:-1]], dtype=np.int64),
        size=np.array(sizes, dtype=np.int64),
        hold=np.array([hold for _, hold in laid], dtype=np.int64),
    )


def _outages(operation: Operation) -> Array:
    """Return for every minute of a year whether the utility is out; one value where it never is."""
    if not operation.outages:
        return np.zeros(1)
    out = np.zeros(round(DAYS * DAY / 60))
    for outage in operation.outages:
        first = (outage.day - 1) * 1440 + math.floor(float(outage.at.m) / 60)
        count = min(out.size, math.ceil(float(outage.lasts.m) / 60))
        out[np.arange(first, first + count) % out.size] = 1.0
    return out


def on_grid(values: Array, every: float, step: float) -> tuple[Array, int]:
    """Return a series on a grid of steps, and for how many steps each value holds.

    Coarser values that fit are held. All others are averaged over each step, so that their energy
    stays.
    """
    if values.size == 1:
        return values.copy(), _FOR_GOOD
    holds = every / step
    if holds >= 1 and abs(holds - round(holds)) < 1e-9 * holds:
        return values.copy(), round(holds)
    period = round(every * values.size * 1000), round(step * 1000)
    steps = math.lcm(*period) // period[1]
    return averaged(values, every, step, min(steps, round(DAYS * DAY / step))), 1


def averaged(values: Array, every: float, step: float, steps: int) -> Array:
    """Return the means of a series that repeats itself over so many steps."""
    whole = values.size * every
    grid = np.arange(values.size + 1) * every
    integral = np.concatenate([[0.0], np.cumsum(values) * every])
    times, part = np.divmod(np.arange(steps + 1) * step, whole)
    found: Array = np.diff(times * integral[-1] + np.interp(part, grid, integral)) / step
    return found
