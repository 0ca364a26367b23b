import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { drumtight } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-study-limit-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const random = randomStream(3, "returns");
const RETURNS = [
  "leak,returned",
  ...Array.from({ length: 1500 }, () => {
    const leak = 60 * random.uniform();
    return `${leak.toFixed(2)},${random.uniform() < 1 / (1 + Math.exp(6 - 0.08 * leak)) ? 1 : 0}`;
  }),
].join("\n");

describe("drumtight study limit", () => {
  it("finds the limit of field data, with its line, and writes a page", async () => {
    const html = join(scratch, "limit.html");
    const asked = ["-", "--model", "TUB-12", "--returned-at-most", "5 %", "--json", "--html", html];
    const { code, stdout, stderr } = await drumtight(["study", "limit", ...asked], RETURNS);
    expect(stderr).toBe("");
    expect(code).toBe(0);
    const told = JSON.parse(stdout);
    // ln(0.05 / 0.95) = -6 + 0.08 leak: 38.2 mL/min.
    expect(told.leak_CI95[0]).toBeLessThan(38.2);
    expect(told.leak_CI95[1]).toBeGreaterThan(38.2);
    expect(told.limit).toBeLessThanOrEqual(told.leak_CI95[0]);
    expect(told.limit_file_lines).toEqual([`upper: ${told.limit} mL/min @ 20 degC`]);
    expect(readFileSync(html, "utf8")).toContain("A leak limit from what came back");
  });

  it("says that a leak which costs suction empties the body, and gives no line", async () => {
    const fan = ["--sealed-suction", "22 kPa", "--open-flow", "68 L/s", "--working-flow", "20 L/s"];
    const asked = ["--model", "TUB-12", "--least-suction", "14 kPa", ...fan, "--json"];
    const { code, stdout } = await drumtight(["study", "limit", ...asked]);
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({ answer: "none", measurable: false, limit_file_lines: [] });
  });

  it("takes a guard band for fans that differ, and gives a line the station can measure by", async () => {
    const fan = ["--sealed-suction", "22 kPa", "--open-flow", "68 L/s", "--working-flow", "20 L/s"];
    const asked = ["--model", "TUB-12", "--least-suction", "15.49 kPa", ...fan, "--json"];
    const alike = JSON.parse((await drumtight(["study", "limit", ...asked])).stdout);
    const differing = await drumtight(["study", "limit", ...asked, "--fan-spread", "0.1 %"]);
    expect(differing).toMatchObject({ code: 0, stderr: "" });
    const told = JSON.parse(differing.stdout);
    expect(alike).toMatchObject({ guard_process: 0, fan_spread: null, measurable: true });
    expect(told).toMatchObject({ answer: "yes", fan_spread: 0.001, leak_middle: alike.leak_middle });
    expect(told.guard_process).toBeGreaterThan(0);
    expect(told.limit).toBeLessThan(alike.limit);
    expect(told.limit_file_lines).toEqual([`upper: ${told.limit} mL/min @ 20 degC`]);
  });

  it("refuses a day that is none", async () => {
    const asked = ["--model", "TUB-12", "--least-suction", "14 kPa", "--from", "2026-13-45"];
    const { code, stderr } = await drumtight(["study", "limit", ...asked]);
    expect(code).toBe(2);
    expect(stderr).toContain("Give a date like 2026-01-05.");
  });
});
