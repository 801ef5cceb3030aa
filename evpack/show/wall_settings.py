"""A sheet for each device: what to enter, large enough to be read beside the display."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.outcome.design import Design
from evpack.outcome.settings import Act, DeviceSettings, Setting
from evpack.show.clean import prose
from evpack.show.html_tables import BLANK, table
from evpack.show.words import entry_words, per_cell

_HEADS = ("setting", "what to enter", "V a cell", "where on my device", "read back", "initials")
_WIDTHS = (26, 23, 9, 22, 11, 9)
_GLYPH = {Act.FIND_OUT: "? ", Act.CANNOT: "✕ "}


def settings_sheets(design: Design) -> Iterator[tuple[str, str]]:
    """Yield the name and the body of each device's sheet; of a design that works alone."""
    sheet = design.settings
    if sheet is None or sheet.withheld:
        return
    for device in sheet.devices:
        if device.lines:
            yield f"Settings: {device.device}", _device(device)


def _device(device: DeviceSettings) -> str:
    rows = "".join(_line(line) for line in device.lines)
    done = "".join(f"<div><span>{what}</span><br>{BLANK}</div>" for what in ("entered by", "date"))
    return (
        "<p>Enter each value, leave the menu, go back and read it: many devices round without a "
        "word. Set every device before any charger is connected.</p>"
        f'<div class="wall-settings">{table("", _HEADS, rows, rows=False, widths=_WIDTHS)}</div>'
        f'<div class="evp-sign-here">{done}</div>'
    )


def _line(line: Setting) -> str:
    words = line.entry if line.act is Act.ENTER else entry_words(line, withheld=False)
    entry = f"{_GLYPH.get(line.act, '')}{words}"
    why = f'<p class="evp-soft">{prose(line.why)}</p>' if line.why else ""
    return (
        f'<tbody><tr><th scope="row">{prose(line.name)}</th>'
        f'<td class="big-entry">{prose(entry)}</td><td>{prose(per_cell(line.per_cell))}</td>'
        f"<td>{prose(line.where) or BLANK}</td><td>{BLANK}</td><td>{BLANK}</td></tr>"
        f'<tr class="evp-under"><td colspan="{len(_HEADS)}">{why}</td></tr></tbody>'
    )
