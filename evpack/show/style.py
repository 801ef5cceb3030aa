"""The look of every fragment: one style sheet, scoped under the class ``evp``.

Light unless a JupyterLab dark theme surrounds it; always light on paper. Tones come in pairs, a
dark one for text and edges and a pale one for grounds, and never tell anything alone: each has
its glyph and its word.
"""

from __future__ import annotations

import re

_LIGHT = """
  --evp-ink: #1c232b; --evp-soft: #55606c; --evp-paper: #ffffff; --evp-line: #c9d0d7;
  --evp-wash: #f3f5f7; --evp-grid: #e3e7eb;
  --evp-ok: #0b6259; --evp-ok-wash: #e0f0ed;
  --evp-note: #3d5876; --evp-note-wash: #e8eef5;
  --evp-caution: #7d5200; --evp-caution-wash: #fbeed2;
  --evp-unknown: #5b3a86; --evp-unknown-wash: #eee7f7;
  --evp-stop: #a11733; --evp-stop-wash: #fae3e6;
  --evp-work: #cfe6e1; --evp-guard: #f7e3b5; --evp-bar: #d5dde7; --evp-keep: #c9dcf0;
"""

_DARK = """
  --evp-ink: #e6eaee; --evp-soft: #aab4be; --evp-paper: #14181c; --evp-line: #424b54;
  --evp-wash: #1d2329; --evp-grid: #2a3138;
  --evp-ok: #74cfc0; --evp-ok-wash: #12312d;
  --evp-note: #a3c0e0; --evp-note-wash: #1c2a39;
  --evp-caution: #efc063; --evp-caution-wash: #382a0c;
  --evp-unknown: #cbaef0; --evp-unknown-wash: #2d2240;
  --evp-stop: #ff97a6; --evp-stop-wash: #401a21;
  --evp-work: #1d4842; --evp-guard: #4d3a10; --evp-bar: #35404c; --evp-keep: #23405f;
"""

# The parts of a picture are coloured through these classes, so that pictures follow the theme;
# each shape also carries its light colour for a picture that stands alone.
PAINT = {
    "ink": "#1c232b",
    "soft": "#55606c",
    "paper": "#ffffff",
    "line": "#c9d0d7",
    "grid": "#e3e7eb",
    "work": "#cfe6e1",
    "guard": "#f7e3b5",
    "bar": "#d5dde7",
    "keep": "#c9dcf0",
    "wash": "#f3f5f7",
    "stop": "#a11733",
    "stop-wash": "#fae3e6",
    "ok": "#0b6259",
    "caution": "#7d5200",
    "note": "#3d5876",
}

_PICTURES = "\n".join(
    f".evp svg .f-{name} {{ fill: var(--evp-{name}); }}\n"
    f".evp svg .s-{name} {{ stroke: var(--evp-{name}); }}"
    for name in PAINT
)

_TONES = "\n".join(
    f".evp .evp-{tone} {{ --tone: var(--evp-{tone}); --tone-wash: var(--evp-{tone}-wash); }}"
    for tone in ("ok", "note", "caution", "unknown", "stop")
)

_SHEET = f"""
.evp {{{_LIGHT}
  color: var(--evp-ink); background: var(--evp-paper);
  font: 15px/1.45 "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans Condensed", sans-serif;
  /* Whatever font is there, its letters are made as wide as those of Arial, so that what fits
     fits everywhere: the width of a 0 is told, and is not rounded to whole pixels. */
  font-size-adjust: ch-width .556; text-rendering: geometricPrecision;
  max-width: 60em; padding: 0 .25em; text-align: left; overflow-wrap: break-word;
}}
[data-jp-theme-light="false"] .evp {{{_DARK}}}
{_TONES}
.evp h2 {{ font-size: 1.22em; line-height: 1.25; margin: 2em 0 .5em; padding: 0 0 .25em;
  border: 0; border-bottom: 2px solid var(--evp-ink); font-weight: 700; }}
.evp h3, .evp h2.evp-small {{
  font-size: 1.02em; margin: 1.2em 0 .35em; padding: 0; font-weight: 700; border: 0;
}}
.evp p {{ margin: .35em 0; }}
.evp .evp-lead {{ max-width: 46em; }}
.evp .evp-soft {{ color: var(--evp-soft); }}
.evp ul {{ margin: .35em 0; padding-left: 1.2em; }}
.evp li {{ margin: .2em 0; }}

.evp .evp-verdict {{ display: flex; gap: 1em; align-items: stretch; margin: .75em 0;
  border: 2px solid var(--tone); background: var(--tone-wash); }}
.evp .evp-verdict > .evp-sign {{ flex: 0 0 1.75em; display: flex; align-items: center;
  justify-content: center; font-size: 2.6em; font-weight: 700; background: var(--tone);
  color: var(--evp-paper); }}
.evp .evp-verdict > div {{ padding: .7em .8em .7em 0; }}
.evp .evp-verdict h1 {{ font-size: 1.9em; line-height: 1.1; margin: 0 0 .25em;
  color: var(--tone); font-weight: 800; border: 0; padding: 0; }}
.evp .evp-title {{ font-weight: 700; overflow-wrap: anywhere; }}
.evp .evp-only {{ display: inline-block; padding: 0 .4em; margin: .2em 0;
  border: 1.5px dashed var(--tone); }}
.evp .evp-banner {{ border: 2px solid var(--tone); background: var(--tone-wash);
  color: var(--tone); padding: .45em .7em; margin: .6em 0; font-size: 1.06em; }}
.evp .evp-mark {{ display: inline-block; white-space: nowrap; font-weight: 700; font-size: .82em;
  letter-spacing: .03em; padding: 0 .45em; border: 1.5px solid var(--tone); color: var(--tone);
  background: var(--tone-wash); }}
.evp .evp-notice {{ border: 1.5px dashed var(--evp-soft); padding: .4em .7em; margin: .6em 0; }}

.evp .evp-tiles {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(11em, 1fr));
  gap: .6em 1.4em; margin: .9em 0; }}
.evp .evp-tiles > div {{ border-top: 2px solid var(--evp-ink); padding-top: .3em; }}
.evp .evp-tiles b {{ display: block; font-size: 1.6em; line-height: 1.2; }}
.evp .evp-tiles span {{ color: var(--evp-soft); font-size: .86em; }}
.evp .evp-tiles span.evp-num {{ color: inherit; font-size: inherit; }}
.evp .evp-first {{ display: grid; grid-template-columns: minmax(0, 1fr); gap: 0 1.6em; }}
.evp .evp-first h2 {{ margin-top: .6em; border: 0; padding: 0; }}
.evp .evp-limits li {{ margin: .5em 0; }}

.evp .evp-findings {{ list-style: none; margin: .5em 0; padding: 0; }}
.evp .evp-findings > li {{ border-left: 6px solid var(--tone); margin: 0 0 .7em;
  padding: .1em 0 .1em .75em; break-inside: avoid; }}
.evp .evp-findings p {{ margin: .15em 0; max-width: 48em; }}
.evp .evp-findings ul {{ margin: .2em 0; }}
.evp .evp-remedy {{ font-weight: 400; }}
.evp .evp-remedy b {{ color: var(--tone); }}

.evp table {{ border-collapse: collapse; width: 100%; margin: .4em 0 1em; font-size: .93em;
  table-layout: auto; border: 0; }}
.evp caption {{ text-align: left; font-weight: 700; font-size: 1.02em; padding: .5em 0 .3em;
  color: var(--evp-ink); caption-side: top; }}
.evp th, .evp td {{ text-align: left; vertical-align: top; padding: .3em .55em .3em 0;
  border: 0; background: none; font-weight: 400; white-space: normal; max-width: none; }}
.evp thead th {{ color: var(--evp-soft); font-size: .82em; vertical-align: bottom; }}
/* Stripes and hovering of the surrounding notebook would break the groups of rows. */
.evp tbody tr:nth-child(n) {{ background: none; }}
.evp tbody > tr:first-child > * {{ border-top: 1px solid var(--evp-line); }}
.evp tbody.evp-rows > tr > * {{ border-top: 1px solid var(--evp-line); }}
.evp thead + tbody > tr:first-child > * {{ border-top: 0; }}
.evp tbody th {{ font-weight: 700; }}
.evp .evp-heads th {{ border-bottom: 1.5px solid var(--evp-ink); }}
.evp thead .evp-withheld th {{ color: var(--evp-stop); background: var(--evp-stop-wash);
  font-size: .95em; font-weight: 700; padding: .3em .55em; border: 1.5px solid var(--evp-stop); }}
.evp .evp-paper {{ display: none; }}
.evp .evp-facts td, .evp .evp-facts th {{ overflow-wrap: anywhere; }}
.evp .evp-group th {{ padding-top: .6em; }}
.evp tbody.evp-rows > .evp-group + tr > * {{ border-top: 0; }}
.evp .evp-num {{ font-variant-numeric: tabular-nums; white-space: nowrap; }}
.evp .evp-fixed {{ table-layout: fixed; }}
.evp .evp-enter {{ font-weight: 700; font-size: 1.06em; line-height: 1.3; }}
.evp .evp-enter.evp-stop, .evp .evp-enter.evp-unknown {{ color: var(--tone); font-size: .95em; }}
.evp .evp-of {{ font-weight: 400; font-size: .84em; }}
.evp .evp-result {{ color: var(--tone); font-weight: 700; white-space: nowrap; }}
.evp td > ul {{ margin: 0; }}
.evp .evp-under > td {{ padding-top: 0; }}
.evp .evp-under p {{ margin: .1em 0; }}
.evp .evp-basis {{ font-size: .82em; color: var(--evp-soft); white-space: nowrap; }}
.evp .evp-assumed {{ border-bottom: 1.5px dashed var(--evp-caution); color: var(--evp-caution); }}
.evp .evp-where {{ display: inline-block; min-width: 7em; min-height: 1.1em; width: 95%;
  border-bottom: 1px solid var(--evp-soft); }}
.evp .evp-box {{ display: inline-block; width: .95em; height: .95em;
  border: 1.5px solid var(--evp-ink); }}

.evp .evp-sign-here {{ display: grid; grid-template-columns: 2fr 1fr; gap: 1.4em 2em;
  margin: 2em 0 1em; break-inside: avoid; }}
.evp .evp-sign-here span {{ color: var(--evp-soft); font-size: .86em; }}

.evp details {{ margin: .15em 0; }}
.evp summary {{ cursor: pointer; color: var(--evp-soft); font-size: .86em; }}
.evp summary:hover, .evp summary:focus-visible {{ color: var(--evp-ink);
  text-decoration: underline; }}
.evp .evp-how {{ font-size: .86em; margin: .2em 0 .5em; padding: .3em .7em;
  background: var(--evp-wash); border-left: 3px solid var(--evp-line); }}
.evp .evp-how p {{ margin: .15em 0; max-width: none; }}
.evp .evp-how .evp-basis {{ font-size: 1em; font-style: italic; }}
.evp .evp-how ul {{ margin: .2em 0; }}
.evp .evp-how li {{ margin: .05em 0; }}
.evp .evp-one + .evp-one {{ margin-top: .7em; }}
.evp sub {{ font-size: .72em; line-height: 0; }}

.evp figure {{ margin: .6em 0 1em; overflow-x: auto; break-inside: avoid; }}
.evp figure svg {{ display: block; width: 100%; height: auto; }}
.evp figcaption {{ font-size: .86em; color: var(--evp-soft); margin: 0 0 .3em;
  position: sticky; left: 0; }}
.evp .evp-hint {{ display: none; }}
{_PICTURES}

@media (min-width: 1000px) {{
  .evp .evp-first figure svg {{ min-width: 0 !important; }}
  .evp .evp-first:has(.evp-limits) {{ grid-template-columns: minmax(0, 7fr) minmax(0, 4fr); }}
}}
/* A phone: a card for each setting and fuse, a note under its value. */
@media screen and (max-width: 640px) {{
  .evp .evp-cards, .evp .evp-cards caption, .evp .evp-cards thead, .evp .evp-cards tbody,
  .evp .evp-cards tr, .evp .evp-cards th, .evp .evp-cards td {{ display: block; width: auto; }}
  .evp .evp-cards tbody {{ border: 1px solid var(--evp-line); padding: .35em .6em;
    margin: 0 0 .6em; }}
  .evp .evp-cards tbody > tr:first-child > * {{ border-top: 0; }}
  .evp .evp-cards tbody > tr > * {{ padding: .1em 0; }}
  .evp .evp-cards .evp-heads, .evp .evp-cards colgroup, .evp .evp-cards thead .evp-paper,
  .evp .evp-cards .evp-under > td:not(:last-child) {{ display: none; }}
  .evp .evp-cards td[data-label]:not(.evp-none) {{ display: inline-block; margin-right: 1.2em; }}
  .evp .evp-cards td[data-label]::before {{ content: attr(data-label); display: block;
    font-size: .78em; color: var(--evp-soft); }}
  .evp .evp-cards td.evp-none {{ display: none; }}
  .evp .evp-cards .evp-enter {{ font-size: 1.3em; }}
  .evp .evp-facts, .evp .evp-facts tbody {{ display: block; }}
  .evp .evp-facts thead, .evp .evp-facts colgroup {{ display: none; }}
  .evp .evp-facts caption {{ display: block; }}
  .evp .evp-facts tr {{ display: grid; grid-template-columns: 45% 1fr auto;
    border-top: 1px solid var(--evp-line); }}
  .evp .evp-facts tr > * {{ display: block; border: 0; width: auto; }}
  .evp .evp-facts tr > td:last-child {{ grid-column: 1 / -1; padding-top: 0; }}
  .evp .evp-facts tr > td:last-child:empty {{ display: none; }}
  .evp .evp-hint {{ display: block; color: var(--evp-ink); }}
  .evp .evp-verdict {{ gap: .6em; }}
  .evp .evp-verdict > .evp-sign {{ flex-basis: 1.3em; font-size: 2em; }}
  .evp .evp-verdict h1 {{ font-size: 1.5em; }}
}}

@media print {{
  .evp, [data-jp-theme-light="false"] .evp {{{_LIGHT}
    max-width: none; font-size: 8.5pt; line-height: 1.3; padding: 0; background: none;
    -webkit-print-color-adjust: exact; print-color-adjust: exact; }}
  .evp h2, .evp h3, .evp caption, .evp thead {{ break-after: avoid; }}
  .evp h2 {{ margin-top: 1.4em; }}
  .evp h2.evp-own-page {{ break-before: page; margin-top: 0; }}
  .evp thead {{ display: table-header-group; }}
  .evp .evp-screen {{ display: none; }}
  .evp .evp-paper {{ display: table-row; }}
  .evp thead .evp-paper th {{ color: var(--evp-ink); font-weight: 700; font-size: .95em; }}
  .evp tbody, .evp tr, .evp .evp-verdict {{ break-inside: avoid; }}
  .evp tbody.evp-rows {{ break-inside: auto; }}
  .evp tbody.evp-rows > tr:nth-child(-n+2), .evp .evp-group {{ break-after: avoid; }}
  .evp figure svg {{ min-width: 0 !important; max-height: 88mm; }}
  .evp .evp-picture svg {{ max-height: none; }}
  .evp figure {{ overflow: visible; }}
  .evp table {{ margin: .2em 0 .6em; }}
  .evp th, .evp td {{ padding-top: .12em; padding-bottom: .12em; }}
  /* Explanations stand open on paper, in small type and on as few lines as they need. */
  .evp details {{ margin: 0; }}
  /* Formulas and rules are printed only where somebody asks for them. */
  body:not(:has(.evp-in-full:checked)) .evp details,
  body:not(:has(.evp-in-full:checked)) .evp .evp-aside,
  body:not(:has(.evp-in-full:checked)) .evp .evp-worked :is(th, td):nth-child(3):not(:only-child),
  body:not(:has(.evp-in-full:checked)) .evp .evp-worked col:nth-child(3) {{ display: none; }}
  body:not(:has(.evp-in-full:checked)) .evp .evp-worked col:nth-child(1) {{
    width: 62% !important; }}
  body:not(:has(.evp-in-full:checked)) .evp .evp-worked col:nth-child(2) {{
    width: 38% !important; }}
  body:not(:has(.evp-in-full:checked)) .evp .evp-narrow {{ columns: 2; column-gap: 6mm; }}
  .evp summary {{ display: none; }}
  .evp .evp-how {{ padding: 0; margin: 0; background: none; border: 0; font-size: 6.8pt;
    line-height: 1.2; }}
  .evp .evp-how p, .evp .evp-how ul, .evp .evp-how li {{ display: inline; padding: 0; margin: 0; }}
  .evp .evp-how p::after {{ content: " "; }}
  .evp .evp-how li:not(:last-child)::after {{ content: "; "; }}
  .evp .evp-how p:has(+ ul)::after {{ content: ""; }}
  .evp .evp-how p + ul::before {{ content: ", where "; }}
  .evp .evp-how li:last-child::after {{ content: ". "; }}
  .evp .evp-how ul.evp-each::before {{ content: ""; }}
  .evp .evp-how p:has(+ ul.evp-each)::after {{ content: ". "; }}
  .evp .evp-one + .evp-one {{ margin-top: .25em; }}
  /* A checklist is worked by, not argued with: its reasons stand on the sheets they come from. */
  .evp .evp-checklist details {{ display: none; }}
  .evp .evp-checklist .evp-where {{ min-width: 2.5em; }}
  /* Small type is read in short lines: two columns, for findings and assumptions too. */
  .evp .evp-many, .evp .evp-findings, .evp .evp-two {{ columns: 2; column-gap: 6mm; }}
  .evp .evp-findings > li {{ margin-bottom: .5em; }}
  .evp .evp-passes, .evp .evp-passes tbody.evp-rows, .evp .evp-passes caption {{ display: block; }}
  .evp .evp-passes {{ font-size: 7pt; line-height: 1.25; }}
  .evp .evp-passes caption {{ font-size: 8.5pt; column-span: all; }}
  .evp .evp-passes thead {{ display: none; }}
  .evp .evp-passes tbody tr, .evp .evp-passes tbody.evp-rows tr > * {{ display: inline; padding: 0;
    border: 0; }}
  .evp .evp-passes td:first-child::before {{ content: "✓ "; }}
  .evp .evp-passes tbody.evp-rows {{ margin-bottom: .35em; }}
  .evp .evp-passes th::after {{ content: ": "; }}
  .evp .evp-passes td:last-child:not(:empty)::before {{ content: " ("; }}
  .evp .evp-passes td:last-child:not(:empty)::after {{ content: ")"; }}
  .evp .evp-passes tr::after {{ content: " "; }}
  .evp .evp-assumptions {{ font-size: .86em; }}
  .evp .evp-under p {{ font-size: 7.6pt; line-height: 1.2; }}
  .evp .evp-facts {{ font-size: 7.8pt; line-height: 1.2; }}
  .evp .evp-parts {{ font-size: 7.4pt; line-height: 1.2; }}
  .evp .evp-assumptions th, .evp .evp-assumptions td {{ padding-top: 0; padding-bottom: 0; }}
  .evp .evp-how table {{ font-size: 1em; }}
  /* What stands open on paper gets the room of what stands beside it. */
  .evp .evp-worked col:nth-child(1) {{ width: 25% !important; }}
  .evp .evp-worked col:nth-child(2) {{ width: 17% !important; }}
  .evp .evp-worked col:nth-child(3) {{ width: 58% !important; }}
}}
@supports selector(details::details-content) {{
  @media print {{
    .evp details::details-content {{ content-visibility: visible; display: block; height: auto; }}
  }}
}}
"""

# The sheets for wall and toolbox: black on white, large, made for paper.
_WALL = """
.evp .sheet { break-before: page; padding: 0 0 1em; }
.evp .evp-page + .sheet { break-before: auto; }
.evp .sheet-head { display: flex; justify-content: space-between; gap: 1em; align-items: baseline;
  border-bottom: 3px solid var(--evp-ink); margin: 1.5em 0 .6em; }
.evp .sheet-head h2 { border: 0; margin: 0; padding: 0; font-size: 1.7em; }
.evp .sheet-head span { color: var(--evp-soft); font-size: .9em; text-align: right; }
.evp .sheet-foot { border-top: 1px solid var(--evp-line); color: var(--evp-soft);
  font-size: .8em; margin-top: 1em; padding-top: .3em; }
.evp .wall-settings .evp-enter { font-size: 1.75em; line-height: 1.15; }
.evp .sheet td .evp-where { min-width: 2.5em; }
.evp .wide-picture figure { overflow: visible; }
.evp .labels { display: grid; grid-template-columns: repeat(auto-fill, minmax(82mm, 1fr));
  gap: 4mm; }
.evp .module-label { border: 1.5px dashed var(--evp-ink); padding: 3mm; break-inside: avoid; }
.evp .poles b { font-size: 1.5em; }
.evp .module-label .evp-title { font-size: 1.25em; margin: .1em 0; }
.evp .evp-pole { width: 7mm; height: 7mm; border: 1.5px solid; border-radius: 50%; }
.evp .module-label p { margin: .15em 0; }
.evp .poles p { display: flex; justify-content: space-between; align-items: center; }
.evp .big-list { font-size: 1.3em; }
.evp .big-list li { margin: .8em 0; max-width: none; break-inside: avoid; }
.evp .big-list b { font-size: 1.2em; line-height: 1.2; }
.evp .big-list p { max-width: none; margin: .2em 0; }
.evp .card { line-height: 1.25; }
.evp .card h3 { font-size: 1.25em; margin: .6em 0 .2em; border-bottom: 2px solid var(--evp-ink); }
.evp .card p { margin: .2em 0; max-width: none; }
.evp .card ol, .evp .card ul { margin: .2em 0; padding-left: 1.3em; }
.evp .card li { margin: .25em 0; max-width: none; }
.evp .card .evp-title { font-size: 1.5em; line-height: 1.1; }
.evp .card .evp-of { font-size: .7em; font-weight: 400; white-space: nowrap; }
.evp .card.fire { font-size: 1.5em; }
.evp .card.fire li b { font-size: 1.4em; line-height: 1.1; }
.evp .card.fire .live { border: 3px solid var(--evp-ink); padding: .3em .5em; margin-top: .6em; }
.evp .card.fire .live b { font-size: 1.1em; }
.evp .card.off { font-size: 1.4em; }
.evp .card .evp-where, .evp .module-label .evp-where { width: auto; min-width: 9em;
  min-height: 0; border-bottom: 1.5px solid; }
.evp .module-label .evp-where { min-width: 8em; }
.evp .module-label .evp-short { min-width: 4.5em; }
/* Page numbers, so that a sheet of several pages that lost one is seen to. */
@page { margin: 12mm 12mm 14mm;
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; } }
@page across { size: landscape; margin: 10mm 10mm 14mm; }
@media print {
  .evp .evp-page { display: none; }
  body { margin: 0; max-width: none; padding: 0; }
  .evp .sheet { font-size: 10pt; padding: 0; }
  .evp .sheet.settings { font-size: 9.5pt; }
  .evp .sheet.schedule { font-size: 9.2pt; }
  .evp .sheet.limits { font-size: 11pt; }
  .evp .sheet.checklist { font-size: 8.5pt; }
  .evp .sheet-foot { font-size: 7pt; break-before: avoid; }
  .evp .sheet.across { page: across; }
  .evp .sheet.across svg { max-height: 150mm; min-width: 0 !important; }
  .evp .sheet-head { margin-top: 0; }
  .evp .labels { display: block; }
  .evp .module-label { float: left; width: 84mm; box-sizing: border-box; margin: 0 3mm 3mm 0; }
  .evp .labels::after { content: ""; display: block; clear: both; }
  /* Read from 2 m: what matters in about 27 pt. */
  .evp .card.fire { font-size: 19pt; }
  .evp .card.off { font-size: 15.5pt; }
  .evp .wall-settings { font-size: 10.5pt; }
  .evp .wall-settings th, .evp .wall-settings td { padding: .35em .5em .35em 0; }
}
"""

# Named twice, a class outweighs the rules that a notebook has for plain tables and headings.
STYLE = re.sub(r"\.evp(?=[ ,])", ".evp.evp", _SHEET)
WALL = re.sub(r"\.evp(?=[ ,])", ".evp.evp", _WALL)
