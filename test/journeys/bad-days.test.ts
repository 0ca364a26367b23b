import { describe, expect, it } from "vitest";
import { travellersIn } from "../records/scratch-folder.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

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
    ["leak_gauge", "stuck", "measure", "GAUGE_FROZEN", /same value/],
    ["airflow_gauge", "silent", "hold", "INSTRUMENT_FAULT", /airflow_gauge/],
    ["airflow_gauge", "stuck", "run_up", "GAUGE_FROZEN", /suction|flow/],
    ["airflow_gauge", "stuck", "hold", "GAUGE_FROZEN", /same value/],
    ["power_meter", "stuck", "run_up", "GAUGE_FROZEN", /input power|supply voltage/],
    ["power_meter", "stuck", "hold", "GAUGE_FROZEN", /input power/],
    ["power_meter", "not_a_number", "hold", "GAUGE_INVALID", /power/],
    ["io_block", "silent", "measure", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "unplugged", "hold", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "watchdog_trips", "measure", "INSTRUMENT_FAULT", /io_block/],
    ["io_block", "hose_blocked", "measure", "BLOCKED_FIXTURE", /may still hold pressure/],
    ["io_block", "vent_stuck_closed", "measure", "VENT_NOT_COMPLETED", /did not vent/],
    ["io_block", "contactor_welded", "hold", "MOTOR_STILL_RUNNING", /still draws power/],
    ["io_block", "mains_low", "hold", "SUPPLY_OUT_OF_TOLERANCE", /mains/],
  ])("%s %s in %s makes the unit void: %s", async (instrument, day, phase, code, words) => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith();
    const hasStruck = shift.strikeIn(phase, instrument, day);
    const { traveller } = await shift.tryBody(serial);
    expect(hasStruck()).toBe(true);
    expect(traveller).toMatchObject({ verdict: "void" });
    const reasons = traveller?.reasons ?? [];
    expect(reasons.map((it) => it.code)).toContain(code);
    expect(reasons.map((it) => it.sentence).join(" ")).toMatch(words);

    // The I/O block's own watchdog needs a second where the program could not reach it.
    await shift.pass(1.5);
    if (day !== "vent_stuck_closed" && day !== "contactor_welded") {
      expect(shift.simulated.plant.isSafe).toBe(true);
    }

    shift.heal(instrument);
    // Where that was a fault of the station, it has to be proven anew.
    await shift.prove();
    const again = await shift.tryBody(serial);
    expect(again.traveller).toMatchObject({ verdict: "pass", attempt: { number: 2 } });
  });

  it("before the fill ends names a weak source, and blames the source and not the unit", async () => {
    const shift = await SimulatedShift.proven();
    shift.simulated.plant.instruments.get("io_block")?.misbehave("source_weak");
    const { traveller } = await shift.tryBody(shift.unitWith().serial);
    expect(traveller?.reasons.map((it) => it.code)).toEqual(["SOURCE_FAULT"]);
  });
});

describe("a leaking unit", { timeout: 300_000 }, () => {
  it("passes on no bad day of any instrument, whenever it begins, and every attempt has one traveller", async () => {
    const probe = await SimulatedShift.begin();
    const days = [...probe.simulated.plant.instruments].flatMap(([name, instrument]) =>
      instrument.badDays.map((day) => [name, day] as const),
    );
    const { serial } = probe.unitWith("pinched_gasket");
    expect(days.length).toBeGreaterThan(50);
    const stationPath = changedStation(plain);
    for (const [instrument, day] of days) {
      // The leak step does not ask the others: when in it their day begins makes no difference.
      const isAsked = ["leak_gauge", "source_gauge", "io_block"].includes(instrument);
      for (const phase of isAsked ? ["fill", "measure"] : ["measure"]) {
        const what = `${instrument} ${day} in ${phase}`;
        const shift = await SimulatedShift.begin({ stationPath });
        shift.strikeIn(phase, instrument, day);
        const { traveller } = await shift.tryBody(serial);
        expect(traveller?.verdict, what).not.toBe("pass");
        const kept = (await travellersIn(shift.simulated.recordsFolder)).filter((it) => it.kind === "unit");
        expect(kept.length, what).toBe(traveller ? 1 : 0);
      }
    }
  });
});
