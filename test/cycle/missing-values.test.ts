import { describe, expect, it } from "vitest";
import { judgeAttempt } from "../../station/cycle/judging.ts";
import { missingValues } from "../../station/cycle/missing-values.ts";
import { bodyCurve, LEARNED, madeTraveller, podWith, station } from "../made-traveller.ts";
import { attemptOn, pod } from "./unit-bench.ts";

describe("why there is no valid verdict", () => {
  it("is told in whole sentences, with testing again said once, where a body does not settle as its model does", () => {
    const knocked = bodyCurve(2).map(({ t_s, pressure_Pa }) => ({
      t_s,
      pressure_Pa: pressure_Pa + 40 * Math.sin(t_s),
    }));
    const limits = podWith({ settle_s: 0.3, measureLongest_s: 12, method: { kind: "fitted" } });
    const { verdict, reasons } = madeTraveller({ limits, calibration: LEARNED, curve: knocked });
    const sentence = reasons[0]?.sentence ?? "";
    expect(verdict).toBe("void");
    expect(sentence).toMatch(
      /^No valid value for leak rate\. The pressure did not settle as this model's bodies do\./,
    );
    expect(sentence.match(/test the unit again/gi)).toHaveLength(1);
    expect(sentence).toMatch(/have the engineer run drumtight study settle\.$/);
    expect(sentence).not.toMatch(/[()]|\.\./);
  });

  it("leaves out what was not come to, unless that is all there is to say", () => {
    const nothing = { name: "open flow", why: "not measured" };
    const few = [
      { name: "leak_rate", why: "too few samples" },
      { name: "second leak", why: "too few samples" },
    ];
    expect(missingValues([nothing, ...few])).toEqual({
      code: "NOT_MEASURED",
      sentence: "No valid value for leak rate, second leak: too few samples. Test the unit again.",
    });
    expect(missingValues([nothing]).sentence).toBe("No valid value for open flow. Test the unit again.");
    expect(missingValues([]).sentence).toBe("No valid value for any characteristic. Test the unit again.");
  });

  it("names all that was not come to when nothing was measured", () => {
    const evidence = {
      startedAt_ms: 0,
      start_s: 0,
      ambient: null,
      leaks: [],
      airflow: [],
      phases: [],
      fails: [],
      voids: [],
    };
    const [reason] = judgeAttempt(attemptOn(pod), evidence, station.knowledge).reasons;
    const names = pod.characteristics.map(({ name }) => name).join(", ");
    expect(reason?.sentence).toBe(`No valid value for ${names}. Test the unit again.`);
  });
});
