import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { canonicalText } from "../../station/records/chain.ts";
import { PartGroups } from "../../station/what-if/part-groups.ts";

function grouped(units: readonly Readonly<Record<string, string>>[]) {
  const groups = new PartGroups(() => ({ count: 0 }));
  for (const parts of units) groups.add(canonicalText(parts), (group) => group.count++);
  return groups;
}

describe("units grouped by the numbers of their parts", () => {
  it("are counted as their records say, whatever names and numbers are made of", () => {
    const odd = fc.constantFrom("P1", "P2", 'a"b', "a\\b", "", "ü", "a,b", '":"', "\n");
    const name = fc.constantFrom("tub", "lid", "motor", "__proto__", 'x"y', "z:");
    const unit = fc.uniqueArray(fc.tuple(name, odd), { selector: ([key]) => key, maxLength: 4 });
    fc.assert(
      fc.property(fc.array(unit, { maxLength: 30 }), (units) => {
        const expected = new Map<string, number>();
        for (const [key, number] of units.flat()) {
          const both = JSON.stringify([key, number]);
          expected.set(both, (expected.get(both) ?? 0) + 1);
        }
        const groups = grouped(units.map((parts) => Object.fromEntries(parts)));
        const found = new Map<string, number>();
        for (const [key, numbers] of groups.result(Number.POSITIVE_INFINITY)) {
          for (const [number, { count }] of numbers ?? []) found.set(JSON.stringify([key, number]), count);
        }
        expect(found).toEqual(expected);
      }),
    );
  });

  it("make no groups of serial numbers, few or many, and go on with the other parts", () => {
    const units = Array.from({ length: 900 }, (_, i) => ({ motor: `N${i}`, tub: `P${i % 2}` }));
    const all = grouped(units).result(900);
    expect(all.get("motor")).toBeNull();
    expect(all.get("tub")).toEqual(
      new Map([
        ["P0", { count: 450 }],
        ["P1", { count: 450 }],
      ]),
    );
    expect(grouped(units.slice(0, 3)).result(3).get("motor")).toBeNull();
  });
});
