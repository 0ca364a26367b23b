import { describe, expect, it } from "vitest";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { drumtight, events } from "./command-line.ts";

const SERIAL = "POD531811"; // the first unit of seed 7, a good one
const ODD = [
  `${SERIAL} tub_cavity=P1 tub_cavity=P2`,
  "x".repeat(3_000_000),
  "POD\x1b[2J\x9b2J\u202e\x07",
  `${SERIAL} tub_cavity=\x1b[31mP1`,
  "",
].join("\n");

function scan(records: string, ...args: readonly string[]) {
  return drumtight(["run", "--simulate", "--model", "POD-4", "--records", records, ...args], ODD);
}

describe("scans nobody can mean", () => {
  it("are refused in short lines without a raw control character, and nothing is tested", async () => {
    const records = scratchFolder();
    const { code, stdout } = await scan(records);
    expect(code).toBe(1);
    // biome-ignore lint/suspicious/noControlCharactersInRegex: what must not reach a terminal
    expect(stdout).not.toMatch(/[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]/);
    const refusals = stdout.split("\n").filter((line) => line.includes(": not started."));
    expect(refusals).toHaveLength(4);
    expect(refusals[0]).toMatch(/^POD531811: not started\. The scan names the tub cavity twice/);
    expect(refusals[1]).toMatch(/^x{40}\.\.\.: not started\. The scan is longer than 200 characters/);
    expect(refusals[2]).toContain("POD\\u001b[2J\\u009b2J\\u202e\\u0007: not started.");
    expect(Math.max(...refusals.map(({ length }) => length))).toBeLessThan(300);
    expect((await travellersIn(records)).every(({ kind }) => kind === "reference")).toBe(true);
  });

  it("are bounded as events, too", async () => {
    const { stdout } = await scan(scratchFolder(), "--json");
    const refused = events(stdout).filter(({ event }) => event === "refused");
    expect(refused.map(({ reasons }) => (reasons as { code: string }[]).map((it) => it.code))).toEqual([
      ["BAD_PART"],
      ["SCAN_TOO_LONG"],
      ["UNKNOWN_SERIAL"],
      ["BAD_PART"],
    ]);
    expect(Math.max(...stdout.split("\n").map(({ length }) => length))).toBeLessThan(2000);
  });
});
