"""Pictures of a pack at work: a whole run day by day, one day, and going to and fro."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evpack.base.wording import say
from evpack.outcome.operation import OperationRun, OutageRun, Outcome
from evpack.outcome.settings import Line
from evpack.show.draw.svg import apart, box, line, notice, path, picture, text, ticks

Array = NDArray[np.float64]

_WIDTH = 860.0
_LEFT, _RIGHT = 62.0, 690.0
_SIZE = 11.0
_GROUPS = 92  # so many bars at the most: a year is drawn four days a bar
_POINTS = 480  # of a line: more than the eye can tell apart over this width
_DAY, _HOUR = 86400.0, 3600.0
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FIRST_DAYS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_LONG = 62  # days from which on months are written instead of days
# Thresholds as the picture of going to and fro names them.
_SHORT = {
    Line.CHANGEOVER: "changeover",
    Line.RETURN: "return",
    "cut-off": "cut-off",
    "restart": "restart",
}
_WINDOW = 3 * _HOUR  # what is drawn of going to and fro
# Lines are told apart by their dashes too, and each has its name at its end.
_LINES = {
    "load": ("ink", ""),
    "sun": ("caution", "7 3"),
    "utility": ("note", "2 3"),
    "pack": ("ok", ""),
    "not carried": ("stop", "9 3 2 3"),
}

Scale = Callable[[float], float]


def _scale(low: float, high: float, bottom: float, top: float) -> Scale:
    """Return where a value stands between two ends of a picture."""
    return lambda value: bottom + (top - bottom) * (value - low) / (high - low)


def _upright(low: float, high: float, bottom: float, top: float, unit: str) -> tuple[Scale, str]:
    """Return the scale of an upright axis, and its lines and numbers."""
    y = _scale(low, high, bottom, top)
    parts = [text(8, top - 12, unit, size=12, bold=True)]
    for value in ticks(low, high, 5):
        parts.append(line((_LEFT, y(value)), (_RIGHT, y(value)), "grid"))
        parts.append(text(_LEFT - 8, y(value) + 4, f"{value:g}", size=_SIZE, anchor="end"))
    parts.append(line((_LEFT, top), (_LEFT, bottom), "soft"))
    parts.append(line((_LEFT, bottom), (_RIGHT, bottom), "soft"))
    return y, "".join(parts)


def _names(
    names: Sequence[tuple[str, str, str]], wanted: Sequence[float], top: float, bottom: float
) -> str:
    """Return the names of lines at their right ends, each (name, colour, dash)."""
    parts = []
    places = apart(list(wanted), [15.0] * len(names), top, bottom)
    for (name, colour, dash), y in zip(names, places, strict=True):
        parts.append(line((_RIGHT + 6, y), (_RIGHT + 30, y), colour, 1.8, dash))
        parts.append(text(_RIGHT + 34, y + 4, name, size=_SIZE))
    return "".join(parts)


def _legend(names: Sequence[tuple[str, str]], y: float) -> str:
    """Return coloured boxes with their names, one under the other."""
    parts = []
    for k, (name, colour) in enumerate(names):
        parts.append(box(_RIGHT + 8, y + 20 * k, 12, 12, colour, edge="soft"))
        parts.append(text(_RIGHT + 26, y + 10 + 20 * k, name, size=_SIZE))
    return "".join(parts)


# --- A whole run -------------------------------------------------------------------------------


def year_svg(run: OperationRun) -> str:
    """Return every day of a run: who carried the load, what the sun gave, the state of charge."""
    title = f"{run.title}: day by day"
    came = run.outcome
    if came is None or not came.daily.load.size:
        return notice(title, "The run has no whole day to draw.")
    daily, days = came.daily, came.daily.load.size
    each = -(-days // _GROUPS)
    starts = range(0, days, each)

    def mean(values: Array) -> list[float]:
        return [float(values[k : k + each].mean()) / 1000 for k in starts]

    carried = [mean(v) for v in (daily.inverter, daily.utility, daily.unserved)]
    sun, could = mean(daily.sun), mean(daily.sun + daily.unused)
    high = 1.08 * max(*(sum(v) for v in zip(*carried, strict=True)), *could, 1e-3)
    top, bottom, low_top, low_bottom = 40.0, 220.0, 268.0, 388.0
    y, axis = _upright(0.0, high, bottom, top, "kWh a day")
    x = _scale(0.0, float(days), _LEFT, _RIGHT)
    parts = [axis]
    for k, start in enumerate(starts):
        left, right = x(start), x(min(start + each, days))
        floor = 0.0
        for values, colour in zip(carried, ("work", "guard", "stop"), strict=True):
            if values[k] > 0:
                up = y(floor + values[k])
                parts.append(box(left, up, right - left, y(floor) - up, colour))
                floor += values[k]
    middles = [x(min(start + each / 2, days)) for start in starts]
    parts += [
        path([(at, y(v)) for at, v in zip(middles, values, strict=True)], "caution", 1.8, dash)
        for values, dash in ((sun, "7 3"), (could, "1 3"))
        if len(middles) > 1 and max(could) > 0
    ]
    parts.append(
        _legend(
            (
                ("carried by the inverters", "work"),
                ("carried by the utility", "guard"),
                ("carried by nobody", "stop"),
            ),
            top,
        )
    )
    if max(could) > 0:
        parts.append(
            _names(
                (
                    ("taken from the sun", "caution", "7 3"),
                    ("there from the sun", "caution", "1 3"),
                ),
                (top + 76, top + 92),
                top + 60,
                bottom,
            )
        )
    y, axis = _upright(0.0, 100.0, low_bottom, low_top, "%")
    parts.append(axis)
    for start in starts:
        low = 100 * float(daily.soc_least[start : start + each].min())
        most = 100 * float(daily.soc_most[start : start + each].max())
        left, right = x(start), x(min(start + each, days))
        parts.append(box(left, y(most), right - left, max(1.0, y(low) - y(most)), "bar"))
    parts.append(text(_RIGHT + 8, low_top + 12, "state of charge,", size=_SIZE))
    parts.append(text(_RIGHT + 8, low_top + 27, "from least to most", size=_SIZE))
    parts.append(_calendar(run.first_day, days, x, (bottom, low_bottom)))
    energy = came.energy
    told = (
        f"Over {days} days: load {energy('load asked')}, of it carried by the inverters "
        f"{energy('load carried by the inverters')}, by the utility "
        f"{energy('load carried by the utility')}, by nobody "
        f"{energy('load that nobody carried')}; taken from the sun {energy('taken from the sun')}, "
        f"left unused {energy('left unused of the sun')}; state of charge from "
        f"{say(float(daily.soc_least.min()), '')} to {say(float(daily.soc_most.max()), '')}."
    )
    return picture(_WIDTH, 424.0, "".join(parts), title=title, description=told)


def _calendar(first_day: int, days: int, x: Scale, bottoms: Sequence[float]) -> str:
    """Return marks and names of months, or numbers of days of a short run."""
    parts = []
    if days <= _LONG:
        marks = [(at, f"{at:g}") for at in ticks(0.0, float(days), 8)]
        last = "days from the start"
    else:
        whole = range(-(-(first_day - 1 + days) // 365) + 1)
        every = [(y * 365 + at, _MONTHS[m]) for y in whole for m, at in enumerate(_FIRST_DAYS)]
        marks = [(at - first_day + 1.0, m) for at, m in every if 0 <= at - first_day + 1 < days]
        last = "month"
        step = -(-len(marks) // 16)
        marks = marks[::step]
    for at, name in marks:
        parts += [line((x(at), edge), (x(at), edge + 4), "soft") for edge in bottoms]
        parts.append(text(x(at), bottoms[-1] + 17, name, size=_SIZE, anchor="middle"))
    parts.append(text(_RIGHT + 8, bottoms[-1] + 17, last, size=_SIZE, colour="soft"))
    return "".join(parts)


# --- One day -----------------------------------------------------------------------------------


def day_svg(run: OperationRun, day: int) -> str:
    """Return one day of a run, counted from 0: powers, and the state of charge."""
    title = f"{run.title}: {day_words(run, day)}"
    came = run.outcome
    rows = 0 if came is None else round(_DAY / came.series.every)
    if came is None or not 0 <= day < came.series.soc.size // rows:
        return notice(title, "The run has no such day.")
    series = came.series
    each = max(1, rows // _POINTS)
    count = rows // each
    hours = (np.arange(count) + 0.5) * (24.0 / count)

    def mean(values: NDArray[np.float32]) -> Array:
        part = values[day * rows : day * rows + count * each].astype(float)
        found: Array = part.reshape(count, each).mean(axis=1) / 1000
        return found

    lines = {
        "load": mean(series.load),
        "sun": mean(series.sun),
        "utility": mean(series.utility + series.charging),
        "pack": mean(series.pack),
        "not carried": mean(series.unserved),
    }
    drawn = {n: v for n, v in lines.items() if n in {"load", "pack"} or np.abs(v).max() > 0}
    low = min(0.0, *(float(v.min()) for v in drawn.values()))
    high = max(*(float(v.max()) for v in drawn.values()), 1e-3)
    pad = 0.06 * (high - low)
    top, bottom, low_top, low_bottom = 40.0, 250.0, 298.0, 398.0
    y, axis = _upright(low - (pad if low < 0 else 0.0), high + pad, bottom, top, "kW")
    x = _scale(0.0, 24.0, _LEFT, _RIGHT)
    parts = [axis, line((_LEFT, y(0.0)), (_RIGHT, y(0.0)), "soft")]
    for name, values in drawn.items():
        colour, dash = _LINES[name]
        points = [(x(float(h)), y(float(v))) for h, v in zip(hours, values, strict=True)]
        parts.append(path(points, colour, 1.8, dash))
    told = {"pack": "pack, below 0: in", "utility": "from the utility"}
    parts.append(
        _names(
            [(told.get(name, name), *_LINES[name]) for name in drawn],
            [y(float(v[-1])) for v in drawn.values()],
            top,
            bottom,
        )
    )
    soc = 1000 * 100 * mean(series.soc)
    y, axis = _upright(0.0, 100.0, low_bottom, low_top, "%")
    parts.append(axis)
    points = [(x(float(h)), y(float(v))) for h, v in zip(hours, soc, strict=True)]
    parts.append(path(points, "ok", 1.8))
    parts.append(text(_RIGHT + 8, y(float(soc[-1])) + 4, "state of charge", size=_SIZE))
    for hour in range(0, 25, 3):
        edges = (bottom, low_bottom)
        parts += [line((x(hour), edge), (x(hour), edge + 4), "soft") for edge in edges]
        parts.append(text(x(hour), low_bottom + 17, f"{hour}", size=_SIZE, anchor="middle"))
    parts.append(text(_RIGHT + 18, low_bottom + 17, "hour", size=_SIZE, colour="soft"))
    happened = [e for e in came.events if day * _DAY <= e.time < (day + 1) * _DAY]
    for event in happened:
        at = x((event.time - day * _DAY) / _HOUR)
        parts.append(line((at, low_bottom), (at, low_bottom - 8), "stop", 1.5))
    if happened:
        words = f"red marks: {len(happened)} events, as changeovers and returns"
        parts.append(text(_LEFT, low_bottom + 36, words, size=_SIZE, colour="soft"))
    energy = {n: float(v.sum()) * 24.0 / count for n, v in drawn.items()}
    said = "; ".join(f"{told.get(n, n)} {e:.2f} kWh" for n, e in energy.items())
    return picture(
        _WIDTH,
        446.0,
        "".join(parts),
        title=title,
        description=f"{said}; state of charge from {float(soc.min()):.0f} % to "
        f"{float(soc.max()):.0f} %; {len(happened)} events.",
    )


def day_words(run: OperationRun, day: int) -> str:
    """Return which day of the year a day of a run is, in words."""
    of_year = (run.first_day - 1 + day) % 365
    month = max(k for k, first in enumerate(_FIRST_DAYS) if first <= of_year)
    return f"day {day + 1}, {of_year - _FIRST_DAYS[month] + 1} {_MONTHS[month]}"


# --- To and fro --------------------------------------------------------------------------------


def hunting_svg(run: OperationRun) -> str:
    """Return three hours in which the load went to and fro: voltage, thresholds, who carried."""
    title = f"{run.title}: to and fro"
    came = run.outcome
    at = None if came is None else _when(came)
    if came is None or at is None:
        return notice(title, "It never went back within an hour of coming.")
    series = came.series
    first = max(0, int((at - _WINDOW / 2) / series.every))
    last = min(series.soc.size, first + max(2, int(_WINDOW / series.every)))
    volts = series.volts[first:last].astype(float)
    marks = {
        name: value
        for name, value in run.thresholds.items()
        if volts.min() - 1 < value < volts.max() + 1
    }
    low, high = min([*marks.values(), volts.min()]), max([*marks.values(), volts.max()])
    pad = 0.08 * (high - low) or 0.5
    top, bottom = 40.0, 290.0
    y, axis = _upright(low - pad, high + pad, bottom, top, "V")
    x = _scale(float(first), float(last), _LEFT, _RIGHT)
    parts = []
    for carrier, left, right in _spells(series.carrier[first:last]):
        if carrier:
            wide = x(first + right) - x(first + left)
            colour = "guard" if carrier == 1 else "stop-wash"
            parts.append(box(x(first + left), top, wide, bottom - top, colour))
    parts.append(axis)
    parts += [line((_LEFT, y(v)), (_RIGHT, y(v)), "ink", 1, "6 3") for v in marks.values()]
    parts.append(
        _names(
            [(f"{_SHORT[n]} {say(v, 'V')}", "ink", "6 3") for n, v in marks.items()],
            [y(value) for value in marks.values()],
            top,
            bottom - 50,
        )
    )
    points = [(x(k + 1), y(float(v))) for k, v in zip(range(first, last), volts, strict=True)]
    parts.append(path(points, "stop", 1.6))
    parts.append(
        _legend((("the utility carries", "guard"), ("nobody carries", "stop-wash")), bottom - 40)
    )
    for hour in ticks(0.0, (last - first) * series.every / _HOUR, 6):
        place = x(first + hour * _HOUR / series.every)
        parts.append(line((place, bottom), (place, bottom + 4), "soft"))
        parts.append(text(place, bottom + 17, f"{hour:g}", size=_SIZE, anchor="middle"))
    since = f"hours, from hour {first * series.every / _HOUR:.1f} of the run on"
    parts.append(text(_RIGHT, bottom + 34, since, size=_SIZE, anchor="end"))
    hunting = came.hunting
    told = f"{hunting.times} times in the run it went back within an hour of coming."
    if hunting.gap is not None and hunting.foretold is not None:
        told += (
            f" The gap is {say(hunting.gap, 'V')}; the design foretells at least "
            f"{say(hunting.foretold, 'V')}."
        )
    parts.append(text(_LEFT, bottom + 56, told, size=12))
    return picture(_WIDTH, bottom + 70, "".join(parts), title=title, description=told)


def _spells(carrier: NDArray[np.float32]) -> list[tuple[int, int, int]]:
    """Return who carried from which row to which, spell by spell."""
    turns = [0, *(int(k) + 1 for k in np.flatnonzero(np.diff(carrier))), carrier.size]
    return [(int(carrier[a]), a, b) for a, b in pairwise(turns)]


def _when(came: Outcome) -> float | None:
    """Return when it first went to and fro on the day on which it did so most."""
    at = [e.time for e in came.events if e.what == "hunting"]
    worst = [t for t in at if t // _DAY == came.hunting.worst_day]
    return min(worst or at, default=None)


# --- Outages -----------------------------------------------------------------------------------


def outage_svg(run: OutageRun) -> str:
    """Return how long the pack lasts alone, by when the utility fails."""
    title = f"{run.title}: how long it lasts alone"
    if run.hours.size < 2:  # noqa: PLR2004  one start is no line
        return notice(title, "There are not two starts to draw.")
    days = run.starts / _DAY
    each = -(-days.size // _POINTS)
    top, bottom = 40.0, 260.0
    y, axis = _upright(0.0, 1.06 * float(max(run.hours.max(), 0.5)), bottom, top, "h")
    x = _scale(float(days[0]), float(days[-1]), _LEFT, _RIGHT)
    parts = [axis]
    for start in range(0, days.size, each):
        part = run.hours[start : start + each]
        wide = max(1.0, (_RIGHT - _LEFT) * each / days.size)
        low, high = float(part.min()), float(part.max())
        parts.append(box(x(float(days[start])), y(high), wide, max(1.5, y(low) - y(high)), "ok"))
    for day in ticks(float(days[0]), float(days[-1]), 8):
        parts.append(line((x(day), bottom), (x(day), bottom + 4), "soft"))
        parts.append(text(x(day), bottom + 17, f"{day:g}", size=_SIZE, anchor="middle"))
    parts.append(text(_RIGHT, bottom + 34, "day of the run", size=_SIZE, anchor="end"))
    told = (
        f"From {run.hours.size} starts: {float(run.hours.min()):.1f} h at the least, "
        f"{float(np.median(run.hours)):.1f} h in the middle, "
        f"{float(run.hours.max()):.1f} h at the most; no further than {run.most:g} h was looked at."
    )
    parts.append(text(_LEFT, bottom + 54, told, size=12))
    return picture(_WIDTH, bottom + 68, "".join(parts), title=title, description=told)
