import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { drumtight } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-limits-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const TUB = "limits/models/tub-12.yaml";
const STATION = "sim/demo-station.yaml";

function written(name: string, text: string): string {
  const path = join(scratch, name);
  writeFileSync(path, text);
  return path;
}

describe("a quality engineer checks a new limit file", () => {
  const tub = readFileSync(TUB, "utf8");

  it("the plant's own are warned of the heat in their short settling and of early values, and are good files", async () => {
    const { code, stdout, stderr } = await drumtight([
      ...["limits", "check", TUB, "limits/models/pod-4.yaml", "--station", STATION],
    ]);
    for (const model of ["tub-12", "pod-4"]) {
      expect(stderr).toMatch(
        new RegExp(`${model}\\.yaml: warning: leak rate: The pressure changes by .*heat`),
      );
      expect(stderr).toMatch(new RegExp(`${model}\\.yaml: warning: leak rate: .*early verdict`));
    }
    expect(stderr.match(/warning/g)).toHaveLength(4);
    expect(stdout.trim().split("\n")).toHaveLength(2);
    expect(code).toBe(0);
  });

  it("a limit the station cannot resolve is warned of, with what to do, and is still a good file", async () => {
    const fine = written("fine.yaml", tub.replace("upper: 60 mL/min", "upper: 1.6 mL/min"));
    const { code, stdout, stderr } = await drumtight(["limits", "check", fine, "--station", STATION]);
    expect(stdout).toBe(`${fine}: OK, TUB-12 revision 4\n`);
    expect(stderr).toMatch(
      /fine\.yaml: warning: leak rate: .*a tenth of the limit, 0\.16 mL\/min: measure longer/,
    );
    expect(stderr).toMatch(/fine\.yaml: warning: leak rate: .*a quarter of the limit, 0\.4 mL\/min: reduce/);
    expect(code).toBe(0);
  });

  it("a mistake beside a doubtful limit is told first and alone", async () => {
    const both = written(
      "both.yaml",
      tub
        .replace("measure_longest: 16 s", "measure_longest: 100 s")
        .replace("fill_shortest: 2 s", "fill_shortest: 9 s"),
    );
    const { code, stdout, stderr } = await drumtight(["limits", "check", both]);
    expect(stderr).toMatch(
      /both\.yaml:\d+:\d+: steps\[0\]\.fill_shortest: .*expected less than fill_longest\n$/,
    );
    expect(stdout).toBe("");
    expect(code).toBe(1);
  });

  it("an orifice that the station has not is a mistake of the limit file, at its place", async () => {
    const other = written("other.yaml", tub.replace("orifice: working", "orifice: workin"));
    const { code, stdout, stderr } = await drumtight(["limits", "check", other, "--station", STATION]);
    expect(stderr).toMatch(
      /other\.yaml:47:\d+: steps\[1\]\.points\[1\]\.orifice: found "workin", expected one of the station file's orifices closed, working, open \(did you mean working\?\)\n/,
    );
    expect(stdout).toBe("");
    expect(code).toBe(1);
    expect((await drumtight(["limits", "check", other])).code).toBe(0);
  });

  it.each([
    ["is not there", () => join(scratch, "nowhere.yaml"), /nowhere\.yaml can't be read/],
    [
      "has a mistake",
      () => written("station.yaml", "drumtight: station/2\n"),
      /station\.yaml:1:12: drumtight/,
    ],
  ])("a station file that %s is named before anything is checked", async (_, path, words) => {
    const { code, stdout, stderr } = await drumtight(["limits", "check", TUB, "--station", path()]);
    expect(stderr).toMatch(words);
    expect(stdout).toBe("");
    expect(code).toBe(2);
  });

  it("a calibration that was renamed is named, and the file still a good one", async () => {
    const station = written(
      "demo.yaml",
      readFileSync(STATION, "utf8").replace(
        "limits: ../limits/models",
        `limits: ${resolve("limits/models")}`,
      ),
    );
    written("demo.TUB-12.settle.json", "{}");
    const { code, stderr } = await drumtight(["limits", "check", TUB, "--station", station]);
    expect(stderr).toMatch(/^demo\.TUB-12\.settle\.json looks like a calibration.*not used/m);
    expect(code).toBe(0);
  });
});
