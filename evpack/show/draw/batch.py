"""Pictures of a heap: how its capacities lie, capacity against resistance, who stands where."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.base.wording import say
from evpack.outcome.matching import Grade, GradedModule, Matching
from evpack.show.draw.svg import box, fill, line, notice, picture, px, stroke, text, ticks, width_of

_WIDTH = 860.0
_TONE = {Grade.ACCEPT: "ok", Grade.RETEST: "caution", Grade.REJECT: "stop"}
_WORD = {Grade.ACCEPT: "accepted", Grade.RETEST: "to be tested again", Grade.REJECT: "rejected"}
_SIZE = 11.0
_TAG_HEIGHT, _TAG_GAP = 17.0, 3.0
_UNDER_LEGEND = 22.0


def mark(grade: Grade, x: float, y: float, size: float = 4.5) -> str:
    """Return the sign of a grade: a dot, a triangle, a cross; told apart without colour."""
    tone = _TONE[grade]
    if grade is Grade.ACCEPT:
        return f'<circle cx="{px(x)}" cy="{px(y)}" r="{px(size)}" {fill(tone)}/>'
    if grade is Grade.RETEST:
        corners = ((x, y - size), (x + size, y + size), (x - size, y + size))
        points = " ".join(f"{px(a)},{px(b)}" for a, b in corners)
        return f'<polygon points="{points}" {fill(tone)}/>'
    return (
        f'<path d="M{px(x - size)} {px(y - size)}L{px(x + size)} {px(y + size)}'
        f'M{px(x + size)} {px(y - size)}L{px(x - size)} {px(y + size)}" fill="none" '
        f"{stroke(tone, 2.2)}/>"
    )


def _legend(x: float, y: float) -> str:
    parts = []
    for grade, word in _WORD.items():
        parts.append(mark(grade, x, y - 4) + text(x + 10, y, word, size=_SIZE, colour="soft"))
        x += 26 + width_of(word, _SIZE)
    return "".join(parts)


def capacity_svg(matching: Matching) -> str:
    """Return every module as a named tag over its capacity, with the limits it is graded by."""
    read = [(g, g.module.capacity) for g in matching.graded if g.module.capacity is not None]
    title = "How the capacities lie"
    if not read:
        return notice(title, "No module's capacity was read.")
    values = {g.module.name: float(capacity.m) for g, capacity in read}
    tag = 16 + max(width_of(name, _SIZE) for name in values)
    limits = _limits(matching)
    every = [*values.values(), *limits.values()]
    low, high = min(every), max(every)
    pad = 0.06 * (high - low or high)
    low, high = max(0.0, low - pad), high + pad
    left, right = 30.0, _WIDTH - 30.0

    def at(amp_hours: float) -> float:
        return left + (amp_hours - low) / (high - low) * (right - left)

    # Tags are laid from the least up, each in the lowest row that is free there.
    rows: list[float] = []
    laid = []
    for module in sorted((g for g, _ in read), key=lambda g: values[g.module.name]):
        middle = min(max(at(values[module.module.name]), left + tag / 2), right - tag / 2)
        row = next((k for k, end in enumerate(rows) if end <= middle - tag / 2), len(rows))
        if row == len(rows):
            rows.append(0.0)
        rows[row] = middle + tag / 2 + _TAG_GAP
        laid.append((module, middle, row))
    top = 62.0
    floor = top + len(rows) * (_TAG_HEIGHT + _TAG_GAP) + 6
    parts = [_legend(left + 6, 18)]
    for words, value in limits.items():
        parts.append(line((at(value), 44), (at(value), floor), "ink", 1, "5 3"))
        anchor = "end" if at(value) > _WIDTH * 0.7 else "start"
        shift = -4 if anchor == "end" else 4
        parts.append(text(at(value) + shift, 52, words, size=_SIZE, anchor=anchor, halo=True))
    for module, middle, row in laid:
        y = floor - 6 - (row + 1) * (_TAG_HEIGHT + _TAG_GAP)
        parts.append(box(middle - tag / 2, y, tag, _TAG_HEIGHT, "wash", edge=_TONE[module.grade]))
        parts.append(mark(module.grade, middle - tag / 2 + 8, y + _TAG_HEIGHT / 2, 3.5))
        parts.append(text(middle - tag / 2 + 14, y + 12.5, module.module.name, size=_SIZE))
    parts.append(line((left, floor), (right, floor), "ink"))
    for value in ticks(low, high, 8):
        parts.append(line((at(value), floor), (at(value), floor + 4), "ink"))
        parts.append(text(at(value), floor + 17, f"{value:g}", size=_SIZE, anchor="middle"))
    parts.append(text(right, floor + 33, "capacity, Ah", size=_SIZE, anchor="end", bold=True))
    told = "; ".join(f"{name} {say(value, 'Ah')}" for name, value in values.items())
    return picture(
        _WIDTH, floor + 42, "".join(parts), title=title, description=f"Capacities: {told}."
    )


def _limits(matching: Matching) -> dict[str, float]:
    """Return the capacities from which on a module is accepted, or tested again [Ah]."""
    new = matching.batch.new_capacity
    measure = next((m for m in matching.batch.measures if m.key == "capacity"), None)
    if new is None or measure is None:
        return {}
    return {
        f"accepted from {say(measure.accept, '')} of new": measure.accept * float(new.m),
        f"rejected below {say(measure.retest, '')}": measure.retest * float(new.m),
    }


def scatter_svg(matching: Matching) -> str:
    """Return capacity against resistance, every module named, its grade told by its sign."""
    title = "Capacity against resistance"
    points = [
        (g, float(g.module.capacity.m), 1e3 * float(g.module.resistance.m))
        for g in matching.graded
        if g.module.capacity is not None and g.module.resistance is not None
    ]
    if len(points) < 2:  # noqa: PLR2004  one point has no spread to show
        return notice(title, "Fewer than two modules have both read.")
    left, right, top, floor = 62.0, _WIDTH - 40.0, 40.0, 400.0
    x_low, x_high = _span([x for _, x, _ in points])
    y_low, y_high = _span([y for _, _, y in points])

    def place(x: float, y: float) -> tuple[float, float]:
        return (
            left + (x - x_low) / (x_high - x_low) * (right - left),
            floor - (y - y_low) / (y_high - y_low) * (floor - top),
        )

    parts = [_legend(left, 18)]
    for value in ticks(x_low, x_high, 8):
        x, _ = place(value, y_low)
        parts.append(line((x, top), (x, floor), "grid"))
        parts.append(text(x, floor + 16, f"{value:g}", size=_SIZE, anchor="middle"))
    for value in ticks(y_low, y_high, 6):
        _, y = place(x_low, value)
        parts.append(line((left, y), (right, y), "grid"))
        parts.append(text(left - 6, y + 4, f"{value:g}", size=_SIZE, anchor="end"))
    spots = [place(x, y) for _, x, y in points]
    for (graded, _, _), spot, label in zip(
        points, spots, _labels([g.module.name for g, _, _ in points], spots), strict=True
    ):
        x, y = label
        if abs(y - spot[1]) > 12:  # noqa: PLR2004  so far away that a line must lead there
            parts.append(line(spot, (x, y - 4), "line"))
        parts.append(mark(graded.grade, *spot))
        parts.append(text(x, y, graded.module.name, size=_SIZE, halo=True))
    parts.append(line((left, floor), (right, floor), "ink"))
    parts.append(line((left, top), (left, floor), "ink"))
    parts.append(text(right, floor + 32, "capacity, Ah", size=_SIZE, anchor="end", bold=True))
    parts.append(text(10, top - 8, "resistance, mΩ", size=_SIZE, bold=True))
    told = "; ".join(f"{g.module.name} {x:.4g} Ah, {y:.4g} mΩ" for g, x, y in points)
    return picture(_WIDTH, floor + 42, "".join(parts), title=title, description=f"{told}.")


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    pad = 0.08 * (high - low) or 0.05 * high
    return low - pad, high + pad


def _labels(
    names: Sequence[str], spots: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Return where each name begins: beside its sign, or further off where that place is taken."""
    taken = [(x - 6, y - 6, x + 6, y + 6) for x, y in spots]
    found = []
    for name, (x, y) in zip(names, spots, strict=True):
        wide = width_of(name, _SIZE)
        beside = [(x + 8, y + 4), (x - 8 - wide, y + 4), (x - wide / 2, y - 9)]
        beside.append((x - wide / 2, y + 18))
        further = [(x + 12, y + 4 + sign * 14 * k) for k in range(1, 40) for sign in (1, -1)]
        for left, base in (*beside, *further):
            room = (left - 1, base - 10, left + wide + 1, base + 3)
            inside = room[0] > 0 and room[2] < _WIDTH and room[1] > _UNDER_LEGEND
            if inside and not any(_meet(room, other) for other in taken):
                break
        taken.append((left - 1, base - 10, left + wide + 1, base + 3))
        found.append((left, base))
    return found


def _meet(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def groups_svg(matching: Matching) -> str:
    """Return the strings as rows of boxes, each as wide as its module's capacity."""
    title = "Which modules stand in which string"
    grouping = matching.grouping
    if grouping is None:
        return notice(title, "No grouping was asked for, or none is possible.")
    by_name = {g.module.name: g for g in matching.graded}
    left, row = 92.0, 34.0
    held = {name: _amp_hours(graded) for name, graded in by_name.items()}
    most = max(sum(held[name] for name in names) for names in grouping.strings)
    scale = (_WIDTH - left - 130) / most
    parts = []
    y = 24.0
    for number, names in enumerate(grouping.strings, start=1):
        parts.append(text(10, y + 19, f"string {number}", size=12, bold=True))
        x = left
        weakest = min(names, key=held.__getitem__)
        for name in names:
            wide = held[name] * scale
            weak = name == weakest
            colour, edge = ("guard", "caution") if weak else ("keep", "note")
            parts.append(box(x, y, wide - 2, row - 8, colour, edge=edge))
            if width_of(name, _SIZE) < wide - 8:
                parts.append(text(x + 5, y + 17, name, size=_SIZE, bold=weak))
            x += wide
        least = held[weakest]
        parts.append(text(x + 6, y + 17, f"{say(least, 'Ah')} ({weakest})", size=_SIZE))
        y += row
    parts.append(
        text(
            left,
            16,
            "each box as wide as its module's capacity; the weakest, which sets it, in bold",
            size=_SIZE,
            colour="soft",
        )
    )
    if grouping.spares:
        parts.append(text(10, y + 16, f"spare: {', '.join(grouping.spares)}"[:130], size=_SIZE))
        y += 22
    told = "; ".join(
        f"string {k}: {', '.join(names)}" for k, names in enumerate(grouping.strings, start=1)
    )
    return picture(_WIDTH, y + 8, "".join(parts), title=title, description=f"{told}.")


def _amp_hours(graded: GradedModule) -> float:
    capacity = graded.module.capacity
    return 0.0 if capacity is None else float(capacity.m)
