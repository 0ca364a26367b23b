import { describe, expect, it } from "vitest";
import { EventReporter, LineReporter } from "../station/report.ts";
import { bodyCurve, LEARNED, madeTraveller, podWith } from "./made-traveller.ts";
import { attempt } from "./screen/example-state.ts";

const LOOKS = { settle_s: 0.3, measureLongest_s: 12, method: { kind: "fitted" } } as const;
const EARLY = { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 };

/** What a run tells of a body with hardly any leak. */
function told(earlyVerdict: typeof EARLY | null) {
  const limits = podWith({ ...LOOKS, earlyVerdict });
  const traveller = madeTraveller({ limits, calibration: LEARNED, curve: bodyCurve(2) });
  const finished = { attempt, traveller, path: "records/1.json", seconds: 20 };
  let [line, event] = ["", ""];
  new LineReporter((text) => {
    line += text;
  }).unit(finished);
  new EventReporter((text) => {
    event += text;
  }).unit(finished);
  const { characteristics } = JSON.parse(event) as { characteristics: Record<string, unknown>[] };
  return { line, leak: characteristics[0], how: traveller.characteristics[0]?.how };
}

describe("a verdict that was certain before the end", () => {
  it("is told as such, with the time it took, to people and to programs", () => {
    const { line, leak, how } = told(EARLY);
    expect(how?.looks?.early).toBe(true);
    const after_s = how?.to_s ?? 0;
    expect(line).toContain(`(<= 25, sure after ${after_s.toFixed(1)} s) mL/min`);
    expect(leak).toMatchObject({ decided_early: { after_fill_s: after_s, look: how?.looks?.taken } });
  });

  it("is not told of one measured to the end", () => {
    const { line, leak } = told(null);
    expect(line).toContain("(<= 25) mL/min");
    expect(leak).not.toHaveProperty("decided_early");
  });
});
