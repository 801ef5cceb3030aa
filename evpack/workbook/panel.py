"""The live panel: turn a few choices over and see the whole answer move with them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets as widgets

from evpack.base.errors import DescriptionError, EvpackError
from evpack.describe.build import Build
from evpack.load.sheet import parse_sheet
from evpack.outcome.design import Decision, Design
from evpack.search.sheet_out import edited_sheet, with_entries
from evpack.workbook.choices import (
    Choice,
    Entries,
    as_sheet,
    choices_of,
    sheet_entries,
    tidy,
    with_choices,
)
from evpack.workbook.keep import Keep
from evpack.workbook.kernel import sharing
from evpack.workbook.regions import (
    REGIONS,
    STYLE,
    answer,
    framed,
    keys_of,
    notice,
    settled,
    to_keep,
)
from evpack.workbook.what_if import rows_of, what_if

_SLIDER = widgets.Layout(width="23rem")
_BOX = widgets.Layout(width="5.5rem")
_CONTROLS = widgets.Layout(width="31rem")
_BESIDE = widgets.Layout(flex="1 1 20rem", min_width="20rem")
_TOP = widgets.Layout(flex_flow="row wrap", align_items="flex-start")


class Panel:
    """Controls for a build, and the answer beside them, moving at once.

    Parameters
    ----------
    build : Build
        Where the controls start, and where the reset button leads back to.
    rest : bool
        Whether a page without a kernel shows the remaining regions below the choices; False where
        it has them elsewhere.

    Attributes
    ----------
    build : Build
        With the choices as they stand.
    decision : Decision
        Of that build.
    """

    regions: ClassVar[tuple[str, ...]] = REGIONS
    choices: ClassVar[tuple[str, ...]] = ()  # keys of the controls; empty for all that there are
    # How many values of which control a page without a kernel can be turned through: those that
    # teach most, since their answers multiply.
    what_if: ClassVar[Mapping[str, int]] = {
        "modules_in_series": 3,
        "strings": 4,
        "charge_target": 3,
        "continuous_load": 3,
    }
    bars: ClassVar[bool] = True  # whether they are drawn as bars of energy and of voltage there

    def __init__(self, build: Build, *, rest: bool = True) -> None:
        self.start = build
        self._rest = rest
        self.build = build
        self.decision: Decision
        self._readable = _readable(build)
        self._choices = {choice.key: choice for choice in self._choices_of(build)}
        self._values = {key: choice.value for key, choice in self._choices.items()}
        self._rows = {
            key: (_Pick if choice.options else _Row)(choice, self._take)
            for key, choice in self._choices.items()
        }
        self._regions = {name: widgets.HTML() for name in (*self.regions, "message", "keep")}
        self._regions["verdict"].layout = _BESIDE
        reset = widgets.Button(
            description="Back to the build sheet",
            tooltip="Set every control back to what the build sheet says",
            layout=widgets.Layout(width="13rem"),
        )
        reset.on_click(self._reset)
        self._why = widgets.Checkbox(
            description="Lay open why each number is what it is", indent=False
        )
        self._why.observe(lambda _change: self._refresh(), "value")
        self.keep = Keep(self._sheet)
        rows = [row.box for row in self._rows.values()]
        said = (self._regions["message"], self._regions["keep"])
        controls = widgets.VBox([*rows, reset, self._why, *said, self.keep], layout=_CONTROLS)
        below = [self._regions[name] for name in self.regions if name != "verdict"]
        top = widgets.HBox([controls, self._regions["verdict"]], layout=_TOP)
        self._box = widgets.VBox([widgets.HTML(STYLE), top, *below])
        self._refresh()

    # What a panel of other choices puts in the place of these five.

    def _choices_of(self, build: Build) -> tuple[Choice, ...]:
        return tuple(c for c in choices_of(build) if c.key in self.choices or not self.choices)

    def _changed(self, build: Build, typed: dict[str, int | str]) -> Build:
        return with_choices(build, **typed)  # type: ignore[arg-type]  # by each control

    def _entries(self, before: Build, after: Build) -> Entries:
        return sheet_entries(before, after)

    def _answer(self, build: Build, *, why: bool) -> tuple[Decision, dict[str, str]]:
        decision, shown = answer(build, why=why)
        return decision, {name: shown[name] for name in self.regions}

    def _as_written(self, build: Build) -> Build:
        """Return the build as its sheet would be read, so that what is shown is what is written.

        A build that was read from no sheet, or from one whose bench record is not at hand here, is
        shown as it is.
        """
        if build is self.start or not self._readable:
            return build
        entries = self._entries(self.start, build)
        return parse_sheet(with_entries(self.start, entries), "build sheet", folder=Path())

    def _keys(self, made: Design, *, entered: bool) -> Iterable[tuple[str, ...]]:
        return keys_of(made, entered=entered)

    def _sheet(self, folder: Path) -> str:
        """Return the text of a build sheet with the choices as they stand."""
        if self.build is self.start:
            raise DescriptionError("nothing is turned over yet, so there is nothing to write")
        entries = self._entries(self.start, self.build)
        return edited_sheet(self.start, entries, self.build, folder=folder)

    def set(self, **values: float | str) -> None:
        """Set controls by name, in their units, as if they were typed: ``set(reserve=30)``."""
        for key, value in values.items():
            self._take(key, value)

    def _take(self, key: str, value: float | str) -> None:
        """Take a new value from either control of a row; the second event of a move is none."""
        if isinstance(value, float):
            value = tidy(value)  # a slider of tenths gives 1.8000000000000003
        if value == self._values[key]:
            return
        self._values[key] = value
        if self._refresh():
            self._rows[key].show(value)

    def _reset(self, _button: object) -> None:
        for key, choice in self._choices.items():
            self._values[key] = choice.value
            self._rows[key].show(choice.value)
        self._refresh()

    def _refresh(self) -> bool:
        """Work the answer out anew; a choice that cannot exist is said and changes nothing."""
        try:
            typed = {key: self._choices[key].typed(v) for key, v in self._values.items()}
            build = self._as_written(self._changed(self.start, typed))
            decision, shown = self._answer(build, why=self._why.value)
        except EvpackError as problem:
            self._put("message", notice(f"{problem}. What is shown below is the choice before."))
            return False
        self.build, self.decision = build, decision
        self._put("message", "")
        self._put("keep", to_keep(as_sheet(self._entries(self.start, build))))
        self.keep.clear()
        for name, html in shown.items():
            self._put(name, html)
        return True

    def _put(self, region: str, html: str) -> None:
        # A region that stays the same is not sent again.
        if self._regions[region].value != html:
            self._regions[region].value = html

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        """Return the live controls, and the state they show for pages without a kernel."""
        bundle: dict[str, Any] = dict(self._box._repr_mimebundle_(**kwargs))
        bundle["text/html"] = (self._explored() if sharing() else "") or self._settled()
        bundle["text/plain"] = f"Panel for '{self.build.title}': {self.decision.verdict}"
        return bundle

    def _settled(self) -> str:
        """Return the choices as text, and all that they lead to."""
        shown = {name: self._regions[name].value for name in self.regions}
        return settled([(c.label, c.typed(self._values[c.key])) for c in self._all()], shown)

    def _explored(self) -> str:
        """Return choices that can be turned over in a page; "" where they are too many."""
        for fewer in (0, 1):
            counts = {key: max(2, count - fewer) for key, count in self.what_if.items()}
            rows = rows_of(self._all(), self._values, counts)
            turned = {row.choice.key for row in rows}
            fixed = [(c, c.typed(self._values[c.key])) for c in self._all() if c.key not in turned]
            found = what_if(
                self.start, rows, self._changed, fixed=fixed, keys=self._keys, bars=self.bars
            )
            if found:
                return STYLE + found + (self._below() if self._rest else "")
        return ""

    def _below(self) -> str:
        """Return the remaining regions; numbers to enter are those of the sheet alone."""
        own = self.build is self.start
        whose = "of the sheet" if own else "that is picked when this page is opened"
        left_out = {"verdict", "figures"} if own else {"verdict", "figures", "settings"}
        said = f"<p>What follows is of the design {whose}, whatever is picked above.</p>"
        shown = [self._regions[name].value for name in self.regions if name not in left_out]
        return framed(said) + "".join(shown) if shown else ""

    def _all(self) -> Iterable[Choice]:
        return self._choices.values()


def _readable(build: Build) -> bool:
    """Return whether the sheet of a build can be read again where the workbook runs."""
    try:
        parse_sheet(build.sheet, folder=Path())
    except EvpackError:
        return False
    return True


class _Row:
    """A label, a slider and a box to type in: two hands on one value."""

    def __init__(self, choice: Choice, take: Any) -> None:
        self._key, self._take, self._silent = choice.key, take, False
        slider = widgets.IntSlider if choice.whole else widgets.FloatSlider
        number = widgets.IntText if choice.whole else widgets.FloatText
        reach = {"min": choice.low, "max": choice.high, "step": choice.step}
        if choice.whole:
            reach = {name: int(value) for name, value in reach.items()}
        value = int(choice.value) if choice.whole else choice.value
        self.slider = slider(
            value=value,
            description=choice.label,
            style={"description_width": "11.5rem"},
            readout=False,
            layout=_SLIDER,
            **reach,
        )
        self.number = number(
            value=value,
            step=reach["step"],
            tooltip=f"{choice.label}: type a value",
            layout=_BOX,
        )
        self.box = widgets.HBox([self.slider, self.number, widgets.Label(choice.unit)])
        self.slider.observe(self._moved, "value")
        self.number.observe(self._moved, "value")

    def show(self, value: Any) -> None:
        """Show a value on both; a typed one beyond the slider's reach stretches it."""
        with self._quiet():
            self.number.value = value
            if self.slider.min <= value:
                self.slider.max = max(self.slider.max, value)
            self.slider.value = value

    def _moved(self, change: Any) -> None:
        if not self._silent:
            self._take(self._key, change["new"])

    @contextmanager
    def _quiet(self) -> Iterator[None]:
        """Keep the answering event of the other control from being taken for a move."""
        self._silent = True
        try:
            yield
        finally:
            self._silent = False


class _Pick:
    """A label and a slider over a list of words.

    No drop-down: in JupyterLab's command mode its arrow keys go to the notebook.
    """

    def __init__(self, choice: Choice, take: Any) -> None:
        self._key, self._take, self._silent = choice.key, take, False
        self.list = widgets.SelectionSlider(
            options=choice.options,
            value=choice.value,
            description=choice.label,
            style={"description_width": "11.5rem"},
            layout=_SLIDER,
        )
        self.box = widgets.HBox([self.list])
        self.list.observe(self._moved, "value")

    def show(self, value: Any) -> None:
        """Show a value."""
        self._silent = True
        try:
            self.list.value = value
        finally:
            self._silent = False

    def _moved(self, change: Any) -> None:
        if not self._silent:
            self._take(self._key, change["new"])
