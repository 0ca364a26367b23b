import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { gapWatch, jumpWatch, stepWatch } from "../../station/cycle/curve-trust.ts";

const RATE_Hz = 50;
/** Filled to 5 kPa in 1.5 s or more, gauge certified to 2 Pa. */
const POD = { testPressure_Pa: 5000, fastest_Pa_s: 5000 / 1.5, gaugeFloor_Pa: 2 };
const TUB = { testPressure_Pa: -8000, fastest_Pa_s: 4000, gaugeFloor_Pa: 2 };

/** Feeds readings at the gauge's rate. @returns the code of the first that can't be, else that of a doubt left at the end */
function follow(body: typeof POD, values_Pa: readonly number[]): string | null {
  const watch = jumpWatch(body);
  for (const [i, value_Pa] of values_Pa.entries()) {
    const reason = watch.accept(i / RATE_Hz, value_Pa);
    if (reason) return `${reason.code} at ${i}`;
  }
  return watch.doubt && `in doubt: ${watch.doubt.code}`;
}

/** Pressure of a body over a hole, as its root falls evenly. @param k root of Pa lost per second */
function throughHole(from_Pa: number, k: number, n: number): number[] {
  const root = Math.sqrt(Math.abs(from_Pa));
  return Array.from({ length: n }, (_, i) => Math.sign(from_Pa) * Math.max(0, root - (k * i) / RATE_Hz) ** 2);
}

describe("a closed body whose gauge", () => {
  it.each([
    ["shows one reading off and is back", POD, [4850, 4849, 5150, 4848]],
    ["shows one reading off and is back, under suction", TUB, [-7900, -7899, -7300, -7898]],
    ["falls and stays there", POD, [4850, 4849, ...Array<number>(12).fill(4549)]],
    ["falls and stays there, under suction", TUB, [-7900, -7899, ...Array<number>(12).fill(-7599)]],
    ["rises at once", POD, [4850, 4849, ...Array<number>(12).fill(5149)]],
    ["falls, and the measurement ends before anybody can say why", POD, [4850, 4849, 4549, 4548]],
  ])("%s has jumped", (_, body, values) => {
    expect(follow(body, values)).toMatch(/GAUGE_JUMPED/);
  });

  it("falls to nothing at once is not accused: so does a body whose lid comes off", () => {
    expect(follow(POD, [4850, 4849, 3, ...Array<number>(20).fill(1)])).toBeNull();
    expect(follow(TUB, [-7900, -7899, -300, -20, ...Array<number>(20).fill(0)])).toBeNull();
  });

  it("shows any hole that opens is not accused, however large it is and whenever it does", () => {
    const size = fc.double({ min: 0.01, max: 2000, noNaN: true });
    const noise = fc.array(fc.double({ min: -4, max: 4, noNaN: true }), { minLength: 120, maxLength: 120 });
    fc.assert(
      fc.property(fc.constantFrom(POD, TUB), size, fc.nat(50), noise, (body, k, opens, noise_Pa) => {
        const tight = Array<number>(opens + 1).fill(body.testPressure_Pa * 0.97);
        const values = [...tight, ...throughHole(body.testPressure_Pa * 0.97, k, 120)];
        const noisy = values.map((value_Pa, i) => value_Pa + (noise_Pa[i % noise_Pa.length] ?? 0));
        expect(follow(body, noisy)).toBeNull();
      }),
      { numRuns: 400 },
    );
  });

  it("names both pressures and what to look at", () => {
    const watch = jumpWatch(TUB);
    watch.accept(0, -7900);
    expect(watch.accept(0.02, -8400)?.sentence).toMatch(/from -7\.90 kPa to -8\.40 kPa.*cable/);
  });

  it("lets a slow gauge show what a source could have done in between", () => {
    const watch = jumpWatch(POD);
    watch.accept(0, 3000);
    expect(watch.accept(1, 4500)).toBeNull();
  });
});

describe("readings that come", () => {
  const codes = (times_s: readonly number[]) => {
    const accept = gapWatch();
    return times_s.map((t_s) => accept(t_s)?.code ?? null).filter((code) => code !== null);
  };
  const fast = Array.from({ length: 50 }, (_, i) => i / RATE_Hz);

  it.each([0.1, 0.4, 0.65])("%s s late, as on a busy computer, are taken", (gap_s) => {
    expect(codes([...fast, 0.98 + gap_s, 1 + gap_s])).toEqual([]);
  });

  it.each([0.75, 1, 3])("%s s late, and then many at once, are not", (gap_s) => {
    expect(codes([...fast, 0.98 + gap_s, 0.98 + gap_s, 0.98 + gap_s])).toEqual(["READINGS_HELD_UP"]);
  });

  it("once in two seconds from a slow gauge are taken, and missed when five of them would have come", () => {
    const slow = [0, 2, 4, 6, 8, 10];
    expect(codes([...slow, 19])).toEqual([]);
    expect(codes([...slow, 20.1])).toEqual(["READINGS_HELD_UP"]);
  });
});

describe("a body that nothing fills or empties, whose gauge", () => {
  const codes = (body: typeof POD, values_Pa: readonly number[]) => {
    const accept = stepWatch(body);
    return values_Pa.map((value_Pa, i) => accept(i / RATE_Hz, value_Pa)?.code ?? "");
  };

  it.each([
    ["falls at once", POD, [1, 2, -300]],
    ["rises at once", POD, [1, 2, 300]],
    ["falls at once, under suction", TUB, [0, -1, -400]],
    ["rises at once, under suction", TUB, [0, -1, 400]],
  ])("%s has jumped", (_, body, values) => {
    expect(codes(body, values)).toEqual(["", "", "GAUGE_JUMPED"]);
  });

  it("goes no faster than a source through a valve that does not shut is not accused", () => {
    const rising = Array.from({ length: 50 }, (_, i) => (POD.fastest_Pa_s * i) / RATE_Hz);
    expect(codes(POD, rising).join("")).toBe("");
  });
});
