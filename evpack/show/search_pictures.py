"""A picture of a trade-off: usable energy against margin, every point named."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.search import Candidate, TradeOff
from evpack.show.svg import fill, line, notice, picture, px, text, ticks

_WIDTH, _SIZE = 860.0, 11.0
_NAMED, _APART = 16, 19.0  # points that get their name beside the plot, and how far apart


def trade_off_svg(found: TradeOff) -> str:
    """Return usable energy over margin; what nothing beats is filled and named."""
    title = "Usable energy against margin"
    front = [c for c in found.front if c.usable is not None and c.margin is not None]
    others = [c for c in found.others if c.usable is not None and c.margin is not None]
    if not front:
        return notice(title, "Nothing may be built, so nothing is given up for anything.")
    left, right, top, floor = 70.0, _WIDTH - 260.0, 40.0, 380.0
    every = front + others
    x_high = 1.08 * max(_kilo(c) for c in every)
    y_high = 1.15 * max(*(c.margin or 0.0 for c in every), 0.01)

    def place(candidate: Candidate) -> tuple[float, float]:
        return (
            left + _kilo(candidate) / x_high * (right - left),
            floor - (candidate.margin or 0.0) / y_high * (floor - top),
        )

    parts = []
    for value in ticks(0.0, x_high, 8):
        x = left + value / x_high * (right - left)
        parts.append(line((x, top), (x, floor), "grid"))
        parts.append(text(x, floor + 16, f"{value:g}", size=_SIZE, anchor="middle"))
    for value in ticks(0.0, 100 * y_high, 6):
        y = floor - value / 100 / y_high * (floor - top)
        parts.append(line((left, y), (right, y), "grid"))
        parts.append(text(left - 6, y + 4, f"{value:g}", size=_SIZE, anchor="end"))
    for candidate in others:
        x, y = place(candidate)
        parts.append(f'<circle cx="{px(x)}" cy="{px(y)}" r="2.5" {fill("line")}/>')
    named = sorted(front, key=lambda c: place(c)[1])
    for k, candidate in enumerate(named):
        spot = place(candidate)
        parts.append(f'<circle cx="{px(spot[0])}" cy="{px(spot[1])}" r="5" {fill("ok")}/>')
        if k < _NAMED:  # beside the plot, one under another, each with a line to its point
            y = top + _APART * (k + 1)
            parts.append(line(spot, (right + 14, y - 4), "line"))
            parts.append(text(right + 18, y, candidate.name, size=_SIZE))
    if len(named) > _NAMED:
        y = top + _APART * (_NAMED + 1)
        parts.append(text(right + 18, y, f"and {len(named) - _NAMED} more", size=_SIZE))
    parts.append(line((left, floor), (right, floor), "ink"))
    parts.append(line((left, top), (left, floor), "ink"))
    parts.append(text(right, floor + 32, "usable, kWh", size=_SIZE, anchor="end", bold=True))
    parts.append(text(10, top - 8, "margin, %", size=_SIZE, bold=True))
    told = "; ".join(
        f"{c.name}: {say(c.usable or 0.0, 'Wh')}, {say(c.margin or 0.0, '')}" for c in front
    )
    return picture(_WIDTH, floor + 44, "".join(parts), title=title, description=f"{told}.")


def _kilo(candidate: Candidate) -> float:
    return (candidate.usable or 0.0) / 1000
