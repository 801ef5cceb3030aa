"""The live panel: turn a few choices over and see the whole answer move with them.

A move goes from the control to an edit of the build (`evpack.edit`), through the whole design, to
the regions, each of which is sent as soon as it is worked out. All of it happens within the
message of the move: the browser holds back all but the newest value until that is done, so that
while a control is dragged the newest wins and the picture is never more than one move behind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from evpack.base.errors import EvpackError
from evpack.describe.batch import Batch
from evpack.describe.build import Build
from evpack.describe.equipment import EquipmentList
from evpack.describe.operation import Operation
from evpack.edit import edited
from evpack.outcome.design import Design
from evpack.outcome.matching import Matching
from evpack.workbook import listings
from evpack.workbook.controls import (
    BOX,
    BUTTONS,
    LIST,
    SLIDER,
    WORDS,
    Choice,
    Value,
    as_sheet,
    edits_of,
    tidy,
    turned,
)
from evpack.workbook.keep import Keep
from evpack.workbook.kernel import sharing
from evpack.workbook.listings import Listing, Turned
from evpack.workbook.regions import STYLE, framed, notice, settled, to_keep
from evpack.workbook.what_if import rows_of, what_if

_NAMED = {"description_width": "11.5rem"}
_SLIDER = widgets.Layout(width="23rem")
_LIST = widgets.Layout(width="32rem")
_BOX = widgets.Layout(width="5.5rem")
_NAMED_BOX = widgets.Layout(width="17rem")
_CONTROLS = widgets.Layout(width="31rem")
_BESIDE = widgets.Layout(flex="1 1 20rem", min_width="20rem")
_TOP = widgets.Layout(flex_flow="row wrap", align_items="flex-start")
_BEFORE = "What is shown below is the choice before."


class Panel:
    """Controls, and what comes of them beside or below, moving at once.

    Parameters
    ----------
    start : Build, or what the listing starts from
        Where the controls start, and where the reset button leads back to.
    listing : Listing, optional
        The controls and the regions; by default those of the whole decision on a build.
    rest : bool
        Whether a page without a kernel shows the remaining regions below the choices; False where
        it has them elsewhere.

    Attributes
    ----------
    build : Build or Batch
        With the choices as they stand.
    made : Decision or OperationRun, Matching, Ranking, Candidate
        What comes of it; None before anything did.
    """

    def __init__(self, start: Any, listing: Listing | None = None, *, rest: bool = True) -> None:
        self.listing = listings.decision(start) if listing is None else listing
        self.start = self.build = self.listing.start
        self.made: Any = None
        self._answered = False
        self._rest = rest
        self._choices = {choice.key: choice for choice in self.listing.controls}
        self._values = {key: choice.value for key, choice in self._choices.items()}
        self._turned = self._turn()
        self._rows = {key: _Row(choice, self._take) for key, choice in self._choices.items()}
        names = [name for name, _ in self.listing.regions]
        self._regions = {name: widgets.HTML() for name in (*names, "message", "keep")}
        self._bar = widgets.IntProgress(value=0, max=1)
        self._bar.layout.visibility = "hidden"
        self._why = widgets.Checkbox(
            description="Lay open why each number is what it is", indent=False
        )
        self._why.observe(lambda _change: self._refresh(), "value")
        self.keep = Keep(self._sheet, self.listing.file, self.listing.file_label)
        self._box = self._laid_out()
        self._refresh()

    def _laid_out(self) -> Any:
        """Return all widgets: controls, and the regions beside, above and below them."""
        listing, regions = self.listing, self._regions
        parts = [row.whole for row in self._rows.values()]
        if listing.back:
            reset = widgets.Button(
                description=listing.back,
                tooltip="Set every control back to where it began",
                layout=widgets.Layout(width="13rem"),
            )
            reset.on_click(self._reset)
            parts.append(reset)
        parts += [self._bar] if listing.slow else []
        parts += [self._why] if listing.whys else []
        parts += [regions["message"], regions["keep"]]
        parts += [self.keep] if listing.sheet is not None else []
        controls = widgets.VBox(parts, layout=_CONTROLS)
        apart = {listing.first, listing.above}
        below = [regions[name] for name, _ in listing.regions if name not in apart]
        top = controls
        if listing.first:
            regions[listing.first].layout = _BESIDE
            top = widgets.HBox([controls, regions[listing.first]], layout=_TOP)
        above = [regions[listing.above]] if listing.above else []
        return widgets.VBox([widgets.HTML(STYLE), *above, top, *below])

    @property
    def decision(self) -> Any:
        """Return the decision on the build as the choices stand."""
        return self.made

    def set(self, **values: Value) -> None:
        """Set controls by name, in their units, as if they were typed: ``set(reserve=30)``."""
        for key, value in values.items():
            self._take(key, value)

    def _take(self, key: str, value: Value) -> None:
        """Take a new value from either hand of a row; the second event of a move is none."""
        if isinstance(value, float):
            value = tidy(value)  # a slider of tenths gives 1.8000000000000003
        if value == self._values[key]:
            return
        self._values[key] = value
        self._refresh(key)

    def _reset(self, _button: object = None) -> None:
        for key, choice in self._choices.items():
            self._values[key] = choice.value
            self._rows[key].show(choice.value)
        self._refresh()

    def _turn(self) -> Turned:
        """Return the choices as they stand, with the build that they edit."""
        edits = edits_of(self.listing.controls, self._values)
        return Turned(values=dict(self._values), edits=edits, noun=edited(self.start, *edits))

    def _refresh(self, moved: str = "") -> None:
        """Work the answer out anew; a choice that cannot exist is said and changes nothing."""
        try:
            new = self._turn()
            made = self._worked_out(new)
        except EvpackError as problem:
            self._refuse(problem, moved)
            return
        self._turned, self.build, self.made = new, new.noun, made
        self._answered = True
        self._refuse(None)
        if moved:
            self._rows[moved].show(self._values[moved])
        self._tell()
        entries = self.listing.entries
        self._put("keep", "" if entries is None else to_keep(as_sheet(entries(new))))
        self.keep.clear()

    def _tell(self) -> None:
        """Send each region as soon as it is worked out; nothing stale stands below a new one."""
        left = [name for name, _ in self.listing.regions]
        try:
            for name, told in self.listing.regions:
                more = "evp-beside" if name == self.listing.first else ""
                self._put(name, framed(told(self.made, self._why.value), more))
                left.remove(name)
        finally:
            for name in left:
                self._put(name, "")

    def _worked_out(self, new: Turned) -> Any:
        self._bar.layout.visibility = "visible"
        try:
            return self.listing.make(new, self._progress)
        finally:
            self._bar.layout.visibility = "hidden"

    def _progress(self, done: int, of: int) -> None:
        self._bar.max, self._bar.value = of, done

    def _refuse(self, problem: EvpackError | None, moved: str = "") -> None:
        """Say what cannot be, at the control that it comes from; None takes it away."""
        told, at = "", ""
        if problem is not None:
            told = notice(f"{problem}. {_BEFORE}" if self._answered else str(problem))
            at = self._refused_at() or moved
        self._put("message", told if at not in self._rows else "")
        for key, row in self._rows.items():
            row.refuse(told if key == at else "")

    def _refused_at(self) -> str:
        """Return the control whose edit is refused; "" where it is all of them together."""
        noun = self.start
        for key, edit in turned(self.listing.controls, self._values):
            try:
                noun = edited(noun, edit)
            except EvpackError:
                return key
        return ""

    def _sheet(self, folder: Path) -> str:
        """Return the text of a build sheet with the choices as they stand."""
        assert self.listing.sheet is not None  # noqa: S101  (without it there is no button)
        return self.listing.sheet(self._turned, folder)

    def _put(self, region: str, html: str) -> None:
        # A region that stays the same is not sent again.
        if self._regions[region].value != html:
            self._regions[region].value = html

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(self._box._repr_mimebundle_(**kwargs))
        bundle["text/html"] = (self._explored() if sharing() else "") or self._settled()
        bundle["text/plain"] = self.listing.title(self.made)
        return bundle

    def _shown(self) -> dict[str, str]:
        return {name: self._regions[name].value for name, _ in self.listing.regions}

    def _settled(self) -> str:
        """Return the choices as text, and all that they lead to."""
        chosen = [(c.label, c.typed(self._values[c.key])) for c in self._all() if not c.fixed]
        said = self._regions["message"].value + "".join(
            r.problem.value for r in self._rows.values()
        )
        return settled(chosen, self._shown() if self._answered else {"message": said})

    def _explored(self) -> str:
        """Return choices that can be turned over in a page; "" where they are too many."""
        wanted = self.listing.what_if
        for fewer in (0, 1) if wanted is not None else ():
            assert wanted is not None  # noqa: S101  (told to the type checker)
            counts = {key: max(2, count - fewer) for key, count in wanted.counts.items()}
            rows = rows_of(self._all(), self._values, counts)
            fixed = [(c, self._values[c.key]) for c in self._all() if c.key not in counts]
            found = what_if(self.start, rows, fixed=fixed, keys=wanted.keys, bars=wanted.bars)
            if found:
                return STYLE + found + (self._below() if self._rest else "")
        return ""

    def _below(self) -> str:
        """Return the remaining regions; numbers to enter are those of the sheet alone."""
        own = self.build is self.start
        whose = "of the sheet" if own else "that is picked when this page is opened"
        left_out = {"verdict", "figures"} if own else {"verdict", "figures", "settings"}
        said = f"<p>What follows is of the design {whose}, whatever is picked above.</p>"
        shown = [html for name, html in self._shown().items() if name not in left_out]
        return framed(said) + "".join(shown) if shown else ""

    def _all(self) -> tuple[Choice, ...]:
        return self.listing.controls


class _Row:
    """A control: one hand or two on one value, and beside it what is wrong with that.

    A slider over words and no drop-down, where words are dragged: in JupyterLab's command mode the
    arrow keys of a drop-down go to the notebook.
    """

    def __init__(self, choice: Choice, take: Callable[[str, Value], None]) -> None:
        self._choice, self._take, self._silent = choice, take, False
        self.hands = [make(choice) for make in _HANDS[choice.kind]]
        unit = [widgets.Label(choice.unit)] if choice.unit or choice.kind == SLIDER else []
        self.box = widgets.HBox([*self.hands, *unit])
        self.problem = widgets.HTML()
        self.problem.layout.display = "none"
        self.whole = widgets.VBox([self.box, self.problem])
        for hand in self.hands:
            hand.disabled = choice.fixed
            hand.observe(self._moved, "value")

    @property
    def slider(self) -> Any:
        """Return the hand that is dragged or picked from."""
        return self.hands[0]

    @property
    def number(self) -> Any:
        """Return the hand that is typed in."""
        return self.hands[-1]

    def show(self, value: Any) -> None:
        """Show a value on every hand; a typed one beyond the slider's reach stretches it."""
        with self._quiet():
            for hand in reversed(self.hands):
                if self._choice.kind == SLIDER and hand is self.slider and value >= hand.min:
                    hand.max = max(hand.max, value)
                hand.value = value

    def refuse(self, told: str) -> None:
        """Say below the control what is wrong with its value; "" takes it away."""
        if self.problem.value != told:
            self.problem.value = told
            self.problem.layout.display = None if told else "none"

    def _moved(self, change: Any) -> None:
        if not self._silent:
            self._take(self._choice.key, change["new"])

    @contextmanager
    def _quiet(self) -> Iterator[None]:
        """Keep the answering event of the other hand from being taken for a move."""
        self._silent = True
        try:
            yield
        finally:
            self._silent = False


def _slider(choice: Choice) -> Any:
    whole = choice.whole
    reach = {"min": choice.low, "max": choice.high, "step": choice.step, "value": choice.value}
    return (widgets.IntSlider if whole else widgets.FloatSlider)(
        description=choice.label,
        style=_NAMED,
        readout=False,
        layout=_SLIDER,
        **{name: int(value) if whole else value for name, value in reach.items()},
    )


def _number(choice: Choice) -> Any:
    """Return the box beside a slider; its name is for those who do not see what it stands beside.

    Its width leaves no room for the name, which a screen reader tells all the same.
    """
    whole = choice.whole
    return (widgets.IntText if whole else widgets.FloatText)(
        value=int(choice.value) if whole else choice.value,
        step=int(choice.step) if whole else choice.step,
        description=f"{choice.label}, typed",
        style={"description_width": "0"},
        tooltip=f"{choice.label}: type a value",
        layout=_BOX,
    )


def _count(choice: Choice) -> Any:
    return widgets.BoundedIntText(
        value=int(choice.value),
        min=int(choice.low),
        max=int(choice.high),
        description=choice.label,
        style=_NAMED,
        layout=_NAMED_BOX,
    )


def _picked(kind: Any, layout: Any) -> Callable[[Choice], Any]:
    def make(choice: Choice) -> Any:
        return kind(
            options=choice.options,
            value=choice.value,
            description=choice.label,
            style=_NAMED,
            layout=layout,
        )

    return make


_HANDS: dict[str, tuple[Callable[[Choice], Any], ...]] = {
    SLIDER: (_slider, _number),
    BOX: (_count,),
    WORDS: (_picked(widgets.SelectionSlider, _SLIDER),),
    BUTTONS: (_picked(widgets.ToggleButtons, widgets.Layout()),),
    LIST: (_picked(widgets.Dropdown, _LIST),),
}


# The panels of the workbooks: each is a listing.


def FitPanel(build: Build, *, rest: bool = True) -> Panel:  # noqa: N802  as a class is called
    """Return the panel of how many modules stand in series, and how many strings."""
    return Panel(build, listings.fit(build), rest=rest)


def SettingsPanel(build: Build, *, rest: bool = True) -> Panel:  # noqa: N802
    """Return the panel of how high to charge, how much to keep, and what load."""
    return Panel(build, listings.settings(build), rest=rest)


def ProtectionPanel(build: Build, *, rest: bool = True) -> Panel:  # noqa: N802
    """Return the panel of strings and cables, and the protection that follows."""
    return Panel(build, listings.protection(build), rest=rest)


def VoltagePanel(build: Build) -> Panel:  # noqa: N802
    """Return the panel of kind and count of a module's cells, and the voltages of a pack.

    With other cells the chemistry's own voltages count, and the charge target is the chemistry's.
    """
    return Panel(build, listings.voltages(build))


def OperationPanel(design: Design, operation: Operation | None = None) -> Panel:  # noqa: N802
    """Return the panel of a year: thresholds, delay and load.

    Parameters
    ----------
    design : Design
        As `evpack.design` returns it.
    operation : Operation, optional
        Where the controls begin; by default that of the build sheet.
    """
    return Panel(design, listings.year(design, operation))


def HeapPanel(batch: Batch) -> Panel:  # noqa: N802
    """Return the panel of a heap: what it wants is where it begins."""
    return Panel(batch, listings.heap(batch))


def ArrangementPanel(build: Build, *, module_price: str | None = None) -> Panel:  # noqa: N802
    """Return the panel of how many modules there are, and the arrangements that they allow.

    Parameters
    ----------
    build : Build
        Its equipment is kept; the modules that it says are available are where the panel begins.
    module_price : str, optional
        What one module is worth: ``"40 EUR"``.
    """
    return Panel(build, listings.arrangements(build, module_price=module_price))


def TradeOffPanel(  # noqa: N802
    build: Build,
    modules: int | Matching | None = None,
    *,
    module_price: str | None = None,
    equipment: EquipmentList | None = None,
    budget: float | None = None,
) -> Panel:
    """Return the panel of a trade-off: a point to pick, and the build sheet that makes it.

    Parameters
    ----------
    build : Build
        As read from a sheet; of another one the changes are told, and no sheet is written.
    modules, module_price, equipment, budget
        As `search_trade_offs` takes them.
    """
    listing = listings.trade_offs(
        build, modules, module_price=module_price, equipment=equipment, budget=budget
    )
    return Panel(build, listing)
