import { readdirSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { drumtight, events } from "./command-line.ts";
import { ServedStation, testedValidly } from "./served-station.ts";

const SERIAL = "POD361707"; // the first unit of seed 6, a good one

describe("a station killed in the middle of a unit", { timeout: 300_000 }, () => {
  let station: ServedStation;
  beforeAll(async () => {
    station = new ServedStation("tcp", ["--seed", "6", "--count", "5", "--hands"]);
    await station.ready();
    await station.mount(SERIAL);
  });
  afterAll(() => station.close());

  it("finds the attempt again at the next start, makes it void, and tests the unit anew", async () => {
    const killed = station.run([]);
    killed.type(SERIAL);
    await killed.waitFor((event) => event.event === "phase" && event.phase === "settle");
    killed.child.kill("SIGKILL");
    await killed.ended;
    expect(attempts(station.records)).toEqual([]);

    const again = station.run([]);
    const tested = await testedValidly(again, SERIAL, 2);
    again.child.stdin?.end();
    const told = events((await again.ended).stdout);
    expect(told.find((event) => event.event === "interrupted")).toMatchObject({
      serial: SERIAL,
      attempt: 1,
      verdict: "void",
      reasons: [{ code: "INTERRUPTED" }],
    });
    expect(tested).toMatchObject({ serial: SERIAL, verdict: "pass" });
    const verdicts = ["void", ...told.filter(({ event }) => event === "unit").map(({ verdict }) => verdict)];

    const found = JSON.parse(
      (await drumtight(["find", SERIAL, "--records", station.records, "--json"])).stdout,
    );
    expect(found.attempts.map((it: { traveller: { verdict: string } }) => it.traveller.verdict)).toEqual(
      verdicts,
    );
    expect(attempts(station.records)).toHaveLength(verdicts.length);
  });

  it("lets no second station write to the same records folder", async () => {
    const first = station.run([]);
    first.type("POD361709");
    await first.waitFor((event) => event.event === "phase");
    const second = await drumtight(["run", "--simulate", "--units", "1", "--records", station.records]);
    expect(second.code).toBe(2);
    expect(second.stdout).toBe("");
    expect(second.stderr).toMatch(/is using the records folder/);
    first.child.kill("SIGTERM");
    const { code, stdout } = await first.ended;
    expect(events(stdout).find((event) => event.event === "unit")).toMatchObject({
      verdict: "void",
      reasons: [{ code: "PROGRAM_STOPPED" }],
    });
    expect(code).toBe(1);
  });
});

function attempts(records: string): string[] {
  return readdirSync(records, { recursive: true, encoding: "utf8" })
    .filter((path) => /^\d{4}\/.*\.json$/.test(path))
    .map((path) => join(records, path));
}
