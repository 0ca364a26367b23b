/**
 * How a study's page looks: a ruled report with hanging headings, for a screen and for A4 in black and white. What a
 * colour says a word, a dash or a shape says, too.
 */
export const PAGE_STYLE = `
:root { color-scheme: light; --ink: #1c2b33; --soft: #56646b; --line: #b9c2bf; --wash: #f3f5f1; --accent: #0f5f5c; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: var(--ink);
  font: 15px/1.5 Charter, "Bitstream Charter", "Source Serif 4", Cambria, Georgia, serif; }
main { max-width: 880px; margin: 0 auto; padding: 28px 24px 40px; }
header { border-bottom: 3px double var(--ink); padding-bottom: 14px; }
header p { margin: 0; }
.asked { font-style: italic; }
h1 { font-size: 27px; line-height: 1.2; margin: 2px 0 4px; font-weight: 600; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 1px 14px; margin: 12px 0 0; font-size: 13px; color: var(--soft); }
dd { margin: 0; overflow-wrap: anywhere; }
section { display: grid; grid-template-columns: 118px minmax(0, 1fr); column-gap: 22px; padding: 18px 0;
  border-bottom: 1px solid var(--line); }
section:last-of-type { border-bottom: 0; }
h2 { grid-column: 1; margin: 2px 0 0; font-size: 14px; line-height: 1.3; font-weight: 600; color: var(--accent); }
section > :not(h2) { grid-column: 2; }
.whole { display: block; } .whole > h2 { margin-bottom: 8px; }
.answer > div { border: 2px solid var(--ink); border-radius: 3px; display: flex; gap: 0; }
.word { flex: none; display: flex; align-items: center; padding: 10px 16px; font-size: 20px; font-weight: 700;
  border-right: 2px solid var(--ink); }
.word::before { margin-right: 9px; font-size: 17px; }
.yes .word::before { content: "\\25CF"; } .marginal .word::before { content: "\\25D0"; }
.no .word::before { content: "\\25CB"; } .none .word::before { content: "\\2013"; }
.no .word { background: var(--ink); color: #fff; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.marginal .word { background: repeating-linear-gradient(135deg, #fff 0 6px, #e4e8e3 6px 8px);
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.answer div p { margin: 0; padding: 10px 16px; font-size: 17px; line-height: 1.4; overflow-wrap: anywhere; }
ul { margin: 0; padding-left: 18px; } li + li { margin-top: 4px; } li { overflow-wrap: anywhere; }
cite { color: var(--soft); font-size: 13px; }
table { border-collapse: collapse; margin: 0 0 20px; font-size: 14px; line-height: 1.35; max-width: 100%;
  font-variant-numeric: lining-nums tabular-nums; }
table:last-child, figure:last-child { margin-bottom: 0; }
.caption, figcaption { font-style: italic; padding-bottom: 5px; } .scrolls > .caption { margin: 0; }
th { font-weight: 600; vertical-align: bottom; } thead th { border-bottom: 1.5px solid var(--ink); border-top: 1.5px solid var(--ink); }
th, td { padding: 2px 12px 2px 0; } td { vertical-align: top; overflow-wrap: anywhere; }
th:last-child, td:last-child { padding-right: 0; }
tbody tr + tr > * { border-top: 1px solid #e2e6e3; }
tbody tr:last-child > * { border-bottom: 1.5px solid var(--ink); }
tbody th { font-weight: 400; text-align: left; vertical-align: top; }
.text { text-align: left; } .number { text-align: right; white-space: nowrap; } .kept { white-space: nowrap; } td.worded, th.worded { overflow-wrap: break-word; }
th.number { white-space: normal; }
.wide { font-size: 12px; } .wide th, .wide td { padding-right: 8px; }
.values { font-size: 12px; } .values th.number { color: var(--soft); padding-left: 12px; white-space: nowrap; } .values th, .values td { padding-right: 9px; }
.values tr > :first-child { padding-left: 0; }
.values thead th { color: var(--ink); }
figure { margin: 0 0 22px; } .chart { display: block; width: 100%; height: auto; }
figure p { margin: 4px 0 0; font-size: 12px; color: var(--soft); }
summary { cursor: pointer; padding: 4px 0; } section p { margin: 0 0 8px; }
pre { max-height: 60vh; overflow: auto; background: var(--wash); padding: 10px; font: 12px/1.4 ui-monospace, monospace; }
.none-noted { color: var(--soft); }
@media screen and (max-width: 640px) { section { display: block; } h2 { margin-bottom: 8px; }
  .scrolls { overflow-x: auto; } .answer > div { display: block; } .word { border-right: 0; border-bottom: 2px solid var(--ink); } }
@page { size: A4; margin: 15mm 14mm 17mm;
  @bottom-left { content: "drumtight"; font: 8pt Charter, Georgia, serif; color: #56646b; }
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt Charter, Georgia, serif; color: #56646b; } }
@media print {
  body { font-size: 10pt; line-height: 1.4; } main { max-width: none; padding: 0; }
  h1 { font-size: 18pt; } section { grid-template-columns: 24mm minmax(0, 1fr); column-gap: 5mm; padding: 4mm 0; }
  h2 { font-size: 9.5pt; break-after: avoid; } .word { font-size: 13pt; } .answer div p { font-size: 11pt; }
  dl, cite { font-size: 8.5pt; } table { font-size: 9pt; } .wide, .values { font-size: 8pt; }
  thead { display: table-header-group; } tr, figure, li, .answer > div, .short { break-inside: avoid; }
  .caption, thead { break-after: avoid; } tbody tr:first-child { break-before: avoid; }
  section:last-of-type { padding-bottom: 0; } p { orphans: 3; widows: 3; }
  /* A grid's rows would be kept whole by some printers' engines, and a long table is longer than a page. */
  .flows { display: block; } .flows > h2 { margin-bottom: 3mm; }
  /* Three charts to a page. */
  .flows .chart { width: 86%; } figure { margin-bottom: 4mm; }
  details { display: none; }
}
`;
