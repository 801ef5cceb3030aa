"""A picture of a trade-off: usable energy against what it is given up for.

Points that share arrangement and devices are joined to a curve; each curve is named at its end,
and each charge target above the highest of its points. Where what is given up for energy is no
matter of the charge target (money, modules), it is the other way round.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from evpack.base.wording import about, say
from evpack.outcome.search import Candidate, TradeOff
from evpack.show.draw.svg import (
    apart,
    fill,
    line,
    notice,
    path,
    picture,
    px,
    stroke,
    text,
    ticks,
    width_of,
    wrapped,
)
from evpack.simulate.ageing_years import MOST

_WIDTH, _SIZE = 860.0, 11.0
_LEFT, _RIGHT, _TOP, _FLOOR = 62.0, 620.0, 44.0, 386.0
_APART = 15.0  # between two names beside the plot
_NAMED = int((_FLOOR - _TOP) / _APART)  # names that there is room for
_ROOM = 0.08  # of an axis, left free at both ends
_LITTLE = 1e-9


class Axis(NamedTuple):
    """What usable energy is held against: its name, its value, and what joins points to a curve."""

    name: str
    value: Callable[[Candidate], float | None]
    by_pack: bool  # curves are arrangements; else they are charge targets


def _place(candidate: Candidate, *places: str) -> str:
    """Return in words what a candidate makes otherwise in some places."""
    return ", ".join(change.says for change in candidate.changes if change.place in places)


def _target(candidate: Candidate) -> str:
    return _place(candidate, "policy.charge_target") or candidate.name


def _target_and_devices(candidate: Candidate) -> str:
    bought = _place(candidate, "inverter", "charger")
    return f"{_target(candidate)}, {bought}" if bought else _target(candidate)


def _pack(candidate: Candidate) -> str:
    """Return arrangement and devices, without the charge target."""
    told = _place(candidate, "policy.charge_target")
    return candidate.name.replace(f", {told}", "", 1) if told else candidate.name


def axes(found: TradeOff) -> tuple[Axis, ...]:
    """Return what energy may be held against, what tells most first."""
    money = f", {found.money}" if found.money else ""
    return (
        Axis(
            "years of life, the least that models tell",
            lambda c: None if c.life is None else c.life[0],
            by_pack=True,
        ),
        Axis(f"cost{money}", lambda c: c.cost, by_pack=False),
        Axis("charge target, V a cell", lambda c: c.charge_target, by_pack=True),
        Axis("margin, %", lambda c: None if c.margin is None else 100 * c.margin, by_pack=True),
        Axis("modules", lambda c: float(c.modules), by_pack=False),
    )


def _axis(found: TradeOff) -> Axis:
    """Return the first axis along which the points differ, so that they are never one row."""
    every = axes(found)
    for axis in every:
        values = [axis.value(candidate) for candidate in found.front]
        known = [value for value in values if value is not None]
        if len(known) == len(values) and max(known) - min(known) > _LITTLE:
            return axis
    return every[-1]


def _span(values: Sequence[float], least: float) -> tuple[float, float]:
    """Return the ends of an axis round its values; round one alone by the least."""
    low, high = min(values), max(values)
    room = _ROOM * (high - low) or least
    return max(0.0, low - room), high + room


def energy(watt_hours: float | None, *, rough: bool = False) -> str:
    """Return an energy, or that it is not known; on an assumed curve it has two digits at most.

    They serve to hold one candidate against another: on all of them the curve is the same.
    """
    if watt_hours is None:
        return "–"
    return about(watt_hours, watt_hours, "Wh") if rough else say(watt_hours, "Wh")


def reachable(candidate: Candidate) -> str:
    """Return the reachable energy out of the inverter."""
    return energy(candidate.usable_ac, rough=candidate.rough)


def amount(price: float | None, money: str = "") -> str:
    """Return a sum of money, or that it is not known."""
    return "–" if price is None else f"{price:,.0f} {money}".strip()


def years(candidate: Candidate) -> str:
    """Return the least and the most years that models tell, or that they are not known."""
    if candidate.life is None:
        return "–"
    least, most = candidate.life
    more = " or more" if most >= MOST else ""
    return f"{least:.1f} to {most:.1f}{more}"


def trade_off_svg(found: TradeOff) -> str:
    """Return usable energy over what it is given up for; what nothing beats is filled and named."""
    title = "Usable energy, and what it is given up for"
    if not found.front:
        return notice(title, "Nothing may be built, so nothing is given up for anything.")
    axis = _axis(found)
    others = [c for c in found.others if axis.value(c) is not None]
    every = [*found.front, *others]
    across = [axis.value(c) or 0.0 for c in every]
    x_low, x_high = _span(across, 0.02 * max(*across, 0.1))
    y_low, y_high = _span([_kilo(c) for c in every], 0.05)

    def spot(candidate: Candidate) -> tuple[float, float]:
        x = ((axis.value(candidate) or 0.0) - x_low) / (x_high - x_low)
        y = (_kilo(candidate) - y_low) / (y_high - y_low)
        return _LEFT + x * (_RIGHT - _LEFT), _FLOOR - y * (_FLOOR - _TOP)

    parts = [_grid(axis, (x_low, x_high), (y_low, y_high))]
    for candidate in others:
        x, y = spot(candidate)
        parts.append(f'<circle cx="{px(x)}" cy="{px(y)}" r="2.5" fill="none" {stroke("soft")}/>')
    curves = _curves(found.front, _pack if axis.by_pack else _target_and_devices, spot)
    parts += [path([spot(c) for c in curve], "note", 1.2) for curve in curves.values()]
    for candidate in found.front:
        x, y = spot(candidate)
        parts.append(f'<circle cx="{px(x)}" cy="{px(y)}" r="4.5" {fill("ok")}/>')
    parts.append(_columns(found.front, _target if axis.by_pack else _pack, spot))
    parts.append(_names(curves, spot, found.money if axis.by_pack else ""))
    told = "; ".join(_told(candidate, found.money) for candidate in found.front)
    return picture(_WIDTH, _FLOOR + 48, "".join(parts), title=title, description=f"{told}.")


Spot = Callable[[Candidate], tuple[float, float]]


def _curves(
    front: Sequence[Candidate], group: Callable[[Candidate], str], spot: Spot
) -> dict[str, list[Candidate]]:
    """Return the points of each curve from left to right."""
    curves: dict[str, list[Candidate]] = {}
    for candidate in front:
        curves.setdefault(group(candidate), []).append(candidate)
    return {name: sorted(curve, key=lambda c: spot(c)[0]) for name, curve in curves.items()}


def _grid(axis: Axis, across: tuple[float, float], up: tuple[float, float]) -> str:
    parts = []
    for value in ticks(*across, 8):
        x = _LEFT + (value - across[0]) / (across[1] - across[0]) * (_RIGHT - _LEFT)
        parts.append(line((x, _TOP), (x, _FLOOR), "grid"))
        parts.append(text(x, _FLOOR + 16, f"{value:,g}", size=_SIZE, anchor="middle"))
    for value in ticks(*up, 6):
        y = _FLOOR - (value - up[0]) / (up[1] - up[0]) * (_FLOOR - _TOP)
        parts.append(line((_LEFT, y), (_RIGHT, y), "grid"))
        parts.append(text(_LEFT - 6, y + 4, f"{value:g}", size=_SIZE, anchor="end"))
    parts.append(line((_LEFT, _FLOOR), (_RIGHT, _FLOOR), "ink"))
    parts.append(line((_LEFT, _TOP), (_LEFT, _FLOOR), "ink"))
    parts.append(text(_RIGHT, _FLOOR + 36, axis.name, size=_SIZE, anchor="end", bold=True))
    parts.append(text(10, 16, "usable energy, kWh AC", size=_SIZE, bold=True))
    return "".join(parts)


def _columns(front: Sequence[Candidate], group: Callable[[Candidate], str], spot: Spot) -> str:
    """Name what the points of a column share above the highest of them, where there is room."""
    highest: dict[str, tuple[float, float]] = {}
    for candidate in front:
        here = spot(candidate)
        name = group(candidate)
        if name not in highest or here[1] < highest[name][1]:
            highest[name] = here
    ordered = sorted(highest.items(), key=lambda pair: pair[1])
    parts, taken = [], 0.0
    for k, (name, (x, y)) in enumerate(ordered):
        words = wrapped(name.removesuffix(" a cell"), _SIZE, 150.0, 1)[0]
        width = width_of(words, _SIZE)
        last = k + 1 == len(ordered)
        before, after = ordered[k - 1 if last else k], ordered[k if last else k + 1]
        falls = after[1][1] >= before[1][1]
        # Where the curve is not: after a point from which it falls, before one to which it rises.
        begin = max(_LEFT + 4, x - 4 if falls else x - width - 6)
        if begin >= taken and begin + width <= _RIGHT + 20:
            parts.append(text(begin, y - 9, words, size=_SIZE, halo=True))
            taken = begin + width + 6
    return "".join(parts)


def _names(curves: dict[str, list[Candidate]], spot: Spot, money: str) -> str:
    """Name each curve beside the plot, as near its right end as can be."""
    ends = sorted(
        ((spot(curve[-1]), name, curve[-1]) for name, curve in curves.items()),
        key=lambda end: end[0][::-1],
    )
    shown = ends
    if len(ends) > _NAMED:  # spread over all, the first and the last among them
        step = (len(ends) - 1) / (_NAMED - 2)
        shown = [ends[round(k * step)] for k in range(_NAMED - 1)]
    middles = apart([spot_[1] for spot_, _, _ in shown], [_APART] * len(shown), _TOP, _FLOOR)
    parts = []
    for (end, name, candidate), y in zip(shown, middles, strict=True):
        cost = f", {amount(candidate.cost, money)}" if money else ""
        room = _WIDTH - _RIGHT - 36 - width_of(cost, _SIZE)
        words = wrapped(name, _SIZE, room, 1)[0] + cost
        parts.append(line((end[0] + 6, end[1]), (_RIGHT + 22, y), "line"))
        parts.append(text(_RIGHT + 26, y + 4, words, size=_SIZE))
    if len(shown) < len(ends):
        more = f"and {len(ends) - len(shown)} more: see the table"
        parts.append(text(_RIGHT + 26, _FLOOR + 16, more, size=_SIZE))
    return "".join(parts)


def _told(candidate: Candidate, money: str) -> str:
    """Return a point in words, for who cannot see it."""
    parts = [f"{reachable(candidate)} AC"]
    if candidate.life is not None:
        parts.append(f"{years(candidate)} years")
    if candidate.margin is not None:
        parts.append(f"margin {say(candidate.margin, '')}")
    if candidate.cost is not None:
        parts.append(amount(candidate.cost, money))
    return f"{candidate.name}: {', '.join(parts)}"


def _kilo(candidate: Candidate) -> float:
    return (candidate.usable_ac or 0.0) / 1000
