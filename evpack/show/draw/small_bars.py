"""Two bars that tell a design at a glance: its energy, and its voltage in the inverters' window.

A page holds a hundred of them, so that each is kept to some hundred bytes: no text inside, no
colour but by its class. All on one page share one scale, so that they can be compared.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import attrs

from evpack.outcome.design import Design
from evpack.show.clean import escaped
from evpack.show.words import NOT_KNOWN, shown, worked_words

_WIDTH, _HIGH, _GAP = 400.0, 20.0, 8.0
_OVER = 3.0  # how far the marks of the settings stand out


@attrs.frozen
class Scale:
    """What the whole width stands for: the energy from 0 [Wh], the voltage from `low` [V]."""

    energy: float
    low: float
    high: float


def scale_of(designs: Iterable[Design]) -> Scale:
    """Return a scale that all these designs fit on."""
    energies, lows, highs = [1.0], [], []
    for design in designs:
        if design.usable is not None:
            energies.append(design.usable.total.value)
        pack, (low, high) = design.build.pack, window_of(design)
        lows += [float(pack.least.m)] + [v for v in (low,) if v is not None]
        highs += [float(pack.highest.m)] + [v for v in (high,) if v is not None]
    low, high = min(lows, default=0.0), max(highs, default=1.0)
    room = 0.02 * (high - low)
    return Scale(max(filter(math.isfinite, energies)), low - room, high + room)


def window_of(design: Design) -> tuple[float | None, float | None]:
    """Return the window that all inverters share [V]; None where one of them does not say."""
    ends = []
    for field, narrowest in (("window_low", max), ("window_high", min)):
        said = [getattr(inverter, field) for inverter in design.build.inverters]
        known = [float(end.m) for end in said if end is not None]
        ends.append(narrowest(known) if said and len(known) == len(said) else None)
    return ends[0], ends[1]


def small_bars(design: Design, scale: Scale) -> str:
    """Return the two bars as SVG; the energy is missing where nobody could work it out."""
    inner = "".join(_energy(design, scale)) + "".join(_voltage(design, scale))
    return (
        f'<svg viewBox="0 0 400 {2 * _HIGH + _GAP + _OVER:g}" role="img" '
        f'aria-label="{escaped(_told(design))}">{inner}</svg>'
    )


def _energy(design: Design, scale: Scale) -> Iterator[str]:
    """Yield the whole energy as a ground, and on it from the left what is in reach."""
    usable = design.usable
    if usable is None:
        yield f'<text class="f-ink" x="0" y="15" font-size="14">? {NOT_KNOWN}</text>'
        return
    parts = [("work", usable.reachable.value)]
    if usable.everyday is not None and usable.reserve is not None:
        parts = [("guard", usable.reserve.value), ("work", usable.everyday.value)]
    each = _WIDTH / scale.energy
    yield _box("bar", 0, 0, usable.total.value * each, _HIGH)
    at = usable.stranded_below.value * each
    for colour, energy in parts:
        yield _box(colour, at, 0, energy * each, _HIGH)
        at += energy * each


def _voltage(design: Design, scale: Scale) -> Iterator[str]:
    top = _HIGH + _GAP

    def x(volts: float) -> float:
        return _WIDTH * (volts - scale.low) / (scale.high - scale.low)

    pack, (low, high) = design.build.pack, window_of(design)
    if low is not None and high is not None:
        yield _box("grid", x(low), top, x(high) - x(low), _HIGH)
    start, end = x(float(pack.least.m)), x(float(pack.highest.m))
    yield _box("work", start, top + 5, end - start, _HIGH - 10)
    if design.settings is not None:
        at = design.settings.thresholds
        for volts in (at.charge, at.cut_off):
            if volts is not None and math.isfinite(volts):
                mark = min(max(x(volts), 1.0), _WIDTH - 1.0)
                yield _box("ink", mark - 1, top - _OVER, 2, _HIGH + 2 * _OVER)


def _box(colour: str, x: float, y: float, width: float, height: float) -> str:
    if not (math.isfinite(x) and math.isfinite(width) and width > 0):
        return ""  # what is no number has no place on a scale; the words beside it say so
    size = f'width="{width:.1f}" height="{height:g}"'
    return f'<rect class="f-{colour} s-soft" x="{x:.1f}" y="{y:g}" {size}/>'


def _told(design: Design) -> str:
    """Return the bars in words."""
    usable, pack = design.usable, design.build.pack
    energy = "The usable energy is not known"
    if usable is not None:
        told = usable.told
        energy = f"{worked_words(told.reachable)} of {worked_words(told.total)} in reach, DC"
    low, high = window_of(design)
    return (
        f"{energy}. Pack {shown(float(pack.least.m), 'V')} to {shown(float(pack.highest.m), 'V')}; "
        f"window of the inverters {shown(low, 'V')} to {shown(high, 'V')}."
    )
