"""Findings in HTML: what holds a design up as cards, passes as a table of evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evpack.base.finding import Finding, Severity
from evpack.show.clean import escaped, prose
from evpack.show.gather import Missing, WayOut, source_words, ways_out
from evpack.show.html_tables import folded, number, say_or_dash, severity_mark, table
from evpack.show.words import SEVERITY, count_of, margin_words, standing_words


def finding_list(findings: Iterable[Finding]) -> str:
    """Return findings as a list, the gravest first; those with one way out share an item."""
    items = "".join(_item(way) for way in ways_out(findings))
    return f'<ul class="evp-findings">{items}</ul>'


def _item(way: WayOut) -> str:
    """Return an item: mark, what it is about, what was found, the way out, the rules behind it."""
    first, many = way.findings[0], len(way.findings)
    words = SEVERITY[first.severity]
    mark = severity_mark(first.severity)
    parts = [f'<li class="evp-{words.tone}">']
    if many == 1:
        parts += [
            f"<p>{mark} <b>{prose(first.about)}</b></p>",
            f"<p>{prose(first.detail)}{standing_note(first)}</p>",
        ]
    else:
        told = "".join(
            f"<li><b>{prose(f.about)}</b>: {prose(f.detail)}{standing_note(f)}</li>"
            for f in way.findings
        )
        parts += [f"<p>{mark} <b>{many} findings, one way out</b></p>", f"<ul>{told}</ul>"]
    if way.remedy:
        lead = "To clear it" if first.holds else "What to do"
        parts.append(f'<p class="evp-remedy"><b>{lead}:</b> {prose(way.remedy)}</p>')
    return "".join([*parts, _rules(way), "</li>"])


def standing_note(finding: Finding) -> str:
    """Return whether it is a bound or a guard, where it stands, how far it is missed."""
    words = standing_words(finding)
    return f' <span class="evp-soft">{prose(words)}</span>' if words else ""


def _rules(way: WayOut) -> str:
    """Return the rules behind findings, folded; what is the same for several stands once."""
    rules = dict.fromkeys(_rule(finding) for finding in way.findings)
    name = "the rule behind it" if len(rules) == 1 else "the rules behind it"
    return folded(name, "".join(rules))


def missing_list(missing: Missing, *, rules: bool = True) -> str:
    """Return what the build sheet does not say, by the thing that it is of."""
    tone = SEVERITY[Severity.UNKNOWN].tone
    parts = [
        f'<li class="evp-{tone}"><p>{severity_mark(Severity.UNKNOWN)} <b>{prose(thing)}</b></p>'
        f"<ul>{''.join(_asked(way, rules=rules) for way in ways)}</ul></li>"
        for thing, ways in missing.asked.items()
    ]
    if missing.follow:
        told = "".join(
            f"<li><b>{prose(f.about)}</b>: {prose(f.detail)}</li>" for f in missing.follow
        )
        more = count_of(len(missing.follow), "more unknown")
        parts.append(
            f'<li class="evp-{tone}">{folded(f"{more}, cleared by the above", f"<ul>{told}</ul>")}'
            "</li>"
        )
    return f'<ul class="evp-findings">{"".join(parts)}</ul>'


def _asked(way: WayOut, *, rules: bool) -> str:
    """Return one thing to find out, with what waits for it."""
    details = " ".join(dict.fromkeys(f.detail for f in way.findings))
    many = len(way.findings)
    waits = f" {many} checks wait for it." if many > 1 else ""
    return (
        f"<li><p><b>{prose(way.remedy)}</b></p>"
        f'<p class="evp-soft">{prose(details)}{waits}</p>{_rules(way) if rules else ""}</li>'
    )


def _rule(finding: Finding) -> str:
    parts = [f"<p>{prose(finding.rule.says)}</p>"]
    if finding.value is not None and finding.limit is not None:
        margin = margin_words(finding.margin, finding.unit)
        parts.append(
            f"<p>Value {say_or_dash(finding.value, finding.unit)}, limit "
            f"{say_or_dash(finding.limit, finding.unit)}"
            f"{f': {escaped(margin)}' if margin else ''}.</p>"
        )
    if any(means not in finding.detail for means in finding.assumed):
        parts.append(
            f'<p><span class="evp-assumed">Rests on assumed:</span> '
            f"{escaped('; '.join(finding.assumed))}</p>"
        )
    parts.append(
        f"<p>Source: {escaped(source_words(finding.rule.source))}. "
        f'Rule <span class="evp-num">{escaped(finding.rule.key)}</span></p>'
    )
    return "".join(parts)


def held_list(findings: Iterable[Finding]) -> str:
    """Return what holds a design up, where there is nothing to do yet but to clear it."""
    items = "".join(
        f"<li><b>{prose(finding.about)}</b>: {prose(finding.detail)}</li>" for finding in findings
    )
    return f"<ul>{items}</ul>"


def details_list(findings: Iterable[Finding]) -> str:
    """Return what was found, without what to do: of a design that may not be built yet."""
    items = "".join(
        f'<li class="evp-{SEVERITY[finding.severity].tone}">{severity_mark(finding.severity)} '
        f"<b>{prose(finding.about)}</b>: {prose(finding.detail)}</li>"
        for finding in findings
    )
    return f"<ul>{items}</ul>"


def pass_table(findings: Sequence[Finding]) -> str:
    """Return the passes as evidence, thing by thing, with the margin of each.

    On paper the rows of a thing run on as one paragraph.
    """
    things: dict[str, list[Finding]] = {}
    for finding in findings:
        things.setdefault(finding.about, []).append(finding)
    body = "".join(
        f'<tbody class="evp-rows"><tr class="evp-group"><th scope="rowgroup" colspan="2">'
        f"{prose(thing)}</th></tr>{''.join(map(_pass, passed))}</tbody>"
        for thing, passed in things.items()
    )
    words = SEVERITY[Severity.OK]
    told = table(
        f"{words.glyph} {words.word}: {count_of(len(findings), 'check')} passed",
        ("what was found", "margin"),
        body,
        rows=False,
        kind="evp-passes",
    )
    return f'<div class="evp-two">{told}</div>'


def _pass(finding: Finding) -> str:
    margin = margin_words(finding.margin, finding.unit)
    assumed = ' <span class="evp-basis evp-assumed">assumed input</span>' if finding.assumed else ""
    return (
        f"<tr><td>{prose(finding.detail)}{assumed}</td>"
        f"<td>{number(margin) if margin else ''}</td></tr>"
    )
