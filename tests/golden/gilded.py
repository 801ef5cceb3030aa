"""What evpack tells of its examples, as it is: in text, as pages, as JSON.

Golden: these files were made by evpack and looked at, not worked out by anybody else. They hold
fast what is told while the house is rebuilt. ``python tests/golden/gilded.py`` makes them anew
after a change that is meant; look at the difference before you keep it.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import evpack
from evpack.decide import decide
from evpack.design import design
from evpack.load.as_built import example_as_built
from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.outcome.design import Decision
from evpack.show import as_html, decision_text
from evpack.show.doc import document
from evpack.show.matching import heap_page
from evpack.show.operation import operation_page
from evpack.show.to_html import to_html
from evpack.show.to_json import to_json
from evpack.show.wall import wall_page

KEPT = Path(__file__).parent / "kept"
EXAMPLES = ("wether-barn", "twelve", "low-shed", "left-on", "split-house")
_WIDE = 200  # characters of a line of JSON's text

# --- Made once ------------------------------------------------------------------------------------


@functools.cache
def decided(name: str) -> Decision:
    return decide(design(read_sheet(example(name))))


@functools.cache
def plan() -> evpack.CommissioningPlan:
    return evpack.commissioning_plan(decided("wether-barn"))


@functools.cache
def heap() -> object:
    return evpack.match_heap(evpack.read_batch(evpack.example_batch("hill-heap")), proven=False)


@functools.cache
def year() -> object:
    text = example("wether-barn").read_text(encoding="utf-8")
    text = text.replace("[operation]", '[operation]\nlength = "2 days"')
    return evpack.simulate_operation(design(parse_sheet(text)))


@functools.cache
def ways() -> object:
    return evpack.find_ways(read_sheet(example("low-shed")))


@functools.cache
def arrangements() -> object:
    return evpack.search_arrangements(read_sheet(example("twelve")))


@functools.cache
def growth() -> object:
    return evpack.search_growth(read_sheet(example("wether-barn")))


@functools.cache
def trade_offs() -> object:
    return evpack.search_trade_offs(read_sheet(example("twelve")), module_price="40 EUR")


@functools.cache
def trial() -> object:
    return evpack.try_settings(decided("wether-barn").design)


@functools.cache
def as_built() -> object:
    return evpack.check_as_built(plan(), example_as_built("wether-barn"))


# --- As it is kept --------------------------------------------------------------------------------


def as_kept_json(record: object) -> str:
    """Return a record with numbers to nine digits: the tenth is the machine's."""
    return json.dumps(_rounded(record), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    return value


class _Lines(HTMLParser):
    """The words of a page, one line for each text, behind the tags that it stands in."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.lines: list[str] = []
        self._in: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag not in {"br", "img", "input", "meta", "hr", "line", "rect", "path", "circle"}:
            self._in.append(f"{tag}.{given['class']}" if given.get("class") else tag)
        for name in ("title", "aria-label", "alt"):
            if given.get(name):
                self.lines.append(f"{self._in[-1] if self._in else ''} @{name}: {given[name]}")

    def handle_endtag(self, tag: str) -> None:
        while self._in and self._in.pop().partition(".")[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        words = " ".join(data.split())
        if words and not any(part.startswith("style") for part in self._in):
            self.lines.append(f"{' '.join(self._in[-2:])}: {words}")


_DAY = re.compile(r"\b20\d\d-\d\d-\d\d(?: \d\d:\d\d [+-]\d{4})?")


def as_kept_page(page: str) -> str:
    """Return what a page tells: its words and where they stand; pictures by their words alone."""
    reader = _Lines()
    reader.feed(page)
    reader.close()
    return _DAY.sub("A DAY", "\n".join(reader.lines)) + "\n"


TOLD: dict[str, Callable[[], str]] = {
    **{
        f"{name}.{ending}": functools.partial(lambda n, tell: tell(n), name, tell)
        for name in EXAMPLES
        for ending, tell in (
            ("answer", lambda n: decision_text(decided(n)) + "\n"),
            ("txt", lambda n: decision_text(decided(n), full=True) + "\n"),
            ("page", lambda n: as_kept_page(as_html(decided(n)))),
            ("json", lambda n: as_kept_json(to_json(decided(n)))),
        )
    },
    "heap.txt": lambda: evpack.as_text(heap()) + "\n",
    "heap.page": lambda: as_kept_page(heap_page(heap())),
    "heap.json": lambda: as_kept_json(to_json(heap())),
    "year.txt": lambda: evpack.as_text(year()) + "\n",
    "year.page": lambda: as_kept_page(operation_page(year(), None)),
    "year.json": lambda: as_kept_json(to_json(year())),
    "ways.txt": lambda: evpack.as_text(ways()) + "\n",
    "ways.page": lambda: as_kept_page(as_html(ways())),
    "ways.json": lambda: as_kept_json(to_json(ways())),
    "arrangements.txt": lambda: evpack.as_text(arrangements()) + "\n",
    "arrangements.page": lambda: as_kept_page(as_html(arrangements())),
    "arrangements.json": lambda: as_kept_json(to_json(arrangements())),
    "growth.txt": lambda: evpack.as_text(growth()) + "\n",
    "growth.page": lambda: as_kept_page(as_html(growth())),
    "growth.json": lambda: as_kept_json(to_json(growth())),
    "trade-offs.txt": lambda: evpack.as_text(trade_offs()) + "\n",
    "trade-offs.page": lambda: as_kept_page(as_html(trade_offs())),
    "trade-offs.json": lambda: as_kept_json(to_json(trade_offs())),
    "trial.txt": lambda: evpack.as_text(trial()) + "\n",
    "trial.page": lambda: as_kept_page(as_html(trial())),
    "trial.json": lambda: as_kept_json(to_json(trial())),
    "commissioning.txt": lambda: evpack.as_text(plan()) + "\n",
    "commissioning.page": lambda: as_kept_page(to_html(document(plan()))),
    "commissioning.json": lambda: as_kept_json(to_json(plan())),
    "as-built.txt": lambda: evpack.as_text(as_built()) + "\n",
    "as-built.page": lambda: as_kept_page(as_html(as_built())),
    "as-built.json": lambda: as_kept_json(to_json(as_built())),
    "wall.page": lambda: as_kept_page(wall_page(plan(), on="2026-01-01")),
}


def main() -> None:
    """Make all of them anew."""
    for name, tell in TOLD.items():
        (KEPT / name).write_text(tell(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
