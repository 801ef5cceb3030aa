"""What a person can turn over in a panel, and the edits that it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeAlias

import attrs

from evpack.base.wording import number
from evpack.describe.batch import Batch
from evpack.describe.build import Build
from evpack.describe.cabling import LEFT_OPEN, Run
from evpack.describe.operation import BATTERY_FIRST, MODES, Operation
from evpack.describe.pack import Pack
from evpack.describe.ranges import VoltageRange
from evpack.edit import charge_target_of, edited, energy_a_day
from evpack.load.library import chemistry, library
from evpack.outcome.operation import OperationRun
from evpack.outcome.settings import Line

Value: TypeAlias = float | str
Edit: TypeAlias = tuple[str, Any]
Entries: TypeAlias = dict[str, dict[str, int | str]]  # of a sheet: table, key, value as typed

# Below this a difference is a rounding of the control, not a choice [unit of the control].
_SAME = 1e-9
_MOST_COUNT = 400  # what the nouns take
_MOST_PARALLEL = 4
_LONGEST = 10.0  # [m]
_MOST_CELLS = 32  # of a module
_MOST_IN_HEAP = 20  # modules in series, and strings
_MOST_MODULES = 96  # a few hundred arrangements, a second
_MOST_LOAD = 300  # per cent of the load of the sheet
_RUNS = {"main": "Main cable", "module_lead": "Module lead", "charger": "Charger cable"}

SLIDER, WORDS, BUTTONS, BOX, LIST = "slider", "words", "buttons", "box", "list"


@attrs.frozen(kw_only=True)
class Choice:
    """One control: what it changes, its unit, and how far its slider reaches.

    Parameters
    ----------
    key : str
        Its keyword in `Panel.set`.
    place : str
        What it edits: its place in a sheet, such as ``pack.strings``; "" where each of its
        options is made of several edits.
    label, unit : str
        What stands beside the control; a count has no unit.
    value : float or str
        Where it begins: in `unit`, or one of `options`.
    kind : {"slider", "words", "buttons", "box", "list"}
        A slider with a box to type in, a slider over words, buttons, a box alone, a list.
    low, high, step : float
        In `unit`.
    options : tuple of str
        What can be picked, where it is no number.
    ways : tuple of edits
        What each option edits, where that is not the option itself at `place`.
    whole_of : (float, str) or None
        What 100 % of it are, as the sheet has it.
    only : (str, str) or None
        Another control and its option without which this one has no say.
    fixed : bool
        It cannot be moved.
    """

    key: str
    place: str
    label: str
    unit: str = ""
    value: Value
    kind: str = SLIDER
    low: float = 0.0
    high: float = 0.0
    step: float = 1.0
    options: tuple[str, ...] = ()
    ways: tuple[tuple[Edit, ...], ...] = ()
    whole_of: tuple[float, str] | None = None
    only: tuple[str, str] | None = None
    fixed: bool = False

    @property
    def whole(self) -> bool:
        """Return whether it is a count."""
        return not self.unit and not self.options

    def typed(self, value: Value) -> int | str:
        """Return a value as a person would type it: a count, or text with a unit."""
        if isinstance(value, str):
            return value
        return int(value) if self.whole else f"{number(value, 9)} {self.unit}"

    def edits(self, value: Value) -> tuple[Edit, ...]:
        """Return what a value of the control changes in a sheet."""
        if self.ways:
            return self.ways[self.options.index(str(value))]
        if self.whole_of is not None and not isinstance(value, str):
            most, unit = self.whole_of
            return ((self.place, f"{number(value / 100 * most, 9)} {unit}"),)
        return ((self.place, self.typed(value)),)

    def differs(self, value: Value) -> bool:
        """Return whether a value is another than the one where the control begins."""
        if isinstance(self.value, str) or isinstance(value, str):
            return value != self.value
        return abs(value - self.value) > _SAME


def turned(choices: Iterable[Choice], values: Mapping[str, Value]) -> Iterator[tuple[str, Edit]]:
    """Yield the edits of the controls that were moved and have a say, each with its key."""
    for choice in choices:
        other, needed = choice.only or ("", "")
        if choice.differs(values[choice.key]) and (not other or values[other] == needed):
            for edit in choice.edits(values[choice.key]):
                yield choice.key, edit


def edits_of(choices: Iterable[Choice], values: Mapping[str, Value]) -> tuple[Edit, ...]:
    """Return the edits of the controls that were moved and have a say."""
    return tuple(edit for _, edit in turned(choices, values))


_ALONG = {  # what may follow an edit, and how it is typed
    "load": {"typical": "kW", "peak": "kW"},
    "operation": {"mains_charging": ""},
}


def entries_of(edits: Iterable[Edit], before: Build, after: Build) -> Entries:
    """Return what to write in the build sheet, by table: the edits, and what followed them.

    ``{"pack": {"strings": 3}}``; empty where nothing was edited.
    """
    tables: Entries = {}
    for place, value in edits:
        table, _, key = place.rpartition(".")
        tables.setdefault(table, {})[key] = value
    for table, keys in _ALONG.items():
        if table not in tables:
            continue
        for key, unit in keys.items():
            old, new = (getattr(getattr(build, table), key) for build in (before, after))
            if new is not None and new != old:
                tables[table][key] = f"{number(new.m / 1e3, 9)} {unit}" if unit else new
    return tables


def as_sheet(tables: Entries) -> str:
    """Return entries as text of a build sheet: ``[pack]`` and below it ``strings = 3``."""
    return "\n\n".join(
        "\n".join([f"[{table}]", *(_line(key, value) for key, value in entries.items())])
        for table, entries in tables.items()
    )


def _line(key: str, value: int | str) -> str:
    return f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"


def _counted(
    place: str, label: str, value: int, most: int, *, key: str = "", kind: str = SLIDER
) -> Choice:
    """Return the control of a count, from 1 up; its key is the last word of its place."""
    key = key or place.rpartition(".")[2]
    return Choice(
        key=key, place=place, label=label, kind=kind, low=1, high=most, step=1, value=value
    )


def tidy(value: float) -> float:
    """Return the value without the noise of a change of unit (0.29 · 100 is 28.999999999999996)."""
    return round(value, 9)


# A build.


def choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the controls of a build, each at the build's own value and with a sane reach.

    A reach is a convenience of the slider: a typed value may lie beyond it. The charge target is
    missing where the chemistry has none.
    """
    pack, load, target = build.pack, build.load, charge_target_of(build)
    series, most = pack.modules_in_series, _tallest(build)
    rows = [_counted("pack.modules_in_series", "Modules in series", series, most), _strings(pack)]
    if target is not None:
        rows.append(
            Choice(
                key="charge_target",
                place="policy.charge_target",
                label="Charge target for one cell",
                unit="V",
                low=math.ceil(pack.module.nominal.m * 100) / 100,
                high=pack.module.highest.m,
                step=0.01,
                value=tidy(target.m),
            )
        )
    rows += [
        Choice(
            key="reserve",
            place="policy.reserve",
            label="Reserve kept for outages",
            unit="%",
            high=90,
            value=tidy(build.policy.reserve.m * 100),
        ),
        Choice(
            key="continuous_load",
            place="load.continuous",
            label="Continuous load",
            unit="kW",
            low=0.1,
            high=_heaviest(build),
            step=0.1,
            value=tidy(load.continuous.m / 1e3),
        ),
    ]
    return tuple(rows)


def _tallest(build: Build) -> int:
    """Return a count that clearly leaves every inverter's window, so that the edge can be seen."""
    pack = build.pack
    windows = [i.window_high.m for i in build.inverters if i.window_high is not None]
    one = pack.module.cells_in_series * pack.module.highest.m
    beyond = math.ceil(max(windows) / one) + 1 if windows else 2 * pack.modules_in_series
    return min(_MOST_COUNT, max(beyond, pack.modules_in_series + 2))


def _strings(pack: Pack) -> Choice:
    """Return the control of the strings: up to one more than the modules at hand allow."""
    at_hand = pack.module.available or pack.modules
    most = min(_MOST_COUNT, max(at_hand // pack.modules_in_series + 1, pack.strings + 2))
    return _counted("pack.strings", "Strings in parallel", pack.strings, most)


def _heaviest(build: Build) -> float:
    """Return somewhat more than all inverters keep up together [kW]."""
    output = sum(i.continuous.m * i.count for i in build.inverters if i.continuous is not None)
    most: float = max(1.2 * output, 1.5 * build.load.continuous.m)
    return math.ceil(most / 100) / 10


# Strings, and the cables that a sheet describes.


def cable_choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the controls; a cable that the sheet does not describe has none.

    The size changes under the same conditions as before: it is one of the run's alternatives.
    """
    rows = [_strings(build.pack)]
    for field, label in _RUNS.items():
        run = getattr(build.cabling, field)
        if run is not None:
            rows += _run_choices(field, label, run)
    return tuple(rows)


def _run_choices(field: str, label: str, run: Run) -> Iterator[Choice]:
    table = f"cabling.{field}"
    if run.alternatives:
        sizes = tuple(conductor.size for conductor in run.alternatives)
        now = LEFT_OPEN if run.left_open else run.conductor.size
        extra = () if now in {LEFT_OPEN, *sizes} else (now,)
        yield Choice(
            key=f"{field}_size",
            place=f"{table}.size",
            label=f"{label}, size",
            kind=WORDS,
            value=now,
            options=(LEFT_OPEN, *extra, *sizes),
        )
    yield Choice(
        key=f"{field}_length",
        place=f"{table}.length",
        label=f"{label}, one way",
        unit="m",
        low=0.1,
        high=max(_LONGEST, 2 * tidy(run.length.m)),
        step=0.1,
        value=tidy(run.length.m),
    )
    most = max(_MOST_PARALLEL, run.parallel)
    beside, key = f"{label}, side by side", f"{field}_parallel"
    yield _counted(f"{table}.parallel", beside, run.parallel, most, key=key)


# A year of operation.


def operation_choices_of(build: Build, run: OperationRun) -> tuple[Choice, ...]:
    """Return the controls of a year: the mode, the thresholds that it ran with, delay and load."""
    found, used, inverters = build.operation, run.thresholds, build.inverters
    assert found is not None  # noqa: S101  (told to the type checker; the run asked)
    return (
        Choice(
            key="mode",
            place="operation.mode",
            label="Mode",
            kind=BUTTONS,
            value=found.mode,
            options=MODES,
        ),
        _threshold(
            "changeover",
            "Changeover",
            used.get(Line.CHANGEOVER),
            _reach(build.pack, (i.changeover for i in inverters)),
        ),
        _threshold(
            "return_to_battery",
            "Return to battery",
            used.get(Line.RETURN),
            _reach(build.pack, (i.return_to_battery for i in inverters)),
        ),
        Choice(
            key="delay",
            place="operation.return_delay",
            label="Delay of the return",
            unit="min",
            high=60,
            value=float(found.return_delay.m) / 60,
        ),
        _load(found),
    )


def _load(found: Operation) -> Choice:
    return Choice(
        key="load",
        place="operation.load.energy",
        label="Load, of the sheet's",
        unit="%",
        value=100,
        low=10,
        high=_MOST_LOAD,
        step=5,
        whole_of=(energy_a_day(found.load) / 1e3, "kWh"),
    )


def _threshold(key: str, label: str, used: float | None, ends: tuple[float, float]) -> Choice:
    """Return the control of a threshold; one that nobody settled cannot be moved."""
    low, high = ends
    value = low if used is None else used
    return Choice(
        key=key,
        place=f"operation.{key}",
        label=label,
        unit="V",
        value=value,
        low=min(low, value),
        high=max(high, value),
        step=0.1,
        only=("mode", BATTERY_FIRST),
        fixed=used is None,
    )


def _reach(pack: Pack, offered: Iterable[object]) -> tuple[float, float]:
    """Return what every inverter lets a person enter, else all that the pack can show [V]."""
    ranges = [one for one in offered if isinstance(one, VoltageRange)]
    low = max((float(r.low.m) for r in ranges), default=-math.inf)
    high = min((float(r.high.m) for r in ranges), default=math.inf)
    if not ranges or low >= high:
        return float(pack.least.m), float(pack.highest.m)
    return low, high


# Modules: of other cells, of a heap, at hand.


def cell_choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the controls of what a module is made of: the kind of its cells, and how many."""
    module = build.pack.module
    held = [chemistry(entry.key) for entry in library() if entry.kind == "chemistry"]
    # A control has room for the name without what stands in brackets.
    kinds = {kind.name.partition(" (")[0]: kind for kind in (*held, module.chemistry)}
    cells, most = module.cells_in_series, max(_MOST_CELLS, module.cells_in_series)
    return (
        Choice(
            key="kind",
            place="module.chemistry",
            label="Kind of cells",
            kind=WORDS,
            value=module.chemistry.name.partition(" (")[0],
            options=tuple(kinds),
            ways=tuple((("module.chemistry", kind),) for kind in kinds.values()),
        ),
        _counted("module.cells_in_series", "Cells in series", cells, most, key="cells", kind=BOX),
    )


def wanted(batch: Batch) -> Batch:
    """Return a heap that wants a pack, of one module where it wants none, and no larger one."""
    most = _most_of(batch)
    return edited(
        batch,
        ("wanted.modules_in_series", min(batch.modules_in_series or 1, most)),
        ("wanted.strings", min(batch.strings or 1, most)),
    )


def heap_choices_of(batch: Batch) -> tuple[Choice, ...]:
    """Return the controls of a heap that is `wanted`: how many in series, how many strings."""
    most, series, strings = _most_of(batch), batch.modules_in_series or 1, batch.strings or 1
    return (
        _counted("wanted.modules_in_series", "modules in series", series, most, kind=BOX),
        _counted("wanted.strings", "strings in parallel", strings, most, kind=BOX),
    )


def _most_of(batch: Batch) -> int:
    return max(1, min(_MOST_IN_HEAP, len(batch.modules)))


def hand_choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the control of how many modules there are."""
    begins = min(build.pack.module.available or build.pack.modules, _MOST_MODULES)
    label = "modules at hand"
    return (_counted("module.available", label, begins, _MOST_MODULES, key="modules", kind=BOX),)
