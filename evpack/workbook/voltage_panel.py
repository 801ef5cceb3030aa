"""The live panel of voltages: what modules of some cells really are, one to eight in series."""

from __future__ import annotations

from typing import Any

import attrs
import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.check.figures import pack_figures
from evpack.describe.build import Build
from evpack.describe.chemistry import Chemistry
from evpack.load.library import chemistry, library
from evpack.outcome.groundwork import PackFigures
from evpack.show.clean import prose
from evpack.show.figures import counts_table
from evpack.show.to_html import to_html
from evpack.workbook.regions import STYLE, framed, settled

_MOST_CELLS = 32  # of a module, on the control
_MOST = 8  # modules in series that are told
_NAMED = {"description_width": "9rem"}
_WIDE = widgets.Layout(width="28rem")


class VoltagePanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Kind and count of cells of a module; the real voltages of a pack follow.

    Parameters
    ----------
    build : Build
        Its module is where the panel begins. With other cells the chemistry's own voltages count,
        and the charge target is the chemistry's.
    """

    def __init__(self, build: Build) -> None:
        self._build = build
        module = build.pack.module
        held = [chemistry(entry.key) for entry in library() if entry.kind == "chemistry"]
        self._kinds = {_short(kind): kind for kind in (*held, module.chemistry)}
        self.kind = widgets.SelectionSlider(
            options=list(self._kinds),
            value=_short(module.chemistry),
            description="Kind of cells",
            style=_NAMED,
            layout=_WIDE,
        )
        self.cells = widgets.BoundedIntText(
            value=module.cells_in_series,
            min=1,
            max=max(_MOST_CELLS, module.cells_in_series),
            description="Cells in series",
            style=_NAMED,
            layout=widgets.Layout(width="15rem"),
        )
        self.reset = widgets.Button(
            description="Back to the build sheet", layout=widgets.Layout(width="13rem")
        )
        self.answer = widgets.HTML()
        super().__init__([self.kind, self.cells, self.reset, self.answer])
        for control in (self.kind, self.cells):
            control.observe(self._moved, names="value")
        self.reset.on_click(self._back)
        self._moved()

    def counted(self) -> tuple[PackFigures, ...]:
        """Return the figures of one to eight modules in series and of as many as the build has."""
        pack = self._build.pack
        module, policy = pack.module, self._build.policy
        if self._kind is not module.chemistry:
            module = attrs.evolve(
                module,
                chemistry=self._kind,
                cell_highest=None,
                cell_least=None,
                cell_nominal=None,
                ocv=None,
            )
            policy = attrs.evolve(policy, charge_target=None)
        module = attrs.evolve(module, cells_in_series=self.cells.value)
        counts = sorted({*range(1, _MOST + 1), pack.modules_in_series})
        return tuple(
            pack_figures(
                attrs.evolve(
                    self._build,
                    pack=attrs.evolve(pack, module=module, modules_in_series=k, strings=1),
                    policy=policy,
                )
            )
            for k in counts
        )

    def _refused(self) -> str:
        """Return why cells of this kind are not charged to a voltage; empty where they are."""
        kind = self._kind
        if kind.targets is not None:
            return ""
        return f'<p class="evp-notice"><b>✕ {prose(kind.name)}: {prose(kind.why_refused)}</b></p>'

    @property
    def _kind(self) -> Chemistry:
        return self._kinds[self.kind.value]

    def _back(self, _button: Any = None) -> None:
        module = self._build.pack.module
        self.kind.value, self.cells.value = _short(module.chemistry), module.cells_in_series

    def _moved(self, _change: Any = None) -> None:
        """Work the table out anew, and say what is in the way in place."""
        try:
            shown = self._refused() or to_html(counts_table(self.counted()))
        except EvpackError as problem:
            shown = f'<p class="evp-notice" role="alert"><b>✕ {prose(problem)}</b></p>'
        self.answer.value = STYLE + framed(shown)

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(super()._repr_mimebundle_(**kwargs))
        choices = [(c.description, c.value) for c in (self.kind, self.cells)]
        bundle["text/html"] = settled(choices, {"answer": self.answer.value})
        bundle["text/plain"] = "Voltages of modules in series"
        return bundle


def _short(kind: Chemistry) -> str:
    """Return the name of a chemistry without what stands in brackets, as a control has room for."""
    return kind.name.partition(" (")[0]
