import { describe, expect, it } from "vitest";
import type { SimulatedUnit } from "../../sim/population.ts";
import { stationWithFlowFrom, type WayOfFlow } from "./flow-station.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const codes = (reasons: readonly { readonly code: string }[]) => reasons.map((it) => it.code);

/** When a bad day begins: before the test, or as the station goes to a point. */
type Moment = "before" | "closed" | "working" | "open";

function begin(shift: SimulatedShift, moment: Moment, days: readonly (readonly [string, string])[]) {
  const { station, plant, clock } = shift.simulated;
  let hasBegun = false;
  const look = () => {
    if (moment !== "before" && station.progress()?.point?.name !== moment) {
      clock.setTimeout(look, 10);
      return;
    }
    hasBegun = true;
    for (const [instrument, day] of days) plant.instruments.get(instrument)?.misbehave(day);
  };
  look();
  return () => hasBegun;
}

const SHUTTERS = ["NOT_TRUSTED", /whether the station's shutters move/] as const;
const HOSE = ["NOT_TRUSTED", /hose/] as const;
const still = (channel: string) => ["GAUGE_FROZEN", new RegExp(`reading of ${channel} stood still`)] as const;

/**
 * Where shutters stick in the way they should be, nothing is wrong with the test. One that should close for the last point
 * and stays open beside a far wider one changes the air by a tenth: only the next unit's closed inlet shows it.
 */
const DAYS: readonly {
  readonly day: string;
  readonly of: string;
  readonly from: readonly Moment[];
  readonly reason: readonly [string, RegExp];
}[] = [
  { day: "shutters_stuck", of: "io_block", from: ["before", "closed", "working"], reason: SHUTTERS },
  { day: "shutter_1_shut", of: "io_block", from: ["before", "closed", "working"], reason: SHUTTERS },
  { day: "shutter_1_open", of: "io_block", from: ["before", "closed"], reason: SHUTTERS },
  { day: "plenum_hose_off", of: "io_block", from: ["before", "closed", "working", "open"], reason: HOSE },
  {
    day: "voltage_stuck",
    of: "power_meter",
    from: ["before", "closed", "working", "open"],
    reason: still("supply voltage"),
  },
  {
    day: "power_stuck",
    of: "power_meter",
    from: ["before", "closed", "working", "open"],
    reason: still("input power"),
  },
  {
    day: "suction_stuck",
    of: "airflow_gauge",
    from: ["before", "closed", "working", "open"],
    reason: still("suction"),
  },
];
const OF_THE_FLOW_GAUGE = {
  day: "flow_stuck",
  of: "airflow_gauge",
  from: ["before", "closed", "working", "open"],
  reason: still("flow"),
} as const;
const OF_THE_PLATE = {
  day: "stuck",
  of: "flow_plate",
  from: ["before", "closed", "working", "open"],
  reason: still("pressure drop over the plate"),
} as const;

const PLACES: readonly (readonly [string, WayOfFlow, readonly (typeof DAYS)[number][]])[] = [
  ["TUB-12", "a flow gauge", [...DAYS, OF_THE_FLOW_GAUGE]],
  ["POD-4", "calibrated orifices", DAYS],
  ["TUB-12", "a plate in the pipe", [...DAYS, OF_THE_PLATE]],
];

describe.each(PLACES)("a sound %s whose flow comes from %s", { timeout: 60_000 }, (onlyModel, way, days) => {
  const cases = days.flatMap((day) => day.from.map((moment) => ({ ...day, moment })));

  it.each(cases)(
    "on a day of $of $day from $moment is void, and told where to look; and passes when that is mended",
    async ({ day, of, moment, reason: [code, words] }) => {
      const shift = await SimulatedShift.proven({ onlyModel, stationPath: stationWithFlowFrom(way, plain) });
      const { serial } = shift.unitWith();
      const hasBegun = begin(shift, moment, [[of, day]]);
      const { traveller } = await shift.tryBody(serial);
      expect(hasBegun()).toBe(true);
      expect(traveller?.verdict).toBe("void");
      expect(codes(traveller?.reasons ?? [])).toContain(code);
      expect(traveller?.reasons.find((it) => it.code === code)?.sentence).toMatch(words);
      // Whom the station is at fault with is not sent to the bench with a suspect.
      expect(traveller?.suspects ?? []).toEqual([]);

      shift.heal(of);
      await shift.pass(10);
      await shift.prove();
      const again = await shift.tryBody(serial);
      expect(again.traveller).toMatchObject({ verdict: "pass", attempt: { number: 2 } });
    },
  );
});

/** Sound units of the seed, one after the other. */
function soundUnits({ simulated: { population } }: SimulatedShift, count: number): SimulatedUnit[] {
  const found: SimulatedUnit[] = [];
  for (let k = 0; found.length < count; k++) {
    const unit = population.unitAt(k);
    if (unit.defects.length === 0) found.push(unit);
  }
  return found;
}

describe("a voltmeter that stands still", () => {
  it.each(["before", "closed", "working", "open"] as const)(
    "from %s hides no mains that have sunk",
    async (moment) => {
      const shift = await SimulatedShift.proven({ stationPath: changedStation(plain) });
      const [first, second] = soundUnits(shift, 2);
      if (!first || !second) throw new Error("The seed has too few sound units.");
      // Before its first reading there is none to stand still at.
      expect((await shift.tryUnit(first)).traveller?.verdict).toBe("pass");
      begin(shift, moment, [
        ["power_meter", "voltage_stuck"],
        ["io_block", "mains_low"],
      ]);
      const { traveller } = await shift.tryUnit(second);
      expect(traveller?.verdict).toBe("void");
      expect(traveller?.reasons.map((it) => it.sentence).join(" ")).toMatch(
        /reading of supply voltage stood still/,
      );
    },
  );
});

describe("a contactor that does not close", () => {
  async function withUnits() {
    const shift = await SimulatedShift.proven({ stationPath: changedStation(plain) });
    const [first, second, third] = soundUnits(shift, 3);
    if (!first || !second || !third) throw new Error("The seed has too few sound units.");
    const open = () => shift.simulated.plant.instruments.get("io_block")?.misbehave("contactor_open");
    return { shift, first, second, third, open };
  }

  it("is held against the first unit, and with the second one the station stops until somebody has looked", async () => {
    const { shift, first, second, open } = await withUnits();
    open();
    const one = await shift.tryUnit(first);
    expect(one.traveller).toMatchObject({ verdict: "fail", reasons: [{ code: "MOTOR_DID_NOT_START" }] });
    expect(one.faults).toEqual([]);

    const two = await shift.tryUnit(second);
    expect(two.traveller).toMatchObject({ verdict: "void", reasons: [{ code: "NO_MOTOR_STARTS" }] });
    expect(two.traveller?.reasons[0]?.sentence).toContain(first.serial);
    expect(two.traveller?.suspects ?? []).toEqual([]);
    expect(codes(two.faults)).toEqual(["NO_MOTOR_STARTS"]);
    expect(shift.simulated.station.state()).toBe("faulted");

    // The next scan is the acknowledgement.
    shift.heal("io_block");
    await shift.prove();
    expect((await shift.retest(first)).traveller).toMatchObject({ verdict: "pass", attempt: { number: 2 } });
    expect((await shift.tryUnit(second)).traveller).toMatchObject({
      verdict: "pass",
      attempt: { number: 2 },
    });
  });

  it("after a motor that ran is held against the next unit again", async () => {
    const { shift, first, second, third, open } = await withUnits();
    open();
    expect((await shift.tryUnit(first)).traveller?.verdict).toBe("fail");
    shift.heal("io_block");
    expect((await shift.tryUnit(second)).traveller?.verdict).toBe("pass");
    open();
    const { traveller, faults } = await shift.tryUnit(third);
    expect(traveller).toMatchObject({ verdict: "fail", reasons: [{ code: "MOTOR_DID_NOT_START" }] });
    expect(faults).toEqual([]);
  });

  it("is no second unit when the same one is tested again", async () => {
    const { shift, first, open } = await withUnits();
    open();
    await shift.tryUnit(first);
    const { traveller, faults } = await shift.retest(first);
    expect(traveller).toMatchObject({ verdict: "fail", attempt: { number: 2 } });
    expect(faults).toEqual([]);
  });
});
