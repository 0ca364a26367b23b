import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type RandomStream, randomStream } from "../../../sim/random.ts";
import { EarlyVerdict, type Look } from "../../../station/measure/leak/early-verdict.ts";
import { SequentialBoundary } from "../../../station/measure/leak/sequential-boundary.ts";

const LOOKS = 40;
const LIMIT = 1;
const SYSTEMATIC = 0.03;
const clocks = Array.from({ length: LOOKS }, (_, k) => k / (LOOKS - 1));

/** Standard uncertainty falling smoothly from the first to the last look, as a leak fit's does. */
function falling(first: number, last: number): number[] {
  return clocks.map((clock) => first * (last / first) ** clock);
}

/** What each look asks of "conforms" and "fails", read off two verdicts that are driven far beyond their boundaries. */
function asked(
  limits: { lower?: number; upper?: number },
  risks: { falseAccept: number; falseReject: number },
  uncertainties: readonly number[],
) {
  const accepting = new EarlyVerdict(limits, risks);
  const rejecting = new EarlyVerdict(limits, risks);
  const middle = ((limits.lower ?? -1e4) + (limits.upper ?? 1e4)) / 2;
  return uncertainties.map((standardUncertainty, k) => {
    const look = { standardUncertainty, clock: clocks[k] ?? Number.NaN };
    const accept = accepting.take({ ...look, value: middle });
    const reject = rejecting.take({ ...look, value: 1e5 });
    return {
      accept: accept.kind === "conforms" ? accept.boundary : Number.POSITIVE_INFINITY,
      reject: reject.kind === "fails" ? reject.boundary : Number.POSITIVE_INFINITY,
    };
  });
}

/** Estimates at the looks: independent increments of information, and a systematic error that is the same at all. */
function path(truth: number, uncertainties: readonly number[], random: RandomStream): number[] {
  const shared = truth + SYSTEMATIC * random.normal();
  let information = 0;
  let score = 0;
  return uncertainties.map((u) => {
    const now = 1 / (u * u - SYSTEMATIC * SYSTEMATIC);
    score += Math.sqrt(Math.max(0, now - information)) * random.normal();
    information = now;
    return shared + score / information;
  });
}

interface Stops {
  conforms: number;
  fails: number;
}

/** Parts of simulated units that stop early with each verdict. */
function stops(
  truth: number,
  limits: { lower?: number; upper?: number },
  risk: number,
  uncertainties: readonly number[],
  paths: number,
): Stops {
  const needed = asked(limits, { falseAccept: risk, falseReject: risk }, uncertainties);
  const random = randomStream(20, "early verdict");
  const counts = { conforms: 0, fails: 0 };
  for (let n = 0; n < paths; n++) {
    const values = path(truth, uncertainties, random);
    for (let k = 0; k < values.length; k++) {
      const value = values[k] ?? Number.NaN;
      const u = uncertainties[k] ?? Number.NaN;
      const inside =
        Math.min(
          (limits.upper ?? Number.POSITIVE_INFINITY) - value,
          value - (limits.lower ?? Number.NEGATIVE_INFINITY),
        ) / u;
      if (inside >= (needed[k]?.accept ?? Number.NaN)) {
        counts.conforms++;
        break;
      }
      if (-inside >= (needed[k]?.reject ?? Number.NaN)) {
        counts.fails++;
        break;
      }
    }
  }
  return { conforms: counts.conforms / paths, fails: counts.fails / paths };
}

/** Three standard errors of a simulated part. */
function scatter(part: number, paths: number): number {
  return 3 * Math.sqrt((part * (1 - part)) / paths);
}

describe("the risk over all looks together", () => {
  const uncertainties = falling(1, 0.05);
  const paths = 200_000;

  it.each([1e-2, 1e-3])(
    "of a unit exactly at the limit is what was asked, %f, and not below half",
    (risk) => {
      const at = stops(LIMIT, { upper: LIMIT }, risk, uncertainties, paths);
      for (const part of [at.conforms, at.fails]) {
        expect(part).toBeLessThan(risk + scatter(risk, paths));
        expect(part).toBeGreaterThan(risk / 2);
      }
    },
  );

  // At the first looks the uncertainty dwarfs the distance to the limit, so that a part of what they spend is left at 1.25.
  it("is far below 0.1 % for units at 0.6 and 1.25 of the limit", () => {
    const coarse = falling(1, 0.08);
    expect(stops(0.6, { upper: LIMIT }, 1e-3, coarse, paths).fails).toBeLessThan(1e-4);
    expect(stops(1.25, { upper: LIMIT }, 1e-3, coarse, paths).conforms).toBeLessThan(2e-4);
  });

  it("leaves clear units decided before three quarters of the time", () => {
    const at = stops(0.3, { upper: LIMIT }, 1e-3, uncertainties.slice(0, 30), 10_000);
    expect(at.conforms).toBeGreaterThan(0.95);
  });

  it("is not above what was asked between two limits that the first looks cannot tell apart", () => {
    const limits = { lower: 0.98, upper: 1.02 };
    const at = stops(1.02, limits, 1e-2, uncertainties, paths);
    expect(at.fails).toBeLessThan(1e-2 + scatter(1e-2, paths));
    expect(at.fails).toBeGreaterThan(5e-3);
  });

  it("holds for the slope of a straight line fitted to ever more readings", () => {
    const first = 20;
    const readings = 200;
    const uncertainties: number[] = [];
    const every = Array.from({ length: readings }, (_, i) => i);
    for (let n = first; n <= readings; n += 5) uncertainties.push(Math.sqrt(12 / (n * (n * n - 1))));
    const boundary = new SequentialBoundary(1e-2);
    const needed = uncertainties.map((u, k) => boundary.next(u, k / (uncertainties.length - 1)));
    const random = randomStream(21, "line");
    const units = 40_000;
    let crossed = 0;
    for (let unit = 0; unit < units; unit++) {
      let sum = 0;
      let moment = 0;
      for (const i of every) {
        const reading = random.normal();
        sum += reading;
        moment += i * reading;
        const n = i + 1;
        if (n < first || n % 5 !== 0) continue;
        const slope = (moment - ((n - 1) / 2) * sum) / ((n * (n * n - 1)) / 12);
        const k = (n - first) / 5;
        if (slope / (uncertainties[k] ?? Number.NaN) >= (needed[k] ?? Number.NaN)) {
          crossed++;
          break;
        }
      }
    }
    expect(Math.abs(crossed / units - 1e-2)).toBeLessThan(scatter(1e-2, units));
  });
});

describe("looks that bring little or cannot be used", () => {
  it("give no verdict at hardly more information than the last, and keep its risk for the next that has more", () => {
    const all = new SequentialBoundary(1e-3);
    const fewer = new SequentialBoundary(1e-3);
    all.next(1, 0.2);
    fewer.next(1, 0.2);
    const spent = all.spent;
    for (const u of [1, 0.998, 1.3, 0.9952]) expect(all.next(u, 0.4)).toBe(Number.POSITIVE_INFINITY);
    expect(all.spent).toBe(spent);
    expect(all.next(0.9, 0.6)).toBe(fewer.next(0.9, 0.6));
    expect(all.spent).toBe(fewer.spent);
  });

  it("let their share of the risk lapse when skipped, so that the next look has only its own", () => {
    const skipped = new SequentialBoundary(1e-2, (risk, clock) => risk * clock);
    skipped.skip(0.4);
    skipped.skip(0.3);
    skipped.next(1, 0.5);
    expect(skipped.spent).toBeCloseTo(1e-3, 12);
  });

  it.each([
    { value: Number.NaN, standardUncertainty: 0.1, clock: 0.5 },
    { value: 0.1, standardUncertainty: Number.NaN, clock: 0.5 },
    { value: 0.1, standardUncertainty: Number.POSITIVE_INFINITY, clock: 0.5 },
    { value: 0.1, standardUncertainty: 0, clock: 0.5 },
    { value: 0.1, standardUncertainty: -0.01, clock: 0.5 },
    { value: 0.1, standardUncertainty: 0.01, clock: Number.NaN },
  ])("decide nothing with $value +- $standardUncertainty at $clock", (look) => {
    const verdict = new EarlyVerdict({ upper: LIMIT }, { falseAccept: 1e-3, falseReject: 1e-3 });
    expect(verdict.take(look)).toEqual({ kind: "go-on" });
    expect(verdict.take({ value: 0.1, standardUncertainty: 0.01, clock: 0.6 }).kind).toBe("conforms");
  });
});

describe("an early verdict", () => {
  const risks = { falseAccept: 1e-3, falseReject: 1e-2 };
  const look = { standardUncertainty: 0.1, clock: 0.5 };

  it("tells the distance it had to have, the one it had, and the risk spent of its kind", () => {
    const accept = new SequentialBoundary(1e-3);
    const reject = new SequentialBoundary(1e-2);
    expect(new EarlyVerdict({ upper: LIMIT }, risks).take({ ...look, value: 0.5 })).toEqual({
      kind: "conforms",
      boundary: accept.next(0.1, 0.5),
      distance: expect.closeTo(5, 9),
      riskSpent: accept.spent,
    });
    expect(new EarlyVerdict({ upper: LIMIT }, risks).take({ ...look, value: 1.5 })).toEqual({
      kind: "fails",
      boundary: reject.next(0.1, 0.5),
      distance: expect.closeTo(5, 9),
      riskSpent: reject.spent,
    });
  });

  it("of conforming between two limits needs both sides, and of failing one", () => {
    const kindAt = (value: number) =>
      new EarlyVerdict({ lower: 0, upper: LIMIT }, risks).take({ ...look, value }).kind;
    expect([-0.5, 0.2, 0.5, 0.8, 1.5].map(kindAt)).toEqual(["fails", "go-on", "conforms", "go-on", "fails"]);
  });

  it("never comes where its risk is none", () => {
    const verdict = new EarlyVerdict({ upper: LIMIT }, { falseAccept: 0, falseReject: 0 });
    for (const value of [-100, 100]) expect(verdict.take({ ...look, value }).kind).toBe("go-on");
  });

  it("can come at the shortest measuring time, clock 0", () => {
    const verdict = new EarlyVerdict({ upper: LIMIT }, risks);
    expect(verdict.take({ ...look, clock: 0, value: 0.5 }).kind).toBe("conforms");
  });

  it.each([
    [{}, risks],
    [{ lower: 2, upper: 1 }, risks],
    [{ upper: Number.NaN }, risks],
    [{ upper: 1 }, { falseAccept: -0.1, falseReject: 0.1 }],
    [{ upper: 1 }, { falseAccept: 0.1, falseReject: 0.5 }],
    [{ upper: 1 }, { falseAccept: Number.NaN, falseReject: 0.1 }],
  ])("refuses limits %j with risks %j", (limits, bad) => {
    expect(() => new EarlyVerdict(limits, bad)).toThrow(RangeError);
  });
});

describe("whatever the looks", () => {
  const someLooks = fc.array(
    fc.record({
      value: fc.double({ min: -3, max: 3, noNaN: true }),
      standardUncertainty: fc.double({ min: 1e-6, max: 1e6, noNaN: true }),
      clock: fc.double({ min: -0.1, max: 1.1, noNaN: true }),
    }),
    { minLength: 1, maxLength: 25 },
  );
  const someRisk = fc.double({ min: 1e-6, max: 0.4, noNaN: true });
  /** Growth of information from look to look; 0.01 is where a look counts. */
  const someGrowth = fc.array(
    fc.oneof(
      fc.double({ min: 0.011, max: 0.2, noNaN: true }),
      fc.double({ min: 0.2, max: 1e4, noNaN: true }),
    ),
    { minLength: 2, maxLength: 25 },
  );

  it("a boundary is above 0, and finite where information and clock have grown; the risk spent never falls or passes the risk", () => {
    fc.assert(
      fc.property(someGrowth, someRisk, (growth, risk) => {
        const boundary = new SequentialBoundary(risk);
        let information = 1;
        let spent = 0;
        growth.forEach((more, k) => {
          const found = boundary.next(1 / Math.sqrt(information), k / (growth.length - 1));
          expect(found).toBeGreaterThan(0);
          expect(found).toBeLessThan(7.4);
          expect(boundary.spent).toBeGreaterThan(spent);
          expect(boundary.spent).toBeLessThanOrEqual(risk);
          spent = boundary.spent;
          information *= 1 + more;
        });
      }),
    );
  });

  it("looks in any order and size leave the boundary a number above 0 and the risk spent within the risk", () => {
    fc.assert(
      fc.property(someLooks, someRisk, (looks, risk) => {
        const boundary = new SequentialBoundary(risk);
        let spent = 0;
        for (const look of looks) {
          expect(boundary.next(look.standardUncertainty, look.clock)).toBeGreaterThan(0);
          expect(boundary.spent).toBeGreaterThanOrEqual(spent);
          expect(boundary.spent).toBeLessThanOrEqual(risk);
          spent = boundary.spent;
        }
      }),
    );
  });

  it("a lower limit decides as the mirrored upper limit", () => {
    fc.assert(
      fc.property(someLooks, someRisk, someRisk, (looks, falseAccept, falseReject) => {
        const above = new EarlyVerdict({ upper: LIMIT }, { falseAccept, falseReject });
        const below = new EarlyVerdict({ lower: -LIMIT }, { falseAccept, falseReject });
        const mirrored = (look: Look): Look => ({ ...look, value: -look.value });
        for (const look of looks) expect(below.take(mirrored(look))).toEqual(above.take(look));
      }),
    );
  });
});
