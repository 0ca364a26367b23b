import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { tapesIn } from "../flight/tapes.ts";
import { drumtight, type Event, events } from "./command-line.ts";
import { ServedStation } from "./served-station.ts";

// Three good units, one without its filter, one with a cracked tub: all far from the fast model's limits.
const SEED = "6";

// Real time, and mostly waiting: side by side.
describe.concurrent("five units on served instruments, each with the verdict it deserves", {
  timeout: 400_000,
}, () => {
  it("over the serial driver on pseudo-terminals", () => testFiveUnits("pty"));
  it("over TCP", () => testFiveUnits("tcp"));
});

/**
 * Five units through `drumtight run` on served instruments, the operator pressing the fixture's start button: one
 * traveller each, and the verdicts the units deserve.
 */
async function testFiveUnits(over: "pty" | "tcp"): Promise<void> {
  const station = new ServedStation(over, ["--seed", SEED, "--count", "5"]);
  try {
    await station.ready();
    const truths = await truthOfFive(station.limits);
    const run = station.run(["--start", "button"]);
    for (const unit of truths) run.type(`${unit.serial} tub_cavity=P1`);
    run.child.stdin?.end();
    const { code, stdout, stderr } = await run.ended;
    expect(stderr).toBe("");
    const tested = events(stdout).filter((event) => event.event === "unit");
    expect(tested.map(({ serial, verdict, reasons }) => ({ serial, verdict, reasons }))).toEqual(
      truths.map(({ serial, conforms }) => ({
        serial,
        verdict: conforms ? "pass" : "fail",
        reasons: conforms ? [] : expect.anything(),
      })),
    );
    expect(code).toBe(0);
    for (const unit of tested) {
      expect(JSON.parse(readFileSync(String(unit.traveller), "utf8"))).toMatchObject({
        serial: unit.serial,
        station: { simulated: true },
      });
    }
    // What came off a real line, jitter and all, gives every digit again.
    const tapes = tapesIn(station.records);
    expect(tapes).toHaveLength(tested.length);
    for (const [at, tape] of tapes.entries()) {
      const replayed = await drumtight(["gauge", "replay", tape, "--json"]);
      expect(replayed.stderr).toBe("");
      expect(JSON.parse(replayed.stdout)).toMatchObject({
        same: true,
        differing: [],
        verdict: { recorded: tested[at]?.verdict, replayed: tested[at]?.verdict },
      });
    }
  } finally {
    await station.close();
  }
}

async function truthOfFive(limits: string): Promise<Event[]> {
  const { stdout } = await drumtight([
    "sim",
    "units",
    "--limits",
    limits,
    "--seed",
    SEED,
    "--count",
    "5",
    "--json",
  ]);
  return events(stdout);
}
