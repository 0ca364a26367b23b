import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { propagate, sensitivitiesOf } from "../../../station/measure/fit/propagation.ts";

const input = (component: string, estimate: number, uncertainty: number) => ({
  component,
  estimate,
  uncertainty,
  unit: "m",
});

describe("propagate", () => {
  test("3 m with 0.3 m and 4 m with 0.4 m make 7 m with 0.5 m, the first with 36 % of the variance", () => {
    const [sum] = propagate([input("a", 3, 0.3), input("b", 4, 0.4)], ([a = 0, b = 0]) => [a + b]);
    expect(sum).toMatchObject({ value: 7, uncertainty: expect.closeTo(0.5, 9) });
    expect(sum?.budget[0]).toMatchObject({ component: "a", share: expect.closeTo(0.36, 9) });
  });

  test("an error that two readings share cancels in their difference and doubles in their sum", () => {
    const [difference, sum] = propagate([input("zero of the gauge", 0, 0.1)], ([zero = 0]) => [
      9 + zero - (7 + zero),
      9 + zero + 7 + zero,
    ]);
    expect(difference?.uncertainty).toBeCloseTo(0, 12);
    expect(sum?.uncertainty).toBeCloseTo(0.2, 12);
  });

  test("what is known exactly costs no calculation and has no line", () => {
    let calls = 0;
    const [area] = propagate([input("width", 2, 0), input("length", 3, 0.1)], ([width = 0, length = 0]) => {
      calls += 1;
      return [width * length];
    });
    expect(calls).toBe(3);
    expect(area?.budget.map(({ component }) => component)).toEqual(["length"]);
  });

  test("a result that is no number one uncertainty away has no uncertainty, rather than a small one", () => {
    const [root] = propagate([input("x", 0.01, 0.1)], ([x = 0]) => [Math.sqrt(x)]);
    expect(root?.uncertainty).toBeNaN();
  });

  test("products and powers have their relative uncertainties added in squares, as GUM equation 12 has it", () => {
    const size = fc.double({ min: 0.1, max: 100, noNaN: true });
    const part = fc.double({ min: 1e-5, max: 0.003, noNaN: true });
    fc.assert(
      fc.property(size, size, part, part, (x, y, rx, ry) => {
        const [z] = propagate([input("x", x, rx * x), input("y", y, ry * y)], ([a = 0, b = 0]) => [
          a ** 2 / Math.sqrt(b),
        ]);
        const expected = Math.hypot(2 * rx, ry / 2);
        expect((z?.uncertainty ?? 0) / (z?.value ?? 1) / expected).toBeCloseTo(1, 4);
      }),
    );
  });

  test.each([
    { estimate: Number.NaN, uncertainty: 1 },
    { estimate: 1, uncertainty: Number.NaN },
    { estimate: 1, uncertainty: -1 },
    { estimate: 1, uncertainty: Number.POSITIVE_INFINITY },
  ])("$estimate with $uncertainty is refused by its name", ({ estimate, uncertainty }) => {
    expect(() => sensitivitiesOf([input("bore", estimate, uncertainty)], (x) => x)).toThrow(/^bore: /);
  });
});
