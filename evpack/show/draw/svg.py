"""Pieces of a picture: real text, lines and boxes as SVG markup, and labels that keep apart.

Written by hand rather than drawn by a plotting library: a picture is then some ten kilobytes,
the same to the byte every time, and ready in a few milliseconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from evpack.show.clean import escaped, tied
from evpack.show.style import PAINT

FONT = "'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"
# Widths in the common sans-serif fonts differ; this is the mean letter of a wide one, so that
# what is kept apart here stays apart wherever it is shown.
_LETTER = 0.57
_NARROW = frozenset(" \u00a0.,:;'|!iIjlft()[]·-")


def width_of(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a text will be at most [px]."""
    letters = sum(0.36 if c in _NARROW else 0.86 if c in "mwMW%—→" else _LETTER for c in words)
    return letters * size * (1.07 if bold else 1.0)


def fill(name: str) -> str:
    """Return the attributes that fill a shape with a named colour."""
    return f'class="f-{name}" fill="{PAINT[name]}"'


def stroke(name: str, width: float = 1.0, dash: str = "") -> str:
    """Return the attributes that draw a line in a named colour."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'class="s-{name}" stroke="{PAINT[name]}" stroke-width="{width:g}"{dashes}'


def px(value: float) -> str:
    """Write a coordinate with one decimal, and never a minus zero."""
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


def text(
    x: float,
    y: float,
    words: object,
    *,
    size: float = 12,
    anchor: str = "start",
    colour: str = "ink",
    bold: bool = False,
    halo: bool = False,
) -> str:
    """Return a line of real text; a halo keeps it legible over lines."""
    weight = ' font-weight="700"' if bold else ""
    if not halo:
        paint = fill(colour)
    else:
        paint = (
            f'class="f-{colour} s-paper" fill="{PAINT[colour]}" stroke="{PAINT["paper"]}" '
            'stroke-width="3.5" stroke-linejoin="round" paint-order="stroke"'
        )
    return (
        f'<text x="{px(x)}" y="{px(y)}" font-size="{size:g}" text-anchor="{anchor}"{weight} '
        f"{paint}>{escaped(words)}</text>"
    )


def line(
    start: tuple[float, float],
    end: tuple[float, float],
    colour: str = "ink",
    width: float = 1.0,
    dash: str = "",
) -> str:
    """Return a straight line."""
    (x1, y1), (x2, y2) = start, end
    return (
        f'<line x1="{px(x1)}" y1="{px(y1)}" x2="{px(x2)}" y2="{px(y2)}" '
        f"{stroke(colour, width, dash)}/>"
    )


def box(
    x: float,
    y: float,
    width: float,
    height: float,
    colour: str,
    *,
    edge: str = "",
    dash: str = "",
) -> str:
    """Return a rectangle, filled, with an edge if one is named."""
    outline = ""
    classes, inside = ("", "none") if colour == "none" else (f"f-{colour}", PAINT[colour])
    if edge:
        classes += f" s-{edge}"
        outline = f' stroke="{PAINT[edge]}" stroke-width="1"'
        outline += f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{px(x)}" y="{px(y)}" width="{px(max(0.0, width))}" '
        f'height="{px(max(0.0, height))}" class="{classes.strip()}" fill="{inside}"{outline}/>'
    )


def hatch(x: float, y: float, width: float, height: float, colour: str, *, gap: float = 7.0) -> str:
    """Return slanted lines over a rectangle, so that a zone reads in grey print too.

    Drawn line by line: a pattern would need an id, and a page may hold many pictures.
    """
    steps: list[str] = []
    offset = gap
    while offset < width + height:
        x1, y1 = (x + offset, y) if offset <= width else (x + width, y + offset - width)
        x2, y2 = (x, y + offset) if offset <= height else (x + offset - height, y + height)
        steps.append(f"M{px(x1)} {px(y1)}L{px(x2)} {px(y2)}")
        offset += gap
    return f'<path d="{"".join(steps)}" fill="none" {stroke(colour, 0.7)}/>' if steps else ""


def path(points: Sequence[tuple[float, float]], colour: str, width: float, dash: str = "") -> str:
    """Return a line through points."""
    d = "L".join(f"{px(x)} {px(y)}" for x, y in points)
    return f'<path d="M{d}" fill="none" stroke-linejoin="round" {stroke(colour, width, dash)}/>'


def wrapped(words: str, size: float, most: float, lines: int, *, bold: bool = False) -> list[str]:
    """Break a text into lines that fit a width; what does not fit is cut with an ellipsis.

    A number stays with its unit.
    """
    rest = [word for word in tied(words).split(" ") if word]
    done: list[str] = []
    while rest and len(done) < lines:
        now = rest.pop(0)
        while rest and width_of(f"{now} {rest[0]}", size, bold=bold) <= most:
            now += " " + rest.pop(0)
        done.append(now)
    if rest:
        done[-1] += "…"
    return [_cut(one, size, most, bold=bold) for one in done]


def _cut(words: str, size: float, most: float, *, bold: bool) -> str:
    if width_of(words, size, bold=bold) <= most:
        return words
    words = words.rstrip("…")
    while words and width_of(words + "…", size, bold=bold) > most:
        words = words[:-1]
    return words.rstrip() + "…"


def apart(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Move labels along one axis until none overlaps another, each as near its place as can be.

    Parameters
    ----------
    wanted : sequence of float
        Where the middle of each label would like to be.
    sizes : sequence of float
        How much room each takes along the axis.
    low, high : float
        The ends of the axis. If the labels need more room than there is, they run over `high`.

    Returns
    -------
    list of float
        The middles, in the order given.

    Notes
    -----
    Labels that touch form a group, and a group sits where the mean of its wishes lies; groups
    that then touch are joined. Each joining makes one group fewer, so it ends.

    Examples
    --------
    >>> apart([10.0, 12.0], [10.0, 10.0], 0.0, 100.0)
    [6.0, 16.0]
    >>> apart([1.0], [10.0], 0.0, 100.0)
    [5.0]
    """
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], i))
    groups: list[tuple[list[int], float, float]] = []  # members, start, length
    for i in order:
        groups.append(([i], _held(wanted[i] - sizes[i] / 2, sizes[i], low, high), sizes[i]))
        while len(groups) > 1 and groups[-2][1] + groups[-2][2] > groups[-1][1] - 1e-9:
            members = groups[-2][0] + groups[-1][0]
            length = groups[-2][2] + groups[-1][2]
            groups[-2:] = [(members, _start(members, wanted, sizes, low, high), length)]
    middles = [0.0] * len(wanted)
    for members, start, _length in groups:
        at = start
        for i in members:
            middles[i] = at + sizes[i] / 2
            at += sizes[i]
    return middles


def _start(
    members: list[int], wanted: Sequence[float], sizes: Sequence[float], low: float, high: float
) -> float:
    before, total = 0.0, 0.0
    for i in members:
        total += wanted[i] - sizes[i] / 2 - before
        before += sizes[i]
    return _held(total / len(members), before, low, high)


def _held(start: float, length: float, low: float, high: float) -> float:
    return max(low, min(start, high - length))


def ticks(low: float, high: float, about: int) -> list[float]:
    """Return round numbers between two ends, about so many.

    Examples
    --------
    >>> ticks(40.0, 60.0, 5)
    [40.0, 45.0, 50.0, 55.0, 60.0]
    """
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        return []
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1, 2, 2.5, 5, 10) if power * m >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(k * step, 10) for k in range(first, last + 1)]


def picture(
    width: float, height: float, inner: str, *, title: str, description: str, data: str = ""
) -> str:
    """Return the whole picture, with the title and description that a screen reader tells.

    No element carries an id, so that any number of pictures can share a page. In a narrow place
    it shrinks only so far that its words stay legible; then the place must scroll.
    """
    least = f' style="min-width:{0.78 * width:.0f}px"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {px(width)} {px(height)}" '
        f'width="{px(width)}" height="{px(height)}" role="img" aria-label="{escaped(title)}" '
        f'font-family="{FONT}"{least}{data}><title>{escaped(title)}</title>'
        f"<desc>{escaped(description)}</desc>"
        f"{box(0, 0, width, height, 'paper')}{inner}</svg>"
    )


def notice(title: str, sentence: str, width: float = 860.0) -> str:
    """Return a picture that only says why there is none."""
    lines = wrapped(sentence, 13, width - 60, 4)
    inner = box(0.5, 0.5, width - 1, 30 + 20 * len(lines), "wash", edge="line")
    for k, words in enumerate(lines):
        inner += text(24, 32 + 20 * k, words, size=13)
    return picture(width, 32 + 20 * len(lines), inner, title=title, description=sentence)
