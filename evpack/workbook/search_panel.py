"""The live panels of searches: which arrangements suit, and what to pick of a trade-off."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.describe.build import Build
from evpack.describe.equipment import EquipmentList
from evpack.outcome.matching import Matching
from evpack.outcome.search import Candidate, Change, Ranking
from evpack.search.arrangements import search_arrangements
from evpack.search.changes import DEVICES
from evpack.search.sheet_out import sheet_for
from evpack.search.tradeoff import search_trade_offs
from evpack.show.clean import escaped, prose
from evpack.show.doc import document
from evpack.show.search import choices
from evpack.show.to_html import to_html
from evpack.workbook.keep import Keep
from evpack.workbook.regions import STYLE, framed, settled

_MOST = 96  # modules on the control; a few hundred arrangements, a second


class TradeOffPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A point of the trade-off to pick, the lines of a build sheet that make it, and the sheet.

    Parameters
    ----------
    build : Build
        As read from a sheet; of another one the changes are told, and no sheet is written.
    modules, module_price, equipment, budget
        As `search_trade_offs` takes them.
    """

    def __init__(
        self,
        build: Build,
        modules: int | Matching | None = None,
        *,
        module_price: str | None = None,
        equipment: EquipmentList | None = None,
        budget: float | None = None,
    ) -> None:
        self._build, self._equipment = build, equipment
        self.found = search_trade_offs(
            build, modules, module_price=module_price, equipment=equipment, budget=budget
        )
        self.pick = widgets.Dropdown(
            options=[(f"{number}. {c.name}", number) for number, c in choices(self.found)],
            description="pick",
            layout=widgets.Layout(width="32rem"),
        )
        self.lines = widgets.HTML()
        self.keep = Keep(self._text, "picked.toml", "Write it as a build sheet")
        self.picture = widgets.HTML(STYLE + framed(to_html(document(self.found))))
        parts = [self.picture]
        if self.found.front:
            parts += [self.pick, self.lines, self.keep if build.sheet else _unwritten()]
        super().__init__(parts)
        self.pick.observe(self._picked, names="value")
        self._picked()

    @property
    def picked(self) -> Candidate | None:
        """Return the candidate that is picked."""
        return dict(choices(self.found)).get(self.pick.value)

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(super()._repr_mimebundle_(**kwargs))
        choices_ = [] if self.picked is None else [("picked", self.picked.name)]
        shown = {"picture": self.picture.value, "lines": self.lines.value}
        bundle["text/html"] = settled(choices_, shown)
        bundle["text/plain"] = f"What is gained and given up: {len(self.found.front)} choices"
        return bundle

    def _text(self, folder: Path) -> str:
        picked = self.picked
        assert picked is not None  # noqa: S101  (without one there is no button)
        return sheet_for(self._build, picked, equipment=self._equipment, folder=folder)

    def _picked(self, _change: Any = None) -> None:
        self.keep.clear()
        candidate = self.picked
        if candidate is None:
            self.lines.value = ""
            return
        made = "".join(f"<li>{_made(change)}</li>" for change in candidate.changes)
        self.lines.value = STYLE + framed(
            f"<p>In the build sheet, section and key:</p><ul>{made}</ul>"
        )


def _made(change: Change) -> str:
    """Return a change as the line of a sheet that makes it; a whole device by its name."""
    if change.place in DEVICES:
        return f"<code>[[{escaped(change.place)}]]</code>: {prose(change.says)}"
    return f"<code>{escaped(change.place)} = {escaped(change.value)}</code>"


def _unwritten() -> widgets.HTML:
    """Return why no sheet can be written."""
    return widgets.HTML(
        STYLE
        + framed(
            '<p class="evp-notice">It cannot be written as a build sheet: this build was made in '
            "Python and not read from one, so that there is no text to change. The lines above "
            "say what to change.</p>"
        )
    )


class ArrangementPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """One number to turn over; the arrangements that it allows follow, ranked.

    Parameters
    ----------
    build : Build
        Its equipment is kept; the modules that it says are available are where the panel begins.
    module_price : str, optional
        What one module is worth: ``"40 EUR"``.
    """

    def __init__(self, build: Build, *, module_price: str | None = None) -> None:
        self._build, self._price = build, module_price
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

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(super()._repr_mimebundle_(**kwargs))
        chosen = [(self.modules.description, self.modules.value)]
        bundle["text/html"] = settled(chosen, {"answer": self.answer.value})
        bundle["text/plain"] = f"Arrangements of {self.modules.value} modules"
        return bundle

    def _moved(self, _change: Any = None) -> None:
        """Search anew, and say what is in the way in place."""
        self.bar.layout.visibility = "visible"
        try:
            self.ranking = search_arrangements(
                self._build,
                self.modules.value,
                module_price=self._price,
                progress=self._told,
            )
        except EvpackError as problem:
            self.answer.value = STYLE + framed(f"<p><b>✕ {prose(problem)}</b></p>")
            return
        finally:
            self.bar.layout.visibility = "hidden"
        self.answer.value = STYLE + framed(to_html(document(self.ranking)))

    def _told(self, done: int, of: int) -> None:
        self.bar.max, self.bar.value = of, done
