import { describe, expect, it } from "vitest";
import type { EarlyWarning } from "../../station/quality/early-warning/early-warning.ts";
import type { YieldReport } from "../../station/yield/yield-report.ts";
import type { YieldDetail } from "../../station/yield-page/yield-detail.ts";
import { yieldDocument } from "../../station/yield-page/yield-document.ts";
import { yieldHtml } from "../../station/yield-page/yield-html.ts";
import { madeEmptyReport, madeShare, madeYieldReport } from "../yield/made-yield-report.ts";
import { madeDetail, madeSeries } from "./made-detail.ts";

const PLACE = { software: "drumtight 0.1.0", pageFolder: "/srv/reports/2026", recordsFolder: "/srv/records" };
const NO_DETAIL: YieldDetail = { measured: [], failures: [], failuresLeftOut: 0, notes: [] };

function page(report: YieldReport = madeYieldReport(), detail = madeDetail(), place = PLACE): string {
  return yieldHtml(yieldDocument(report, detail, place.software), place);
}

/** What a person reads of it: no markup, entities as characters. */
function read(html: string): string {
  return html
    .replace(/<style>[\s\S]*?<\/style>/g, "")
    .replace(/<[^>]*>/g, " ")
    .replaceAll("&lt;", "<")
    .replaceAll("&gt;", ">")
    .replaceAll("&quot;", '"')
    .replaceAll("&#39;", "'")
    .replaceAll("&amp;", "&")
    .replace(/\s+/g, " ");
}

/** Cells of the table below a caption. */
function table(html: string, caption: string): string[][] {
  const id = new RegExp(`id="(table\\d+)">${caption}[^<]*<`).exec(html)?.[1];
  const body = new RegExp(`aria-labelledby="${id}">[\\s\\S]*?<tbody>([\\s\\S]*?)</tbody>`).exec(html)?.[1];
  if (body === undefined) throw new Error(`no table ${caption}`);
  return [...body.matchAll(/<tr>([\s\S]*?)<\/tr>/g)].map(([, row = ""]) =>
    [...row.matchAll(/<t[hd][^>]*>([\s\S]*?)<\/t[hd]>/g)].map(([, cell = ""]) => read(cell).trim()),
  );
}

describe("the page of a day", () => {
  it("says first what a reader asks first, with the report's own numbers", () => {
    const report = madeYieldReport();
    const text = read(page(report));
    expect(text).toContain(
      "139 of 151 units were good at first, 140 are good now, 2 are held and 1 scrapped; found most often: leak rate (8 of 12).",
    );
    expect(text).toContain("Good at first pass 92.1 % 139 of 151 units 95 %: 86.5 to 95.8 %");
    expect(text).toContain("Good now (quality ratio) 92.7 % 140 of 151 units");
    expect(text).toContain("Held 2 not to be shipped; listed below");
    expect(page(report)).toContain('<li class="alarm"><span class="name">Held</span>');
    for (const { serial } of report.heldUnits) expect(text).toContain(serial);
    expect(text).toContain("scratch on the seat of the seal");
  });

  it("has a table for each way of telling units apart, whose numbers are the report's", () => {
    const report = madeYieldReport();
    const html = page(report);
    const hours = table(html, "Units by hour");
    expect(hours.map(([name, inspected, good]) => [name, Number(inspected), Number(good)])).toEqual(
      report.breakdowns[0]?.groups.map(({ name, counts }) => [
        name.slice("2026-01-05 ".length),
        counts.inspected,
        counts.firstPass.count,
      ]),
    );
    // Nothing was made in the break: no share, and no zero that looks like one.
    expect(hours[4]).toEqual(["10:00", "0", "0", "", "", "", "0", "0", "0", "0", "0"]);
    expect(table(html, "Units by tub cavity").map(([name]) => name)).toEqual(["T1", "T2", "T3"]);
    expect(table(html, "Units by lid cavity")[0]?.slice(0, 6)).toEqual([
      "L1",
      "76",
      "70",
      "92.1",
      "83.6",
      "97.0",
    ]);
    expect(table(html, "What units failed by at first inspection")).toEqual([
      ["leak rate", "8", "66.7", "66.7"],
      ["largest suction power", "3", "25.0", "91.7"],
      ["motor did not start", "1", "8.3", "100.0"],
    ]);
  });

  it("needs no network and no script, and uses each id once", () => {
    const html = page();
    expect(html).not.toMatch(/(?:src|href)="(?:https?:)?\/\//);
    expect(html).not.toMatch(/<script|<link|<iframe|<img|\son\w+=|url\((?!#)|@import/i);
    const ids = [...html.matchAll(/\sid="([^"]+)"/g)].map(([, id]) => id);
    expect(new Set(ids).size).toBe(ids.length);
    for (const [, named = ""] of html.matchAll(/aria-(?:labelledby|describedby)="([^"]+)"/g)) {
      for (const id of named.split(" ")) expect(ids).toContain(id);
    }
  });

  it("gives every drawing a role, a name and a description, and a table with its numbers", () => {
    const html = page();
    const drawings = [...html.matchAll(/<svg[^>]*>/g)].map(([tag]) => tag);
    expect(drawings.length).toBeGreaterThanOrEqual(10);
    for (const tag of drawings)
      expect(tag).toMatch(/role="img" aria-labelledby="chart\d+-title" aria-describedby="chart\d+-text"/);
    expect([
      ...html.matchAll(/<title id="[^"]+">([^<]+)<\/title><desc id="[^"]+">([^<]+)<\/desc>/g),
    ]).toHaveLength(drawings.length);
    expect(table(html, "Units by leak rate of POD-4").length).toBeGreaterThan(5);
    expect(table(html, "Points of the control chart of leak rate of POD-4").length).toBeGreaterThan(5);
  });

  it("has a dark counterpart for every tone that is seen in its drawings", () => {
    const html = page(madeYieldReport(), madeDetail({ measured: [madeSeries(200), madeSeries(20)] }));
    for (const [svg] of html.matchAll(/<svg[\s\S]*?<\/svg>/g)) {
      for (const [element] of svg.matchAll(/<(?:path|text|rect|polyline|g)\b[^>]*>/g)) {
        const isUnseen = /fill-opacity="0"|stroke-width="0"/.test(element);
        // A line that is not closed has no inside: its fill paints nothing.
        const fill = /fill="(#\w+|rgb[^"]*)"/.exec(element)?.[1];
        const stroke = /stroke="(#\w+|rgb[^"]*)"/.exec(element)?.[1];
        const isLine = /^<path d="M[^MZz]*L[^LZz]*"/.test(element) || element.includes('Z" fill="#000"');
        if (!isUnseen && !isLine) expect([element, fill]).toEqual([element, undefined]);
        if (!isUnseen) expect([element, stroke]).toEqual([element, undefined]);
      }
    }
    expect(html).toMatch(
      /@media screen and \(prefers-color-scheme: dark\) \{ :root \{ [^}]*--t1c2b33:#dfe6e3/,
    );
  });

  it("shows what hostile serials, reasons and lots say, and does nothing that they say", () => {
    const hostile = `"><script>alert('1')</script>\u202e\u0007&`;
    const made = madeYieldReport();
    const report = madeYieldReport({
      heldUnits: [
        { serial: hostile, model: hostile, since: "2026-01-05T09:00:00Z", by: hostile, reason: hostile },
      ],
      breakdowns: [
        {
          by: "lot",
          groups: (made.breakdowns[1]?.groups ?? []).map((it, k) => ({
            ...it,
            name: `gasket_lot ${hostile}${k}`,
          })),
        },
      ],
      failingCharacteristics: [
        { name: hostile, count: 2, rate: 1, share: 1, cumulative: 1 },
        { name: `${hostile}2`, count: 1, rate: 0.5, share: 0.5, cumulative: 1 },
      ],
      notes: [hostile],
    });
    const failure = { ...madeDetail().failures[0], serial: hostile, failedBy: [hostile], suspect: hostile };
    const html = page(report, madeDetail({ failures: [failure as never], notes: [hostile] }));
    expect(html).not.toContain("<script");
    for (const obeyed of ["\u202e", "\u0007"]) expect(html).not.toContain(obeyed);
    expect(read(html)).toContain(`"><script>alert('1')</script>\\u202e\\u0007&`);
  });

  it("leads from each failure to its traveller, from wherever the page lies", () => {
    expect(page()).toContain('<a href="../../records/2026/01/05/00000017-POD000017-1.json">POD000017</a>');
    expect(page(madeYieldReport(), madeDetail(), { ...PLACE, pageFolder: "/srv" })).toContain(
      'href="records/2026/01/05/00000017-POD000017-1.json"',
    );
    const odd = page(madeYieldReport(), madeDetail(), { ...PLACE, recordsFolder: '/srv/a "b"#1' });
    expect(odd).toContain('href="../../a%20%22b%22%231/2026/01/05/00000017-POD000017-1.json"');
    expect(page(madeYieldReport(), madeDetail(), { ...PLACE, pageFolder: null as never })).not.toContain(
      "href",
    );
  });

  it("says of a day without units that there were none, in place of figures", () => {
    const html = page(madeEmptyReport(), NO_DETAIL);
    expect(read(html)).toContain("No unit was inspected on 2026-01-05.");
    expect(html).not.toContain("<svg");
    expect(read(html)).not.toMatch(/NaN|undefined|null|Infinity/);
    expect(read(html)).toContain("No fault stopped the station.");
  });

  it("never shows a number that is none, whatever of the day is missing", () => {
    const one = madeYieldReport({
      total: {
        ...madeYieldReport().total,
        inspected: 1,
        firstPass: madeShare(0, 1),
        rolledThroughputYield: null,
        steps: [{ step: "airflow", passed: madeShare(0, 0) }],
      },
      cycleTime: null,
      breakdowns: [],
      failingCharacteristics: [],
    });
    const text = read(page(one, madeDetail({ measured: [madeSeries(1)] })));
    expect(text).not.toMatch(/NaN|undefined|\bnull\b|Infinity/);
    expect(text).toContain("0 of 1 unit was good at first");
  });

  it("counts in its headline every unit that is held, those of which no test can be trusted, too", () => {
    const { total, heldUnits } = madeYieldReport();
    const [held] = heldUnits;
    if (!held) throw new Error("the made report has held units");
    const more = madeYieldReport({ heldUnits: [...heldUnits, { ...held, serial: "POD000999" }] });
    const text = read(page(more));
    expect(text).toContain("Held 3 not to be shipped; listed below, 2 of them inspected");
    expect(text).toContain("1 more is held, and counts as not inspected.");
    const doubted = { ...more, total: { ...total, held: madeShare(0, 151) }, heldUnits: [held] };
    expect(read(page(doubted))).toContain("Held 1 not to be shipped; listed below, 0 of them inspected");
  });

  it("names what was found most often, and nothing where nothing stands out", () => {
    const bar = (name: string) => ({ name, count: 4, rate: 1 / 3, share: 1 / 3, cumulative: 1 });
    const said = (...names: string[]) =>
      read(page(madeYieldReport({ failingCharacteristics: names.map(bar) })));
    expect(said("leak rate", "flow")).toContain("found most often: leak rate and flow (4 of 12 each).");
    expect(said("leak rate", "flow", "power")).not.toContain("found most often");
  });

  it("has no tick between two units, and describes each drawing by what it shows", () => {
    const svgOf = (title: string, html: string) =>
      html.match(/<svg[\s\S]*?<\/svg>/g)?.find((svg) => svg.includes(`>${title}`)) ?? "";
    const single = page(madeYieldReport(), madeDetail({ measured: [madeSeries(1)] }));
    const histogram = svgOf("leak rate of POD-4, units", single);
    expect(histogram).toMatch(/>1<\/text>/);
    expect(histogram).not.toMatch(/>0\.\d+<\/text>/);
    // Lying bars have their values along x: 66.7 % of findings down to 8.3 %.
    expect(svgOf("What units failed by", single)).toContain(
      "part of all findings, % against failed by; each: 3 of them from 8.333 to 66.67;",
    );
    expect(svgOf("First pass yield, by hour", single)).toContain("95 % interval: 7 of them");
  });

  it("names broken travellers at its head", () => {
    const { source } = madeYieldReport();
    const broken = [{ path: "records/2026/01/05/00000009-A-1.json", problem: "its content was changed" }];
    const text = read(page(madeYieldReport({ source: { ...source, broken } })));
    expect(text).toContain("One traveller is not as recorded and no part of these figures.");
    expect(text).toContain("00000009-A-1.json its content was changed");
  });

  const at = "2026-01-05T08:00:00Z";
  const drift: EarlyWarning = {
    model: "POD-4",
    characteristic: "leak rate",
    unit: "mL/min",
    cavity: { part: "tub_cavity", value: "P2" },
    direction: "rises",
    sentence:
      "Leak rate of POD-4, tub_cavity P2, rises since POD000051, 14 units: tell the quality engineer.",
    first: { serial: "POD000051", at },
    signalled: { serial: "POD000065", at },
    ended: null,
    units: 14,
    shift_sd: 1.2,
    before: 11.8,
    since: 15.1,
    changed: [{ what: "gasket_lot", from: "G1", to: "G2", serial: "POD000052", at, offset: 1 }],
    together: [],
  };

  it("shows early warnings with the first suspect and what changed then", () => {
    const report = madeYieldReport({ warnings: [drift] });
    expect(read(page(report))).toContain(drift.sentence);
    expect(table(page(report), "Drifts")[0]).toEqual([
      "leak rate of POD-4, tub_cavity P2, rises",
      "POD000051, 2026-01-05 09:00",
      "2026-01-05 09:00",
      "11.8 to 15.1 mL/min",
      "1.2",
      "gasket_lot G1 to G2",
      "stands",
    ]);
  });

  it("sends nobody to the engineer for a drift that has ended", () => {
    const ended = { serial: "POD000070", at, why: "returned" as const };
    const html = page(madeYieldReport({ warnings: [{ ...drift, ended }] }));
    expect(read(html)).not.toContain("tell the quality engineer");
    expect(read(html)).toContain("None of these stands any more.");
    expect(table(html, "Drifts")[0]?.at(-1)).toBe("ended: returned, 2026-01-05 09:00");
  });

  it("breaks no word of a table to make room, but what is longer than a word", () => {
    const scanned = "=".repeat(60);
    const changed = [{ what: "gasket_lot", from: "G1", to: scanned, serial: "POD000052", at, offset: 1 }];
    const html = page(madeYieldReport({ warnings: [{ ...drift, changed }] }));
    const classOf = (text: string) => new RegExp(`class="([^"]*)">${text}`).exec(html)?.[1];
    expect(classOf("leak rate of POD-4, tub_cavity P2, rises")).toBe("text worded");
    expect(classOf("POD000051, 2026-01-05 09:00")).toBe("text worded");
    expect(classOf("gasket_lot G1 to =")).toBe("text");
    expect(html).toContain("td.worded, th.worded { overflow-wrap: break-word; }");
  });
});
