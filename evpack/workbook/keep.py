"""Write what was turned over in a panel to a build sheet of its own: a new file, never over one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from evpack.base.errors import DescriptionError, EvpackError
from evpack.base.files import write_whole
from evpack.finished import as_built_record
from evpack.outcome.commissioning import CommissioningPlan
from evpack.show.clean import escaped
from evpack.workbook.regions import STYLE, framed
from evpack.workbook.starter import starter_text

_SUFFIX = ".toml"


class Keep(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A name to type, a button, and what came of it.

    Parameters
    ----------
    text_for : callable
        Takes the folder of the new file, and returns the text of the sheet; raises `EvpackError`
        where there is none.
    name, label : str
        Where the box begins, and what stands before it.
    """

    def __init__(
        self,
        text_for: Callable[[Path], str],
        name: str = "my-choice.toml",
        label: str = "New build sheet",
    ) -> None:
        self._text_for = text_for
        self.name = widgets.Text(
            value=name,
            description=label,
            tooltip="The name of a file that is not there yet",
            style={"description_width": "initial"},
            layout=widgets.Layout(width="20rem"),
        )
        self.button = widgets.Button(
            description="Write it",
            tooltip="Write a new file; one that is there is never replaced",
            layout=widgets.Layout(width="6rem"),
        )
        self.result = widgets.HTML()
        super().__init__([widgets.HBox([self.name, self.button]), self.result])
        self.button.on_click(self._write)

    def clear(self) -> None:
        """Take away what was said, once the choices are others."""
        if self.result.value:
            self.result.value = ""

    def _write(self, _button: object = None) -> None:
        try:
            target = _target(self.name.value)
            write_whole(target, self._text_for(target.parent))
        except EvpackError as problem:
            self._say(f'<p class="evp-notice" role="alert"><b>✕ {escaped(problem)}</b></p>')
            return
        self._say(
            f'<p class="evp-notice" role="status"><b>✓ Written: {escaped(target)}.</b> '
            "A workbook takes it by its name, in the cell that says so.</p>"
        )

    def _say(self, html: str) -> None:
        self.result.value = STYLE + framed(html)


class Start(Keep):
    """A name, and a button that writes a build sheet to fill in."""

    def __init__(self) -> None:
        super().__init__(lambda _folder: starter_text(), "my-build.toml")


class StartRecord(Keep):
    """A name, and a button that writes an as-built record to fill in."""

    def __init__(self, plan: CommissioningPlan) -> None:
        self._plan = plan
        super().__init__(self._text, "my-record.toml", "New record")

    def _text(self, _folder: Path) -> str:
        if self._plan.withheld:
            raise DescriptionError("there is nothing to record yet: this design may not be built")
        return as_built_record(self._plan)


def _target(typed: str) -> Path:
    name = typed.strip()
    if not name:
        raise EvpackError("a name for the new file is needed, such as my-choice.toml")
    target = Path(name)
    if target.suffix != _SUFFIX:
        raise EvpackError(f"{name}: the name must end in {_SUFFIX}")
    return target
