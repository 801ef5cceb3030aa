"""A sheet for each device: what to enter, large enough to be read beside the display."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.outcome.design import Design
from evpack.outcome.settings import Act, DeviceSettings, Setting
from evpack.show.clean import prose
from evpack.show.html_tables import BLANK, table
from evpack.show.words import count_of, entry_words, per_cell

_HEADS = ("setting", "what to enter", "V a cell", "where on my device", "read back", "initials")
_WIDTHS = (26, 23, 9, 22, 11, 9)
_GLYPH = {Act.FIND_OUT: "? ", Act.CANNOT: "✕ "}


def settings_sheets(design: Design, limits: int = 0) -> Iterator[tuple[str, str]]:
    """Yield the name and the body of each device's sheet; of a design that works alone.

    Parameters
    ----------
    limits : int
        How many limits it works under: they stand on a sheet of their own.
    """
    sheet = design.settings
    if sheet is None or sheet.withheld:
        return
    for device in sheet.devices:
        if device.lines:
            yield f"Settings: {device.device}", _device(device, limits)


def _device(device: DeviceSettings, limits: int) -> str:
    rows = "".join(_line(line) for line in device.lines)
    done = "".join(f"<div><span>{what}</span><br>{BLANK}</div>" for what in ("entered by", "date"))
    kept = (
        f"<p><b>▲ It works only while {count_of(limits, 'limit')} "
        f"{'is' if limits == 1 else 'are'} kept: see the sheet 'Limits to keep'.</b></p>"
        if limits
        else ""
    )
    return (
        "<p>Enter each value, leave the menu, go back and read it: many devices round without a "
        "word. Set every device before any charging source is switched on.</p>"
        f"{kept}"
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
