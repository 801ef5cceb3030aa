"""The live panel of a heap: how many in series, how many strings, and see the groups move."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import attrs
import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.describe.batch import Batch
from evpack.matching import match_heap
from evpack.outcome.matching import Matching
from evpack.show.clean import prose
from evpack.show.doc import Block, Items, Para
from evpack.show.matching import groups
from evpack.show.to_html import to_html
from evpack.workbook.regions import STYLE, framed

_MOST = 20


class HeapPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Two numbers to turn over; groups, comparison and findings follow at once.

    Parameters
    ----------
    batch : Batch
        The heap; what it wants is where the panel begins.
    """

    def __init__(self, batch: Batch) -> None:
        self._batch = batch
        self._beginning = (batch.modules_in_series or 1, batch.strings or 1)
        most = max(1, min(_MOST, len(batch.modules)))
        self.series, self.strings = (
            widgets.BoundedIntText(
                value=min(value, most),
                min=1,
                max=most,
                description=words,
                style={"description_width": "initial"},
            )
            for value, words in zip(
                self._beginning, ("modules in series", "strings in parallel"), strict=True
            )
        )
        self.reset = widgets.Button(description="As the sheet wants it")
        self.answer = widgets.HTML()
        self.matching: Matching | None = None
        super().__init__([widgets.HBox([self.series, self.strings, self.reset]), self.answer])
        for control in (self.series, self.strings):
            control.observe(self._moved, names="value")
        self.reset.on_click(self._back)
        self._moved()

    def _back(self, _button: Any = None) -> None:
        self.series.value, self.strings.value = self._beginning

    def _moved(self, _change: Any = None) -> None:
        """Group anew by the quick answer, and say what is in the way in place."""
        try:
            wanted = attrs.evolve(
                self._batch, modules_in_series=self.series.value, strings=self.strings.value
            )
            self.matching = match_heap(wanted, proven=False)
        except EvpackError as problem:
            self.answer.value = STYLE + framed(f"<p><b>✕ {prose(problem)}</b></p>")
            return
        self.answer.value = STYLE + framed(to_html(_told(self.matching)))


def _told(matching: Matching) -> Iterator[Block]:
    if matching.grouping is None:
        yield Para("? No grouping is possible.", "strong")
    else:
        yield from groups(matching)
    found = [f for f in matching.findings if f.rule.key.startswith("group.") and f.remedy]
    yield Items(f"{f.detail} {f.remedy}" for f in found)
