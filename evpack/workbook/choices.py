"""The few choices that a person turns over in the panel, and the build that follows from them."""

from __future__ import annotations

import math
from collections.abc import Iterable

import attrs

from evpack.base.units import Quantity
from evpack.base.wording import number
from evpack.describe.build import Build
from evpack.describe.pack import Pack
from evpack.edit import charge_target_of, edited

# Below this a difference is a rounding of the control, not a choice [canonical unit].
_SAME = 1e-9
_MOST_COUNT = 400  # what the nouns take

Entries = dict[str, dict[str, int | str]]  # of a build sheet: table, key, value as typed


@attrs.frozen(kw_only=True)
class Choice:
    """One control: what it changes, its unit, and how far its slider reaches.

    Parameters
    ----------
    key : str
        The keyword of `with_choices`.
    written : str
        Its place in a build sheet, such as ``pack.strings``.
    label, unit : str
        What stands beside the control; a count has no unit.
    value : float or str
        In `unit`, or one of `options`.
    low, high, step : float
        In `unit`.
    options : tuple of str
        What can be picked; then there is no slider.
    """

    key: str
    written: str
    label: str
    unit: str
    value: float | str
    low: float = 0.0
    high: float = 0.0
    step: float = 1.0
    options: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Return whether it is a count."""
        return not self.unit and not self.options

    def typed(self, value: float | str) -> int | str:
        """Return a value of the control as a person would type it: a count, or text with a unit."""
        if isinstance(value, str):
            return value
        return int(value) if self.whole else f"{number(value, 9)} {self.unit}"


def choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the controls of a build, each at the build's own value and with a sane reach.

    A reach is a convenience of the slider: a typed value may lie beyond it. The charge target is
    missing where the chemistry has none.
    """
    pack, load = build.pack, build.load
    target = charge_target_of(build)
    rows = [
        counted("modules_in_series", "Modules in series", pack.modules_in_series, _tallest(build)),
        counted("strings", "Strings in parallel", pack.strings, widest(pack)),
    ]
    if target is not None:
        rows.append(
            Choice(
                key="charge_target",
                written="policy.charge_target",
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
            written="policy.reserve",
            label="Reserve kept for outages",
            unit="%",
            low=0,
            high=90,
            step=1,
            value=tidy(build.policy.reserve.m * 100),
        ),
        Choice(
            key="continuous_load",
            written="load.continuous",
            label="Continuous load",
            unit="kW",
            low=0.1,
            high=_heaviest(build),
            step=0.1,
            value=tidy(load.continuous.m / 1e3),
        ),
    ]
    return tuple(rows)


def with_choices(
    build: Build,
    *,
    modules_in_series: int | None = None,
    strings: int | None = None,
    charge_target: Quantity | str | None = None,
    reserve: Quantity | str | None = None,
    continuous_load: Quantity | str | None = None,
) -> Build:
    """Return the build with some choices made differently; None leaves one as it is.

    A changed choice counts as chosen, no longer as assumed, and the text of the build sheet is
    dropped, since it does not describe the new build. The typical and the peak load follow where
    the continuous load passes them. A build that nothing changes is returned as it is.

    Raises
    ------
    EvpackError
        A choice that cannot exist, such as a reserve of 100 % or a charge target that no cell of
        the build ever stands at.
    """
    typed = (
        ("pack.modules_in_series", modules_in_series),
        ("pack.strings", strings),
        ("policy.charge_target", charge_target),
        ("policy.reserve", reserve),
        ("load.continuous", continuous_load),
    )
    return edited(build, *((place, value) for place, value in typed if value is not None))


def sheet_entries(before: Build, after: Build) -> Entries:
    """Return what to write in the build sheet to turn one build into the other, by table.

    ``{"pack": {"strings": 3}}``; empty where nothing differs.
    """
    tables = changed_entries(choices_of(before), choices_of(after))
    for name in ("typical", "peak"):
        new = getattr(after.load, name)
        if new is not None and new.m != getattr(before.load, name).m:
            tables["load"][name] = f"{number(new.m / 1e3, 9)} kW"
    return tables


def changed_entries(before: Iterable[Choice], after: Iterable[Choice]) -> Entries:
    """Return the entries of a build sheet, by table, for the controls whose value differs."""
    old = {row.key: row.value for row in before}
    tables: Entries = {}
    for row in after:
        if _differs(old[row.key], row.value):
            table, _, key = row.written.rpartition(".")
            tables.setdefault(table, {})[key] = row.typed(row.value)
    return tables


def as_sheet(tables: Entries) -> str:
    """Return entries as text of a build sheet: ``[pack]`` and below it ``strings = 3``."""
    return "\n\n".join(
        "\n".join([f"[{table}]", *(_line(key, value) for key, value in entries.items())])
        for table, entries in tables.items()
    )


def _differs(old: float | str, new: float | str) -> bool:
    if isinstance(old, str) or isinstance(new, str):
        return old != new
    return abs(old - new) > _SAME


def _line(key: str, value: int | str) -> str:
    return f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"


def counted(key: str, label: str, value: int, high: int, table: str = "pack") -> Choice:
    """Return the control of a count, from 1 up."""
    return Choice(
        key=key,
        written=f"{table}.{key}",
        label=label,
        unit="",
        low=1,
        high=high,
        step=1,
        value=value,
    )


def _tallest(build: Build) -> int:
    """Return a count that clearly leaves every inverter's window, so that the edge can be seen."""
    pack = build.pack
    windows = [i.window_high.m for i in build.inverters if i.window_high is not None]
    one = pack.module.cells_in_series * pack.module.highest.m
    beyond = math.ceil(max(windows) / one) + 1 if windows else 2 * pack.modules_in_series
    return min(_MOST_COUNT, max(beyond, pack.modules_in_series + 2))


def widest(pack: Pack) -> int:
    """Return one string more than the modules at hand allow."""
    at_hand = pack.module.available or pack.modules
    return min(_MOST_COUNT, max(at_hand // pack.modules_in_series + 1, pack.strings + 2))


def _heaviest(build: Build) -> float:
    """Return somewhat more than all inverters keep up together [kW]."""
    output = sum(i.continuous.m * i.count for i in build.inverters if i.continuous is not None)
    most: float = max(1.2 * output, 1.5 * build.load.continuous.m)
    return math.ceil(most / 100) / 10


def tidy(value: float) -> float:
    """Return the value without the noise of a change of unit (0.29 · 100 is 28.999999999999996)."""
    return round(value, 9)
