import { describe, expect, it } from "vitest";
import { truthOf } from "../../sim/truth.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { travellersIn } from "../records/scratch-folder.ts";
import { SimulatedShift, type Tried } from "./simulated-shift.ts";

const MODELS = ["POD-4", "TUB-12"] as const;
const codes = (reasons: readonly { readonly code: string }[]) => reasons.map((it) => it.code);
const leakOf = (traveller: Traveller | null) =>
  traveller?.characteristics.find((it) => it.measurand === "leak_rate");

/** What was told is what is on disk, and the outputs are safe. */
async function expectKept(shift: SimulatedShift, { traveller }: Tried): Promise<void> {
  const kept = (await travellersIn(shift.simulated.recordsFolder)).filter((it) => it.kind === "unit");
  expect(kept.at(-1)).toEqual(traveller);
  expect(shift.simulated.plant.isSafe).toBe(true);
}

describe.each(MODELS)("a sound %s", (onlyModel) => {
  it.each([
    ["source_weak", "SOURCE_FAULT", /before the fill/],
    ["isolate_stuck_closed", "BLOCKED_FIXTURE", /no air flowed/],
    ["hose_blocked", "BLOCKED_FIXTURE", /sees the hose and not the body/],
    ["vent_stuck_closed", "VENT_NOT_COMPLETED", /vent by hand/],
  ])("on a day of %s is void, and the station stops until it is healed: %s", async (day, code, words) => {
    const shift = await SimulatedShift.proven({ onlyModel });
    const { serial } = shift.unitWith();
    shift.simulated.plant.instruments.get("io_block")?.misbehave(day);
    const tried = await shift.tryBody(serial);
    expect(tried.traveller).toMatchObject({ verdict: "void" });
    expect(codes(tried.traveller?.reasons ?? [])).toEqual([code]);
    expect(tried.traveller?.reasons[0]?.sentence).toMatch(words);
    expect(codes(tried.faults)).toEqual([code]);
    await expectKept(shift, tried);

    shift.heal("io_block");
    await shift.prove();
    const again = await shift.tryBody(serial);
    expect(again.traveller).toMatchObject({ verdict: "pass", attempt: { number: 2 } });
    await expectKept(shift, again);
  });

  it("whose source gives way while it is filled is void, and told so", async () => {
    const shift = await SimulatedShift.proven({ onlyModel });
    const hasStruck = shift.strikeIn("fill", "io_block", "source_weak");
    const tried = await shift.tryBody(shift.unitWith().serial);
    expect(hasStruck()).toBe(true);
    expect(codes(tried.traveller?.reasons ?? [])).toEqual(["SOURCE_FAULT"]);
    expect(tried.traveller?.reasons[0]?.sentence).toMatch(
      /did not hold its pressure while filling \(from -?\d\.\d\d kPa to/,
    );
    await expectKept(shift, tried);
  });

  it("whose hose kinks when it has been measured is void too: nobody can say when it did; and the fill of the piece that proves the station next finds it", async () => {
    const shift = await SimulatedShift.proven({ onlyModel });
    shift.strikeIn("vent", "io_block", "hose_blocked");
    const tried = await shift.tryBody(shift.unitWith().serial);
    expect(tried.traveller).toMatchObject({ verdict: "void", reasons: [{ code: "BLOCKED_FIXTURE" }] });
    const next = await shift.tryBody(`REF-LEAK-${onlyModel}`);
    expect(next.traveller).toMatchObject({ verdict: "void", reasons: [{ code: "BLOCKED_FIXTURE" }] });
    await expectKept(shift, tried);
  });

  it.each([
    ["isolate_stuck_open", /the isolate valve of the fixture does not shut/],
    ["source_stuck_open", /the source valve of the fixture does not shut/],
    ["vent_stuck_open", /The vent valve does not shut/],
  ] as const)("is void on a day of %s, which could hide a leak or look like one", async (day, words) => {
    const shift = await SimulatedShift.proven({ onlyModel });
    shift.simulated.plant.instruments.get("io_block")?.misbehave(day);
    const tried = await shift.tryBody(shift.unitWith().serial);
    expect(tried.traveller).toMatchObject({ verdict: "void" });
    expect(codes(tried.traveller?.reasons ?? [])).toEqual(["VALVE_STUCK"]);
    expect(tried.traveller?.reasons[0]?.sentence).toMatch(words);
    expect(leakOf(tried.traveller)).toMatchObject({ verdict: "void", value: null });
    expect(codes(tried.faults)).toEqual(["VALVE_STUCK"]);
    await expectKept(shift, tried);
  });

  it.each(["source_stuck_closed", "isolate_stuck_closed"])(
    "is void, and not a gross leak, when %s comes in the middle of its fill",
    async (day) => {
      const shift = await SimulatedShift.proven({ onlyModel });
      const { clock, plant, station } = shift.simulated;
      station.listen({
        phase: (_, entered) => {
          if (entered !== "fill") return;
          clock.setTimeout(() => plant.instruments.get("io_block")?.misbehave(day), 800);
        },
      });
      const tried = await shift.tryBody(shift.unitWith().serial);
      expect(tried.traveller).toMatchObject({ verdict: "void" });
      expect(codes(tried.traveller?.reasons ?? [])).toEqual(["BLOCKED_FIXTURE"]);
      expect(tried.traveller?.reasons[0]?.sentence).toMatch(/stopped filling on the way/);
      await expectKept(shift, tried);
    },
  );

  it("fails on a fixture whose seal has given way: only the reference pieces can tell the two apart", async () => {
    const shift = await SimulatedShift.proven({ onlyModel });
    shift.simulated.plant.instruments.get("io_block")?.misbehave("fixture_leak");
    const tried = await shift.tryBody(shift.unitWith().serial);
    expect(tried.traveller).toMatchObject({ verdict: "fail" });
    expect(codes(tried.traveller?.reasons ?? [])).toEqual(["OUT_OF_LIMITS"]);
    await expectKept(shift, tried);
    expect((await shift.tryBody(`REF-TIGHT-${onlyModel}`)).traveller).toMatchObject({ verdict: "fail" });
  });
});

describe.each(MODELS)("an open %s", (onlyModel) => {
  it("without its gasket is not sealed: a fail without a rate, which stops nothing", async () => {
    const shift = await SimulatedShift.proven({ onlyModel });
    const tried = await shift.tryBody(shift.unitWith("missing_gasket").serial);
    expect(tried.traveller).toMatchObject({ verdict: "fail" });
    expect(codes(tried.traveller?.reasons ?? [])).toContain("UNIT_NOT_SEALED");
    expect(codes(tried.traveller?.reasons ?? [])).not.toContain("GROSS_LEAK");
    expect(tried.traveller?.reasons[0]?.sentence).toMatch(/missing gasket/);
    expect(leakOf(tried.traveller)).toMatchObject({ verdict: "fail", value: null, uncertainty: null });
    const fill = tried.traveller?.phases.find(({ phase }) => phase === "fill")?.fill;
    const {
      source_at_rest_Pa: rest = 0,
      source_at_end_Pa: end,
      pressure_at_end_Pa: body = rest,
    } = fill ?? {};
    expect(Math.abs(rest) - Math.abs(end ?? rest)).toBeGreaterThan(30);
    expect(body / rest).toBeLessThan(0.01);
    expect(tried.faults).toEqual([]);
    await expectKept(shift, tried);
  });

  it("with its lid askew is a gross leak, with a rate to go by", async () => {
    const shift = await SimulatedShift.proven({ onlyModel });
    const unit = shift.unitWith("crooked_lid");
    const tried = await shift.tryBody(unit.serial);
    expect(codes(tried.traveller?.reasons ?? [])).toContain("GROSS_LEAK");
    const [limits] = shift.simulated.models;
    const true_mLmin = limits ? truthOf(unit, limits.limits).leak_m3_s * 6e7 : Number.NaN;
    const leak = leakOf(tried.traveller);
    expect(leak).toMatchObject({ verdict: "fail", uncertainty: null });
    expect((leak?.value ?? Number.NaN) / true_mLmin).toBeGreaterThan(0.5);
    expect((leak?.value ?? Number.NaN) / true_mLmin).toBeLessThan(2);
    expect(tried.faults).toEqual([]);
    await expectKept(shift, tried);
  });
});
