"""Pictures: what is left of the capacity over years, model by model; the worst cell of a trial."""

from __future__ import annotations

import math

from evpack.base.wording import say
from evpack.outcome.ageing import Ageing
from evpack.outcome.runs import TrialRun
from evpack.show.draw.svg import apart, box, line, notice, path, picture, text, ticks, wrapped

_WIDTH, _HEIGHT = 860.0, 340.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 610.0, 40.0, 288.0
_SIZE = 11.0
_LINES = (("note", ""), ("caution", "7 3"), ("ok", "2 3"), ("ink", "9 3 2 3"))


def ageing_svg(ageing: Ageing) -> str:
    """Return the capacity left over the years by every model, the range of the end shaded."""
    title = "Capacity left over the years"
    if not ageing.models or ageing.years is None:
        return notice(title, "No published model fits, so no years are drawn.")
    years = float(ageing.grid[-1])
    low = max(0.0, math.floor(10 * (min(ageing.end, 0.7) - 0.1)) / 10)

    def x(year: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * min(year, years) / years

    def y(left: float) -> float:
        return _BOTTOM + (_TOP - _BOTTOM) * (left - low) / (1.0 - low)

    per_year = 365.25 * 86400.0
    first, last = (
        ageing.years.least.value / per_year,
        ageing.years.most.value / per_year,
    )
    parts = [box(x(first), _TOP, x(last) - x(first), _BOTTOM - _TOP, "guard")]
    parts.append(text(_LEFT - 8, _TOP - 14, "% left", size=12, anchor="end", bold=True))
    for value in ticks(100 * low, 100.0, 6):
        at = y(value / 100)
        parts.append(line((_LEFT, at), (_RIGHT, at), "grid"))
        parts.append(text(_LEFT - 8, at + 4, f"{value:g}", size=_SIZE, anchor="end"))
    for value in ticks(0.0, years, 10):
        parts.append(line((x(value), _BOTTOM), (x(value), _BOTTOM + 4), "soft"))
        parts.append(text(x(value), _BOTTOM + 17, f"{value:g}", size=_SIZE, anchor="middle"))
    parts.append(line((_LEFT, _BOTTOM), (_RIGHT, _BOTTOM), "soft"))
    parts.append(line((_LEFT, y(ageing.end)), (_RIGHT, y(ageing.end)), "stop", 1.2, "4 3"))
    parts.append(text(_RIGHT, _BOTTOM + 33, "years", size=_SIZE, anchor="end"))
    ends = []
    for k, one in enumerate(ageing.models):
        colour, dash = _LINES[k % len(_LINES)]
        left = 1.0 - one.losses
        inside = left >= low
        points = [
            (x(float(year)), y(float(part)))
            for year, part in zip(ageing.grid[inside], left[inside], strict=True)
        ]
        parts.append(path(points, colour, 2.0, dash))
        ends.append(points[-1][1])
    names = [wrapped(f"{one.years}: {one.model.name}", _SIZE, 190, 3) for one in ageing.models]
    places = apart(ends, [46.0] * len(ends), _TOP, _BOTTOM)
    for k, (rows, at) in enumerate(zip(names, places, strict=True)):
        colour, dash = _LINES[k % len(_LINES)]
        parts.append(line((_RIGHT + 8, at), (_RIGHT + 34, at), colour, 2.0, dash))
        for j, words in enumerate(rows):
            height = at + 4 + 14 * (j - (len(rows) - 1) / 2)
            parts.append(text(_RIGHT + 40, height, words, size=_SIZE))
    told = "; ".join(f"{one.model.name}: {one.years}" for one in ageing.models)
    return picture(
        _WIDTH,
        _HEIGHT,
        "".join(parts),
        title=title,
        description=f"{title}. Till {say(ageing.end, '')}: {ageing.years.least} to "
        f"{ageing.years.most}. {told}.",
    )


def cell_svg(run: TrialRun) -> str:
    """Return the worst cell over time, with what it stands."""
    title = f"{run.name}: the worst cell"
    if not run.time.size:
        return notice(title, "The run holds no number to draw.")
    end = float(run.time[-1]) / 3600.0
    low = min(float(run.cell.min()), run.limit) - 0.05
    high = max(float(run.cell.max()), run.limit) + 0.05

    def x(hours: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * hours / end

    def y(volts: float) -> float:
        return _BOTTOM + (_TOP - _BOTTOM) * (volts - low) / (high - low)

    parts = [text(_LEFT - 8, _TOP - 14, "V a cell", size=12, anchor="start", bold=True)]
    for value in ticks(low, high, 6):
        parts.append(line((_LEFT, y(value)), (_RIGHT, y(value)), "grid"))
        parts.append(text(_LEFT - 8, y(value) + 4, f"{value:g}", size=_SIZE, anchor="end"))
    for value in ticks(0.0, end, 8):
        parts.append(line((x(value), _BOTTOM), (x(value), _BOTTOM + 4), "soft"))
        parts.append(text(x(value), _BOTTOM + 17, f"{value:g}", size=_SIZE, anchor="middle"))
    parts.append(line((_LEFT, _BOTTOM), (_RIGHT, _BOTTOM), "soft"))
    parts.append(line((_LEFT, y(run.limit)), (_RIGHT, y(run.limit)), "stop", 1.4, "6 3"))
    points = [
        (x(float(at) / 3600.0), y(float(cell))) for at, cell in zip(run.time, run.cell, strict=True)
    ]
    parts.append(path(points, "note", 2.0))
    last = float(run.cell[-1])
    places = apart([y(run.limit), y(last)], [16.0, 16.0], _TOP, _BOTTOM)
    told = (f"it stands {say(run.limit, 'V')}", f"worst cell, {run.reached} at its worst")
    for words, at in zip(told, places, strict=True):
        parts.append(text(_RIGHT + 10, at + 4, words, size=_SIZE))
    parts.append(text(_RIGHT, _BOTTOM + 33, "time, h", size=_SIZE, anchor="end"))
    return picture(
        _WIDTH,
        _HEIGHT,
        "".join(parts),
        title=title,
        description=f"{title}, over {end:.1f} h: {run.reached} at its worst, of "
        f"{say(run.limit, 'V')} that it stands.",
    )
