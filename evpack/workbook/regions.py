"""What the panel shows of a build, region by region, as strings of HTML.

The live panel and the settled one of a shared page are made of the same strings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Decision, Design
from evpack.show.clean import escaped, prose
from evpack.show.gather import WayOut, missing, missing_in, stops, ways_out
from evpack.show.html import (
    energy_figure,
    in_the_way,
    ladder_figure,
    settings_head,
    settings_html,
    verdict_html,
)
from evpack.show.html_findings import missing_list
from evpack.show.html_tables import severity_mark
from evpack.show.style import STYLE as SHOW_STYLE
from evpack.show.words import SEVERITY, shown

REGIONS = ("verdict", "figures", "ladder", "energy", "found", "settings")

STYLE = f"""<style>{SHOW_STYLE}
[data-jp-theme-light] .evp {{ background: none; }}
.evp .evp-keys {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(7rem, 1fr));
  gap: .1rem 1rem; margin: .4rem 0; }}
.evp .evp-keys > div {{ border-top: 1px solid var(--evp-line); padding: .25rem 0; }}
.evp .evp-keys span {{ display: block; color: var(--evp-soft); font-size: .82rem; }}
.evp .evp-keep {{ background: var(--evp-wash); padding: .5rem .8rem; margin: .6rem 0; }}
.evp .evp-keep pre {{ background: none; color: inherit; margin: .2rem 0 0; padding: 0; }}
/* Beside the controls the verdict is short: the picture should be in sight while they move. */
.evp.evp-beside .evp-verdict {{ margin: 0; }}
.evp.evp-beside .evp-verdict > .evp-sign {{ flex-basis: 3rem; font-size: 1.7rem; }}
.evp.evp-beside .evp-verdict h1 {{ font-size: 1.4rem; }}
.evp.evp-beside .evp-title {{ display: none; }}
</style>"""


def answer(build: Build) -> tuple[Decision, dict[str, str]]:
    """Return the decision on a build, and what each region shows of it."""
    decision = decide(design(build))
    made = decision.design
    energy = (
        energy_figure(made)
        if made.usable is not None
        else f"<p><b>{escaped(missing('The usable energy'))}</b></p>"
    )
    head = settings_head(withheld=_withheld(made))
    return decision, {
        "verdict": framed(verdict_html(decision), "evp-beside"),
        "figures": framed(_keys(made)),
        "ladder": framed(ladder_figure(made)),
        "energy": framed(energy),
        "found": framed(in_the_way(decision)),
        "settings": framed(f"<h2>{head}</h2>{settings_html(made)}"),
    }


def _withheld(made: Design) -> bool:
    return made.settings is not None and made.settings.withheld


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


def settled(choices: Iterable[tuple[str, object]], shown_in: Mapping[str, str]) -> str:
    """Return the panel without its controls: the choices as text, then every region in order."""
    return STYLE + framed(grid(choices)) + "".join(shown_in.values())


def framed(html: str, more: str = "") -> str:
    """Return a fragment in the frame that the style is scoped to."""
    return f'<div class="{f"evp {more}".strip()}">{html}</div>'


def summary(decision: Decision) -> str:
    """Return what would clear a decision, what is missing, and what to mind, each thing once."""
    missing = missing_in(decision)
    asked = _small_head("Missing from your sheet") + missing_list(missing, rules=False)
    return (
        _ways("What would clear it", stops(decision))
        + (asked if missing.asked else "")
        + _ways("Limits to keep", decision.limits)
    )


def _small_head(words: str) -> str:
    return f'<h2 class="evp-small">{words}</h2>'


def _ways(head: str, findings: Iterable[Finding]) -> str:
    lines = "".join(_line(way) for way in ways_out(findings))
    return f"{_small_head(head)}<ul>{lines}</ul>" if lines else ""


def _line(way: WayOut) -> str:
    """Return what was found, and the one thing to do about it."""
    told = "<br>".join(f"<b>{prose(f.about)}</b>: {prose(f.detail)}" for f in way.findings)
    severity = way.findings[0].severity
    todo = f"<br><b>→ {prose(way.remedy)}</b>" if way.remedy else ""
    return f'<li class="evp-{SEVERITY[severity].tone}">{severity_mark(severity)} {told}{todo}</li>'


def _keys(made: Design) -> str:
    """Return the few figures that a person watches while turning a choice over."""
    pack, usable = made.build.pack, made.usable
    at_hand = pack.module.available
    rows = [("Modules", f"{pack.modules}" + (f" of {at_hand}" if at_hand else ""))]
    if made.figures is not None:
        rows.append(("Nominal voltage", str(made.figures.nominal)))
    if made.settings is not None:
        thresholds = made.settings.thresholds
        named = ("Charged to", "Cut off at")
        if made.settings.withheld:
            named = ("Would be charged to", "Would be cut off at")
        values = (thresholds.charge, thresholds.cut_off)
        rows += [(name, shown(volts, "V")) for name, volts in zip(named, values, strict=True)]
    if usable is not None:
        rows.append(("Usable energy", str(usable.reachable)))
        if usable.everyday is not None and usable.reserve is not None:
            rows += [("Everyday", str(usable.everyday)), ("Kept in reserve", str(usable.reserve))]
    return grid(rows)


def grid(rows: Iterable[tuple[str, object]]) -> str:
    """Return names with their values, side by side as far as they fit."""
    cells = "".join(
        f"<div><span>{prose(name)}</span><b>{prose(value)}</b></div>" for name, value in rows
    )
    return f'<div class="evp-keys">{cells}</div>'
