import { describe, expect, it } from "vitest";
import type { ReferencePiece } from "../../station/cycle/attempt.ts";
import { judgeAttempt } from "../../station/cycle/judging.ts";
import type { UnitEvidence } from "../../station/cycle/unit-context.ts";
import { station } from "../made-traveller.ts";
import { held, type Point, standardAir, step } from "./held-points.ts";
import { attemptOn, pod, unitBench } from "./unit-bench.ts";

/** 20 L/s of air of 1.20 kg/m3 at 7 kPa. */
const PIECE: ReferencePiece = {
  serial: "REF-ORIFICE-POD-4",
  kind: "orifice",
  model: "POD-4",
  certified_m3_s: 0.02,
  tolerance_m3_s: 0.0005,
  unit: "L/s",
  orifice: { point: "open", atSuction_Pa: 7000 },
};
const MOTOR_DEAD = { code: "MOTOR_DID_NOT_START", sentence: "The motor did not start." } as const;
const SLIPPED = { code: "GUARD_OPENED", sentence: "The guard was opened." } as const;

/** What the piece's attempt comes to when its point reads this. */
function judgedAt(
  [suction_Pa, flow_m3_s]: readonly [number, number],
  also: Partial<UnitEvidence> = {},
  piece = PIECE,
) {
  const point: Point = [suction_Pa, flow_m3_s, 560];
  const airflow = held([point, point, point]).filter((it) => it.point === "open");
  const evidence: UnitEvidence = {
    startedAt_ms: 0,
    start_s: 0,
    ambient: standardAir,
    leaks: [],
    airflow,
    phases: [],
    fails: [],
    voids: [],
    ...also,
  };
  return judgeAttempt({ ...attemptOn(pod), reference: piece }, evidence, station.knowledge);
}

describe("a reference orifice", () => {
  it("passes by its certificate alone, whatever the model's limits say of suction, power and efficiency", () => {
    const { verdict, characteristics, airflow, suspects } = judgedAt([7000, 0.0201]);
    expect(verdict).toBe("pass");
    expect(characteristics).toHaveLength(1);
    const [flow] = characteristics;
    expect(flow?.characteristic).toMatchObject({
      name: "reference flow",
      measurand: "flow",
      point: "open",
      lower: expect.closeTo(0.0195, 9),
      upper: expect.closeTo(0.0205, 9),
      unit: "L/s",
    });
    expect(flow?.uncertainty).toBeGreaterThan(1e-4);
    expect(airflow).toHaveLength(1);
    expect(suspects).toEqual([]);
  });

  it.each([
    ["as far off as the tolerance, and a little less", 0.02048, "pass"],
    ["off by more", 0.0206, "fail"],
    ["off by more, to the other side", 0.0194, "fail"],
  ] as const)("that reads %s: %s m3/s, %s", (_, flow_m3_s, verdict) => {
    const result = judgedAt([7000, flow_m3_s]);
    expect(result.verdict).toBe(verdict);
    if (verdict === "fail")
      expect(result.reasons[0]?.sentence).toMatch(/^reference flow is (above|below) the/);
  });

  it("is compared at its certificate's suction, wherever its fan holds it", () => {
    // At 6 kPa the same orifice lets through less: 18.57 L/s (by the roots 18.52).
    expect(judgedAt([6000, 0.01857]).verdict).toBe("pass");
    expect(judgedAt([6000, 0.02]).verdict).toBe("fail");
  });

  it.each([3400, 14_100, 0, -30])("proves nothing at %d Pa, too far from its certificate", (suction_Pa) => {
    const { verdict, reasons } = judgedAt([suction_Pa, 0.02]);
    expect(verdict).toBe("void");
    expect(reasons).toMatchObject([{ code: "NOT_TRUSTED" }]);
    expect(reasons[0]?.sentence).toMatch(
      /certificate is for 7\.00 kPa.*REF-ORIFICE-POD-4 has its own orifice in front/,
    );
  });

  it("is void, and no fail that would put units on hold, when its own motor does not run", () => {
    const { verdict, reasons } = judgedAt([7000, 0.02], { airflow: [], fails: [MOTOR_DEAD] });
    expect(verdict).toBe("void");
    expect(reasons).toEqual([MOTOR_DEAD]);
  });

  it("is void where the test was broken off, whatever was read before", () => {
    expect(judgedAt([7000, 0.02], { voids: [SLIPPED] })).toMatchObject({
      verdict: "void",
      reasons: [SLIPPED],
    });
  });

  it("is void without a point held, without the room's air, and where the model has no such point", () => {
    expect(judgedAt([7000, 0.02], { airflow: [] }).verdict).toBe("void");
    expect(judgedAt([7000, 0.02], { ambient: null }).verdict).toBe("void");
    const elsewhere = { ...PIECE, orifice: { point: "wide", atSuction_Pa: 7000 } };
    expect(judgedAt([7000, 0.02], {}, elsewhere)).toMatchObject({ verdict: "void", characteristics: [] });
  });

  it("is void where its uncertainty is more than its tolerance", () => {
    const { verdict, reasons } = judgedAt([7000, 0.02], {}, { ...PIECE, tolerance_m3_s: 0.0002 });
    expect(verdict).toBe("void");
    expect(reasons[0]?.sentence).toMatch(/its uncertainty is more than the tolerance/);
  });

  it("is run up and held at its one point only, with that point's shutter open, and never filled", async () => {
    const bench = await unitBench({}, { attempt: { ...attemptOn(pod), reference: PIECE } });
    for (const phase of ["airflow.runUp", "airflow.hold", "airflow.coast"]) {
      await bench.reach(phase);
      await bench.fulfil();
    }
    await bench.end();
    const [evidence] = bench.recorded;
    expect(evidence?.airflow.map(({ point }) => point)).toEqual(["open"]);
    expect(evidence?.leaks).toEqual([]);
    expect(bench.commands.some(({ source, isolate }) => source || isolate)).toBe(false);
    const running = bench.commands.filter(({ motor }) => motor);
    expect(running.length).toBeGreaterThan(0);
    expect(running.every(({ orifice_1, orifice_2 }) => orifice_2 && !orifice_1)).toBe(true);
    expect(step.points.length).toBeGreaterThan(1);
  });
});
