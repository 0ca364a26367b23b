import { describe, expect, it } from "vitest";
import { requireWhole, type SoakEnd } from "./soak.ts";

const WHOLE: SoakEnd = {
  asked: 60,
  step: 5,
  sampled: 60,
  summary: '{"event":"summary","tested":60}\n',
  code: 0,
  complaint: "",
};

describe("a soak", () => {
  it("counts when its station came to the last unit and summed up", () => {
    expect(() => requireWhole(WHOLE)).not.toThrow();
    expect(() => requireWhole({ ...WHOLE, sampled: 56, code: 1 })).not.toThrow();
  });

  it.each<[string, Partial<SoakEnd>]>([
    ["that died on the way", { sampled: 40, summary: "", code: 70, complaint: "no more" }],
    ["that was killed after its last sample", { summary: "", code: null }],
    ["whose summary was cut off", { summary: '{"event":"summary","tes' }],
    ["that gave up with a summary", { sampled: 55, code: 1 }],
    ["that failed after its summary", { code: 70 }],
  ])("gives no figure of a station %s", (_, end) => {
    expect(() => requireWhole({ ...WHOLE, ...end })).toThrow(/^The soak ended at unit/);
  });
});
