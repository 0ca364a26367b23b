import { describe, expect, it } from "vitest";
import { heldUnits } from "../../station/yield/held-units.ts";
import { type CheckedPiece, referenceChecks } from "../../station/yield/reference-checks.ts";
import { RevisionsInForce } from "../../station/yield/revisions-in-force.ts";

describe("reference checks", () => {
  const reading = { measured: 15.2, certified: 15, tolerance: 2, unit: "mL/min" };
  const check = (
    serial: string,
    verdict: CheckedPiece["verdict"],
    at: string,
    more: Partial<CheckedPiece> = {},
  ) => ({
    ...{ serial, verdict, checks: 1, at, model: "POD-4", reference: reading },
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
        voids: 0,
        last: { at: "2026-01-05T08:00:00.000Z", verdict: "pass", ...reading },
      },
      {
        serial: "R2",
        model: "POD-4",
        passed: 1,
        failed: 0,
        voids: 0,
        last: { at: "2026-01-05T06:00:00.000Z", verdict: "pass", ...reading },
      },
    ]);
  });

  it("prove nothing where they are void, and are counted as that", () => {
    const checks = [
      check("R1", "pass", "2026-01-05T08:00:00.000Z"),
      check("R1", "void", "2026-01-05T09:00:00.000Z", { reference: { ...reading, measured: null } }),
    ];
    expect(referenceChecks(checks)).toMatchObject([
      { passed: 1, failed: 0, voids: 1, last: { verdict: "pass" } },
    ]);
  });

  it("keep pieces of two models apart, by model first", () => {
    const checks = [check("R1", "pass", "b"), check("R1", "pass", "a", { model: "BIN-1" })];
    expect(referenceChecks(checks).map(({ model, passed }) => [model, passed])).toEqual([
      ["BIN-1", 1],
      ["POD-4", 1],
    ]);
  });
});

describe("limit revisions in force", () => {
  const tests = (revision: number, first_at: string, last_at: string, more = {}) => ({
    ...{ model: "POD-4", revision, sha256: "a".repeat(64), first_at, last_at, tests: 1 },
    ...more,
  });

  it("span all their tests", () => {
    const revisions = new RevisionsInForce();
    revisions.add(tests(4, "2026-01-05T07:00:00.000Z", "2026-01-05T07:30:00.000Z", { tests: 3 }));
    revisions.add(tests(4, "2026-01-05T06:00:00.000Z", "2026-01-05T06:10:00.000Z", { tests: 2 }));
    expect(revisions.figures()).toEqual([
      tests(4, "2026-01-05T06:00:00.000Z", "2026-01-05T07:30:00.000Z", { tests: 5 }),
    ]);
  });

  it("stand apart by model, number and file, in this order, also where two files have one number", () => {
    const revisions = new RevisionsInForce();
    const other = { sha256: "b".repeat(64) };
    for (const one of [
      tests(10, "1", "2"),
      tests(9, "3", "4"),
      tests(9, "1", "2", other),
      tests(1, "1", "2", { model: "TUB-12" }),
    ]) {
      revisions.add(one);
    }
    expect(
      revisions.figures().map(({ model, revision, sha256 }) => `${model} ${revision} ${sha256[0]}`),
    ).toEqual(["POD-4 9 b", "POD-4 9 a", "POD-4 10 a", "TUB-12 1 a"]);
  });
});

describe("held units", () => {
  it("are those that somebody or the station holds, and nobody else, the longest held first", () => {
    const unit = (serial: string, state: string, since: string | null) => ({
      ...{ serial, state, since, model: "POD-4", by: "S. Ode", reason: "Gasket lot doubtful." },
    });
    const all = ["good", "failed", "scrapped", "reworked", "void", "none"].map((state) =>
      unit(state, state, "2026-01-05"),
    );
    expect(
      heldUnits([
        ...all,
        unit("B", "in_doubt", "2026-01-06"),
        unit("A", "held", "2026-01-06"),
        unit("C", "held", "2026-01-05"),
      ]),
    ).toEqual([
      { serial: "C", model: "POD-4", since: "2026-01-05", by: "S. Ode", reason: "Gasket lot doubtful." },
      { serial: "A", model: "POD-4", since: "2026-01-06", by: "S. Ode", reason: "Gasket lot doubtful." },
      { serial: "B", model: "POD-4", since: "2026-01-06", by: "S. Ode", reason: "Gasket lot doubtful." },
    ]);
  });
});
