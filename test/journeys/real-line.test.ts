import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { tapesIn } from "../flight/tapes.ts";
import { drumtight, type Event, events } from "./command-line.ts";
import { ServedStation } from "./served-station.ts";

// Three good units, one without its filter, one with a cracked tub: all far from the fast model's limits.
const SEED = "6";

const NOT_HEARD = /^\w+ did not answer "\*IDN\?" within 300 ms; [^\n]*\n$/;

// Real time, and mostly waiting: side by side.
describe.concurrent("five units on served instruments, each with the verdict it deserves", {
  timeout: 400_000,
}, () => {
  it("over the serial driver on pseudo-terminals", () => testFiveUnits("pty"));
  it("over TCP", () => testFiveUnits("tcp"));
});

// Not beside the others: two lines at a time answer in time on two busy cores.
it(
  "three units on a served station whose instruments speak Modbus give tapes that replay to every digit, whatever became of the units",
  {
    timeout: 300_000,
  },
  testOverModbus,
);

/**
 * Five units through `drumtight run` on served instruments, the operator pressing the fixture's start button: one
 * traveller each, and the verdicts the units deserve. Where the machine is too busy for a line in real time, a unit may be void, which
 * is right but proves little: then all is done once more. A wrong verdict fails at once.
 */
async function testFiveUnits(over: "pty" | "tcp"): Promise<void> {
  const tries = 3;
  for (let number = 1; number <= tries; number++) {
    const verdicts = await testedOnce(over);
    if (!verdicts.includes("void")) return;
    if (number === tries) expect(verdicts).not.toContain("void");
  }
}

/** @returns the five verdicts, all of them deserved, or void */
async function testedOnce(over: "pty" | "tcp"): Promise<readonly unknown[]> {
  const station = new ServedStation(over, ["--seed", SEED, "--count", "5"]);
  try {
    await station.ready();
    const truths = await truthOfFive(station.limits);
    const run = station.run(["--start", "button"]);
    for (const unit of truths) run.type(`${unit.serial} tub_cavity=P1`);
    run.child.stdin?.end();
    const { code, stdout, stderr } = await run.ended;
    // Nothing ran for as long as an instrument may take to answer: there was no station, and no unit is tested.
    if (NOT_HEARD.test(stderr)) return ["void"];
    expect(stderr).toBe("");
    const tested = events(stdout).filter((event) => event.event === "unit");
    expect(tested.map(({ serial, verdict, reasons }) => ({ serial, verdict, reasons }))).toEqual(
      truths.map(({ serial, conforms }, i) => ({
        serial,
        verdict: tested[i]?.verdict === "void" ? "void" : conforms ? "pass" : "fail",
        reasons: tested[i]?.verdict === "pass" ? [] : expect.anything(),
      })),
    );
    const verdicts = tested.map(({ verdict }) => verdict);
    if (!verdicts.includes("void")) expect(code).toBe(0);
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
      await expectSame(tape, verdicts[at]);
    }
    return verdicts;
  } finally {
    await station.close();
  }
}

async function testOverModbus(): Promise<void> {
  const station = new ServedStation("pty", ["--seed", SEED, "--count", "3", "--modbus"]);
  try {
    await station.ready();
    const run = station.run(["--start", "button"]);
    for (const unit of (await truthOfFive(station.limits)).slice(0, 3))
      run.type(`${unit.serial} tub_cavity=P1`);
    run.child.stdin?.end();
    const tested = events((await run.ended).stdout).filter((event) => event.event === "unit");
    const tapes = tapesIn(station.records);
    expect(tapes.length).toBeGreaterThan(0);
    expect(tapes).toHaveLength(tested.length);
    for (const [at, tape] of tapes.entries()) {
      await expectSame(tape, tested[at]?.verdict);
    }
    const said = await drumtight(["gauge", "replay", tapes[0] ?? "", "--conversation"]);
    expect(said.stdout).toMatch(
      /io_block +> {2}transaction \d+: 01 01 00 00 00 08 \(read 8 coils from 0\)\n/,
    );
    expect(said.stdout).toMatch(
      /leak_gauge +> {2}01 04 00 00 00 04 F1 C9 \(read 4 input registers from 0\)\n/,
    );
  } finally {
    await station.close();
  }
}

/** By the program that made it: another build has other labels for its timers, and goes by when they were due. */
async function expectSame(tape: string, verdict: unknown): Promise<void> {
  const { stdout, stderr } = await drumtight(["gauge", "replay", tape, "--json"]);
  expect(stderr).toBe("");
  expect(JSON.parse(stdout)).toMatchObject({
    same: true,
    verdict: { recorded: verdict, replayed: verdict },
    record: "same",
  });
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
