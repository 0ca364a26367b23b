import { describe, expect, it } from "vitest";
import { type CheckedPiece, referenceChecks } from "../../station/yield/reference-checks.ts";

describe("reference checks", () => {
  const reading = { measured: 15.2, certified: 15, tolerance: 2, unit: "mL/min" };
  const check = (
    serial: string,
    verdict: CheckedPiece["verdict"],
    at: string,
    more: Partial<CheckedPiece> = {},
  ) => ({
    ...{ serial, verdict, at, model: "POD-4", reference: reading },
    ...more,
  });

  it("are counted by piece and verdict, with the last one as it was recorded, not as the clock has it", () => {
    const checks = [
      check("R2", "pass", "2026-01-05T06:00:00.000Z"),
      check("R1", "fail", "2026-01-05T09:00:00.000Z", { reference: { ...reading, measured: 18.1 } }),
      check("R1", "pass", "2026-01-05T08:00:00.000Z"),
    ];
    expect(referenceChecks(checks)).toEqual([
      {
        serial: "R1",
        model: "POD-4",
        passed: 1,
        failed: 1,
        last: { at: "2026-01-05T08:00:00.000Z", verdict: "pass", ...reading },
      },
      {
        serial: "R2",
        model: "POD-4",
        passed: 1,
        failed: 0,
        last: { at: "2026-01-05T06:00:00.000Z", verdict: "pass", ...reading },
      },
    ]);
  });

  it("prove nothing where they are void", () => {
    const checks = [
      check("R1", "pass", "2026-01-05T08:00:00.000Z"),
      check("R1", "void", "2026-01-05T09:00:00.000Z", { reference: { ...reading, measured: null } }),
    ];
    expect(referenceChecks(checks)).toMatchObject([{ passed: 1, failed: 0, last: { verdict: "pass" } }]);
  });

  it("keep pieces of two models apart, by model first", () => {
    const checks = [check("R1", "pass", "b"), check("R1", "pass", "a", { model: "BIN-1" })];
    expect(referenceChecks(checks).map(({ model, passed }) => [model, passed])).toEqual([
      ["BIN-1", 1],
      ["POD-4", 1],
    ]);
  });
});
