"""The symbols of the one-line diagram, and blocks of labels that know how much room they take."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from evpack.show.clean import clean
from evpack.show.draw import svg

STEP = 14.0  # from one line of a label to the next
NAME, SMALL = 12.0, 11.0
FUSE, THICK = 36.0, 13.0  # length and thickness of the box of a fuse
WIRE = 1.6
BROKEN = "5 3"  # of what is provisional


@attrs.frozen
class Label:
    """A text, as many lines as it may take, and how it is set."""

    words: str
    bold: bool = False
    colour: str = "ink"
    lines: int = 2

    @property
    def size(self) -> float:
        """Return the size of its letters."""
        return NAME if self.bold else SMALL


def block(labels: Sequence[Label], width: float) -> list[tuple[str, Label]]:
    """Return labels broken into lines that fit a width."""
    return [
        (words, label)
        for label in labels
        for words in svg.wrapped(
            clean(label.words), label.size, width, label.lines, bold=label.bold
        )
    ]


def written(lines: Sequence[tuple[str, Label]], x: float, top: float, anchor: str = "start") -> str:
    """Return lines of text under one another, the first with its upper edge at `top`."""
    return "".join(
        svg.text(
            x,
            top + 11 + STEP * k,
            words,
            size=label.size,
            anchor=anchor,
            colour=label.colour,
            bold=label.bold,
        )
        for k, (words, label) in enumerate(lines)
    )


def height_of(lines: Sequence[tuple[str, Label]]) -> float:
    """Return the room that lines of text take."""
    return STEP * len(lines)


def fuse(x: float, y: float, *, upright: bool, kind: str, dash: str) -> str:
    """Return the box of a fuse around a point, the wire running through; a breaker has a cross.

    An empty `kind` is a device that is not settled: its box holds a question mark.
    """
    wide, tall = (THICK, FUSE) if upright else (FUSE, THICK)
    parts = [svg.box(x - wide / 2, y - tall / 2, wide, tall, "paper", edge="ink", dash=dash)]
    if kind == "fuse":
        ends = ((x, y - FUSE / 2), (x, y + FUSE / 2))
        if not upright:
            ends = ((x - FUSE / 2, y), (x + FUSE / 2, y))
        parts.append(svg.line(*ends, "ink", WIRE))
    elif kind == "breaker":
        arm = THICK / 2 - 1
        parts.append(svg.line((x - arm, y - arm), (x + arm, y + arm), "ink", WIRE))
        parts.append(svg.line((x - arm, y + arm), (x + arm, y - arm), "ink", WIRE))
    else:
        parts.append(svg.text(x, y + 4, "?", size=SMALL, anchor="middle", bold=True))
    return "".join(parts)


def battery(x: float, y: float, *, plus_up: bool = True) -> tuple[str, float]:
    """Return a battery below a point, its plus (the long plate) up or down, and where it ends."""
    parts = [svg.line((x, y), (x, y + 10), "ink", WIRE)]
    long, short = (22.0, 2.0), (11.0, 5.0)
    first, second = (long, short) if plus_up else (short, long)
    plates = ((10, *first), (18, *second), (32, *first), (40, *second))
    for down, half, thick in plates:
        at = y + down
        parts.append(svg.line((x - half, at), (x + half, at), "ink", thick))
    parts.append(svg.line((x, y + 21), (x, y + 30), "ink", WIRE, "2 2"))
    parts.append(
        svg.text(x - 26, y + 9, "+" if plus_up else "−", size=NAME, anchor="end", bold=True)
    )
    parts.append(
        svg.text(x - 26, y + 48, "−" if plus_up else "+", size=NAME, anchor="end", bold=True)
    )
    way = "up" if plus_up else "down"
    return f'<g data-battery="plus {way}">{"".join(parts)}</g>', y + 42


def earth(x: float, y: float) -> str:
    """Return the sign of earth below a point."""
    parts = [svg.line((x, y), (x, y + 8), "ink", WIRE)]
    parts += [
        svg.line((x - half, y + down), (x + half, y + down), "ink", WIRE)
        for down, half in ((8, 12.0), (12, 8.0), (16, 4.0))
    ]
    return "".join(parts)


def switch(x1: float, x2: float, y: float, *, known: bool, dash: str) -> str:
    """Return an open switch between two points of a level line; one not stated has a mark."""
    a, b = x1 + 44, x2 - 44
    parts = [
        svg.line((x1, y), (a, y), "ink", 2.2, dash),
        svg.line((b, y), (x2, y), "ink", 2.2, dash),
    ]
    if not known:
        parts.append(svg.box(a, y - 11, b - a, 22, "paper", edge="ink", dash=BROKEN))
        parts.append(svg.text((a + b) / 2, y + 4, "?", size=NAME, anchor="middle", bold=True))
        return "".join(parts)
    parts.append(svg.line((a, y), (b - 6, y - 20), "ink", 2.2))
    parts += [svg.box(end - 3, y - 3, 6, 6, "ink") for end in (a, b)]
    return "".join(parts)


def resistor(x1: float, x2: float, y: float, down: float, *, known: bool, dash: str) -> str:
    """Return a path with a contact of its own and a resistor past the switch, below it.

    Without that contact the resistor would bridge the open switch for good.
    """
    a, b, low = x1 + 16, x2 - 16, y + down
    middle = (a + b) / 2
    opens, closes = a + 8, a + 30
    parts = [
        svg.path([(a, y), (a, low), (opens, low)], "soft", 1.3, dash),
        svg.path([(closes, low), (b, low), (b, y)], "soft", 1.3, dash),
        svg.line((opens, low), (closes - 4, low - 11), "soft", 1.3),
    ]
    parts += [svg.box(end - 2, low - 2, 4, 4, "soft") for end in (opens, closes)]
    parts.append(svg.box(middle - 22, low - 7, 44, 14, "paper", edge="soft", dash=dash))
    if not known:
        parts.append(svg.text(middle, low + 4, "?", size=SMALL, anchor="middle", bold=True))
    return "".join(parts)
