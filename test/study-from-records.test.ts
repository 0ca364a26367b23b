import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { AttemptFacts } from "../station/records/traveller.ts";
import { decision, test } from "./records/held-units.ts";
import { open } from "./records/running-store.ts";
import { runStudy, studyJson, studyRefusal } from "./run-study.ts";
import { leaking, reading } from "./study-data/made-records.ts";

let folder = "";
let records = "";

/** By the local clock, as the station's shifts are. */
const at = (local: string) => new Date(local).toISOString();
const station = (name: string) => ({ name, software: "drumtight 0.1.0", simulated: false });
const by = (inspector: string): Partial<AttemptFacts> => ({ who: { inspector, sign_in: "pin" } });
const NOISE = [0.3, -0.2, 0.1, -0.4, 0.2, 0, -0.1, 0.4, -0.3, 0.1];

/** Two days of two lots at one station; what a study must leave out; and reference checks at two stations. */
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-recorded-"));
  records = join(folder, "records");
  mkdirSync(records);
  const { store } = await open(records);
  for (const [day, high] of [
    ["2026-01-05", 22],
    ["2026-01-06", 70],
  ] as const) {
    for (const [k, noise] of NOISE.slice(0, 6).entries()) {
      const lot = k % 2 === 0 ? "G0001" : "G0002";
      const parts = { gasket_lot: lot, tub_cavity: `T${1 + (k % 3)}`, lid_cavity: "L1" };
      const started_at = at(`${day}T${k < 3 ? "07" : "15"}:0${k}:00`);
      // One of the second day's fails.
      const value = (k === 5 ? high : 20) + noise;
      await leaking(store, `U${day.slice(-2)}${k}`, value, { parts, started_at, station: station("East") });
    }
  }
  const later = { started_at: at("2026-01-06T16:00:00"), parts: {}, station: station("East") };
  await leaking(store, "U065", 58, { ...later, ...by("Ines") });
  await leaking(store, "U065", 71, { ...later, ...by("Omar") });
  await leaking(store, "U050", 21, { ...later, ...by("Omar") });
  for (const [k, value] of [30, 31].entries()) {
    await leaking(store, `O${k}`, value, { ...later, model: "other-body" });
  }
  await test(store, "V1", "void", later);
  await leaking(store, "D1", 24, { ...later, draft: true });
  await store.dispose(decision("doubt", await leaking(store, "H1", 25, later)));
  for (const [k, noise] of NOISE.entries()) {
    const started_at = at(`2026-01-${String(1 + k).padStart(2, "0")}T06:00:00`);
    for (const name of ["East", "West"]) {
      await reading(store, 15 + noise + (name === "West" ? 0.3 * k : 0), {
        started_at,
        station: station(name),
      });
    }
    const reference = { piece: "REF-TIGHT-1", certified_value: 0, tolerance: 2, unit: "mL/min" };
    await reading(store, noise / 2, { started_at, station: station("East"), reference });
  }
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

const asked = (...more: string[]) => ["--records", records, "--model", "demo-body", ...more];
const leak = (...more: string[]) => asked("--characteristic", "leak_rate", ...more);

/** A station file says when shifts begin. */
function stationFile(): string {
  const path = join(folder, "station.yaml");
  writeFileSync(path, readFileSync("sim/demo-station.yaml", "utf8"));
  return path;
}

describe("study stability --records", () => {
  it("studies each piece at each station for itself, and concludes by the worst in one sentence", async () => {
    const { pieces, conclusion, answer, n } = await studyJson("stability", ...leak());
    expect(n).toBe(30);
    const told = pieces.map((it: Record<string, unknown>) => [it.piece, it.station, it.n, it.tolerance]);
    expect(told).toEqual([
      ["REF-LEAK-1", "West", 10, 2],
      ["REF-LEAK-1", "East", 10, 2],
      ["REF-TIGHT-1", "East", 10, 2],
    ]);
    expect(answer).toBe("no");
    expect(conclusion).toMatch(/^By REF-LEAK-1 at West: The station drifts by \+0\.\d+ mL\/min a day .*\.$/);
    expect(pieces[1]).toMatchObject({ answer: "none", is_drifting: false });
    expect(pieces[2].bias).toBeCloseTo(0.005, 12);
  });

  it("keeps to one piece at one station, with its certificate's value and tolerance", async () => {
    const { out, code } = await runStudy("stability", ...leak("--piece", "REF-LEAK-1", "--at", "East"));
    expect(out).toContain("The certificate says 15 +- 2 mL/min.");
    expect(out).toMatch(/station East,/);
    expect(out).not.toContain("West");
    expect(code).toBe(0);
  });

  it("does not take a piece that stands off within its tolerance for a station that changes", async () => {
    const { answer, conclusion } = await studyJson(
      "stability",
      ...leak("--at", "East", "--piece", "REF-TIGHT-1"),
    );
    expect(answer).toBe("none");
    expect(conclusion).toMatch(/^No sign of a change in 10 checks/);
  });
});

describe("studies of reference checks", () => {
  it("type1 goes by the newest certificate and by the limit that units are judged by", async () => {
    const told = await studyJson("type1", ...leak("--piece", "REF-LEAK-1", "--at", "East"));
    expect(told).toMatchObject({ n: 10, reference: 15, tolerance: 60 });
    expect(told.mean).toBeCloseTo(15.01, 12);
    expect(told.notes).toContainEqual(expect.stringContaining("from no leak to the upper limit, 60 mL/min"));
    expect(told.source).toMatch(/^reference checks in .*, tests of 2026-01-01 to 2026-01-10, station East,/);
  });

  it("bias holds each check against its own certificate", async () => {
    const { references } = await studyJson("bias", ...leak("--at", "East"));
    expect(references.map((it: Record<string, unknown>) => [it.reference, it.n])).toEqual([
      [0, 10],
      [15, 10],
    ]);
  });

  it.each([
    [["type1"], /Add --piece/],
    [["type1", "--piece", "REF-9"], /No valid attempt on "REF-9" .* It has REF-LEAK-1, REF-TIGHT-1\./],
    [["bias", "--to", "2025-12-31"], /No valid attempt on a reference piece/],
    [["stability", "--at", "North"], /No valid attempt on a reference piece/],
  ])("%j is refused in a sentence", async ([name = "", ...more], words) => {
    expect(await studyRefusal(name, ...leak(...more))).toMatch(words);
  });
});

describe("study agreement --records", () => {
  it("compares verdicts on units that were tested more than once, by who was signed in", async () => {
    const told = await studyJson("agreement", ...asked());
    expect(told).toMatchObject({ units: 2, categories: ["fail", "pass"] });
    expect(told.subject).toContain("2 appraisers");
    expect(told.notes.join(" ")).toContain("of units tested once");
    expect(told.notes.join(" ")).toContain("only units that failed are tested again");
  });

  it("takes the station for the appraiser where asked", async () => {
    const told = await studyJson("agreement", ...asked("--appraiser", "station"));
    expect(told.subject).toContain("1 appraiser,");
  });

  it("says why where no unit was tested twice", async () => {
    expect(await studyRefusal("agreement", ...asked("--to", "2026-01-05"))).toMatch(
      /No unit of demo-body .* was tested more than once, of 6/,
    );
  });
});

describe("study chart --records", () => {
  it("counts units that failed of those tested each day, each unit once", async () => {
    const told = await studyJson("chart", ...asked("--kind", "p", "--target", "0.1"));
    expect(told).toMatchObject({ count: [0, 1], size: 6, kind: "p" });
    expect(told.p).toEqual([0, 1 / 6]);
  });

  it("counts by shift of each day, and does not put the same shift of two days together", async () => {
    const { out } = await runStudy(
      "chart",
      ...asked("--station", stationFile(), "--kind", "p", "--per", "shift", "--target", "0.1", "--json"),
    );
    expect(JSON.parse(out)).toMatchObject({ n: 4, size: 3 });
  });

  it("draws a chart of counts for each lot with points by day", async () => {
    const told = await studyJson(
      "chart",
      ...asked("--kind", "u", "--by", "lot", "--per", "day", "--target", "0.1"),
    );
    expect(told.by).toBe("gasket_lot");
    expect(told.groups.map(({ name, size, count }: Record<string, unknown>) => [name, size, count])).toEqual([
      ["G0001", 3, [0, 0]],
      ["G0002", 3, [0, 1]],
    ]);
  });

  it("takes days for subgroups however they are asked for", async () => {
    const perDay = await studyJson("chart", ...leak("--kind", "xbar-s", "--per", "day"));
    expect(perDay).toEqual(await studyJson("chart", ...leak("--kind", "xbar-s", "--by", "day")));
    expect(perDay.names).toEqual(["2026-01-05", "2026-01-06"]);
  });

  it.each([
    [["--kind", "xbar-r"], /Add --per day or --per shift, or --by/],
    [["--kind", "individuals", "--per", "day"], /--per says nothing for --kind individuals/],
    [["--kind", "p", "--per", "shift"], /Give the station file with --station/],
    [["--kind", "p", "--passed"], /--passed leaves nothing/],
    [["--kind", "individuals", "--by", "cavity"], /"cavity" may be lid_cavity or tub_cavity: say which\./],
    [
      ["--kind", "individuals", "--by", "colour"],
      /No unit has "colour": tracked are gasket_lot, lid_cavity, tub_cavity/,
    ],
  ])("%j is refused in a sentence", async (more, words) => {
    expect(await studyRefusal("chart", ...leak(...more))).toMatch(words);
  });
});

describe("values from records", () => {
  it("leaves out what is void, a draft, in doubt, a repeat or a reference piece, and says how many", async () => {
    const { n, notes } = await studyJson("capability", ...leak());
    expect(n).toBe(12);
    for (const words of ["on reference pieces", "1 on draft limits", "1 in doubt", "1 void", "3 repeats"]) {
      expect(notes.join(" ")).toContain(words);
    }
  });

  it("leaves out units that failed where asked, and says that they hide differences where not", async () => {
    const all = await studyJson("compare", ...leak("--by", "lot"));
    expect(all.notes.join(" ")).toContain("1 of 12 values are of units that failed");
    const passed = await studyJson("compare", ...leak("--by", "lot", "--passed"));
    expect(passed.notes.join(" ")).toContain("1 of units that failed (--passed)");
  });

  it("groups by the station's name, and keeps to one", async () => {
    const { out } = await runStudy("values", ...leak("--by", "station", "--at", "East"));
    const groups = out
      .trim()
      .split("\n")
      .slice(1)
      .map((line) => line.split(",")[0]);
    expect(groups).toHaveLength(12);
    expect(new Set(groups)).toEqual(new Set(["East"]));
    expect(await studyRefusal("values", ...leak("--at", "North"))).toMatch(/No valid test/);
  });

  it("compares models with each other, and needs to be told so", async () => {
    const told = await studyJson("compare", ...leak("--by", "model", "--model", "demo-body, other-body"));
    expect(told.groups.map(({ group, n }: Record<string, unknown>) => [group, n]).sort()).toEqual([
      ["demo-body", 12],
      ["other-body", 2],
    ]);
    expect(told.subject).toContain("leak rate of demo-body, other-body");
    const words = await studyRefusal("compare", ...leak("--by", "lot", "--model", "demo-body,other-body"));
    expect(words).toMatch(/Several models need --by model/);
  });

  it.each([
    ["capability", ["--records", "nowhere", "--model", "M", "--characteristic", "c"], /nowhere/],
    [
      "capability",
      ["--records", "R", "--model", "another", "--characteristic", "leak_rate"],
      /No valid test of "another"/,
    ],
    [
      "capability",
      ["--records", "R", "--model", "demo-body", "--characteristic", "noise"],
      /has leak rate\./,
    ],
    ["capability", ["--records", "R", "--model", "demo-body"], /Add --characteristic/],
    ["capability", ["--records", "R", "--characteristic", "leak_rate"], /Add --model/],
    ["compare", ["--records", "R", "--model", "demo-body", "--characteristic", "leak_rate"], /Add --by/],
    [
      "values",
      ["--records", "R", "--model", "demo-body", "--characteristic", "leak_rate", "--from", "2026-02-01"],
      /No valid test of "demo-body"/,
    ],
    [
      "values",
      [
        "--records",
        "R",
        "--model",
        "demo-body",
        "--characteristic",
        "leak_rate",
        "--from",
        "2026-02-01",
        "--to",
        "2026-01-01",
      ],
      /is after --to/,
    ],
    ["chart", ["x.csv", "--records", "R", "--kind", "ewma"], /Give a CSV file or --records, not both/],
  ])("%s %j is refused in a sentence", async (name, more, words) => {
    expect(await studyRefusal(name, ...more.map((it) => (it === "R" ? records : it)))).toMatch(words);
  });
});
