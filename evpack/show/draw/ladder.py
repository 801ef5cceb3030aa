"""The voltage ladder: pack, devices and settings on one scale of voltage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import attrs

from evpack.base.fitted import Fitted, NotFitted
from evpack.base.units import Quantity
from evpack.base.wording import say
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.describe.ranges import VoltageRange
from evpack.outcome.design import Decision, Design
from evpack.outcome.settings import Act, Line
from evpack.show.clean import clean, escaped
from evpack.show.draw import svg
from evpack.show.gather import working_band
from evpack.show.style import PAINT

# --- What stands on it ----------------------------------------------------------------------------


@attrs.frozen
class Mark:
    """A voltage with a name.

    `kind` is "limit" (a fact), "set" (to be entered), "provisional" (would be, if the design
    worked), "unset" (wanted, but cannot be set), "high" (of a lead-acid profile, above this pack's
    target) or "hazard" (above what any cell stands).
    """

    name: str
    volts: float
    kind: str


@attrs.frozen
class Column:
    """One bar of the ladder; `low` or `high` None is an end that is not known.

    `kind` is "pack", "device", or "profile": what works at fixed voltages and has no range.
    """

    head: str
    under: str
    low: float | None
    high: float | None
    marks: tuple[Mark, ...]
    kind: str = "device"


def columns_of(design: Design) -> list[Column]:
    """Return the columns of the ladder: pack, inverters, chargers, lead-acid profiles."""
    build = design.build
    columns = [_pack_column(design)]
    columns += [_inverter_column(design, inverter) for inverter in build.inverters]
    columns += [_charger_column(design, charger) for charger in build.all_chargers]
    if build.profiles:
        columns.append(_profiles_column(design))
    return columns


def _pack_column(design: Design) -> Column:
    pack = design.build.pack
    n, targets = pack.cells_in_series, pack.module.chemistry.targets
    marks = [
        Mark("never above", float(pack.highest.m), "limit"),
        Mark("nominal", float(pack.nominal.m), "limit"),
        Mark("never below", float(pack.least.m), "limit"),
    ]
    if targets is not None:
        high = _cut(design, Line.CELL_CUT_HIGH, float(targets.cut_high.m))
        low = _cut(design, Line.CELL_CUT_LOW, float(targets.cut_low.m))
        marks.append(Mark("monitoring stops charge", n * high, "limit"))
        marks.append(Mark("monitoring stops discharge", n * low, "limit"))
        if design.figures is not None:
            marks.append(Mark("target, highest cell", design.figures.charge_target.value, "limit"))
    under = f"{n} cells in series" if targets is not None else f"{n} cells, no set voltage fits"
    return Column(
        "Pack", under, float(pack.least.m), float(pack.highest.m), _finite(marks), kind="pack"
    )


def _cut(design: Design, name: str, usual: float) -> float:
    """Return where the settings sheet has the cell monitoring cut [V/cell], else the usual."""
    sheet = design.settings
    lines = () if sheet is None else (line for d in sheet.devices for line in d.lines)
    set_to = (line.per_cell for line in lines if line.name == name and line.per_cell is not None)
    return next(set_to, usual)


def _inverter_column(design: Design, inverter: Inverter) -> Column:
    marks = _settings(design, inverter.name)
    low, high = _volts(inverter.window_low), _volts(inverter.window_high)
    if low is not None:
        marks.append(Mark("works from", low, "limit"))
    if high is not None:
        marks.append(Mark("works up to", high, "limit"))
    survives = _volts(inverter.survives)
    if survives is not None and survives != high:
        marks.append(Mark("damaged above", survives, "limit"))
    restart = _volts(inverter.restart)
    if restart is not None:
        marks.append(Mark("starts again at", restart, "limit"))
    name = inverter.name if inverter.count == 1 else f"{inverter.count} × {inverter.name}"
    known = low is not None or high is not None
    under = "inverter: works between" if known else "inverter: window not known"
    return Column(name, under, low, high, _finite(marks))


def _charger_column(design: Design, charger: Charger) -> Column:
    marks = _settings(design, charger.name)
    name = charger.name if charger.count == 1 else f"{charger.count} × {charger.name}"
    reach = charger.charge_voltage
    if charger.left_on is not None:
        marks += _hazards(design, charger.left_on)
    if isinstance(reach, VoltageRange):
        low, high = float(reach.low.m), float(reach.high.m)
        marks += [Mark("lowest entry", low, "limit"), Mark("highest entry", high, "limit")]
        return Column(name, f"{charger.source}: can be set", low, high, _finite(marks))
    if reach is None:
        return Column(name, f"{charger.source}: not known", None, None, _finite(marks))
    return _fixed(name, f"{charger.source}: fixed", _finite(marks))


def _profiles_column(design: Design) -> Column:
    """Return one column for all profiles, each by the voltage that it would hold for hours."""
    names: dict[float, list[str]] = {}
    for profile in design.build.profiles:
        names.setdefault(float(profile.absorption.m), []).append(profile.name)
    marks = tuple(
        Mark("; ".join(same), volts, _kind(design, volts)) for volts, same in names.items()
    )
    return _fixed("Lead-acid profiles", "absorption, if left on", marks)


def _fixed(head: str, under: str, marks: tuple[Mark, ...]) -> Column:
    ends = [mark.volts for mark in marks]
    return Column(
        head,
        under,
        min(ends, default=None),
        max(ends, default=None),
        marks,
        kind="profile",
    )


def _hazards(design: Design, profile: LeadAcidProfile) -> list[Mark]:
    """Return what a lead-acid profile that stays on would do to this pack."""
    named = (
        ("its equalise", profile.equalise),
        ("its absorption", profile.absorption),
        ("its float", profile.float_voltage),
        ("its low cut-off", profile.low_cut_off),
    )
    return [Mark(name, float(q.m), _kind(design, float(q.m))) for name, q in named]


def _kind(design: Design, volts: float) -> str:
    """Return how a voltage that a device would charge to compares with what the pack stands."""
    highest = float(design.build.pack.highest.m)
    target = design.figures.charge_target.value if design.figures is not None else highest
    if volts > highest * (1 + 1e-9):
        return "hazard"
    return "high" if volts > target * (1 + 1e-9) else "limit"


_KINDS = {Act.ENTER: "set", Act.CANNOT: "unset"}


def _settings(design: Design, device: str) -> list[Mark]:
    """Return the voltages that are to be entered on a device, by the names of the sheet."""
    sheet = design.settings
    lines = sheet.device(device) if sheet is not None else None
    if sheet is None or lines is None:
        return []
    kinds = {**_KINDS, Act.ENTER: "provisional"} if sheet.withheld else _KINDS
    return [
        Mark(line.name, line.worked.value, kinds[line.act])
        for line in lines.lines
        if line.worked is not None and line.worked.unit == "V" and line.act in _KINDS
    ]


def _finite(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    return tuple(mark for mark in marks if math.isfinite(mark.volts))


def _volts(quantity: Quantity | NotFitted | None) -> float | None:
    return None if quantity is None or isinstance(quantity, Fitted) else float(quantity.m)


_GRAVITY = {"limit": 0, "high": 1, "unset": 2, "provisional": 3, "set": 4, "hazard": 5}


def merged(marks: Iterable[Mark]) -> list[Mark]:
    """Join the marks that stand at one voltage: their labels could not stand apart."""
    found: dict[int, Mark] = {}
    for mark in marks:
        key = round(mark.volts * 1000)
        there = found.get(key)
        if there is None:
            found[key] = mark
        elif mark.name not in there.name.split(", "):
            kind = max(there.kind, mark.kind, key=lambda k: _GRAVITY[k])
            first, second = (mark, there) if mark.kind == kind else (there, mark)
            found[key] = Mark(f"{first.name}, {second.name}", there.volts, kind)
    return sorted(found.values(), key=lambda m: -m.volts)


# --- How it is drawn ------------------------------------------------------------------------------

_LEFT, _RIGHT, _TOP, _BOTTOM = 58.0, 62.0, 74.0, 34.0
_INDENT, _BAR, _LEAD = 8.0, 22.0, 16.0  # before a bar; its width; from it to a label
_WIDTH = 900.0
_COLUMN_LEAST, _COLUMN_MOST = 158.0, 230.0
_NAME, _VALUE = 12.0, 11.0  # sizes of the lines of a label
_NAME_STEP, _VALUE_STEP, _BETWEEN = 13.0, 12.5, 4.0  # their heights, and what parts two labels


@attrs.frozen
class _Scale:
    """Voltage to height; `least` and `highest` are the pack's ends, of `cells` in series."""

    low: float
    high: float
    bottom: float
    cells: int
    least: float
    highest: float

    def y(self, volts: float) -> float:
        share = (volts - self.low) / (self.high - self.low)
        return self.bottom + (_TOP - self.bottom) * share

    def shows(self, volts: float) -> bool:
        return self.low <= volts <= self.high


def ladder_svg(told: Decision | Design) -> str:
    """Return the voltage ladder of a design as an SVG picture.

    The scale shows the pack's own span and what lies near it; an end or a setting further off is
    written at the edge with an arrow. Marks carry ``data-column``, ``data-name`` and
    ``data-volts``, the picture ``data-low``, ``data-high``, ``data-top`` and ``data-bottom``.
    """
    design = told.design if isinstance(told, Decision) else told
    pack = design.build.pack
    least, highest = float(pack.least.m), float(pack.highest.m)
    columns = columns_of(design)
    each = min(_COLUMN_MOST, max(_COLUMN_LEAST, (_WIDTH - _LEFT - _RIGHT) / len(columns)))
    room = each - _INDENT - _BAR - _LEAD - 4.0
    needed = max(sum(_label(m, room).height for m in merged(c.marks)) for c in columns)
    bottom = _TOP + max(430.0, needed)
    low, high = _span(least, highest, columns)
    scale = _Scale(low, high, bottom, pack.cells_in_series, least, highest)
    width = _LEFT + each * len(columns) + _RIGHT

    parts = [_ground(scale, width, _LEFT + each, working_band(design)), _axes(scale, width)]
    parts += [_column(c, scale, _LEFT + k * each, each) for k, c in enumerate(columns)]
    data = (
        f' data-low="{scale.low:.6g}" data-high="{scale.high:.6g}" data-top="{svg.px(_TOP)}" '
        f'data-bottom="{svg.px(bottom)}"'
    )
    return svg.picture(
        width,
        bottom + _BOTTOM,
        "".join(parts),
        title=f"Voltage ladder of {clean(design.build.title)}",
        description=_description(columns, pack.cells_in_series),
        data=data,
    )


def _span(least: float, highest: float, columns: Sequence[Column]) -> tuple[float, float]:
    """Return the ends of the scale: the pack's span, and what lies within half of it beyond."""
    own = highest - least
    near = [
        volts
        for column in columns
        for volts in (column.low, column.high, *(mark.volts for mark in column.marks))
        if volts is not None and least - 0.5 * own <= volts <= highest + 0.5 * own
    ]
    return (
        max(0.0, min([least - 0.1 * own, *near]) - 0.04 * own),
        max([highest + 0.1 * own, *near]) + 0.04 * own,
    )


def _ground(scale: _Scale, width: float, start: float, working: tuple[float, float] | None) -> str:
    """Return where no cell may go and where the pack works, across all columns.

    The eye compares along them. Lines and band start beside the pack, whose own bar shows them.
    """
    left, right = _LEFT, width - _RIGHT
    bottom, top = scale.y(scale.least), scale.y(scale.highest)
    parts = [
        svg.box(left, y1, right - left, y2 - y1, "stop-wash")
        for y1, y2 in ((_TOP, top), (bottom, scale.bottom))
    ]
    if working is not None:
        cut_off, charge = map(scale.y, working)
        parts.append(svg.box(start, charge, right - start, cut_off - charge, "work"))
    parts += [svg.line((start, y), (right, y), "stop", 1, "5 3") for y in (top, bottom)]
    return "".join(parts)


def _axes(scale: _Scale, width: float) -> str:
    right, n = width - _RIGHT, scale.cells
    parts = [
        svg.line((_LEFT, _TOP), (_LEFT, scale.bottom), "soft"),
        svg.line((right, _TOP), (right, scale.bottom), "soft"),
        svg.text(_LEFT - 8, _TOP - 12, "V", size=12, anchor="end", bold=True),
        svg.text(right + 6, _TOP - 12, "V a cell", size=12, bold=True),
    ]
    for volts in svg.ticks(scale.low, scale.high, 9):
        y = scale.y(volts)
        parts.append(svg.line((_LEFT - 4, y), (_LEFT, y), "soft"))
        parts.append(svg.text(_LEFT - 8, y + 4, f"{volts:g}", size=11, anchor="end"))
    for cell in svg.ticks(scale.low / n, scale.high / n, 9):
        y = scale.y(cell * n)
        parts.append(svg.line((right, y), (right + 4, y), "soft"))
        parts.append(svg.text(right + 8, y + 4, f"{cell:g}", size=11))
    return "".join(parts)


def _column(column: Column, scale: _Scale, x: float, width: float) -> str:
    bar = x + _INDENT
    heads = svg.wrapped(clean(column.head), 13, width - _INDENT - 4, 2, bold=True)
    parts = [svg.text(bar, 20 + 15 * k, words, size=13, bold=True) for k, words in enumerate(heads)]
    under = svg.wrapped(clean(column.under), 11, width - _INDENT - 4, 1)
    parts += [svg.text(bar, 20 + 15 * len(heads), words, size=11, colour="soft") for words in under]
    parts.append(_bar(column, scale, bar))
    parts.append(_marks(column, scale, bar, width - _INDENT - _BAR - _LEAD - 4.0))
    return f'<g data-column="{escaped(column.head)}">{"".join(parts)}</g>'


def _bar(column: Column, scale: _Scale, x: float) -> str:
    top = scale.y(min(scale.high, math.inf if column.high is None else column.high))
    bottom = scale.y(max(scale.low, -math.inf if column.low is None else column.low))
    top, bottom = min(top, scale.bottom), max(bottom, _TOP)
    if column.low is None and column.high is None:
        if column.kind == "profile":
            return ""
        unknown = svg.box(x, _TOP, _BAR, scale.bottom - _TOP, "paper", edge="soft", dash="4 3")
        middle = (_TOP + scale.bottom) / 2
        return unknown + svg.text(x + _BAR / 2, middle, "?", size=15, anchor="middle", bold=True)
    if column.kind == "profile":
        return svg.box(x + _BAR / 2 - 3, top, 6, bottom - top, "bar", edge="soft")
    if column.kind == "device":
        dash = "4 3" if column.low is None or column.high is None else ""
        beyond = scale.y(min(scale.high, max((m.volts for m in column.marks), default=0.0)))
        stem = svg.line((x + _BAR / 2, min(beyond, top)), (x + _BAR / 2, top), "soft", 1.2)
        return stem + svg.box(x, top, _BAR, bottom - top, "bar", edge="soft", dash=dash)
    # Where the cells may live is plain; where only the monitoring holds them is hatched.
    at = {mark.name: scale.y(mark.volts) for mark in column.marks}
    inner_top = at.get("target, highest cell", top)
    inner_bottom = at.get("monitoring stops discharge", bottom)
    parts = [svg.box(x, top, _BAR, bottom - top, "guard")]
    for y1, y2 in ((top, inner_top), (inner_bottom, bottom)):
        if y2 - y1 > 2.0:  # noqa: PLR2004  thinner than that, a hatch is a smudge
            parts.append(svg.hatch(x, y1, _BAR, y2 - y1, "caution"))
    parts.append(svg.box(x, inner_top, _BAR, inner_bottom - inner_top, "work"))
    parts.append(svg.box(x, top, _BAR, bottom - top, "none", edge="ink"))
    return "".join(parts)


_COLOUR = {"hazard": "stop", "high": "caution"}
_GLYPH = {"hazard": "✕ ", "high": "▲ "}
_SUFFIX = {"unset": " (cannot be set)", "provisional": " (provisional)"}


@attrs.frozen
class _Label:
    """The lines of a mark's name, and the height of the whole label."""

    lines: tuple[str, ...]
    height: float


def _label(mark: Mark, room: float) -> _Label:
    suffix = _SUFFIX.get(mark.kind, "")
    words = _GLYPH.get(mark.kind, "") + clean(mark.name) + suffix
    lines = svg.wrapped(words, _NAME, room, 4, bold=_loud(mark))
    return _Label(tuple(lines), _NAME_STEP * len(lines) + _VALUE_STEP + _BETWEEN)


def _loud(mark: Mark) -> bool:
    return mark.kind in {"set", "provisional", "hazard", "high"}


def _marks(column: Column, scale: _Scale, x: float, room: float) -> str:
    grounds = scale.y(scale.least), scale.y(scale.highest)
    marks = merged(column.marks)
    labels = [_label(mark, room) for mark in marks]
    edges = [min(max(scale.y(m.volts), _TOP), scale.bottom) for m in marks]
    heights = [label.height for label in labels]
    middles = svg.apart(edges, heights, *_reach(column, scale, sum(heights)))
    at = x + _BAR + _LEAD
    parts = []
    for mark, label, y, middle in zip(marks, labels, edges, middles, strict=True):
        colour = _COLOUR.get(mark.kind, "ink")
        arrow = "" if scale.shows(mark.volts) else "↑ " if mark.volts > scale.high else "↓ "
        value = f"{arrow}{say(mark.volts, 'V')} · {mark.volts / scale.cells:.2f} a cell"
        lead = f"M{svg.px(x + _BAR)} {svg.px(y)}L{svg.px(x + _BAR + 4)} {svg.px(y)}"
        lead += f"L{svg.px(at - 5)} {svg.px(middle)}L{svg.px(at - 2)} {svg.px(middle)}"
        piece = f'<path d="{lead}" fill="none" {svg.stroke("soft", 0.8)}/>'
        piece += _sign(mark, scale, x, y)
        # Only where a line of the ground would cross the words.
        halo = column.kind != "pack" and any(
            abs(middle - ground) < label.height / 2 for ground in grounds
        )
        line = middle - label.height / 2 + _BETWEEN / 2 + 10.0
        for words in label.lines:
            piece += svg.text(
                at, line, words, size=_NAME, bold=_loud(mark), colour=colour, halo=halo
            )
            line += _NAME_STEP
        piece += svg.text(at, line - 0.5, value, size=_VALUE, colour=colour, halo=halo)
        parts.append(
            f'<g data-name="{escaped(mark.name)}" data-volts="{mark.volts:.6g}" '
            f'data-kind="{mark.kind}"><title>{escaped(f"{mark.name}: {value}")}</title>{piece}</g>'
        )
    return "".join(parts)


def _reach(column: Column, scale: _Scale, needed: float) -> tuple[float, float]:
    """Return from where to where labels may stand: the pack's own keep off the red ground."""
    top, bottom = scale.y(scale.highest), scale.y(scale.least)
    if column.kind == "pack" and needed <= bottom - top:
        return top, bottom
    return _TOP - 14, scale.bottom + 14


def _sign(mark: Mark, scale: _Scale, x: float, y: float) -> str:
    """Return the mark on the bar: a line for a limit, a filled arrow for what is to be entered.

    The arrow is hollow where a value cannot be set, and its line broken where it is provisional.
    """
    if not scale.shows(mark.volts):
        return ""
    if mark.kind in {"set", "unset", "provisional"}:
        dash = "4 3" if mark.kind == "provisional" else ""
        inside = "ink" if mark.kind == "set" else "paper"
        points = f"{svg.px(x + _BAR + 2)},{svg.px(y)} {svg.px(x + _BAR - 9)},{svg.px(y - 5)} "
        points += f"{svg.px(x + _BAR - 9)},{svg.px(y + 5)}"
        return svg.line((x - 3, y), (x + _BAR, y), "ink", 1.4 if dash else 2.2, dash) + (
            f'<polygon points="{points}" class="f-{inside} s-ink" fill="{PAINT[inside]}" '
            f'stroke="{PAINT["ink"]}" stroke-width="1"/>'
        )
    if mark.kind in _COLOUR:
        return svg.line((x, y), (x + _BAR, y), _COLOUR[mark.kind], 3)
    return svg.line((x, y), (x + _BAR, y), "soft", 1.2)


_SAID = {
    "hazard": ", more than any cell stands",
    "high": ", above the charge target",
    "unset": ", cannot be set",
    "set": ", to be entered",
    "provisional": ", provisional and not to be entered",
}


def _description(columns: Sequence[Column], n: int) -> str:
    """Return the picture in words, column by column, from the top down."""
    told = []
    for column in columns:
        marks = "; ".join(
            f"{mark.name} {say(mark.volts, 'V')} ({mark.volts / n:.2f} V a cell)"
            + _SAID.get(mark.kind, "")
            for mark in merged(column.marks)
        )
        told.append(f"{clean(column.head)}, {column.under}: {marks or 'nothing known'}.")
    return " ".join(told)
