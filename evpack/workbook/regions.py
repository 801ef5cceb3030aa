"""What the panel shows of a build, region by region, as strings of HTML.

The live panel and the settled one of a shared page are made of the same strings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from evpack.base.worked import Worked
from evpack.outcome.design import Design
from evpack.outcome.settings import Line, Setting, SettingsSheet
from evpack.show.clean import escaped, prose
from evpack.show.html_tables import how
from evpack.show.style import STYLE as SHOW_STYLE
from evpack.show.words import NOT_KNOWN, shown, worked_words

# Lines of the settings sheet.
CHARGE_VOLTAGE, CUT_OFF = Line.CHARGE, Line.CUT_OFF

_USABLE = "Usable energy, AC"

STYLE = f"""<style>{SHOW_STYLE}
[data-jp-theme-light] .evp {{ background: none; }}
.evp .evp-keys {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(7rem, 1fr));
  gap: .1rem 1rem; margin: .4rem 0; }}
.evp .evp-keys > div {{ border-top: 1px solid var(--evp-line); padding: .25rem 0; }}
.evp .evp-keys span {{ display: block; color: var(--evp-soft); font-size: .82rem; }}
/* Opened, a why takes the whole width below the figures of its row. */
.evp .evp-keys > div:has(> details[open]) {{ grid-column: 1 / -1; }}
.evp .evp-unseen {{ position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%); white-space: nowrap; }}
@media print {{ .evp .evp-why {{ display: none; }} }}
.evp .evp-keep {{ background: var(--evp-wash); padding: .5rem .8rem; margin: .6rem 0; }}
.evp .evp-keep pre {{ background: none; color: inherit; margin: .2rem 0 0; padding: 0; }}
/* Beside the controls the verdict is short: the picture should be in sight while they move. */
.evp.evp-beside .evp-verdict {{ margin: 0; }}
.evp.evp-beside .evp-verdict > .evp-sign {{ flex-basis: 3rem; font-size: 1.7rem; }}
.evp.evp-beside .evp-verdict h1 {{ font-size: 1.4rem; }}
.evp.evp-beside .evp-title {{ display: none; }}
</style>"""


def notice(text: str) -> str:
    """Return a message that stands where the answer would change."""
    return framed(f'<p class="evp-notice" role="alert"><b>✕ {escaped(text)}</b></p>')


def to_keep(lines: str) -> str:
    """Return the lines of a build sheet that keep what was turned over; empty for none."""
    if not lines:
        return ""
    return framed(
        '<div class="evp-keep"><p>To keep these choices, write them in your build sheet:</p>'
        f"<pre>{'<br>'.join(escaped(line) for line in lines.splitlines())}</pre></div>"
    )


def settled(choices: Iterable[Sequence[object]], shown_in: Mapping[str, str]) -> str:
    """Return the panel without its controls: the choices as text, then every region in order."""
    return STYLE + framed(grid(choices)) + "".join(shown_in.values())


def framed(html: str, more: str = "") -> str:
    """Return a fragment in the frame that the style is scoped to."""
    return f'<div class="{f"evp {more}".strip()}">{html}</div>'


def keys_of(made: Design, *, entered: bool = True) -> Iterator[tuple[str, ...]]:
    """Yield the few figures that a person watches while turning a choice over, each with why.

    `entered` is False where nothing may read like a number to enter.
    """
    pack, usable = made.build.pack, made.usable
    at_hand = pack.module.available
    counts = f"{pack.modules}" + (f" of {at_hand}" if at_hand else "")
    yield "Modules", counts, f"<p>{pack.modules_in_series} in series × {pack.strings} strings.</p>"
    if made.figures is not None:
        yield _explained("Nominal voltage", made.figures.nominal)
    if made.settings is not None:
        yield from _thresholds(made.settings, entered=entered)
    if usable is not None:
        told = usable.told
        yield _explained(_USABLE, told.reachable_ac)
        if told.everyday_ac is not None and told.reserve_ac is not None:
            yield _explained("Everyday, AC", told.everyday_ac)
            yield _explained("Kept in reserve, AC", told.reserve_ac)
    else:
        yield _USABLE, NOT_KNOWN


def _explained(name: str, worked: Worked) -> tuple[str, str, str]:
    return name, worked_words(worked), how(worked)


def _thresholds(sheet: SettingsSheet, *, entered: bool) -> Iterator[tuple[str, ...]]:
    """Yield what the pack is charged to and cut off at, with why, as the settings sheet has it."""
    found = sheet.thresholds
    for line, volts, verb in (
        (CHARGE_VOLTAGE, found.charge, "charged to"),
        (CUT_OFF, found.cut_off, "cut off at"),
    ):
        name = f"Would be {verb}" if sheet.withheld or not entered else verb[0].upper() + verb[1:]
        lines = (setting for device in sheet.devices for setting in device.lines)
        same = (s for s in lines if s.name == line and s.worked and s.worked.value == volts)
        yield name, shown(volts, "V"), next(map(_reason, same), "")


def _reason(setting: Setting) -> str:
    told = "" if setting.worked is None else how(setting.worked)
    return f"<p>{prose(setting.why)}</p>{told}"


def grid(rows: Iterable[Sequence[object]], *, opened: bool = False) -> str:
    """Return names with their values, side by side as far as they fit.

    Parameters
    ----------
    rows : iterable of sequences
        Name, value, and as markup why it is so, or nothing of it.
    opened : bool
        Whether each why is laid open, or opens on a click.
    """
    cells = (_cell(*map(str, row), opened=opened) for row in rows)
    return f'<div class="evp-keys">{"".join(cells)}</div>'


def _cell(name: str, value: str, why: str = "", *, opened: bool) -> str:
    state = " open" if opened else ""
    more = (
        f'<details class="evp-why"{state}><summary>why<span class="evp-unseen"> {prose(name)}'
        f'</span></summary><div class="evp-how">{why}</div></details>'
        if why
        else ""
    )
    return f"<div><span>{prose(name)}</span><b>{prose(value)}</b>{more}</div>"
