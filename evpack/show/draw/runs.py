"""Pictures of runs: the current of each string over time, and how states of charge drift."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from evpack.base.wording import say
from evpack.show.clean import clean
from evpack.show.draw.svg import apart, line, notice, path, picture, text, ticks, wrapped

Array = NDArray[np.float64]

_WIDTH, _HEIGHT = 860.0, 330.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 720.0, 44.0, 278.0
_SIZE = 11.0
_EACH = 6  # so many lines the eye still tells apart
_POINTS = 400  # of a line: more than the eye can tell apart over this width
# Lines are told apart by their dashes too, and each has its name at its end.
_LINES = (
    ("note", ""),
    ("stop", "7 3"),
    ("ok", "2 3"),
    ("caution", "9 3 2 3"),
    ("ink", "4 4"),
    ("soft", "1 3"),
)
_UNITS = ((7200.0, 3600.0, "h"), (120.0, 60.0, "min"), (1.0, 1.0, "s"), (0.0, 1e-3, "ms"))


def currents_svg(
    time: Array, current: Array, *, title: str, events: Sequence[tuple[float, str]] = ()
) -> str:
    """Return the current of each string over time; of many, the busiest, the least and the mean.

    Parameters
    ----------
    time : array, shape (r,)
        [s].
    current : array, shape (r, n)
        [A], positive on discharge.
    events : sequence of (float, str)
        What happened when [s], marked by a number and told below.
    """
    return _lines(time, current, title=title, unit="A", events=events)


def states_svg(time: Array, soc: Array, *, title: str) -> str:
    """Return the state of charge of each string over time; of many, the highest and the least."""
    return _lines(time, 100.0 * soc, title=title, unit="%")


def _named(values: Array) -> list[tuple[str, Array]]:
    """Return the lines to draw, each with its name."""
    n = values.shape[1]
    if n <= _EACH:
        return [(f"string {k + 1}", values[:, k]) for k in range(n)]
    sizes = np.abs(values).max(axis=0)
    most, least = int(sizes.argmax()), int(sizes.argmin())
    return [
        (f"string {most + 1}, most", values[:, most]),
        (f"string {least + 1}, least", values[:, least]),
        (f"mean of {n}", values.mean(axis=1)),
    ]


def _lines(
    time: Array,
    values: Array,
    *,
    title: str,
    unit: str,
    events: Sequence[tuple[float, str]] = (),
) -> str:
    title = clean(title)
    if not time.size or not np.isfinite(values).all():
        return notice(title, "The run holds no number to draw.")
    end = float(time[-1])
    _, per, written = next(row for row in _UNITS if end >= row[0])
    drawn = _named(values)
    low = (
        min(0.0, *(float(of.min()) for _, of in drawn))
        if unit == "A"
        else min(float(of.min()) for _, of in drawn)
    )
    high = (
        max(0.0, *(float(of.max()) for _, of in drawn))
        if unit == "A"
        else max(float(of.max()) for _, of in drawn)
    )
    pad = 0.06 * (high - low) or 1.0
    low, high = low - (pad if low < 0 or unit != "A" else 0.0), high + pad

    def x(seconds: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * seconds / end

    def y(value: float) -> float:
        return _BOTTOM + (_TOP - _BOTTOM) * (value - low) / (high - low)

    parts = [text(_LEFT - 8, _TOP - 16, unit, size=12, anchor="end", bold=True)]
    for value in ticks(low, high, 6):
        parts.append(line((_LEFT, y(value)), (_RIGHT, y(value)), "grid"))
        parts.append(text(_LEFT - 8, y(value) + 4, f"{value:g}", size=_SIZE, anchor="end"))
    for value in ticks(0.0, end / per, 8):
        parts.append(line((x(value * per), _BOTTOM), (x(value * per), _BOTTOM + 4), "soft"))
        parts.append(text(x(value * per), _BOTTOM + 17, f"{value:g}", size=_SIZE, anchor="middle"))
    parts.append(line((_LEFT, _BOTTOM), (_RIGHT, _BOTTOM), "soft"))
    parts.append(line((_LEFT, _TOP), (_LEFT, _BOTTOM), "soft"))
    if low < 0 < high:
        parts.append(line((_LEFT, y(0.0)), (_RIGHT, y(0.0)), "soft"))
    parts.append(text(_RIGHT, _BOTTOM + 34, f"time, {written}", size=_SIZE, anchor="end"))
    parts += _events(events, end, x)
    step = max(1, time.size // _POINTS)
    places = apart([y(float(of[-1])) for _, of in drawn], [15.0] * len(drawn), _TOP, _BOTTOM)
    for k, (name, of) in enumerate(drawn):
        colour, dash = _LINES[k]
        picked = [*range(0, time.size, step), time.size - 1]
        points = [(x(float(time[i])), y(float(of[i]))) for i in dict.fromkeys(picked)]
        parts.append(path(points, colour, 1.8, dash))
        at = _RIGHT + 34
        parts.append(line((_RIGHT + 6, places[k]), (at - 4, places[k]), colour, 1.8, dash))
        parts.append(text(at, places[k] + 4, name, size=_SIZE))
    told = "; ".join(
        f"{name} from {_say(float(of[0]), unit)} to {_say(float(of[-1]), unit)}"
        for name, of in drawn
    )
    height = _HEIGHT + 16 * len(events)
    return picture(
        _WIDTH,
        height,
        "".join(parts),
        title=title,
        description=f"{title}, over {say(end, 's')}: {told}.",
    )


def _say(value: float, unit: str) -> str:
    return say(value, unit) if unit == "A" else say(value / 100.0, "")


def _events(
    events: Sequence[tuple[float, str]], end: float, x: Callable[[float], float]
) -> list[str]:
    """Return upright lines where something happened, numbered, and what it was below."""
    parts = []
    for k, (seconds, words) in enumerate(events):
        at = x(min(max(seconds, 0.0), end))
        # Numbers of what happened close together stand on two heights.
        top = _TOP - 8 - 12 * (k % 2)
        parts.append(line((at, top + 3), (at, _BOTTOM), "ink", 1, "2 2"))
        parts.append(text(at, top, f"{k + 1}", size=_SIZE, anchor="middle", bold=True))
        told = wrapped(f"{k + 1}  {say(seconds, 's')}: {clean(words)}", _SIZE, _WIDTH - 90, 1)
        parts.append(text(_LEFT, _BOTTOM + 52 + 16 * k, told[0], size=_SIZE))
    return parts
