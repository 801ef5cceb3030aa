"""The settings sheet in HTML: made to be printed and carried to the equipment.

Only the whole sheet knows whether its design works. A device or a line shown alone is told
without "enter" and without a box to tick.
"""

from __future__ import annotations

from evpack.outcome.settings import Act, DeviceSettings, Setting, SettingsSheet
from evpack.show.clean import prose
from evpack.show.html_tables import BLANK, cell, folded, how, number, table
from evpack.show.words import WITHHELD, entry_words, per_cell, per_cent

_HEADS = (
    "setting",
    "what to do",
    "V a cell",
    "charged, if at rest",
    "charged, if under load",
    "where on my device",
    "read back",
)
_WIDTHS = (19, 17, 9, 10, 12, 22, 11)
_BOX = '<span class="evp-box" role="img" aria-label="box to tick"></span>'
# What cannot simply be entered stands out by glyph and tone.
_TONE = {Act.FIND_OUT: ("? ", " evp-unknown"), Act.CANNOT: ("✕ ", " evp-stop")}


def setting_rows(setting: Setting, entry: str, *, box: bool, withheld: bool = False) -> str:
    """Return one setting as two rows that stay together: the numbers, then what they mean.

    Of a sheet that is withheld what they mean is left out: it may say what to enter.
    """
    glyph, tone = _TONE.get(setting.act, ("", ""))
    where = prose(setting.where) or BLANK
    cells = (
        cell(_HEADS[2], number(per_cell(setting.per_cell))),
        cell(_HEADS[3], number(per_cent(setting.soc_rest))),
        cell(_HEADS[4], number(per_cent(setting.soc_loaded))),
        cell(_HEADS[5], where),
        cell(_HEADS[6], _BOX if box and not glyph else ""),
    )
    first = (
        f'<tr><th scope="row">{prose(setting.name)}</th>'
        f'<td class="evp-enter{tone}">{glyph}{prose(entry)}</td>{"".join(cells)}</tr>'
    )
    told = [f"<p>{prose(setting.why)}</p>"] if setting.why and not withheld else []
    limits = []
    if setting.offers:
        limits.append(f"The device offers {prose(setting.offers)}.")
    if setting.lost and not withheld:
        limits.append(f"Lost: {prose(setting.lost)}.")
    if limits:
        told.append(f'<p class="evp-soft">{" ".join(limits)}</p>')
    if setting.worked is not None:
        told.append(folded("how it comes about", how(setting.worked)))
    return (
        f"<tbody>{first}"
        f'<tr class="evp-under"><td></td><td colspan="{len(_HEADS) - 1}">{"".join(told)}</td></tr>'
        "</tbody>"
    )


def device_table(device: DeviceSettings) -> str:
    """Return the table of one device that is shown alone."""
    rows = "".join(setting_rows(line, line.entry, box=False) for line in device.lines)
    return (
        _table(device, rows)
        + '<p class="evp-soft">Part of a settings sheet: enter it only if the design works.</p>'
    )


def _table(device: DeviceSettings, rows: str, above: str = "") -> str:
    if not device.lines:
        return f"<h3>{prose(device.device)}</h3><p>Nothing to set.</p>"
    return table(
        device.device, _HEADS, rows, rows=False, widths=_WIDTHS, above=above, kind="evp-cards"
    )


def settings_tables(sheet: SettingsSheet, head: str = "") -> str:
    """Return the whole sheet.

    Parameters
    ----------
    head : str
        Title and verdict: on paper they stand above the table of each device, since a page of the
        sheet may be carried away alone.
    """
    wide = len(_HEADS)
    above = f'<tr class="evp-paper"><th colspan="{wide}">{prose(head)}</th></tr>' if head else ""
    if sheet.withheld:
        above += f'<tr class="evp-withheld"><th colspan="{wide}">✕ Do not enter these.</th></tr>'
        lead = f'<p class="evp-banner evp-stop"><b>✕ {prose(WITHHELD)}</b></p>'
    else:
        lead = (
            '<p class="evp-lead">Enter each value, leave the menu, go back and read it, then tick '
            "the box. Set every device before any charging source is switched on. A dash means "
            "that a voltage says nothing there.</p>"
        )
    tables = "".join(
        _table(
            device,
            "".join(
                setting_rows(
                    line,
                    entry_words(line, withheld=sheet.withheld),
                    box=not sheet.withheld,
                    withheld=sheet.withheld,
                )
                for line in device.lines
            ),
            above,
        )
        for device in sheet.devices
    )
    return lead + tables
