"""Read a picture back: its texts with the room they take, and its marks."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from collections.abc import Iterator

from evpack.show.draw import svg

SVG = "{http://www.w3.org/2000/svg}"
Box = tuple[float, float, float, float]


def root(picture: str) -> ET.Element:
    return ET.fromstring(picture)  # noqa: S314  our own picture


def texts(picture: str) -> Iterator[tuple[str | None, Box]]:
    """Yield each text with the box that it takes at most."""
    for element in root(picture).iter(f"{SVG}text"):
        size = float(element.get("font-size"))
        wide = svg.width_of(element.text or "", size, bold=element.get("font-weight") == "700")
        x, y = float(element.get("x")), float(element.get("y"))
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[element.get("text-anchor")]
        yield element.text, (left, y - 0.74 * size, left + wide, y + 0.2 * size)


def meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def marks(picture: str) -> dict[tuple[str, str], ET.Element]:
    return {
        (column.get("data-column"), mark.get("data-name")): mark
        for column in root(picture).iter(f"{SVG}g")
        if column.get("data-column")
        for mark in column.iter(f"{SVG}g")
        if mark.get("data-name")
    }


def overlaps(picture: str) -> list[tuple[str | None, str | None]]:
    return [
        (one, other)
        for (one, a), (other, b) in itertools.combinations(texts(picture), 2)
        if meet(a, b)
    ]


def outside(picture: str) -> list[str | None]:
    _, _, width, height = map(float, root(picture).get("viewBox", "").split())
    return [
        words
        for words, (left, top, right, bottom) in texts(picture)
        if left < 0 or top < 0 or right > width or bottom > height
    ]
