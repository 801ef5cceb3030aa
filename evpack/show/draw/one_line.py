"""The one-line diagram: strings, bus bars, disconnect, and every device with its fuse and cable.

It is drawn from the circuits of the protection schedule, a list of connections, so that it cannot
show what is not there. The strings stand on the left; every other circuit is a row on the right.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from evpack.base.fitted import Fitted, is_not_fitted
from evpack.base.units import RESISTANCE
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.outcome.design import Decision, Design
from evpack.outcome.protection import ARRAY, CHARGER, STRING, CableChoice, Circuit, FuseChoice
from evpack.show.cables import cable_tone, length_words, rows_of, run_words
from evpack.show.clean import clean, escaped
from evpack.show.draw import svg, symbols
from evpack.show.draw.symbols import STEP, WIRE, Label, block, height_of, written
from evpack.show.fuses import fuse_words
from evpack.show.gather import missing
from evpack.show.words import NOT_TO_BUY, count_of, told

_WIDTH = 900.0
_AXIS, _LABEL, _LABEL_WIDE = 46.0, 78.0, 212.0  # of the strings, on the left
_BAR_FROM, _BAR_TO = 20.0, 296.0  # of the bus bars
_TO = 452.0  # of the line behind the disconnect, that the devices are fed from
_FUSE_AT, _WORDS, _WORDS_WIDE = 484.0, 512.0, 182.0  # of a row
_BOX, _BOX_WIDE = 702.0, 190.0  # of a device
_GAP = 16.0  # between two rows

Row = tuple[Circuit, FuseChoice | None, CableChoice | None]


@attrs.frozen
class _Piece:
    """Part of the picture, and the height at which it ends."""

    inner: str
    end: float


def one_line_svg(told_of: Decision | Design) -> str:
    """Return the one-line diagram of a design as an SVG picture.

    Every circuit is a group with ``data-circuit`` (its place) and ``data-kind``.
    """
    design = told_of.design if isinstance(told_of, Decision) else told_of
    title = f"One-line diagram of {clean(design.build.title)}"
    schedule = design.protection
    if schedule is None:
        return svg.notice(title, missing("The one-line diagram"))
    dash = symbols.BROKEN if schedule.withheld else ""
    rows = rows_of(schedule)
    top = 30.0 if schedule.withheld else 8.0
    head = _bar_labels(design.build)
    over = _disconnect_labels(design.build)
    level = top + max(height_of(head), height_of(over) + 20) + 10
    parts = []
    if schedule.withheld:
        words = svg.wrapped(f"✕ {NOT_TO_BUY}", 12, _WIDTH - 30, 1, bold=True)[0]
        parts.append(svg.text(_BAR_FROM, 18, words, size=12, bold=True, colour="stop"))
    parts.append(written(head, _BAR_FROM, level - 8 - height_of(head)))
    parts.append(svg.line((_BAR_FROM, level), (_BAR_TO, level), "ink", 6))
    strings = _strings(design, [row for row in rows if row[0].kind == STRING], level, dash)
    middle = _middle(design, over, level, dash)
    feeders = _feeders(design.build, [row for row in rows if row[0].kind != STRING], level, dash)
    parts += [strings.inner, middle.inner, feeders.inner]
    height = max(strings.end, middle.end, feeders.end) + 12
    return svg.picture(_WIDTH, height, "".join(parts), title=title, description=_description(rows))


def _bar_labels(build: Build) -> list[tuple[str, Label]]:
    bar = build.cabling.bar
    labels = [Label("bus bars", bold=True)]
    if bar is None:
        labels.append(Label("? not described"))
    else:
        size = f"{bar.width.m * 1e3:.4g} × {bar.thickness.m * 1e3:.4g} mm copper"
        labels.append(Label(f"{bar.count} × {size}" if bar.count > 1 else size))
    return block(labels, _BAR_TO - _BAR_FROM - 10)


def _disconnect_labels(build: Build) -> list[tuple[str, Label]]:
    found = build.safeguards.disconnect
    if found is None:
        labels = [Label("disconnect", bold=True), Label("? not described")]
    elif isinstance(found, Fitted):
        labels = [Label("no disconnect", bold=True, colour="stop"), Label("none is fitted")]
    else:
        ratings = f"{_or_mark(found.dc_voltage)} DC, {_or_mark(found.current)}"
        poles = "? poles" if found.poles is None else count_of(found.poles, "pole")
        labels = [Label(found.name, bold=True), Label(f"{ratings}, {poles}")]
    return block(labels, _TO - _BAR_TO - 12)


def _or_mark(quantity: object) -> str:
    return "?" if quantity is None else told(quantity)  # type: ignore[arg-type]  # a quantity


def _strings(design: Design, rows: Sequence[Row], level: float, dash: str) -> _Piece:
    """Return the strings, one standing for all: lead, fuse, battery, from the bars down."""
    parts, y = [], level
    for circuit, fuse, cable in rows:
        lead = block(_cable_labels(circuit, cable), _LABEL_WIDE)
        words = block(_fuse_labels(circuit, fuse), _LABEL_WIDE)
        inner = written(lead, _LABEL, y + 12)
        both = design.build.safeguards.both_ends
        room = max(height_of(lead), 2 * symbols.FUSE if both else STEP)
        at = y + 12 + room + 12 + symbols.FUSE / 2
        inner += svg.line((_AXIS, y), (_AXIS, at + symbols.FUSE / 2 + 16), "ink", WIRE, dash)
        if circuit.needs_fuse:
            inner += symbols.fuse(_AXIS, at, upright=True, kind=_kind(fuse), dash=dash)
        if circuit.needs_fuse and both:  # one like it where the lead leaves the bar
            top = y + 8 + symbols.FUSE / 2
            inner += symbols.fuse(_AXIS, top, upright=True, kind=_kind(fuse), dash=dash)
        inner += written(words, _LABEL, at - height_of(words) / 2)
        below = max(at + symbols.FUSE / 2 + 16, at + height_of(words) / 2 + 8)
        inner += svg.line((_AXIS, at + symbols.FUSE / 2), (_AXIS, below), "ink", WIRE, dash)
        drawn, end = symbols.battery(_AXIS, below, plus_up=design.build.pack.earthed != "plus")
        inner += drawn + written(_pack_labels(design.build), _LABEL, below + 2)
        parts.append(_group(circuit, inner))
        y = max(end, below + 2 + height_of(_pack_labels(design.build)))
    under, end = _earth(design.build, y)
    return _Piece("".join(parts) + under, end)


def _pack_labels(build: Build) -> list[tuple[str, Label]]:
    pack = build.pack
    link = build.cabling.link
    labels = [
        Label(
            count_of(pack.strings, "string") + (", each like this" if pack.strings > 1 else ""),
            bold=True,
        ),
        Label(f"{count_of(pack.modules_in_series, 'module')} in series"),
        Label(f"{pack.cells_in_series} cells, full at {told(pack.highest)}"),
    ]
    if link is not None:
        labels.append(Label(f"links: {run_words(link)}, {length_words(link.length.m)}"))
    return block(labels, _LABEL_WIDE)


def _earth(build: Build, y: float) -> tuple[str, float]:
    earthed = build.pack.earthed
    words = {"none": "no pole is earthed", None: "? earthing not said"}
    mark = symbols.earth(_AXIS, y) if earthed in {"minus", "plus"} else ""
    return mark + written(
        block([Label(words.get(earthed, f"{earthed} is earthed"))], _LABEL_WIDE), _LABEL, y + 4
    ), y + 22


def _middle(design: Design, over: list[tuple[str, Label]], level: float, dash: str) -> _Piece:
    """Return disconnect, precharge and emergency disconnect, between the bars and the devices."""
    guards, centre = design.build.safeguards, (_BAR_TO + _TO) / 2
    parts = [written(over, centre, level - 28 - height_of(over), "middle")]
    if is_not_fitted(guards.disconnect):
        parts.append(svg.line((_BAR_TO, level), (_TO, level), "ink", 2.2, dash))
    else:
        known = guards.disconnect is not None
        parts.append(symbols.switch(_BAR_TO, _TO, level, known=known, dash=dash))
    y = level + 14
    words = _precharge_labels(design)
    if not is_not_fitted(guards.precharge):
        known = guards.precharge is not None
        loose = dash or ("" if known else symbols.BROKEN)
        parts.append(symbols.resistor(_BAR_TO, _TO, level, 36, known=known, dash=loose))
        y = level + 36 + 12
    parts.append(written(words, centre, y, "middle"))
    y += height_of(words) + 22
    found = _emergency_labels(design.build)
    parts.append(_knob(_BAR_TO + 10, y + 9))
    parts.append(written(found, _BAR_TO + 28, y))
    return _Piece("".join(parts), y + height_of(found))


def _precharge_labels(design: Design) -> list[tuple[str, Label]]:
    stated, schedule = design.build.safeguards.precharge, design.protection
    plans = () if schedule is None else schedule.precharge
    # As many as the parts list has, though one stands for all in the picture.
    many = f"{len(plans)} × precharge" if len(plans) > 1 else "precharge"
    if isinstance(stated, Fitted):
        labels = [Label("no precharge fitted", bold=True, colour="stop")]
    elif stated is None:
        labels = [Label(many, bold=True), Label("? not described")]
        proposed = [w for plan in plans for w in plan.with_it if w.kind is RESISTANCE]
        labels += [Label(words) for words in dict.fromkeys(f"proposed: {w}" for w in proposed)]
    else:
        ohms = "? Ω" if stated.resistance is None else told(stated.resistance)
        labels = [Label(many, bold=True), Label(f"own contact, {ohms}")]
    if len(plans) > 1 and not isinstance(stated, Fitted):
        labels.append(Label("one for each inverter"))
    elif len(plans) == 1 and len(design.build.inverters) > 1:
        labels.append(Label("one for all inverters"))
    return block(labels, _TO - _BAR_TO - 20)


def _emergency_labels(build: Build) -> list[tuple[str, Label]]:
    found = build.safeguards.emergency_off
    if found is None:
        labels = [Label("emergency disconnect", bold=True), Label("? not described")]
    elif isinstance(found, Fitted):
        labels = [Label("no emergency disconnect", bold=True, colour="stop")]
    else:
        answers = {True: "yes", False: "no", None: "?"}
        labels = [
            Label(found.name, bold=True),
            Label(found.place or "? place"),
            Label(f"opens strings: {answers[found.opens_every_string]}", lines=1),
            Label(f"stops charging: {answers[found.stops_charging]}", lines=1),
            Label(f"stops inverters: {answers[found.stops_inverters]}", lines=1),
        ]
    return block(labels, _TO - _BAR_TO - 36)


def _knob(x: float, y: float) -> str:
    """Return the sign of the emergency disconnect: a knob in a square."""
    return (
        svg.box(x - 11, y - 11, 22, 22, "paper", edge="stop")
        + f'<circle cx="{svg.px(x)}" cy="{svg.px(y)}" r="7" {svg.fill("stop")}/>'
    )


def _feeders(build: Build, rows: Sequence[Row], level: float, dash: str) -> _Piece:
    """Return a row for every circuit behind the disconnect, arrays below their chargers."""
    y, last, parts = level + 8, level, []
    arrays = [row for row in rows if row[0].kind == ARRAY]
    drawn: list[Row] = []
    for row in (r for r in rows if r[0].kind != ARRAY):
        below = [a for a in arrays if a[0].end in _ends_of(build, row[0])]
        drawn += below
        piece, last, box = _feeder(build, row, y, dash)
        parts.append(piece.inner)
        hung = _hung(build, below, box, dash)
        parts.append(hung.inner)
        y = max(piece.end, hung.end) + _GAP
    loose = [a for a in arrays if a not in drawn]
    hung = _hung(build, loose, y, dash)
    parts.append(hung.inner)
    parts.insert(0, svg.line((_TO, level), (_TO, max(last, level)), "ink", 4))
    return _Piece("".join(parts), hung.end if loose else y - _GAP)


def _ends_of(build: Build, circuit: Circuit) -> set[str]:
    """Return the names that an array may feed at the end of a circuit: built-in chargers too."""
    built_in = {
        i.charger.name
        for i in build.inverters
        if i.name == circuit.device and isinstance(i.charger, Charger)
    }
    return {circuit.device} | built_in


def _feeder(build: Build, row: Row, top: float, dash: str) -> tuple[_Piece, float, float]:
    """Return a row (fuse at the bar, cable, device), the height of its line, and of its box."""
    circuit, fuse, cable = row
    above = block(_fuse_labels(circuit, fuse), _WORDS_WIDE)
    under = block(_cable_labels(circuit, cable), _WORDS_WIDE)
    inside = block(_device_labels(build, circuit), _BOX_WIDE - 16)
    tall = height_of(inside) + 16
    y = top + max(height_of(above) + 6, tall / 2)
    inner = svg.line((_TO, y), (_BOX, y), "ink", WIRE, dash)
    if circuit.needs_fuse:
        inner += symbols.fuse(_FUSE_AT, y, upright=False, kind=_kind(fuse), dash=dash)
    inner += written(above, _WORDS, y - 6 - height_of(above))
    inner += written(under, _WORDS, y + 4)
    inner += svg.box(_BOX, y - tall / 2, _BOX_WIDE, tall, "wash", edge="ink", dash=dash)
    inner += written(inside, _BOX + 8, y - height_of(inside) / 2)
    end = y + max(height_of(under) + 4, tall / 2)
    return _Piece(_group(circuit, inner), end), y, y + tall / 2


def _hung(build: Build, rows: Sequence[Row], top: float, dash: str) -> _Piece:
    """Return arrays below the box of their charger, the nearest on the innermost line."""
    lane = min(14.0, 70.0 / max(1, len(rows)))
    box = _BOX + 10 + lane * len(rows)
    wide = _BOX + _BOX_WIDE - box
    parts, y = [], top
    for k, (circuit, fuse, cable) in enumerate(rows):
        x = box - lane * (k + 1)
        words = block([*_fuse_labels(circuit, fuse), *_cable_labels(circuit, cable)], wide - 6)
        inside = block(_array_labels(build, circuit), wide - 16)
        room = max(height_of(words), symbols.FUSE + 4) + 14
        tall = height_of(inside) + 12
        middle = y + room + tall / 2
        inner = svg.path([(x, top), (x, middle), (box, middle)], "ink", WIRE, dash)
        if circuit.needs_fuse:
            inner += symbols.fuse(x, y + room / 2, upright=True, kind=_kind(fuse), dash=dash)
        inner += written(words, box + 6, y + 6)
        inner += svg.box(box, y + room, wide, tall, "wash", edge="ink", dash=dash)
        inner += written(inside, box + 8, y + room + 6)
        parts.append(_group(circuit, inner))
        y += room + tall + 6
    return _Piece("".join(parts), y)


def _device_labels(build: Build, circuit: Circuit) -> list[Label]:
    many = f"{circuit.count} × " if circuit.count > 1 else ""
    kind = "inverter"
    off = {charger.name: charger.kept_off for charger in build.kept_off}
    built_in = _ends_of(build, circuit) - {circuit.device}
    if circuit.kind == CHARGER:
        source = next((c.source for c in build.chargers if c.name == circuit.device), "")
        kind = f"charger ({source})" if source else "charger"
        kind += f", {off[circuit.device]}" if circuit.device in off else ""
    elif built_in:
        kept = [off[name] for name in built_in if name in off]
        kind = f"inverter, charger {kept[0]}" if kept else "inverter with charger"
    return [Label(many + circuit.device, bold=True, lines=3), Label(kind)]


def _array_labels(build: Build, circuit: Circuit) -> list[Label]:
    labels = [Label(circuit.device, bold=True)]
    array = next((a for a in build.solar_arrays if a.name == circuit.device), None)
    if array is not None:
        labels.append(Label(f"{array.in_series} in series, {array.in_parallel} in parallel"))
    return labels


def _fuse_labels(circuit: Circuit, fuse: FuseChoice | None) -> list[Label]:
    if fuse is None:
        return [Label("? fuse not settled" if circuit.needs_fuse else "no fuse needed")]
    words = fuse_words(fuse)
    if fuse.size is None or fuse.family is None:
        colour = "stop" if words.tone == "stop" else "ink"
        device = f"{words.glyph} fuse: {words.word}"
        return [Label(device, bold=True, colour=colour)]
    poles = ", one at each end" if circuit.ends > 1 else ""
    if fuse.count > circuit.count * circuit.ends:
        poles = f"{poles}, one in each pole"
    if circuit.kind == ARRAY:
        poles = ", each pole of each string" if poles else ", one in each string"
    return [
        Label(f"{fuse.count} × {say(fuse.size, 'A')}{poles}", bold=True),
        Label(fuse.family.name),
    ]


def _cable_labels(circuit: Circuit, cable: CableChoice | None) -> list[Label]:
    run = circuit.run
    if run is None:
        return [Label("? cable not known", bold=True)]
    glyph, colour = "", "ink"
    if cable is not None:
        words = cable_tone(cable)
        if words.tone != "ok":
            glyph, colour = f"{words.glyph} ", "stop" if words.tone == "stop" else "ink"
    many = f"{run.parallel} × " if run.parallel > 1 else ""
    size = run_words(attrs.evolve(run, parallel=1))
    beside = ", side by side" if run.parallel > 1 else ""
    return [
        Label(f"{glyph}{many}{size}", colour=colour, lines=3),
        Label(f"{length_words(run.length.m)}{beside}"),
    ]


def _kind(fuse: FuseChoice | None) -> str:
    return "" if fuse is None or fuse.size is None or fuse.family is None else fuse.family.kind


def _group(circuit: Circuit, inner: str) -> str:
    place, kind = escaped(circuit.place), escaped(circuit.kind)
    return f'<g data-circuit="{place}" data-kind="{kind}">{inner}</g>'


def _description(rows: Sequence[Row]) -> str:
    said = []
    for circuit, fuse, cable in rows:
        words = "; ".join(
            label.words for label in (*_fuse_labels(circuit, fuse), *_cable_labels(circuit, cable))
        )
        said.append(f"{clean(circuit.place)}: {clean(words)}, to {clean(circuit.end)}")
    return ". ".join(said) + "."
