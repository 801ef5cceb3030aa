"""The live panel of a year: drag a threshold and see the year move."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import attrs
import ipywidgets as widgets

from evpack.base.errors import DescriptionError, EvpackError
from evpack.base.units import TIME, VOLTAGE
from evpack.base.wording import number
from evpack.describe.operation import BATTERY_FIRST, MODES, Operation
from evpack.describe.ranges import VoltageRange
from evpack.outcome.design import Design
from evpack.outcome.operation import OperationRun
from evpack.outcome.settings import Line
from evpack.search.sheet_out import edited_sheet
from evpack.show import pieces
from evpack.show.clean import prose
from evpack.show.operation import operation_figures, operation_pictures
from evpack.show.to_html import to_html
from evpack.simulate.operation import simulate_operation
from evpack.workbook.keep import Keep
from evpack.workbook.regions import STYLE, framed, settled

_WIDE = widgets.Layout(width="26rem")
_NAMED = {"description_width": "12rem"}
_MOST_LOAD = 300  # per cent of the load of the sheet


class OperationPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Sliders for the thresholds, the delay and the load; the year runs again with each move.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    operation : Operation, optional
        Where the sliders begin; by default that of the build sheet.

    Attributes
    ----------
    run : OperationRun
        Of the sliders as they stand.
    """

    def __init__(self, design: Design, operation: Operation | None = None) -> None:
        self._design = design
        self.run: OperationRun = simulate_operation(design, operation)
        found = operation or design.build.operation
        assert found is not None  # noqa: S101  (told to the type checker; the run above asked)
        self._start = found
        used = self.run.thresholds
        inverters = design.build.inverters
        self.mode = widgets.ToggleButtons(
            options=MODES, value=found.mode, description="Mode", style=_NAMED
        )
        self.changeover = self._volts(
            "Changeover",
            used.get(Line.CHANGEOVER),
            self._reach(i.changeover for i in inverters),
        )
        self.back = self._volts(
            "Return to battery",
            used.get(Line.RETURN),
            self._reach(i.return_to_battery for i in inverters),
        )
        self.delay = widgets.FloatSlider(
            value=float(found.return_delay.m) / 60,
            min=0,
            max=60,
            step=1,
            description="Delay of the return, min",
            style=_NAMED,
            layout=_WIDE,
            readout_format=".0f",
        )
        self.load = widgets.IntSlider(
            value=100,
            min=10,
            max=_MOST_LOAD,
            step=5,
            description="Load, % of the sheet's",
            style=_NAMED,
            layout=_WIDE,
        )
        self.reset = widgets.Button(
            description="Back to the build sheet", layout=widgets.Layout(width="13rem")
        )
        self.message, self.answer = widgets.HTML(), widgets.HTML()
        self._beginning = {name: control.value for name, control in self._controls().items()}
        self._silent = False
        self.keep = Keep(self._sheet)
        below = (self.reset, self.keep, self.message, self.answer)
        super().__init__([*self._controls().values(), *below])
        for control in self._controls().values():
            control.observe(self._moved, names="value")
        self.reset.on_click(self._back)
        self._show()

    def _controls(self) -> dict[str, Any]:
        return {
            "mode": self.mode,
            "changeover": self.changeover,
            "back": self.back,
            "delay": self.delay,
            "load": self.load,
        }

    def _reach(self, offered: Iterable[object]) -> tuple[float, float]:
        """Return what every inverter lets a person enter, else all that the pack can show."""
        ranges = [one for one in offered if isinstance(one, VoltageRange)]
        low, high = (
            max((float(r.low.m) for r in ranges), default=-math.inf),
            min((float(r.high.m) for r in ranges), default=math.inf),
        )
        pack = self._design.build.pack
        if not ranges or low >= high:
            return float(pack.least.m), float(pack.highest.m)
        return low, high

    @staticmethod
    def _volts(name: str, value: float | None, ends: tuple[float, float]) -> Any:
        """Return a slider of a threshold; one that nobody settled cannot be moved."""
        low, high = ends
        return widgets.FloatSlider(
            value=low if value is None else value,
            min=min(low, high if value is None else value),
            max=max(high, low if value is None else value),
            step=0.1,
            description=f"{name}, V",
            style=_NAMED,
            layout=_WIDE,
            readout_format=".1f",
            disabled=value is None,
        )

    def operation(self) -> Operation:
        """Return the operation of the sliders as they stand."""
        load = self._start.load
        changes: dict[str, Any] = {
            "mode": self.mode.value,
            "return_delay": TIME.of(self.delay.value * 60),
            "load": attrs.evolve(load, values=load.values * (self.load.value / 100)),
        }
        if self.mode.value != BATTERY_FIRST:
            changes["mains_charging"] = (
                "never" if self.mode.value == "island" else self._start.mains_charging
            )
        elif not self.changeover.disabled:
            changes["changeover"] = VOLTAGE.of(self.changeover.value)
        if self.mode.value == BATTERY_FIRST and not self.back.disabled:
            changes["return_to_battery"] = VOLTAGE.of(self.back.value)
        return attrs.evolve(self._start, **changes)

    def _sheet(self, folder: Path) -> str:
        """Return the text of a build sheet with the sliders as they stand."""
        build = self._design.build
        if self._start is not build.operation:
            raise DescriptionError(
                "this operation was not read from the build sheet: write it there"
            )
        moved = {
            name: control
            for name, control in self._controls().items()
            if control.value != self._beginning[name]
        }
        if not moved:
            raise DescriptionError("nothing is turned over yet, so there is nothing to write")
        wanted = self.operation()
        entries: dict[str, int | str] = {}
        if "mode" in moved:
            entries |= {"mode": wanted.mode, "mains_charging": wanted.mains_charging}
        # Another mode does not work by them, so that what was turned over there did not run.
        by_thresholds = wanted.mode == BATTERY_FIRST
        if "changeover" in moved and by_thresholds:
            entries["changeover"] = f"{number(self.changeover.value, 6)} V"
        if "back" in moved and by_thresholds:
            entries["return_to_battery"] = f"{number(self.back.value, 6)} V"
        if "delay" in moved:
            entries["return_delay"] = f"{self.delay.value:g} min"
        tables = {"operation": entries} if entries else {}
        if "load" in moved:
            tables["operation.load"] = {"energy": self._energy(wanted)}
        return edited_sheet(build, tables, attrs.evolve(build, operation=wanted), folder=folder)

    def _energy(self, wanted: Operation) -> str:
        """Return what a day takes, for a load that the sheet gives by its shape."""
        given = tomllib.loads(self._design.build.sheet).get("operation", {}).get("load", {})
        if "shape" not in given:
            raise DescriptionError(
                "the load of the sheet is no shape with its energy: set it back to 100 %, and "
                "scale its powers in the sheet or in its file"
            )
        return f"{number(float(wanted.load.values.sum()) / 1e3, 6)} kWh"  # 24 values, an hour each

    def _back(self, _button: Any = None) -> None:
        self._silent = True
        for name, control in self._controls().items():
            control.value = self._beginning[name]
        self._silent = False
        self._moved()

    def _moved(self, _change: Any = None) -> None:
        """Run the year anew, and say what is in the way in place."""
        if self._silent:
            return
        try:
            self.run = simulate_operation(self._design, self.operation())
        except EvpackError as problem:
            self.message.value = STYLE + framed(f"<p><b>✕ {prose(problem)}</b></p>")
            return
        self.message.value = ""
        self.keep.clear()
        self._show()

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(super()._repr_mimebundle_(**kwargs))
        choices = [
            (control.description, control.value)
            for control in self._controls().values()
            if not control.disabled
        ]
        bundle["text/html"] = settled(choices, {"answer": self.answer.value})
        bundle["text/plain"] = f"A year of '{self.run.title}'"
        return bundle

    def _show(self) -> None:
        run = self.run
        told = (*operation_figures(run), *operation_pictures(run), *pieces.found(run.findings))
        self.answer.value = STYLE + framed(to_html(told))
