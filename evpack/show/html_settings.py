"""The settings sheet in HTML: made to be printed and carried to the equipment."""

from __future__ import annotations

from evpack.outcome.settings import Act, DeviceSettings, Setting, SettingsSheet
from evpack.show.clean import escaped, prose
from evpack.show.html_tables import folded, how, number, table
from evpack.show.words import entry_words, per_cell, per_cent

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


def setting_rows(setting: Setting) -> str:
    """Return one setting as two rows that stay together: the numbers, then what they mean."""
    glyph, tone = _TONE.get(setting.act, ("", ""))
    where = escaped(setting.where) or '<span class="evp-where"></span>'
    first = (
        f'<tr><th scope="row">{escaped(setting.name)}</th>'
        f'<td class="evp-enter{tone}">{glyph}{prose(entry_words(setting))}</td>'
        f"<td>{number(per_cell(setting.per_cell))}</td>"
        f"<td>{number(per_cent(setting.soc_rest))}</td>"
        f"<td>{number(per_cent(setting.soc_loaded))}</td>"
        f"<td>{where}</td>"
        f"<td>{'' if glyph else _BOX}</td></tr>"
    )
    told = [f"<p>{prose(setting.why)}</p>"] if setting.why else []
    limits = []
    if setting.offers:
        limits.append(f"The device offers {prose(setting.offers)}.")
    if setting.lost:
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
    """Return the table of one device."""
    if not device.lines:
        return f"<h3>{escaped(device.device)}</h3><p>Nothing to set.</p>"
    rows = "".join(setting_rows(line) for line in device.lines)
    return table(device.device, _HEADS, rows, rows=False, widths=_WIDTHS)


def settings_tables(sheet: SettingsSheet) -> str:
    """Return the whole sheet."""
    return (
        '<p class="evp-lead">Enter each value, leave the menu, go back and read it, then tick the '
        "box. Set every device before any charger is connected. A dash means that a voltage "
        "says nothing there.</p>" + "".join(device_table(device) for device in sheet.devices)
    )
