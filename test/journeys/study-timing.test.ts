import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { drumtight, events } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-study-timing-"));
const stationPath = join(scratch, "demo-station.yaml");
const limitPath = join(scratch, "limits", "pod-4.yaml");
const records = join(scratch, "records");
const approved = readFileSync("limits/models/pod-4.yaml", "utf8");
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

/** A limit file with these lines in place of those of the same keys, as somebody would paste them. */
function pasted(text: string, lines: readonly string[]): string {
  return lines
    .join("\n")
    .split(/\n(?! )/)
    .reduce((file, key) => {
      const old = new RegExp(`^    ${key.slice(0, key.indexOf(":"))}: .*$`, "m");
      expect(file).toMatch(old);
      return file.replace(old, key.replace(/^/gm, "    "));
    }, text);
}

function run(units: number, folder: string) {
  const asked = [
    "--simulate",
    "--draft",
    "--units",
    String(units),
    "--model",
    "POD-4",
    "--seed",
    "11",
    "--json",
  ];
  return drumtight(["run", ...asked, "--station", stationPath, "--records", folder]);
}

beforeAll(async () => {
  mkdirSync(join(scratch, "limits"));
  for (const name of readdirSync("sim").filter((it) => it.startsWith("demo-station."))) {
    copyFileSync(join("sim", name), join(scratch, name));
  }
  for (const name of readdirSync("limits/models")) {
    copyFileSync(join("limits/models", name), join(scratch, "limits", name));
  }
  const station = readFileSync("sim/demo-station.yaml", "utf8");
  writeFileSync(stationPath, station.replace("limits: ../limits/models", "limits: limits"));
  const long = ['early_verdict: "off"', "measure_longest: 20 s"];
  writeFileSync(limitPath, pasted(approved, long));
  expect((await run(26, records)).code).toBe(0);
}, 120_000);

describe("drumtight study timing", () => {
  it("finds from a shift of long curves a setting that the limit file takes and the station tests by", async () => {
    const html = join(scratch, "timing.html");
    const risks = ["--false-accept", "0.5 %", "--false-reject", "2 %"];
    const asked = ["--model", "POD-4", "--records", records, ...risks, "--json", "--html", html];
    const { code, stdout, stderr } = await drumtight(["study", "timing", ...asked]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const { chosen, settings, limit_file_lines: lines, answer, units } = JSON.parse(stdout);
    expect({ answer, units }).toEqual({ answer: "yes", units: 26 });
    expect(chosen.R_C).toBeLessThanOrEqual(0.005);
    expect(chosen.R_P).toBeLessThanOrEqual(0.02);
    // The demo's early verdict: half of the good units are done long before the longest time.
    expect(chosen.early_verdict.usual_s).toBeLessThan(chosen.total_s);
    for (const one of settings) {
      if (one.total_s < chosen.total_s) expect(one.keeps).toBe(false);
    }
    const page = readFileSync(html, "utf8");
    expect(page.match(/<svg/g)).toHaveLength(2);
    for (const line of lines) expect(page).toContain(line.trim());

    writeFileSync(limitPath, pasted(approved, lines));
    const checked = await drumtight(["limits", "check", limitPath, "--station", stationPath, "--json"]);
    expect(checked.stderr).toBe("");
    const tested = await run(2, join(scratch, "records-after"));
    expect(tested.code).toBe(0);
    const after = events(tested.stdout).filter(({ event }) => event === "unit");
    expect(after.map(({ verdict }) => verdict)).not.toContain("void");
    expect(after).toHaveLength(2);
  }, 120_000);

  it("tells of a fixed timer, too, and that none is needed where no setting keeps the risks", async () => {
    const asked = [
      "--model",
      "POD-4",
      "--records",
      records,
      "--false-accept",
      "0.001 %",
      "--false-reject",
      "0.001 %",
    ];
    const timer = ["--method", "slope", "--settle", "5 s, 10 s", "--measure", "2 s, 6 s", "--json"];
    const { code, stdout } = await drumtight(["study", "timing", ...asked, ...timer]);
    expect(code).toBe(1);
    const told = JSON.parse(stdout);
    expect(told).toMatchObject({ answer: "no", chosen: null, method: "slope", limit_file_lines: [] });
    expect(told.settings).toHaveLength(4);
  }, 60_000);

  it("says how to record longer curves where early verdicts cut them short", async () => {
    const short = join(scratch, "records-after");
    const { code, stderr } = await drumtight(["study", "timing", "--model", "POD-4", "--records", short]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/leak curve .*10 at least are needed: test units with a draft/);
  }, 60_000);
});
