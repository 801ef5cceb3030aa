"""The live panels of searches: which arrangements suit, and what to pick of a trade-off."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.describe.build import Build
from evpack.outcome.search import Candidate, Ranking
from evpack.search.arrangements import search_arrangements
from evpack.search.tradeoff import search_trade_offs
from evpack.show.clean import escaped, prose
from evpack.show.html_search import ranking_html, trade_off_html
from evpack.workbook.regions import STYLE, framed

_MOST = 96  # modules on the control; a few hundred arrangements, a second


class TradeOffPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A point of the trade-off to pick, and the lines of the build sheet that make it.

    Parameters
    ----------
    build : Build
        As read from a sheet; of another one the changes are told in words.
    """

    def __init__(self, build: Build) -> None:
        self._build = build
        self.found = search_trade_offs(build)
        names = [candidate.name for candidate in self.found.front]
        self.pick = widgets.Dropdown(options=names, description="pick")
        self.lines = widgets.HTML()
        picture = widgets.HTML(STYLE + framed(trade_off_html(self.found)))
        super().__init__([picture, self.pick, self.lines])
        self.pick.observe(self._picked, names="value")
        self._picked()

    @property
    def picked(self) -> Candidate | None:
        """Return the candidate that is picked: `evpack.write_sheet` writes its sheet."""
        return next((c for c in self.found.front if c.name == self.pick.value), None)

    def _picked(self, _change: Any = None) -> None:
        candidate = self.picked
        if candidate is None:
            self.lines.value = ""
            return
        made = "".join(
            f"<li><code>{escaped(c.place)} = {escaped(c.value)}</code></li>"
            for c in candidate.changes
        )
        self.lines.value = STYLE + framed(
            f"<p>In the build sheet, section and key:</p><ul>{made}</ul><p>Or write it as a sheet "
            'of its own: <code>write_sheet(build, "picked.toml", panel.picked)</code></p>'
        )


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
