"""The look of the sheets for wall and toolbox: black on white, large, made for paper."""

from __future__ import annotations

import re

_WALL = """
.evp .sheet { break-before: page; padding: 0 0 1em; }
.evp .evp-page + .sheet { break-before: auto; }
.evp .sheet-head { display: flex; justify-content: space-between; gap: 1em; align-items: baseline;
  border-bottom: 3px solid var(--evp-ink); margin: 1.5em 0 .6em; }
.evp .sheet-head h2 { border: 0; margin: 0; padding: 0; font-size: 1.7em; }
.evp .sheet-head span { color: var(--evp-soft); font-size: .9em; text-align: right; }
.evp .sheet-foot { border-top: 1px solid var(--evp-line); color: var(--evp-soft);
  font-size: .8em; margin-top: 1em; padding-top: .3em; }
.evp .big-entry { font-size: 1.75em; font-weight: 700; line-height: 1.15; }
.evp .sheet td .evp-where { min-width: 2.5em; }
.evp .module-label p .blank { min-width: 8em; }
.evp .module-label p .blank.short { min-width: 4.5em; }
.evp .wide-picture figure { overflow: visible; }
.evp .labels { display: grid; grid-template-columns: repeat(auto-fill, minmax(82mm, 1fr));
  gap: 4mm; }
.evp .module-label { border: 1.5px dashed var(--evp-ink); padding: 3mm; break-inside: avoid; }
.evp .module-label b.place { font-size: 1.5em; }
.evp .module-label .volts { font-size: 1.25em; font-weight: 700; margin: .1em 0; }
.evp .pole { width: 7mm; height: 7mm; border: 1.5px solid; border-radius: 50%; }
.evp .module-label p { margin: .15em 0; }
.evp .poles { display: flex; justify-content: space-between; align-items: center; }
.evp .big-list { font-size: 1.3em; }
.evp .big-list li { margin: .8em 0; max-width: none; break-inside: avoid; }
.evp .big-list b { font-size: 1.2em; line-height: 1.2; }
.evp .big-list p { max-width: none; margin: .2em 0; }
.evp .card { line-height: 1.25; }
.evp .card h3 { font-size: 1.25em; margin: .6em 0 .2em; border-bottom: 2px solid var(--evp-ink); }
.evp .card p { margin: .2em 0; max-width: none; }
.evp .card ol, .evp .card ul { margin: .2em 0; padding-left: 1.3em; }
.evp .card li { margin: .25em 0; max-width: none; }
.evp .card .what { font-size: 1.5em; font-weight: 700; line-height: 1.1; }
.evp .card .sun { font-weight: 700; }
.evp .card .missing { font-size: .7em; font-weight: 400; white-space: nowrap; }
.evp .card.fire { font-size: 1.5em; }
.evp .card.fire b { font-size: 1.4em; line-height: 1.1; }
.evp .card.fire .live { border: 3px solid var(--evp-ink); padding: .3em .5em; margin-top: .6em; }
.evp .card.fire .live b { font-size: 1.1em; }
.evp .card.off { font-size: 1.4em; }
.evp .card .blank, .evp .module-label .blank { display: inline-block; min-width: 9em;
  border-bottom: 1.5px solid; }
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

# Named twice, as in `evpack.show.style`: it outweighs the plain tables and headings there.
WALL = re.sub(r"\.evp(?=[ ,])", ".evp.evp", _WALL)
