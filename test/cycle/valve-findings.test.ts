import { describe, expect, it } from "vitest";
import { comparisonFinding, gaugeUncertaintyOf } from "../../station/cycle/gauge-comparison.ts";
import { heldFinding, shutValveFinding, ventTrialFinding } from "../../station/cycle/valve-findings.ts";

/** Slowest fills: 1000 Pa/s up, 1000 Pa/s down. */
const pod = { testPressure_Pa: 5000, fillLongest_s: 5 };
const tub = { testPressure_Pa: -8000, fillLongest_s: 8 };

const trial = (body_Pa_s: number | null, uncertainty_Pa_s = 30) => ({
  source_Pa: [5150],
  body_Pa_s,
  uncertainty_Pa_s,
});

describe("two valves tried one by one", () => {
  const isolate = /: the isolate valve .* does not shut/;
  const source = /: the source valve .* does not shut/;
  it.each([
    ["both shut", pod, 0, 0, null],
    ["both shut, under suction", tub, 0, 0, null],
    ["only the isolate valve passes", pod, 3, 1300, isolate],
    ["only the isolate valve passes, under suction", tub, -3, -1300, isolate],
    ["only the source valve passes", pod, 1300, 3, source],
    ["both pass", pod, 1300, 1290, /both valves/],
    ["a warm body swells in both", pod, 400, 390, null],
    ["one passes on top of a warm body", pod, 400, 1000, isolate],
    ["just not half a slowest fill", pod, 0, 500, null],
    ["just more than half a slowest fill", pod, 0, 501, isolate],
    ["the pressure moves away from the test pressure", pod, 0, -1300, null],
  ])("%s", (_, step, sourceShut, isolateShut, words) => {
    const finding = shutValveFinding(trial(sourceShut), trial(isolateShut), step);
    if (words) expect(finding).toMatchObject({ code: "VALVE_STUCK", sentence: expect.stringMatching(words) });
    else expect(finding).toBeNull();
  });

  it("are left alone where the gauge gave no rate, or scatters too much to tell", () => {
    expect(shutValveFinding(trial(null, 0), trial(1300), pod)).toBeNull();
    expect(shutValveFinding(trial(0), trial(null, 0), pod)).toBeNull();
    expect(shutValveFinding(trial(0, 90), trial(1300, 90), pod)).toBeNull();
  });
});

describe("a unit that came only to some pressure", () => {
  const decay = (...pressure_Pa: number[]) => ({
    t_us: pressure_Pa.map((_, i) => (i * 500_000) / (pressure_Pa.length - 1)),
    pressure_mPa: pressure_Pa.map((it) => it * 1000),
  });
  // At 3200 of 5130 Pa a leak lets out 0.61 of a fill's first rate: 306 Pa in half a second and more.
  it.each([
    ["and empties as fast as it was filled is open", pod, decay(3170, 2500), 3200, 5130, null],
    ["and loses a quarter of that is open", pod, decay(3170, 3093), 3200, 5130, null],
    ["and keeps it was cut off", pod, decay(3170, 3165), 3200, 5130, "BLOCKED_FIXTURE"],
    ["and loses hardly any of it was cut off", pod, decay(3170, 3100), 3200, 5130, "BLOCKED_FIXTURE"],
    ["and keeps it under suction was cut off", tub, decay(-3000, -2995), -3000, -8200, "BLOCKED_FIXTURE"],
    ["and empties under suction is open", tub, decay(-3000, -2000), -3000, -8200, null],
    ["and empties at once is open", pod, decay(190, 0), 190, 5130, null],
    ["and is hardly any is for the vent's trial to tell", pod, decay(20, 20), 20, 5110, null],
    ["and whose source was not read is for others to tell", pod, decay(3170, 3165), 3200, null, null],
  ])("%s", (_, step, gross, pressure_Pa, source_Pa, code) => {
    expect(heldFinding(gross, { pressure_Pa, source_Pa }, step)?.code ?? null).toBe(code);
  });
});

describe("a vent opened against the source", () => {
  it.each([
    ["stood open already when nothing changes", pod, 37, 37, "VALVE_STUCK"],
    ["stood open already when nothing changes under suction", tub, -380, -382, "VALVE_STUCK"],
    ["was shut when it lets the pressure go", pod, 1400, 40, null],
    ["was shut when a small vent takes a seventh away", pod, 500, 430, null],
    ["was shut when an open unit's pressure halves", pod, 9, 4.6, null],
    ["tells nothing of a unit too open to hold what the gauge can tell", pod, 4, 4, null],
    ["tells nothing of a missing gasket's few pascals, which scatter by a tenth", tub, -8.7, -8.2, null],
    ["tells nothing of a pressure on the wrong side", pod, -37, -37, null],
  ])("%s", (_, step, shut_Pa, open_Pa, code) => {
    expect(ventTrialFinding({ shut_Pa, open_Pa }, step, 2)?.code ?? null).toBe(code);
  });
});

describe("leak and source gauge on the same air", () => {
  // 2 Pa and 0.1 %, 20 Pa and 0.2 %: at 5150 Pa 5.5 and 22.5 Pa, so that they may differ by 3 x 23.2 = 69.5 Pa.
  const channels = new Map([
    ["leak_pressure", { absolute: 2, relative: 0.001 }],
    ["source_pressure", { absolute: 20, relative: 0.002 }],
  ]);
  const uncertainty = gaugeUncertaintyOf({ channels });
  it.each([
    ["agree", 5150, 5150, 0, null],
    ["agree within their certificates", 5150, 5218, 0, null],
    ["disagree beyond them", 5150, 5221, 0, "GAUGES_DISAGREE"],
    ["disagree the other way", 5221, 5150, 0, "GAUGES_DISAGREE"],
    ["differ by what is lost on the way while it flows", 5000, 5150, 150, null],
    ["are not compared by a number that is none", Number.NaN, 5150, 0, "GAUGES_DISAGREE"],
  ])("%s", (_, leak_Pa, source_Pa, rate_Pa_s, code) => {
    expect(comparisonFinding({ leak_Pa, source_Pa, rate_Pa_s }, pod, uncertainty)?.code ?? null).toBe(code);
  });

  it("are named with what each shows and by how much they may differ", () => {
    const reason = comparisonFinding({ leak_Pa: 5560, source_Pa: 5150, rate_Pa_s: 0 }, pod, uncertainty);
    expect(reason?.sentence).toMatch(
      /Leak gauge and source gauge.*5\.56 kPa and 5\.15 kPa.*\d+ Pa.*third one/,
    );
  });

  it("are not compared where one has no certificate", () => {
    const one = gaugeUncertaintyOf({ channels: new Map() });
    expect(comparisonFinding({ leak_Pa: 5150, source_Pa: 5150, rate_Pa_s: 0 }, pod, one)).not.toBeNull();
  });
});
