"""Findings in HTML: what holds a design up as cards, passes as a table of evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evpack.base.finding import Finding, Severity
from evpack.show.clean import escaped, prose
from evpack.show.gather import source_words
from evpack.show.html_tables import folded, number, row, say_or_dash, severity_mark, table
from evpack.show.words import SEVERITY, count_of, margin_words


def finding_item(finding: Finding) -> str:
    """Return one finding as a list item: mark, what it is about, what was found, the way out."""
    words = SEVERITY[finding.severity]
    parts = [
        f'<li class="evp-{words.tone}">',
        f"<p>{severity_mark(finding.severity)} <b>{escaped(finding.about)}</b></p>",
        f"<p>{prose(finding.detail)}</p>",
    ]
    if finding.remedy:
        lead = "To clear it" if finding.holds else "What to do"
        parts.append(f'<p class="evp-remedy"><b>{lead}:</b> {prose(finding.remedy)}</p>')
    parts += [folded("the rule behind it", _rule(finding)), "</li>"]
    return "".join(parts)


def _rule(finding: Finding) -> str:
    parts = [f"<p>{escaped(finding.rule.says)}</p>"]
    if finding.value is not None and finding.limit is not None:
        margin = margin_words(finding.margin, finding.unit)
        parts.append(
            f"<p>Value {say_or_dash(finding.value, finding.unit)}, limit "
            f"{say_or_dash(finding.limit, finding.unit)}"
            f"{f': {escaped(margin)}' if margin else ''}.</p>"
        )
    if finding.assumed:
        parts.append(
            f'<p><span class="evp-assumed">Rests on assumed:</span> '
            f"{escaped('; '.join(finding.assumed))}</p>"
        )
    parts.append(
        f"<p>Source: {escaped(source_words(finding.rule.source))}. "
        f'Rule <span class="evp-num">{escaped(finding.rule.key)}</span></p>'
    )
    return "".join(parts)


def finding_list(findings: Iterable[Finding]) -> str:
    """Return findings as a list, the gravest first."""
    ordered = sorted(findings, key=lambda f: -f.severity)
    return f'<ul class="evp-findings">{"".join(finding_item(f) for f in ordered)}</ul>'


def pass_table(findings: Sequence[Finding]) -> str:
    """Return the passes as evidence, with the margin of each."""
    body = "".join(
        row(
            escaped(f.about),
            f"{prose(f.detail)}"
            + (' <span class="evp-basis evp-assumed">assumed input</span>' if f.assumed else ""),
            escaped(margin_words(f.margin, f.unit)) and number(margin_words(f.margin, f.unit)),
        )
        for f in findings
    )
    words = SEVERITY[Severity.OK]
    return table(
        f"{words.glyph} {words.word}: {count_of(len(findings), 'check')} passed",
        ("of", "what was found", "margin"),
        body,
    )
