"""The settings sheet: made to be printed and carried to the equipment.

Only the whole sheet knows whether its design works. A device or a line shown alone is told
without "enter" and without a box to tick.
"""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.finding import Severity
from evpack.outcome.settings import Act, DeviceSettings, Setting, SettingsSheet
from evpack.show.doc import (
    Banner,
    Block,
    Column,
    Doc,
    Fold,
    Hand,
    Head,
    How,
    Mark,
    Only,
    Para,
    Row,
    Table,
    document,
)
from evpack.show.words import SEVERITY, WITHHELD, entry_words, per_cell, per_cent

_COLUMNS = (
    Column("setting", 19),
    Column("what to do", 17, entry=True, plain=True),
    Column("V a cell", 9, number=True),
    Column("charged, if at rest", 10, number=True),
    Column("charged, if under load", 12, number=True),
    Column("where on my device", 22, aside=True),
    Column("read back", 11, aside=True),
)
# What cannot simply be entered stands out by glyph and tone.
_TONE = {Act.FIND_OUT: ("?", "unknown"), Act.CANNOT: ("✕", "stop")}
_STOP = SEVERITY[Severity.STOP].glyph
_ENTER = (
    "Enter each value, leave the menu, go back and read it, then tick the box. Set every device "
    "before any charging source is switched on. A dash means that a voltage says nothing there."
)


@document.register
def _(setting: Setting) -> Doc:
    yield from document(DeviceSettings(device="One setting", lines=(setting,)))


@document.register
def _(device: DeviceSettings) -> Doc:
    yield from _table(device, (_row(line, line.entry, box=False) for line in device.lines))
    yield Para("Part of a settings sheet: enter it only if the design works.", "soft")


@document.register
def _(sheet: SettingsSheet) -> Doc:
    yield from settings_blocks(sheet)


def settings_head(*, withheld: bool) -> str:
    """Return the heading of the settings sheet: only one that may be entered says so."""
    return "What it would come to on each device" if withheld else "What to enter on each device"


def settings_blocks(sheet: SettingsSheet, head: str = "") -> Iterator[Block]:
    """Yield the whole sheet.

    Parameters
    ----------
    head : str
        Title and verdict: on paper they stand above the table of each device, since a page of the
        sheet may be carried away alone.
    """
    above: list[tuple[str, str]] = [("evp-paper", head)] if head else []
    if sheet.withheld:
        above.append(("evp-withheld", f"{_STOP} Do not enter these."))
        yield Banner(f"{_STOP} {WITHHELD}")
    else:
        yield Para(_ENTER, "lead")
    told: dict[tuple[str, str], str] = {}  # a reason is told once, and then pointed to
    for device in sheet.devices:
        rows = (
            _row(
                line,
                entry_words(line, withheld=sheet.withheld),
                box=not sheet.withheld,
                withheld=sheet.withheld,
                told_at=told.setdefault((line.name, line.why), device.device),
                device=device.device,
            )
            for line in device.lines
        )
        yield from _table(device, rows, tuple(above))


def _table(
    device: DeviceSettings, rows: Iterator[Row], above: tuple[tuple[str, str], ...] = ()
) -> Iterator[Block]:
    if device.lines:
        yield Table(_COLUMNS, rows, device.device, cards=True, above=above)
    else:
        yield Head(device.device, 3)
        yield Para("Nothing to set.")


def _row(
    setting: Setting,
    entry: str,
    *,
    box: bool,
    withheld: bool = False,
    told_at: str = "",
    device: str = "",
) -> Row:
    """Return one setting: the numbers, then what they mean.

    Of a sheet that is withheld what they mean is left out: it may say what to enter.

    Parameters
    ----------
    told_at, device : str
        The device at which the reason was told, and the one that this is a setting of.
    """
    glyph, tone = _TONE.get(setting.act, ("", ""))
    return Row(
        (
            setting.name,
            Mark(glyph, entry, tone),
            per_cell(setting.per_cell),
            per_cent(setting.soc_rest),
            per_cent(setting.soc_loaded),
            setting.where or Hand.LINE,
            Hand.BOX if box and not glyph else "",
        ),
        _meaning(setting, withheld=withheld, told_at=told_at if told_at != device else ""),
    )


def _meaning(setting: Setting, *, withheld: bool, told_at: str) -> Iterator[Block]:
    if setting.why and not withheld:
        yield Para(f"As on {told_at}." if told_at else setting.why)
    limits = [f"The device offers {setting.offers}."] if setting.offers else []
    if setting.lost and not withheld:
        limits.append(f"Lost: {setting.lost}.")
    if limits:
        yield Para(" ".join(limits), "soft evp-aside")
    if setting.where:
        yield Only("terminal", (Para(f"Where: {setting.where}."),))
    if setting.worked is not None:
        yield Fold("how it comes about", (How(setting.worked),))


def in_short(sheet: SettingsSheet) -> Iterator[Block]:
    """Yield what to enter on each device, a line for each setting and no reasons."""
    yield Head(settings_head(withheld=sheet.withheld))
    if sheet.withheld:
        yield Banner(f"{_STOP} {WITHHELD}")
    for device in sheet.devices:
        told = "; ".join(f"{line.name} {_entry(line)}" for line in device.lines)
        if told:
            yield Para(f"{device.device}: {told}.")


def _entry(line: Setting) -> str:
    """Return an entry among others: only what is no plain entry says what to do."""
    if line.act is Act.ENTER:
        return line.entry
    if line.act is Act.TURN_OFF:
        return "off"
    return f"{_TONE[line.act][0]} {entry_words(line).lower()}"
