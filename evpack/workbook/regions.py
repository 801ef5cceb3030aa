"""What the panel shows of a build, region by region, as strings of HTML.

The live panel and the settled one of a shared page are made of the same strings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Decision, Design
from evpack.show.clean import escaped
from evpack.show.energy import energy_svg
from evpack.show.gather import missing
from evpack.show.html import as_html, figure_html, verdict_html
from evpack.show.html_findings import finding_list
from evpack.show.html_tables import severity_mark
from evpack.show.ladder import ladder_svg
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
        figure_html(energy_svg(made), "Usable energy: at rest and under the continuous load.")
        if made.usable is not None
        else f"<p><b>{escaped(missing('The usable energy'))}</b></p>"
    )
    settings = (
        as_html(made.settings)
        if made.settings is not None
        else f"<p><b>{escaped(missing('The settings sheet'))}</b></p>"
    )
    return decision, {
        "verdict": framed(verdict_html(decision), "evp-beside"),
        "figures": framed(_keys(made)),
        "ladder": framed(figure_html(ladder_svg(made), "Pack and devices on one scale.")),
        "energy": framed(energy),
        "found": framed(_found(decision)),
        "settings": framed(f"<h2>What to enter on each device</h2>{settings}"),
    }


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
    """Return the panel without its controls: the choices as text, then every region."""
    regions = "".join(shown_in[name] for name in REGIONS)
    return STYLE + framed(_grid(choices)) + regions


def framed(html: str, more: str = "") -> str:
    """Return a fragment in the frame that the style is scoped to."""
    return f'<div class="{f"evp {more}".strip()}">{html}</div>'


def ways_out(decision: Decision) -> str:
    """Return what would clear a decision and what to mind while it works, each thing once."""
    parts = []
    for head, findings in (
        ("What would clear it", decision.held_by),
        ("Limits to keep", decision.limits),
    ):
        by_remedy: dict[str, list[Finding]] = {}
        for finding in findings:
            by_remedy.setdefault(finding.remedy, []).append(finding)
        if by_remedy:
            lines = "".join(_way_out(*way) for way in by_remedy.items())
            parts.append(f"<h3>{head}</h3><ul>{lines}</ul>")
    return "".join(parts)


def _way_out(remedy: str, findings: Sequence[Finding]) -> str:
    """Return what was found, and the one thing to do about it."""
    told = "<br>".join(f"<b>{escaped(f.about)}</b>: {escaped(f.detail)}" for f in findings)
    words = SEVERITY[findings[0].severity]
    todo = f"<br><b>→ {escaped(remedy)}</b>" if remedy else ""
    return f'<li class="evp-{words.tone}">{severity_mark(findings[0].severity)} {told}{todo}</li>'


def _found(decision: Decision) -> str:
    """Return what holds the design up, and the limits it works under."""
    parts = []
    if decision.held_by:
        parts.append(f"<h2>What holds it up ({len(decision.held_by)})</h2>")
        parts.append(finding_list(decision.held_by))
    if decision.limits:
        parts.append(f"<h2>Limits to keep ({len(decision.limits)})</h2>")
        parts.append(finding_list(decision.limits))
    return "".join(parts)


def _keys(made: Design) -> str:
    """Return the few figures that a person watches while turning a choice over."""
    pack, usable = made.build.pack, made.usable
    at_hand = pack.module.available
    rows = [("Modules", f"{pack.modules}" + (f" of {at_hand}" if at_hand else ""))]
    if made.figures is not None:
        rows.append(("Nominal voltage", str(made.figures.nominal)))
    if made.settings is not None:
        thresholds = made.settings.thresholds
        rows += [
            ("Charged to", shown(thresholds.charge, "V")),
            ("Cut off at", shown(thresholds.cut_off, "V")),
        ]
    if usable is not None:
        rows.append(("Usable energy", str(usable.reachable)))
        if usable.everyday is not None and usable.reserve is not None:
            rows += [("Everyday", str(usable.everyday)), ("Kept in reserve", str(usable.reserve))]
    return _grid(rows)


def _grid(rows: Iterable[tuple[str, object]]) -> str:
    """Return names with their values, side by side as far as they fit."""
    cells = "".join(
        f"<div><span>{escaped(name)}</span><b>{escaped(value)}</b></div>" for name, value in rows
    )
    return f'<div class="evp-keys">{cells}</div>'
