import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { UsageError } from "../../station/explain.ts";
import type { StudyChart, StudyReport } from "../../station/quality/study-report.ts";
import { writeStudyPage } from "../../station/study-page/study-html.ts";
import { studyText } from "../../station/study-page/study-text.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const AT = new Date("2026-01-05T07:00:00Z");

function report(more: Partial<StudyReport> = {}): StudyReport {
  return {
    title: "Process capability",
    question: "Is the process good?",
    subject: "leak rate of TUB-12",
    conclusion: "The process is able.",
    answer: "yes",
    bands: [{ text: "Ppk above 1.33", source: "common practice, no source" }],
    notes: ["3 void attempts left out."],
    tables: [
      {
        caption: "Indices",
        columns: [
          { heading: "index", kind: "text" },
          { heading: "value", kind: "number" },
        ],
        rows: [["Ppk", "1.41"]],
      },
    ],
    charts: [
      {
        title: "Values",
        x: { label: "unit" },
        y: { label: "leak rate, mL/min" },
        series: [
          { name: "value", draw: "line and dots", points: [1, 2, 3].map((x) => [x, x * 7]), marked: [2] },
        ],
        levels: [{ label: "upper limit", along: "y", at: 60, means: "specification limit" }],
      },
    ],
    figures: { Ppk: 1.41 },
    data: {
      caption: "Values",
      columns: [{ heading: "value", kind: "number" }],
      rows: [["7"], ["14"], ["21"]],
    },
    ...more,
  };
}

async function pageOf(shown: StudyReport): Promise<string> {
  const path = join(scratchFolder(), "study.html");
  await writeStudyPage(shown, path, "leaks.csv", AT);
  return readFileSync(path, "utf8");
}

it("puts conclusion, bands with source, notes, figures, chart, values and origin on a page without script or network", async () => {
  const page = await pageOf(report());
  for (const text of [
    "The process is able.",
    "Ppk above 1.33",
    "common practice, no source",
    "3 void attempts left out.",
    "1.41",
    "leaks.csv",
    "drumtight ",
    "2026-01-05",
  ]) {
    expect(page).toContain(text);
  }
  expect(page).toMatch(
    /<svg role="img" aria-labelledby="chart1-title" aria-describedby="chart1-text"[^>]*><title id="chart1-title">Values/,
  );
  expect(page).toContain("upper limit");
  expect(page).toMatch(/<html lang="en">/);
  expect(page).toMatch(/@page \{ size: A4/);
  expect(page).not.toMatch(/<script|https?:\/\/(?!www\.w3\.org\/2000\/svg)|<link|<img/i);
  expect(page.indexOf("The process is able.")).toBeLessThan(page.indexOf("Ppk above 1.33"));
});

it("shows hostile text and obeys nothing of it, in every place a report has", async () => {
  const bad = `</title></style><script>alert("x")</script><img src=x onerror='y'>\u202e&`;
  const shown = report({
    title: bad,
    subject: bad,
    conclusion: bad,
    bands: [{ text: bad, source: bad }],
    notes: [bad],
    tables: [{ caption: bad, columns: [{ heading: bad, kind: "text" }], rows: [[bad]] }],
    charts: [
      {
        title: bad,
        x: { label: bad, names: [bad, "{a|b}"] },
        y: { label: bad },
        series: [
          { name: bad, draw: "bars", points: [[0, 1]] },
          { name: `${bad}2`, draw: "dots", points: [[1, 2]] },
        ],
        levels: [{ label: bad, along: "y", at: 2, means: "control limit" }],
      },
    ],
    data: { caption: bad, columns: [{ heading: bad, kind: "text" }], rows: [[bad]] },
  });
  const page = await pageOf(shown);
  expect(page).not.toMatch(/<script|<img|<\/title><\/style>/i);
  expect(page).not.toContain("\u202e");
  expect(page.match(/<\/style>/g)).toHaveLength(1);
  expect(page).toContain("&lt;script&gt;");
});

it("draws a level where the axis has its value, however long names are", async () => {
  const names = ["a very long name of a cavity", "another very long name", "x".repeat(60)];
  const levels = [{ label: "limit", along: "y", at: 2, means: "control limit" }] as const;
  const series = [{ name: "mean", draw: "line", points: [0, 1, 2].map((k) => [k, k] as const) }] as const;
  const shown = report({
    charts: [
      { title: "Means", x: { label: "cavity", names }, y: { label: "value" }, series, levels } as StudyChart,
    ],
  });
  const page = await pageOf(shown);
  const tick = /translate\(\S+ ([\d.]+)\)"[^>]*>2\.0</.exec(page)?.[1];
  const level = /<path d="M\S+ ([\d.]+)L[^"]*"[^>]*stroke-dasharray="6,3"/.exec(page)?.[1];
  expect(Number(level)).toBeCloseTo(Number(tick), 0);
});

it("gives the same page for the same report, so that pages can be compared", async () => {
  expect(await pageOf(report())).toBe(await pageOf(report()));
});

it("keeps thousands of values in full as CSV in a closed block, off the paper", async () => {
  const rows = Array.from({ length: 20_000 }, (_, k) => [`${k}`, `<${k}>, "x"`]);
  const columns = [
    { heading: "n", kind: "number" },
    { heading: "name", kind: "text" },
  ] as const;
  const page = await pageOf(report({ data: { caption: "Values", columns, rows } }));
  const csv = /<pre>([\s\S]*)<\/pre>/.exec(page)?.[1]?.split("\n") ?? [];
  expect(csv).toHaveLength(20_001);
  expect(csv[20_000]).toBe("19999,&quot;&lt;19999&gt;, &quot;&quot;x&quot;&quot;&quot;");
  expect(page).toMatch(/<details><summary>20,000 lines as CSV/);
});

it("draws a hundred thousand points small, keeps their extremes and marks, and says so", async () => {
  const points = Array.from({ length: 100_000 }, (_, k) => [k, k === 54_321 ? 1000 : k % 7] as const);
  const page = await pageOf(
    report({
      charts: [
        {
          title: "Values",
          x: { label: "unit" },
          y: { label: "value" },
          series: [{ name: "value", draw: "line", points, marked: [54_321] }],
        },
      ],
    }),
  );
  expect(page.length).toBeLessThan(200_000);
  expect(page).toMatch(/9\d,\d{3} values lie where others are drawn/);
  expect(page).toContain("from 0 to 1000");
  expect(page).toContain("out of the ordinary");
});

it("writes whole or not at all, over an older page and over nothing else", async () => {
  const folder = scratchFolder();
  const page = join(folder, "study.html");
  await writeStudyPage(report(), page, "a", AT);
  await writeStudyPage(report({ conclusion: "Another." }), page, "a", AT);
  expect(readFileSync(page, "utf8")).toContain("Another.");
  expect(readdirSync(folder)).toEqual(["study.html"]);
  const csv = join(folder, "values.csv");
  writeFileSync(csv, "value\n1\n");
  await expect(writeStudyPage(report(), csv)).rejects.toThrow("is there already and is no page");
  expect(readFileSync(csv, "utf8")).toBe("value\n1\n");
});

it("says in one sentence what to do where a page can't be written", async () => {
  const folder = scratchFolder();
  const cases: [string, RegExp][] = [
    [join(folder, "nowhere", "study.html"), /its folder is not there; make it/],
    [folder, /is a folder/],
    ["", /needs the name of a file/],
    ["/proc/study.html", /not written: .*(give another|folder is not there)/],
  ];
  for (const [path, words] of cases) {
    const failed = await writeStudyPage(report(), path).catch((error: unknown) => error);
    expect(failed, path).toBeInstanceOf(UsageError);
    expect((failed as UsageError).message).toMatch(words);
  }
  mkdirSync(join(folder, "x"));
});

it("fits a terminal of 80 columns and lets it obey nothing", () => {
  const long = "word ".repeat(60).trim();
  const columns = Array.from({ length: 9 }, (_, k) => ({
    heading: `column number ${k}`,
    kind: "text" as const,
  }));
  const text = studyText(
    report({
      conclusion: long,
      notes: [long, "\u001b[2J"],
      bands: [{ text: long, source: "AIAG" }],
      tables: [{ caption: long, columns, rows: [columns.map((_, k) => `value ${k} `.repeat(3))] }],
    }),
  );
  const widest = Math.max(...text.split("\n").map((line) => line.length));
  expect(widest).toBeLessThanOrEqual(80);
  expect(text).not.toContain("\u001b");
  for (let k = 0; k < 9; k++) expect(text).toContain(`value ${k}`);
});

it("cuts nothing off a table on a terminal: headings and sentences go on in the next line", () => {
  const what = (n: number) =>
    `Point ${n} of the individual values, 43.99, is above its control limit, 37.55.`;
  const text = studyText(
    report({
      tables: [
        {
          caption: "Signals",
          columns: [
            { heading: "point", kind: "number" },
            { heading: "rule", kind: "text" },
            { heading: "what", kind: "text" },
          ],
          rows: [55, 1056].map((n) => [String(n), "fourteen in a row alternating", what(n)]),
        },
        {
          caption: "Analysis of variance",
          columns: ["source", "degrees of freedom", "sum of squares", "mean square", "F", "p"].map(
            (heading, k) => ({ heading, kind: k === 0 ? ("text" as const) : ("number" as const) }),
          ),
          rows: [["part x appraiser", "18", "0.1531", "0.008504", "1.043", "< 0.0001"]],
        },
      ],
    }),
  );
  expect(text).not.toContain("…");
  const words = text.split(/\s+/).join(" ");
  expect(words).toContain("fourteen in a row");
  for (const word of what(1056).split(" ")) expect(text).toContain(word);
  // In one piece: the values of a row are in one line.
  expect(text).toMatch(/part x appraiser +18 +0\.1531 +0\.008504 +1\.043 +< 0\.0001/);
  expect(Math.max(...text.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
});

it("says what the answer answers, on the page and on a terminal", async () => {
  expect(await pageOf(report())).toMatch(/Is the process good\?[\s\S]*Yes<\/span>/);
  expect(studyText(report())).toMatch(/Is the process good\?\nThe process is able\./);
});

it("draws values as small as any can be told apart, in powers of ten that its axis names", async () => {
  const points = [2, 5, 3].map((value, k) => [k + 1, value * 1e-24] as const);
  const page = await drawnWith({
    y: { label: "value" },
    series: [{ name: "value", draw: "line and dots", points }],
    levels: [{ label: "limit", along: "y", at: 4e-24, means: "control limit" }],
  });
  expect(page).toContain("value / 1e-24");
  expect(page).not.toMatch(/NaN|Infinity/);
});

it("names each table by the line above it, which is kept with it on paper", async () => {
  const page = await pageOf(report());
  expect(page).toMatch(/<p class="caption" id="table1">Indices<\/p><table [^>]*aria-labelledby="table1">/);
  expect(page).toMatch(
    /<p class="caption" id="values">Values[^<]*<\/p><table [^>]*aria-labelledby="values">/,
  );
  expect(page).toMatch(/\.caption, thead \{ break-after: avoid; \}/);
});

it("has no word of a verdict where nothing is held against anything", async () => {
  expect(await pageOf(report({ answer: "none" }))).toContain('<span class="word">Not judged</span>');
  expect(await pageOf(report({ answer: "none", bands: [] }))).not.toContain('<span class="word">');
});

function drawnWith(chart: Partial<StudyChart>): Promise<string> {
  const [plain] = report().charts;
  return pageOf(report({ charts: [{ ...plain, title: "Drawn", ...chart } as StudyChart] }));
}

it("draws long names below the axis from within the drawing, told apart by their ends where only these differ", async () => {
  const names = Array.from({ length: 20 }, (_, k) => `sample piece of the month, number ${k + 10}`);
  const page = await drawnWith({
    x: { label: "part", names },
    series: [{ name: "value", draw: "dots", points: names.map((_, k) => [k, k] as const) }],
  });
  const drawn = [
    ...page.matchAll(/<text[^>]*text-anchor="end"[^>]*matrix\(([^)]*)\)[^>]*>(…[^<]*)<\/text>/g),
  ].map(([, matrix = "", text = ""]) => {
    const [cos = 0, , , , x = 0] = matrix.split(",").map(Number);
    return { text, begins_px: x - cos * text.length * 6.6 };
  });
  expect(drawn.length).toBeGreaterThan(5);
  expect(new Set(drawn.map(({ text }) => text)).size).toBe(drawn.length);
  for (const { begins_px } of drawn) expect(begins_px).toBeGreaterThan(0);
});

it("draws what belongs together alike, a limit of each point as a limit, and every entry of the legend at a place", async () => {
  const page = await drawnWith({
    series: [
      { name: "Alma", draw: "dots", points: [[0, 1]] },
      { name: "mean of Alma", like: "Alma", draw: "line", points: [0, 1].map((x) => [x, 1] as const) },
      { name: "Bo", draw: "dots", points: [[0, 2]] },
      { name: "UCL", means: "control limit", draw: "steps", points: [0, 1].map((x) => [x, 3 + x] as const) },
      { name: "interval", draw: "intervals", points: [0.5, 1.5].map((y) => [0, y] as const) },
    ],
    levels: [],
  });
  const lineOf = (colour: string) =>
    new RegExp(`<path d="M[^"]*" fill="none" stroke="${colour}" stroke-width="1.4"`);
  expect(page).toMatch(lineOf("#0f5f5c"));
  expect(page).not.toMatch(lineOf("#b4581a"));
  expect(page).toMatch(/stroke="#8c2f1b"[^>]*stroke-dasharray="6,3"/);
  expect(page).not.toContain("NaN");
  expect(page).not.toContain("Infinity");
  const entries = [
    ...page.matchAll(/translate\(([\d.]+) ([\d.]+)\)"[^>]*>(?:Alma|mean of Alma|Bo|UCL|interval)</g),
  ];
  expect(new Set(entries.map(([, x, y]) => `${x} ${y}`)).size).toBe(5);
});

it("draws values that are all the same, and leaves no third of a plot empty for a round number", async () => {
  const same = await drawnWith({ series: [{ name: "value", draw: "dots", points: [[6, 6]] }], levels: [] });
  expect(same).not.toContain("NaN");
  const page = await drawnWith({
    series: [{ name: "v", draw: "line", points: [1, 51, 125].map((x) => [x, x % 7] as const) }],
    levels: [],
  });
  const [, line = ""] = /<path d="M([^"]*)" fill="none" stroke="#0f5f5c"/.exec(page) ?? [];
  const places = line.split("L").map((point) => Number(point.split(" ")[0]));
  expect(places.at(-1)).toBeGreaterThan(0.95 * 625);
  expect(page).toContain(">100<");
  expect(page).not.toContain(">150<");
});
