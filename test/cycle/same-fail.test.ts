import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { sameFail, type UnitAttempt } from "../../station/cycle/same-fail.ts";

const attempt = (serial: string, verdict: UnitAttempt["verdict"], ...causes: string[]): UnitAttempt => ({
  recordKind: "unit",
  serial,
  draft: false,
  verdict,
  causes,
});
const fail = (serial: string, ...causes: string[]) => attempt(serial, "fail", ...causes);
const pass = (serial: string) => attempt(serial, "pass");
const leak = "leak rate";

/** As they were tested, oldest first. */
const found = (count: number, ...attempts: UnitAttempt[]) => sameFail(attempts.toReversed(), count);

describe("units in a row that fail alike", () => {
  it("are found once there are so many, and named in the order of their tests", () => {
    const three = [fail("A", leak), fail("B", leak), fail("C", leak)];
    expect(found(3, ...three)).toEqual({ cause: leak, serials: ["A", "B", "C"] });
    expect(found(4, ...three)).toBeNull();
    expect(found(3, pass("Z"), ...three)).toEqual({ cause: leak, serials: ["A", "B", "C"] });
  });

  it.each([
    ["a pass between", [fail("A", leak), pass("P"), fail("B", leak), fail("C", leak)]],
    ["a pass after them", [fail("A", leak), fail("B", leak), fail("C", leak), pass("P")]],
    ["another cause between", [fail("A", leak), fail("X", "gross leak"), fail("B", leak), fail("C", leak)]],
    ["one unit tested twice", [fail("A", leak), fail("A", leak), fail("B", leak)]],
    ["a retest that passed", [fail("A", leak), fail("B", leak), pass("A"), fail("C", leak)]],
    ["drafts", [fail("A", leak), fail("B", leak), { ...fail("C", leak), draft: true }]],
    [
      "reference pieces",
      [fail("A", leak), fail("B", leak), { ...fail("R", leak), recordKind: "reference" as const }],
    ],
  ])("are not three with %s", (_, attempts) => {
    expect(found(3, ...attempts)).toBeNull();
  });

  it.each([
    [
      "a void between",
      [fail("A", leak), attempt("V", "void"), fail("B", leak), fail("C", leak)],
      ["A", "B", "C"],
    ],
    [
      "a void of one of them",
      [fail("A", leak), attempt("A", "void"), fail("B", leak), fail("C", leak)],
      ["A", "B", "C"],
    ],
    [
      "a retest that failed too",
      [fail("A", leak), fail("B", leak), fail("A", leak), fail("C", leak)],
      ["B", "A", "C"],
    ],
  ])("are three with %s", (_, attempts, serials) => {
    expect(found(3, ...attempts)).toEqual({ cause: leak, serials });
  });

  it("need one cause in common, and may have others each", () => {
    const units = [fail("A", leak, "suction"), fail("B", "power", leak), fail("C", leak)];
    expect(found(3, ...units)).toMatchObject({ cause: leak });
    expect(found(3, fail("A", leak, "suction"), fail("B", "suction"), fail("C", leak))).toBeNull();
    // The longer of two rows is told: it holds the units that have to be kept.
    expect(found(2, fail("A", leak), fail("B", leak, "suction"), fail("C", "suction", leak))).toEqual({
      cause: leak,
      serials: ["A", "B", "C"],
    });
  });

  it("are all different, failed by that cause at their newest valid test, and nobody passed since the first of them", () => {
    const attempts = fc.array(
      fc.record({
        recordKind: fc.constant("unit" as const),
        serial: fc.constantFrom("A", "B", "C", "D", "E"),
        draft: fc.boolean(),
        verdict: fc.constantFrom("pass", "fail", "fail", "void" as const),
        causes: fc.subarray([leak, "suction"], { minLength: 1 }),
      }),
      { maxLength: 12 },
    );
    fc.assert(
      fc.property(attempts, fc.integer({ min: 2, max: 4 }), (tested, count) => {
        const stop = found(count, ...tested);
        if (!stop) return;
        expect(new Set(stop.serials).size).toBe(stop.serials.length);
        expect(stop.serials.length).toBeGreaterThanOrEqual(count);
        const counted = tested.filter((it) => !it.draft && it.verdict !== "void");
        for (const serial of stop.serials) {
          const newest = counted.findLast((it) => it.serial === serial);
          expect(newest).toMatchObject({ verdict: "fail" });
          expect(newest?.causes).toContain(stop.cause);
        }
        expect(counted.at(-1)?.verdict).toBe("fail");
      }),
    );
  });
});
