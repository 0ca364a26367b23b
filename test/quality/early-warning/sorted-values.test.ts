import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { SortedValues } from "../../../station/quality/early-warning/sorted-values.ts";

describe("sorted values", () => {
  it("are what a sorted list is, whatever is put in and taken out", () => {
    const number = fc.integer({ min: -5, max: 5 });
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.boolean(), number), { maxLength: 300 }), number, (steps, asked) => {
        const values = new SortedValues();
        let list: number[] = [];
        for (const [isAdded, value] of steps) {
          if (isAdded) {
            values.add(value);
            list = [...list, value].sort((a, b) => a - b);
          } else {
            values.remove(value);
            const place = list.indexOf(value);
            if (place >= 0) list.splice(place, 1);
          }
        }
        expect(list.map((_, k) => values.at(k))).toEqual(list);
        expect(values.count).toBe(list.length);
        expect(values.at(list.length)).toBeNaN();
        expect(values.firstNotBelow(asked)).toBe(list.filter((it) => it < asked).length);
        expect(values.firstAbove(asked)).toBe(list.filter((it) => it <= asked).length);
      }),
    );
  });
});
