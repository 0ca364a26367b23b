import { toneDeclarations } from "./page-tones.ts";

const LIGHT = `color-scheme: light; --paper: #fff; --ink: #1c2b33; --soft: #56646b; --line: #b9c2bf; --hair: #e2e6e3;
  --accent: #0f5f5c; --alarm: #1c2b33; --on-alarm: #fff; ${toneDeclarations("light")}`;
const DARK = `color-scheme: dark; --paper: #12191d; --ink: #dfe6e3; --soft: #a3b0b3; --line: #46545a; --hair: #2a353a;
  --accent: #7cc7c1; --alarm: #dfe6e3; --on-alarm: #12191d; ${toneDeclarations("dark")}`;

/**
 * How a yield report looks: the ruled report of the studies, its figures in a ledger's row below the sentence; for screens
 * light and dark, narrow ones, and A4 in black and white. What a colour says a word, a dash or a shape says, too.
 */
export const YIELD_STYLE = `
:root { ${LIGHT} }
@media screen and (prefers-color-scheme: dark) { :root { ${DARK} } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 15px/1.5 Charter, "Bitstream Charter", "Source Serif 4", Cambria, Georgia, serif; }
main { max-width: 940px; margin: 0 auto; padding: 28px 24px 40px; }
header { border-bottom: 3px double var(--ink); padding-bottom: 14px; }
h1 { font-size: 27px; line-height: 1.2; margin: 2px 0 10px; font-weight: 600; }
.sentence { font-size: 18px; line-height: 1.4; margin: 0 0 14px; overflow-wrap: anywhere; }
.ledger { list-style: none; margin: 0; padding: 0; display: grid; grid-template-columns: repeat(4, minmax(0, 1fr)); border-top: 1.5px solid var(--ink); }
.ledger li { padding: 8px 10px 10px 0; border-bottom: 1px solid var(--line); margin: 0; }
.ledger .name { display: block; font-style: italic; } .ledger strong { display: block; font-size: 26px; line-height: 1.25; font-weight: 600;
  font-variant-numeric: lining-nums tabular-nums; }
.ledger .made, .ledger .interval { display: block; font-size: 13px; color: var(--soft); line-height: 1.35; overflow-wrap: anywhere; }
.ledger .small strong { font-size: 19px; }
.ledger .alarm { background: var(--alarm); color: var(--on-alarm); padding-left: 10px; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.ledger .alarm .made, .ledger .alarm .interval { color: inherit; } .ledger .alarm strong::before { content: "\\25B2\\00A0"; font-size: 17px; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 1px 14px; margin: 14px 0 0; font-size: 13px; color: var(--soft); }
dd { margin: 0; overflow-wrap: anywhere; }
section { padding: 18px 0; border-bottom: 1px solid var(--line); } section:last-of-type { border-bottom: 0; }
h2 { margin: 0 0 10px; font-size: 17px; line-height: 1.3; font-weight: 600; color: var(--accent); }
ul { margin: 0 0 14px; padding-left: 18px; } li + li { margin-top: 4px; } li, p { overflow-wrap: anywhere; }
section p { margin: 0 0 10px; }
table { border-collapse: collapse; margin: 0 0 20px; font-size: 14px; line-height: 1.35; max-width: 100%;
  font-variant-numeric: lining-nums tabular-nums; }
.caption, figcaption { font-style: italic; padding-bottom: 5px; } section .caption { margin: 0; }
th { font-weight: 600; vertical-align: bottom; } thead th { border-bottom: 1.5px solid var(--ink); border-top: 1.5px solid var(--ink); }
th, td { padding: 2px 12px 2px 0; } td { vertical-align: top; overflow-wrap: anywhere; }
th:last-child, td:last-child { padding-right: 0; }
tbody tr + tr > * { border-top: 1px solid var(--hair); } tbody tr:last-child > * { border-bottom: 1.5px solid var(--ink); }
tbody th { font-weight: 400; text-align: left; vertical-align: top; overflow-wrap: anywhere; }
.text { text-align: left; } .number { text-align: right; white-space: nowrap; } .kept { white-space: nowrap; } td.worded, th.worded { overflow-wrap: break-word; } th.number { white-space: normal; }
.wide { font-size: 12.5px; } .wide th, .wide td { padding-right: 8px; }
a { color: var(--accent); } a:focus-visible, summary:focus-visible { outline: 2px solid var(--accent); outline-offset: 2px; }
figure { margin: 0 0 22px; max-width: 760px; } .chart { display: block; width: 100%; height: auto; }
details { margin: 0 0 20px; } summary { cursor: pointer; padding: 4px 0; font-size: 13px; color: var(--soft); } figure + details { margin-top: -16px; }
.scrolls { overflow-x: auto; }
@media screen and (max-width: 640px) { main { padding: 18px 14px 30px; } .ledger { grid-template-columns: repeat(2, minmax(0, 1fr)); }
  .ledger strong { font-size: 22px; }
  /* Letters of a chart stay as large as they can be read; the chart is moved beneath the finger instead. */
  figure { overflow-x: auto; } .chart { min-width: 600px; } }
@page { size: A4; margin: 15mm 14mm 17mm;
  @bottom-left { content: "drumtight"; font: 8pt Charter, Georgia, serif; color: #56646b; }
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt Charter, Georgia, serif; color: #56646b; } }
@media print {
  body { font-size: 10pt; line-height: 1.4; } main { max-width: none; padding: 0; }
  h1 { font-size: 18pt; } .sentence { font-size: 12pt; } h2 { font-size: 12pt; break-after: avoid; } section { padding: 4mm 0; }
  .ledger strong { font-size: 17pt; } .ledger .small strong { font-size: 13pt; } .ledger .made, .ledger .interval, dl { font-size: 8.5pt; }
  table { font-size: 9pt; } .wide { font-size: 8pt; } a { color: inherit; text-decoration: none; }
  thead { display: table-header-group; } tr, figure, li, .short { break-inside: avoid; }
  .caption, thead { break-after: avoid; } tbody tr:first-child { break-before: avoid; }
  section:last-of-type { padding-bottom: 0; } p { orphans: 3; widows: 3; }
  .scrolls { overflow: visible; } figure { max-width: 124mm; margin-bottom: 4mm; } details { display: none; }
}
`;
