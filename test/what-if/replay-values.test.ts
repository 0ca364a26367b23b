import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { ModelLimits } from "../../limits/model.ts";
import type { StoredAttempt } from "../../station/records/read-stored-values.ts";
import { ValuesReplay } from "../../station/what-if/replay-values.ts";
import { yieldChange } from "../../station/what-if/what-if-summary.ts";
import { pod, podForm, podNumbers, storedAttempt, withUpper } from "./made-stored.ts";

function replayed(
  limits: ModelLimits,
  attempts: readonly StoredAttempt[],
  { held = [] as string[], shifts = [] as string[] } = {},
) {
  const replay = new ValuesReplay({ limits, shifts, keepAll: false }, new Set(held));
  for (const attempt of attempts) replay.add(attempt);
  const report = replay.result();
  return { ...report, first: yieldChange(report.tally.first), last: yieldChange(report.tally.last) };
}

/** Judged by the compact body's own limits: 25 mL/min. */
function tested(leak_mLmin: number, more: Partial<StoredAttempt> = {}): StoredAttempt {
  const verdict = leak_mLmin > 24 ? "fail" : "pass";
  return storedAttempt({ form: podForm({ verdict }), numbers: podNumbers(leak_mLmin), ...more });
}

describe("a history judged again", () => {
  it("whatever the values and limits, every unit is counted once", () => {
    const attempt = fc.record({ leak: fc.double({ min: 0, max: 60, noNaN: true }), isVoid: fc.boolean() });
    const units = fc.array(fc.array(attempt, { minLength: 1, maxLength: 3 }), { maxLength: 20 });
    fc.assert(
      fc.property(units, fc.double({ min: 1, max: 60, noNaN: true }), (all, upper) => {
        const attempts = all.flatMap((unit, u) =>
          unit.map(({ leak, isVoid }, i) => {
            const more = { serial: `U${u}`, attempt: i + 1, goesOn: i + 1 < unit.length };
            const form = podForm({ verdict: "void", codes: ["ABORTED"] });
            return tested(leak, isVoid ? { ...more, form } : more);
          }),
        );
        const { tally, first, last } = replayed(withUpper(upper), attempts);
        expect(tally.units).toBe(all.length);
        expect(first.units + tally.notFirst + tally.notValid).toBe(all.length);
        for (const it of [first, last]) {
          const { passBoth, failBoth, passToFail, failToPass, toVoid, notRejudged } = it;
          const left = Object.values(notRejudged).reduce((sum, count) => sum + count, 0);
          expect(passBoth + failBoth + passToFail + failToPass + toVoid + left).toBe(it.units);
        }
        const cavities = [...(tally.parts().get("tub_cavity")?.values() ?? [])].map(yieldChange);
        expect(cavities.reduce((sum, it) => sum + it.units, 0)).toBe(first.units);
        const same = replayed(pod, attempts);
        expect(same.tally.changedFirst).toEqual([]);
        expect(same.first.after).toEqual(same.first.before);
        expect(same.last.after).toEqual(same.last.before);
      }),
      { numRuns: 50 },
    );
  });

  it("a unit that failed and passed its retest is bad at first and good in the end", () => {
    const retest = podForm({ kind: "retest" });
    const { first, last } = replayed(pod, [
      tested(40, { serial: "A", goesOn: true }),
      tested(10, { serial: "B" }),
      tested(10, { serial: "A", attempt: 2, form: retest }),
    ]);
    expect([first.before?.good, first.after?.good, first.compared]).toEqual([1, 1, 2]);
    expect([last.before?.good, last.after?.good, last.compared]).toEqual([2, 2, 2]);
  });

  it("a held test is no inspection: the one after it is the unit's first", () => {
    const { first, held, tally } = replayed(
      withUpper(20),
      [
        tested(40, { serial: "A", goesOn: true }),
        tested(22, { serial: "A", attempt: 2, form: podForm({ kind: "retest" }) }),
        tested(10, { serial: "B" }),
      ],
      { held: ["1 A", "1 B"] },
    );
    expect(held).toBe(2);
    expect(first).toMatchObject({ units: 1, passToFail: 1 });
    expect(tally.notValid).toBe(1);
  });

  it("a retest whose first inspection lies before the days asked for is no first inspection", () => {
    const { first, last, tally } = replayed(pod, [
      tested(10, { attempt: 2, form: podForm({ kind: "retest" }) }),
    ]);
    expect([first.units, last.units, tally.notFirst]).toEqual([0, 1, 1]);
  });

  it("drafts and reference pieces are counted, and are no units", () => {
    const { tally, drafts, references } = replayed(pod, [
      tested(10, { form: podForm({ draft: true }) }),
      tested(10, { form: podForm({ recordKind: "reference" }) }),
      tested(10),
    ]);
    expect([tally.units, drafts, references]).toEqual([1, 1, 1]);
  });

  it("names each changed unit, with the value that changes its verdict", () => {
    const { tally } = replayed(withUpper(20), [tested(22, { serial: "A" }), tested(10, { serial: "B" })]);
    expect(tally.changedFirst).toMatchObject([{ serial: "A", from: "pass", to: "fail" }]);
    expect(tally.changedFirst[0]?.because).toBe("leak rate 22.0 ± 1.0 mL/min");
  });

  it("tells fails in the guard band and passes near a limit apart, before and now", () => {
    const { tally } = replayed(withUpper(23), [tested(22.5), tested(23.8), tested(24.5)]);
    const [leak] = tally.characteristics;
    expect(leak).toMatchObject({
      judged: 3,
      failBefore: 1,
      failAfter: 3,
      guardBefore: 1,
      guardAfter: 1,
      marginalBefore: 0,
      marginalAfter: 0,
    });
    const [near] = replayed(withUpper(23), [tested(22.1)]).tally.characteristics;
    expect(near).toMatchObject({ failAfter: 0, marginalBefore: 0, marginalAfter: 1 });
  });

  it("groups by cavity and by the station's shifts, not by numbers that only one unit has", () => {
    const at = (hour: number) => new Date(2026, 0, 5, hour).toISOString();
    const units = [7, 13, 15, 23].map((hour, i) =>
      tested(22, {
        started_at: at(hour),
        parts: `{"tub_cavity":"P${1 + (i % 2)}","motor_serial":"N${i}"}`,
      }),
    );
    const { tally } = replayed(withUpper(20), units, { shifts: ["06:00", "14:00", "22:00"] });
    expect([...tally.shifts].map(([name, { passFail }]) => [name, passFail])).toEqual([
      ["06:00 to 14:00", 2],
      ["14:00 to 22:00", 1],
      ["22:00 to 06:00", 1],
    ]);
    expect([...(tally.parts().get("tub_cavity")?.keys() ?? [])]).toEqual(["P1", "P2"]);
    expect(tally.parts().get("motor_serial")).toBeNull();
  });
});
