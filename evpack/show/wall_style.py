"""The look of the sheets for wall and toolbox: black on white, large, made for paper."""

from __future__ import annotations

WALL = """
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
.evp .tick { text-align: center; }
.evp .wide-picture figure { overflow: visible; }
.evp .labels { display: grid; grid-template-columns: repeat(auto-fill, minmax(82mm, 1fr));
  gap: 4mm; }
.evp .module-label { border: 1.5px dashed var(--evp-ink); padding: 3mm; break-inside: avoid; }
.evp .module-label b.place { font-size: 1.5em; }
.evp .module-label .volts { font-size: 1.25em; font-weight: 700; margin: .1em 0; }
.evp .module-label p { margin: .15em 0; }
.evp .poles { display: flex; justify-content: space-between; font-size: 1.25em; font-weight: 700; }
.evp .card { font-size: 1.35em; line-height: 1.35; }
.evp .card h2 { font-size: 2em; border: 0; margin: .1em 0 .2em; padding: 0; }
.evp .card h3 { font-size: 1.25em; margin: .7em 0 .15em; border-bottom: 2px solid var(--evp-ink); }
.evp .card ol, .evp .card ul { margin: .2em 0; padding-left: 1.3em; }
.evp .card li { margin: .12em 0; max-width: none; }
.evp .card .what { font-size: 1.5em; font-weight: 700; line-height: 1.2; }
.evp .card .blank, .evp .module-label .blank { display: inline-block; min-width: 9em;
  border-bottom: 1.5px solid; }
@page { margin: 12mm; }
@page across { size: landscape; margin: 10mm; }
@media print {
  .evp .evp-page { display: none; }
  body { margin: 0; max-width: none; padding: 0; }
  .evp .sheet { font-size: 10pt; padding: 0; }
  .evp .sheet.settings, .evp .sheet.schedule { font-size: 9.5pt; }
  .evp .sheet.checklist { font-size: 8.5pt; }
  .evp .sheet-foot { font-size: 7pt; break-before: avoid; }
  .evp .sheet.across { page: across; }
  .evp .sheet.across svg { max-height: 165mm; min-width: 0 !important; }
  .evp .sheet-head { margin-top: 0; }
  .evp .labels { display: block; }
  .evp .module-label { float: left; width: 84mm; box-sizing: border-box; margin: 0 3mm 3mm 0; }
  .evp .labels::after { content: ""; display: block; clear: both; }
  .evp .card { font-size: 14pt; }
  .evp .wall-settings th, .evp .wall-settings td { padding: .35em .5em .35em 0; }
}
"""
