"""The live panel of arrangements: how many modules there are, and which arrangements suit."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.describe.build import Build
from evpack.outcome.search import Ranking
from evpack.search.arrangements import search_arrangements
from evpack.show.clean import prose
from evpack.show.html_search import ranking_html
from evpack.workbook.regions import STYLE, framed

_MOST = 96  # modules on the control; a few hundred arrangements, a second


class ArrangementPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """One number to turn over; the arrangements that it allows follow, ranked.

    Parameters
    ----------
    build : Build
        Its equipment is kept; the modules that it says are available are where the panel begins.
    """

    def __init__(self, build: Build) -> None:
        self._build = build
        begins = build.pack.module.available or build.pack.modules
        self.modules = widgets.BoundedIntText(
            value=min(begins, _MOST),
            min=1,
            max=_MOST,
            description="modules at hand",
            style={"description_width": "initial"},
        )
        self.bar = widgets.IntProgress(value=0, max=1, description="")
        self.bar.layout.visibility = "hidden"
        self.answer = widgets.HTML()
        self.ranking: Ranking | None = None
        super().__init__([widgets.HBox([self.modules, self.bar]), self.answer])
        self.modules.observe(self._moved, names="value")
        self._moved()

    def _moved(self, _change: Any = None) -> None:
        """Search anew, and say what is in the way in place."""
        self.bar.layout.visibility = "visible"
        try:
            self.ranking = search_arrangements(self._build, self.modules.value, progress=self._told)
        except EvpackError as problem:
            self.answer.value = STYLE + framed(f"<p><b>✕ {prose(problem)}</b></p>")
            return
        finally:
            self.bar.layout.visibility = "hidden"
        self.answer.value = STYLE + framed(ranking_html(self.ranking))

    def _told(self, done: int, of: int) -> None:
        self.bar.max, self.bar.value = of, done
