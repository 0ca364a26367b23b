import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, it } from "vitest";
import { bodyDesign } from "../../sim/bodies.ts";
import { capillariesLeaking } from "../../sim/plant/leak-path.ts";
import type { SimulatedUnit } from "../../sim/population.ts";
import { truthOf } from "../../sim/truth.ts";
import { NOBODY } from "../../station/people/person.ts";
import { OneByOne } from "../../station/test-one.ts";
import { openSimulatedStation } from "../../station/wiring.ts";
import { runStudy, studyJson, studyRefusal } from "../run-study.ts";
import { drumtight } from "./command-line.ts";

const UNITS = 16;
/** More than a sound body of this model leaks, and far from the limit of 25 mL/min. */
const MORE_mLmin = 6;

let folder = "";
const verdicts: string[] = [];

/** A shift of sound units, of which those of one tub cavity leak a little more. */
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-studies-"));
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: false,
    recordsFolder: folder,
    onlyModel: "POD-4",
  });
  const { station, plant, population } = simulated;
  const limits = simulated.models.find(({ limits: { model } }) => model === "POD-4")?.limits;
  if (!limits) throw new Error("The demo has no POD-4.");
  station.signIn(NOBODY);
  const one = new OneByOne(station);
  const test = async (body: SimulatedUnit | null) => {
    plant.mount(body);
    const { serial = "", parts = {} } = body ?? {};
    const tested = await simulated.runUntil(one.test({ serial, parts }));
    return tested.kind === "finished" ? tested.finished.traveller.verdict : "not tested";
  };
  for (const { serial } of station.dueReferences()) await test(simulated.unitOf(serial));
  for (let k = 0; verdicts.length < UNITS; k++) {
    const unit = population.unitAt(k);
    // A sound one whose leak is not by chance near the limit already.
    if (unit.model !== "POD-4" || unit.defects.length > 0) continue;
    const { conforms, leak_m3_s } = truthOf(unit, limits);
    if (!conforms || leak_m3_s > 10 / 6e7) continue;
    verdicts.push(await test(unit.parts.tub_cavity === "P2" ? leakingMore(unit) : unit));
  }
  await simulated.close();
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

function leakingMore(unit: SimulatedUnit): SimulatedUnit {
  const more = capillariesLeaking(MORE_mLmin / 6e7, bodyDesign(unit.model).leakPressure_Pa, 0.003);
  const leakPaths = [...unit.body.leakPaths, more];
  return { ...unit, body: { ...unit.body, leakPaths }, cleaner: { ...unit.cleaner, leakPaths } };
}

const asked = () => ["--records", folder, "--model", "POD-4", "--characteristic", "leak_rate"];

it("shows a bad cavity while all its units still pass", async () => {
  expect(new Set(verdicts)).toEqual(new Set(["pass"]));
  const { conclusion, answer, groups } = await studyJson("compare", ...asked(), "--by", "tub_cavity");
  expect(conclusion).toMatch(/^Tub_cavity P2 is worse than P1 by/i);
  expect(answer).not.toBe("yes");
  expect(groups.map(({ group }: { group: string }) => group)).toEqual(["P2", "P1"]);
  const [bad, good] = groups as { mean: number }[];
  expect((bad?.mean ?? 0) - (good?.mean ?? 0)).toBeGreaterThan(MORE_mLmin / 2);
});

it("finds nothing by a part that has no part in it", async () => {
  const { answer } = await studyJson("compare", ...asked(), "--by", "lid_cavity");
  expect(answer).toBe("yes");
});

it("takes the trade's word for a tracked part where only one can be meant", async () => {
  const byWord = await studyJson("compare", ...asked(), "--by", "lot");
  expect(byWord).toEqual(await studyJson("compare", ...asked(), "--by", "gasket_lot"));
  expect(byWord.subject).toContain("gasket_lot");
  const words = await studyRefusal("compare", ...asked(), "--by", "cavity");
  expect(words).toBe('"cavity" may be lid_cavity or tub_cavity: say which.');
});

it("gives from records, to the last digit, what it gives from the CSV of the same values", async () => {
  const file = join(folder, "values.csv");
  const { out, err } = await runStudy("values", ...asked(), "--by", "tub_cavity");
  writeFileSync(file, out);
  expect(out.trim().split("\n")).toHaveLength(1 + UNITS);
  expect(err).toContain(`${UNITS} values, leak rate of POD-4 in mL/min, upper limit 25 mL/min`);
  const limit = ["--upper", "25"];
  const pairs = [
    [
      ["capability", ...asked()],
      ["capability", file, ...limit],
    ],
    [
      ["chart", ...asked(), "--kind", "individuals"],
      ["chart", file, "--kind", "individuals"],
    ],
    [
      ["chart", ...asked(), "--kind", "ewma", "--lambda", "0.3"],
      ["chart", file, "--kind", "ewma", "--lambda", "0.3"],
    ],
    [
      ["compare", ...asked(), "--by", "tub_cavity"],
      ["compare", file, "--by", "group", ...limit],
    ],
  ] as const;
  for (const [fromRecords, fromFile] of pairs) {
    expect(figures(await studyJson(...fromRecords)), fromRecords[0]).toEqual(
      figures(await studyJson(...fromFile)),
    );
  }
});

/** Everything but the words about it, and names of points that the CSV's columns don't give. */
function figures(told: Record<string, unknown>) {
  const { subject: _1, source: _2, notes: _3, conclusion: _4, signals: _5, study: _6, ...rest } = told;
  return rest;
}

it("pipes values from one command into another", async () => {
  const values = await drumtight(["study", "values", ...asked()]);
  const piped = await drumtight(["study", "capability", "-", "--upper", "25", "--json"], values.stdout);
  expect(figures(JSON.parse(piped.stdout))).toEqual(figures(await studyJson("capability", ...asked())));
  expect(JSON.parse(piped.stdout).source).toBe("standard input");
});

it("says on text and in JSON which records, days, station and revision it went by", async () => {
  const { out } = await runStudy("capability", ...asked());
  expect(out.replaceAll(/\s+/g, " ")).toContain(
    `Source: records in ${folder}, tests of 2026-01-05, station Demo station 1, limit file revision`,
  );
  expect(out).toContain("SIMULATED");
});

it("draws a chart for each cavity, and says which", async () => {
  const told = await studyJson("chart", ...asked(), "--kind", "individuals", "--by", "tub_cavity");
  expect(told.groups.map(({ name }: { name: string }) => name).sort()).toEqual(["P1", "P2"]);
  expect(told.groups.reduce((sum: number, { n }: { n: number }) => sum + n, 0)).toBe(UNITS);
});
