"""The usable energy: the pack's voltage against its charge, and what lies out of reach."""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.settings import Line
from evpack.show.clean import clean, escaped
from evpack.show.draw import svg
from evpack.show.gather import missing
from evpack.show.words import per_cent, shown, worked_words

_LEFT, _RIGHT, _TOP, _BOTTOM = 58.0, 668.0, 34.0, 330.0
_WIDTH, _HEIGHT = 880.0, 458.0
_RIBBON = _BOTTOM + 42.0
_POINTS = 160  # of a curve: more than the eye can tell apart over this width


@attrs.frozen
class Band:
    """A part of the charge, from one state of charge to another, and the energy in it."""

    name: str
    low: float
    high: float
    energy: Worked
    colour: str
    hatched: bool = False


@attrs.frozen
class _Frame:
    low: float
    high: float

    def x(self, soc: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * min(1.0, max(0.0, soc))

    def y(self, volts: float) -> float:
        return _BOTTOM + (_TOP - _BOTTOM) * (volts - self.low) / (self.high - self.low)

    def shows(self, volts: float) -> bool:
        return math.isfinite(volts) and self.low <= volts <= self.high


def energy_svg(told: Decision | Design) -> str:
    """Return the usable energy of a design as an SVG picture.

    Bands carry ``data-band``, ``data-wh``, ``data-from`` and ``data-to`` (states of charge),
    threshold lines ``data-name`` and ``data-volts``.
    """
    design = told.design if isinstance(told, Decision) else told
    title = f"Usable energy of {clean(design.build.title)}"
    if design.usable is None:
        return svg.notice(title, f"? {missing('The usable energy')}")
    usable = design.usable.told
    frame = _frame(design, usable)
    if frame is None:
        return svg.notice(title, "? The curve of the pack's voltage holds no number to draw.")
    bands = _bands(usable)
    lines = _thresholds(design)
    parts = [
        _ground(bands, frame),
        _axes(frame, design.build.pack.cells_in_series),
        _lines(lines, frame),
        _curves(usable, lines, frame),
        _ribbon(bands, frame, usable.total.value),
    ]
    return svg.picture(
        _WIDTH,
        _HEIGHT,
        "".join(parts),
        title=title,
        description=_description(usable, bands, lines),
        data=f' data-low="{frame.low:.6g}" data-high="{frame.high:.6g}"',
    )


def _frame(design: Design, usable: UsableWindow) -> _Frame | None:
    """Return the scale of voltage: the pack's own span, and the thresholds if near."""
    rest = usable.rest[np.isfinite(usable.rest)]
    if rest.size == 0:
        return None
    pack = design.build.pack
    least, highest = float(pack.least.m), float(pack.highest.m)
    near = [v for _, v in _thresholds(design) if least * 0.8 <= v <= highest * 1.2]
    low = min([least, *near, float(rest.min())])
    high = max([highest, *near, float(rest.max())])
    return _Frame(low - 0.04 * (high - low), high + 0.04 * (high - low))


def _bands(usable: UsableWindow) -> list[Band]:
    bottom, top = usable.soc_bottom, usable.soc_top
    middle = usable.soc_changeover
    bands = [Band("out of reach", 0.0, bottom, usable.stranded_below, "bar", hatched=True)]
    if middle is None or usable.everyday is None or usable.reserve is None:
        bands.append(Band("in reach", bottom, top, usable.reachable, "work"))
    else:
        middle = min(max(middle, bottom), top)
        bands.append(Band("reserve", bottom, middle, usable.reserve, "guard"))
        bands.append(Band("everyday", middle, top, usable.everyday, "work"))
    bands.append(Band("never charged", top, 1.0, usable.stranded_above, "bar", hatched=True))
    return [b for b in bands if math.isfinite(b.low) and math.isfinite(b.high)]


def _thresholds(design: Design) -> list[tuple[str, float]]:
    """Return the voltages that steer the pack, from the top down."""
    if design.settings is None:
        return []
    at = design.settings.thresholds
    named = (
        ("charge voltage", at.charge),
        (Line.RETURN, at.back),
        ("changeover to utility", at.changeover),
        (Line.CUT_OFF, at.cut_off),
    )
    found = [(name, volts) for name, volts in named if volts is not None and math.isfinite(volts)]
    return sorted(found, key=lambda pair: -pair[1])


def _ground(bands: Sequence[Band], frame: _Frame) -> str:
    parts = []
    for band in bands:
        x1, x2 = frame.x(band.low), frame.x(band.high)
        parts.append(svg.box(x1, _TOP, x2 - x1, _BOTTOM - _TOP, band.colour))
        if band.hatched and x2 - x1 > 2.0:  # noqa: PLR2004  thinner, a hatch is a smudge
            parts.append(svg.hatch(x1, _TOP, x2 - x1, _BOTTOM - _TOP, "line"))
    return "".join(parts)


def _axes(frame: _Frame, n: int) -> str:
    parts = [
        svg.line((_LEFT, _TOP), (_LEFT, _BOTTOM), "soft"),
        svg.line((_LEFT, _BOTTOM), (_RIGHT, _BOTTOM), "soft"),
        svg.text(_LEFT - 8, _TOP - 12, "V", size=12, anchor="end", bold=True),
        svg.text(_RIGHT + 22, _BOTTOM + 17, "state of charge", size=12),
        svg.text(_LEFT, _TOP - 12, f"whole pack, {n} cells in series", size=11, colour="soft"),
    ]
    for volts in svg.ticks(frame.low, frame.high, 7):
        y = frame.y(volts)
        parts.append(svg.line((_LEFT - 4, y), (_LEFT, y), "soft"))
        parts.append(svg.text(_LEFT - 8, y + 4, f"{volts:g}", size=11, anchor="end"))
    for tenth in range(0, 11, 2):
        x = frame.x(tenth / 10)
        parts.append(svg.line((x, _BOTTOM), (x, _BOTTOM + 4), "soft"))
        parts.append(svg.text(x, _BOTTOM + 17, f"{tenth * 10} %", size=11, anchor="middle"))
    return "".join(parts)


def _lines(lines: Sequence[tuple[str, float]], frame: _Frame) -> str:
    """Return the thresholds; one off the scale is still named, with an arrow."""
    edges = [min(max(frame.y(volts), _TOP), _BOTTOM) for _, volts in lines]
    middles = svg.apart(edges, [30.0] * len(lines), _TOP - 8, _BOTTOM + 4)
    parts = []
    for (name, volts), y, middle in zip(lines, edges, middles, strict=True):
        piece = svg.line((_LEFT, y), (_RIGHT, y), "ink", 1, "6 3") if frame.shows(volts) else ""
        lead = f"M{svg.px(_RIGHT)} {svg.px(y)}L{svg.px(_RIGHT + 18)} {svg.px(middle)}"
        piece += f'<path d="{lead}" fill="none" {svg.stroke("soft", 0.8)}/>'
        arrow = "" if frame.shows(volts) else "↑ " if volts > frame.high else "↓ "
        piece += svg.text(_RIGHT + 22, middle - 1, name, size=12, bold=True)
        piece += svg.text(_RIGHT + 22, middle + 12, f"{arrow}{say(volts, 'V')}", size=11)
        parts.append(f'<g data-name="{escaped(name)}" data-volts="{volts:.6g}">{piece}</g>')
    return "".join(parts)


def _curves(usable: UsableWindow, lines: Sequence[tuple[str, float]], frame: _Frame) -> str:
    parts = []
    for volts, width, dash in ((usable.rest, 2.2, ""), (usable.loaded, 2.2, "2 3")):
        parts += [
            svg.path(piece, "ink", width, dash) for piece in _pieces(usable.soc, volts, frame)
        ]
    load = f"under {shown(usable.load, 'W')}" if math.isfinite(usable.load) else "under load"
    taken = [frame.y(volts) for _, volts in lines]
    for words, volts, below in (("at rest", usable.rest, -8.0), (load, usable.loaded, 17.0)):
        spot = _clear_spot(usable.soc, volts, below, taken, frame)
        if spot is not None:
            parts.append(svg.text(*spot, words, size=12, anchor="middle", halo=True))
    return "".join(parts)


def _pieces(
    soc: NDArray[np.float64], volts: NDArray[np.float64], frame: _Frame
) -> list[list[tuple[float, float]]]:
    """Return the runs of a curve that can be drawn: it breaks where it is no number."""
    step = max(1, soc.size // _POINTS)
    keep = sorted({*range(0, soc.size, step), soc.size - 1}) if soc.size else []
    runs: list[list[tuple[float, float]]] = [[]]
    for i in keep:
        if math.isfinite(soc[i]) and frame.shows(float(volts[i])):
            runs[-1].append((frame.x(float(soc[i])), frame.y(float(volts[i]))))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def _clear_spot(
    soc: NDArray[np.float64],
    volts: NDArray[np.float64],
    below: float,
    taken: Sequence[float],
    frame: _Frame,
) -> tuple[float, float] | None:
    """Return where a curve's name stands clearest of the threshold lines; None without a curve."""
    best: tuple[float, float, float] | None = None
    for i in range(soc.size):
        state, level = float(soc[i]), float(volts[i])
        if not (0.3 <= state <= 0.85 and frame.shows(level)):  # noqa: PLR2004  away from the ends
            continue
        y = frame.y(level) + below
        room = min((abs(y - 4 - line) for line in taken), default=0.0)
        # Beyond 14 px more room is no gain; then the middle of the picture is the better place.
        score = min(room, 14.0) - abs(state - 0.55)
        if best is None or score > best[0]:
            best = (score, frame.x(state), y)
    return None if best is None else best[1:]


def _ribbon(bands: Sequence[Band], frame: _Frame, total: float) -> str:
    """Return the bands again below the scale, each with its energy: there is room for words."""
    told = [_label(band, total) for band in bands]
    sizes = [
        max(svg.width_of(band.name, 12, bold=True), svg.width_of(words, 11)) + 14
        for band, words in zip(bands, told, strict=True)
    ]
    wishes = [(frame.x(b.low) + frame.x(b.high)) / 2 for b in bands]
    middles = svg.apart(wishes, sizes, _LEFT - 50, _WIDTH - 6)
    parts = []
    for band, words, wish, middle in zip(bands, told, wishes, middles, strict=True):
        x1, x2 = frame.x(band.low), frame.x(band.high)
        piece = svg.box(x1, _RIBBON, x2 - x1, 18, band.colour, edge="soft")
        if band.hatched and x2 - x1 > 2.0:  # noqa: PLR2004
            piece += svg.hatch(x1, _RIBBON, x2 - x1, 18, "soft")
        lead = f"M{svg.px(wish)} {svg.px(_RIBBON + 18)}L{svg.px(middle)} {svg.px(_RIBBON + 32)}"
        piece += f'<path d="{lead}" fill="none" {svg.stroke("soft", 0.8)}/>'
        piece += svg.text(middle, _RIBBON + 46, band.name, size=12, anchor="middle", bold=True)
        piece += svg.text(middle, _RIBBON + 61, words, size=11, anchor="middle")
        parts.append(
            f'<g data-band="{escaped(band.name)}" data-wh="{band.energy.value:.6g}" '
            f'data-from="{band.low:.6g}" data-to="{band.high:.6g}">{piece}</g>'
        )
    return "".join(parts)


def _label(band: Band, total: float) -> str:
    energy = band.energy.value
    share = energy / total if total > 0 and math.isfinite(energy) else math.nan
    part = f" · {per_cent(share)}" if math.isfinite(share) and not band.energy.between else ""
    return f"{worked_words(band.energy)}{part}"


def _description(
    usable: UsableWindow, bands: Sequence[Band], lines: Sequence[tuple[str, float]]
) -> str:
    told = [
        f"{b.name}: {worked_words(b.energy)}, from {per_cent(b.low)} to {per_cent(b.high)} charged"
        for b in bands
    ]
    told += [f"{name} {say(volts, 'V')}" for name, volts in lines]
    return (
        f"Of {worked_words(usable.total)} in the pack, {worked_words(usable.reachable)} can be "
        f"reached, before the inverter (DC). {'; '.join(told)}. The discharge ends by: "
        f"{clean(usable.bottom_by)}."
    )
