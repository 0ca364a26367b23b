import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it, onTestFinished } from "vitest";
import type { SimulatedUnit } from "../../sim/population.ts";
import { OneByOne, type Tested } from "../../station/test-one.ts";
import { openSimulatedStation, type SimulatedStation } from "../../station/wiring.ts";
import { travellersIn } from "../records/scratch-folder.ts";

/** A simulated station in virtual time, signed in, with the reference check done. */
async function provenStation(): Promise<{ simulated: SimulatedStation; one: OneByOne }> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-bad-days-"));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: false,
    recordsFolder: folder,
    onlyModel: "POD-4",
  });
  onTestFinished(() => simulated.close());
  simulated.station.signIn(null);
  const one = new OneByOne(simulated.station);
  for (const piece of simulated.station.dueReferences()) {
    simulated.plant.mount(simulated.referenceBodies.get(piece.serial) ?? null);
    await simulated.runUntil(one.test({ serial: piece.serial, parts: {} }));
  }
  return { simulated, one };
}

async function test(
  { simulated, one }: { simulated: SimulatedStation; one: OneByOne },
  unit: SimulatedUnit,
): Promise<Tested> {
  simulated.plant.mount(unit);
  return simulated.runUntil(one.test({ serial: unit.serial, parts: unit.parts }));
}

/** A sound unit and one that leaks about twice its limit, from the seed's population. */
function chosen(simulated: SimulatedStation): { sound: SimulatedUnit; leaking: SimulatedUnit } {
  const units = [...simulated.population.units(60)];
  const sound = units.find((unit) => unit.defects.length === 0);
  const leaking = units.find((unit) => unit.defects.length === 1 && unit.defects[0] === "pinched_gasket");
  if (!sound || !leaking) throw new Error("the seed has no such units");
  return { sound, leaking };
}

/** Lets the bad day begin in this phase of the next test, and remembers whether the phase came. */
function strikeIn(
  { station, plant }: SimulatedStation,
  phase: string,
  instrument: string,
  day: string,
): { struck: boolean } {
  const watch = { struck: false };
  station.listen({
    phase: (_, entered) => {
      if (entered !== phase || watch.struck) return;
      watch.struck = true;
      plant.instruments.get(instrument)?.misbehave(day);
    },
  });
  return watch;
}

describe("a bad day in the middle of a test", () => {
  it.each([
    ["leak_gauge", "silent", "measure", "INSTRUMENT_FAULT", /leak_gauge sent nothing/],
    ["leak_gauge", "half_line", "settle", "INSTRUMENT_FAULT", /leak_gauge/],
    ["leak_gauge", "garbage", "fill", "INSTRUMENT_FAULT", /leak_gauge/],
    ["leak_gauge", "unplugged", "measure", "INSTRUMENT_FAULT", /leak_gauge/],
    ["leak_gauge", "skips", "measure", "INSTRUMENT_FAULT", /missing/],
    ["leak_gauge", "over_range", "measure", "GAUGE_OVER_RANGE", /over its range/],
    ["leak_gauge", "sensor_fault", "measure", "GAUGE_INVALID", /can't measure/],
    ["leak_gauge", "stuck", "settle", "GAUGE_FROZEN", /same value/],
    ["airflow_gauge", "silent", "hold", "INSTRUMENT_FAULT", /airflow_gauge/],
    ["power_meter", "not_a_number", "hold", "GAUGE_INVALID", /power/],
    ["io_block", "silent", "measure", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "unplugged", "hold", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "watchdog_trips", "measure", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "vent_stuck_closed", "measure", "VENT_NOT_COMPLETED", /did not vent/],
    ["io_block", "contactor_welded", "hold", "MOTOR_STILL_RUNNING", /still draws power/],
    ["io_block", "mains_low", "hold", "SUPPLY_OUT_OF_TOLERANCE", /mains/],
  ])("%s %s in %s makes the unit void: %s", async (instrument, day, phase, code, words) => {
    const bed = await provenStation();
    const { simulated } = bed;
    const { sound } = chosen(simulated);
    const watch = strikeIn(simulated, phase, instrument, day);
    const tested = await test(bed, sound);
    expect(watch.struck).toBe(true);
    expect(tested.kind === "finished" && tested.finished.traveller).toMatchObject({ verdict: "void" });
    const reasons = tested.kind === "finished" ? tested.finished.traveller.reasons : [];
    expect(reasons.map((it) => it.code)).toContain(code);
    expect(reasons.map((it) => it.sentence).join(" ")).toMatch(words);

    // The I/O block's own watchdog needs a second where the program could not reach it.
    await simulated.runUntil(
      new Promise<void>((resolve) => simulated.clock.setTimeout(() => resolve(), 1_500)),
    );
    if (day !== "vent_stuck_closed" && day !== "contactor_welded") expect(simulated.plant.isSafe).toBe(true);

    simulated.plant.instruments.get(instrument)?.misbehave(null);
    const again = await test(bed, sound);
    expect(again.kind === "finished" && again.finished.traveller).toMatchObject({
      verdict: "pass",
      attempt: { number: 2 },
    });
  });

  it("before the fill ends names a weak source, and blames the source and not the unit", async () => {
    const bed = await provenStation();
    bed.simulated.plant.instruments.get("io_block")?.misbehave("source_weak");
    const tested = await test(bed, chosen(bed.simulated).sound);
    expect(tested.kind === "finished" && tested.finished.traveller.reasons.map((it) => it.code)).toEqual([
      "SOURCE_FAULT",
    ]);
  });
});

describe("a leaking unit", { timeout: 300_000 }, () => {
  it("passes on no bad day of any instrument, whenever it begins, and every attempt has one traveller", async () => {
    const probe = await provenStation();
    const days = [...probe.simulated.plant.instruments].flatMap(([name, instrument]) =>
      instrument.badDays
        // The volume behind a stuck isolate valve thins the leak out; the leak reference finds that, not the unit.
        .filter((day) => day !== "isolate_stuck_open")
        .map((day) => [name, day] as const),
    );
    const { leaking } = chosen(probe.simulated);
    expect(days.length).toBeGreaterThan(50);
    for (const [instrument, day] of days) {
      for (const phase of ["fill", "measure"]) {
        const bed = await provenStation();
        strikeIn(bed.simulated, phase, instrument, day);
        const tested = await test(bed, leaking);
        const what = `${instrument} ${day} in ${phase}`;
        const verdict = tested.kind === "finished" ? tested.finished.traveller.verdict : tested.kind;
        expect(verdict, what).not.toBe("pass");
        const kept = (await travellersIn(bed.simulated.recordsFolder)).filter((it) => it.kind === "unit");
        expect(kept.length, what).toBe(tested.kind === "finished" ? 1 : 0);
      }
    }
  });
});
