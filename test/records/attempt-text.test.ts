import { describe, expect, it, test } from "vitest";
import { airflowLines } from "../../station/records/airflow-text.ts";
import { characteristicText, measuredText, unitText } from "../../station/records/attempt-text.ts";
import { foundState } from "../../station/records/found-state.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { airflow, facts, outcome, SUSPECTS } from "./example-attempt.ts";

test("a value just beyond its limit is shown with the digits that tell it from the limit", () => {
  expect(measuredText(60.004, 1.7, "mL/min", [60])).toBe("60.004 ± 1.7 mL/min");
  expect(measuredText(60.04, 1.7, "mL/min", [60])).toBe("60.04 ± 1.7 mL/min");
});

test("a verdict that was certain before the end says when it was, and one measured to the end does not", () => {
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("no characteristic");
  const told = (early: boolean) =>
    characteristicText({
      ...leak,
      value: 6.2,
      expanded_uncertainty: 27.1,
      how: {
        method: "fitted",
        from_s: 0.3,
        to_s: 6.284,
        samples: 400,
        left_out: 0,
        looks: { taken: 17, at_s: 12.4, early },
      },
    });
  expect(told(true)).toBe(
    "leak rate: 6 ± 27 mL/min, at most 60 mL/min: pass, early: sure 6.3 s after the fill, at look 17",
  );
  expect(told(false)).toBe("leak rate: 6 ± 27 mL/min, at most 60 mL/min: pass");
});

test("a limit that comes from the rated input says so", () => {
  const [one] = outcome().characteristics;
  if (!one) throw new Error("no characteristic");
  const { upper: _, ...power } = { ...one, name: "input power", measurand: "power" as const, unit: "W" };
  expect(
    characteristicText({
      ...power,
      value: 1301.2,
      expanded_uncertainty: 4.2,
      lower: 1010,
      upper: 1288,
      rated_input: 1120,
      verdict: "fail",
    }),
  ).toBe("input power: 1301.2 ± 4.2 W, at least 1010 W and at most 1288 W (rated 1120 W, IEC 60335-1): fail");
});

/** What is told of one attempt. */
function told(more: Partial<Traveller>): string[] {
  const traveller = Traveller.parse({
    format: "drumtight/traveller/1",
    id: "0".repeat(32),
    ...facts("A1"),
    ...outcome(),
    chain: { sequence: 1, previous: null },
    ...more,
  });
  const path = "records/A1.json";
  const unit = {
    attempts: [{ path, problem: null, sha256: "d".repeat(64), traveller }],
    open: [],
    gaps: [],
  };
  const state = foundState("A1", unit, [], null);
  return unitText("A1", unit, { dispositions: [], state, checks: new Map() }).split("\n");
}

describe("a failed unit's suspects", () => {
  const reasons = [{ code: "OUT_OF_LIMITS", sentence: "open flow is below the lower limit." }];
  const lines = told({ verdict: "fail", reasons, suspects: SUSPECTS });

  it("are told in their order, each with where to look and all that speaks for it", () => {
    const from = lines.findIndex((line) => line.includes("suspect 1"));
    expect(lines.slice(from, from + 6)).toEqual([
      "    suspect 1: blocked path. Take the unit from the mains, then look through hose, inlet and filter.",
      "      because open flow 41.20 L/s is 0.841 of its lower limit 49 L/s",
      "      because sealed suction passed",
      "    suspect 2: weak motor. Try the unit with another lid.",
      "      because tub cavity T3",
      "    Before anybody opens the unit: unplug it and isolate it, by licensed practice.",
    ]);
  });

  it("are nowhere, nor is the caution, where nothing is suspected", () => {
    expect(told({}).join("\n")).not.toMatch(/suspect|unplug/);
  });
});

describe("the room's air", () => {
  const ambient = { temperature_K: 294.35, pressure_Pa: 100_950, relative_humidity: 0.42 };

  it("is told, and who entered it and when where nothing measured it", () => {
    expect(told({ ambient })).toContain("    room: 21.2 °C, 1009.5 hPa, humidity 42 %");
    const at = (instant: string) =>
      told({ ambient: { ...ambient, entered: { by: "A. Marsh", at: instant } } }).join();
    // The process's time zone is whatever it is: the attempt began at 06:00 UTC.
    const local = new Date("2026-01-05T05:50:00.000Z");
    const two = (part: number) => String(part).padStart(2, "0");
    const time = `${two(local.getHours())}:${two(local.getMinutes())}`;
    expect(at("2026-01-05T05:50:00.000Z")).toContain(`entered by A. Marsh at ${time}`);
    expect(at("2026-01-02T05:50:00.000Z")).toContain(`entered by A. Marsh at 2026-01-02 ${time}`);
  });

  it("is not invented where it was not read", () => {
    expect(told({ ambient: null }).join()).not.toContain("room:");
  });
});

describe("an airflow step", () => {
  it("is told with what it is stated at, point by point, rounded by its uncertainty, and with its curve", () => {
    const lines = told({ airflow: [airflow()] });
    const from = lines.findIndex((line) => line.startsWith("    airflow, at"));
    expect(lines.slice(from, from + 10)).toEqual([
      "    airflow, at 1.20 kg/m3 and 230 V (± is k = 2); the room's air 1.1862 ± 0.0012 kg/m3",
      "      flow from the flow gauge",
      "      point    suction, kPa    flow, L/s     power, W      suction power, W  efficiency, %",
      "      closed   22.312 ± 0.049  0.00 ± 0.28   774.0 ± 3.8   0.0 ± 6.2         0.00 ± 0.56",
      "      working  15.620 ± 0.049  30.10 ± 0.28  1043.4 ± 3.8  470.2 ± 6.2       45.06 ± 0.56",
      "      open     1.311 ± 0.049   55.40 ± 0.28  1169.2 ± 3.8  72.6 ± 6.2        6.21 ± 0.56",
      "      fan curve (parabola):",
      "        largest suction power 482.3 ± 6.8 W at 33.4 L/s",
      "        suction at zero flow 22.312 ± 0.049 kPa",
      "        flow at zero suction 57.10 ± 0.42 L/s, beyond the tested points",
    ]);
  });

  const text = (more: Parameters<typeof airflow>[0]) => airflowLines(airflow(more)).join("\n");

  it("says that it is as measured where nothing was corrected", () => {
    expect(text({ stated_at: null })).toMatch(/^airflow, as measured/);
    expect(text({ stated_at: null })).not.toContain("1.20 kg/m3");
  });

  it("says where the flow comes from, with coefficient and calibration", () => {
    const opening = {
      bore_m: 0.0165,
      bore_uncertainty_m: 1e-5,
      coefficient: 0.6213,
      coefficient_uncertainty: 0.0031,
    };
    const orifices = [
      { orifice: "closed", opening: null },
      { orifice: "working", opening: { ...opening, calibrated: "2026-01-02" } },
      { orifice: "open", opening: { ...opening, bore_m: 0.05, calibrated: null } },
    ];
    expect(text({ flow_from: { kind: "plenum_orifices", orifices } })).toContain(
      "flow from the suction over the orifices: closed shut; working 16.5 mm, coefficient 0.6213 ± 0.0062 (calibrated 2026-01-02); open 50 mm, coefficient 0.6213 ± 0.0062 (not calibrated)",
    );
    const plate = {
      kind: "plate_in_pipe",
      pipe_m: 0.08,
      pipe_uncertainty_m: 1e-4,
      bore_m: 0.048,
      bore_uncertainty_m: 1e-5,
      taps: "d-d2",
    } as const;
    expect(text({ flow_from: { ...plate, coefficient: null, calibrated: null } })).toContain(
      "flow from the drop over a plate of 48 mm in a pipe of 80 mm, D and D/2 taps, coefficient by ISO 5167-2",
    );
    const coefficient = { value: 0.6071, uncertainty: 0.001 };
    expect(text({ flow_from: { ...plate, coefficient, calibrated: "2026-01-02" } })).toContain(
      "coefficient 0.6071 ± 0.0020 (calibrated 2026-01-02)",
    );
  });

  it("says so where there is no curve, no figure or no efficiency, instead of a number", () => {
    expect(text({ curve: { kind: "none", why: "one point makes no curve" } })).toContain(
      "no fan curve: one point makes no curve",
    );
    const { curve, points } = airflow();
    if (curve.kind === "none") throw new Error("the example has a curve");
    const largest_suction_power_W = { kind: "none" as const, why: "the curve rises" };
    expect(text({ curve: { ...curve, largest_suction_power_W } })).toContain(
      "largest suction power can't be told: the curve rises",
    );
    expect(text({ points: points.map((it) => ({ ...it, efficiency: null })) })).toMatch(
      /72\.6 ± 6\.2 +no value/,
    );
  });

  it("says how far the worst point lies from a curve that does not go through all of them", () => {
    const { curve } = airflow();
    if (curve.kind === "none") throw new Error("the example has a curve");
    const tested = curve.tested.map((it, i) => ({ ...it, residual_Pa: [12, -31.4, 8][i] ?? 0 }));
    expect(text({ curve: { ...curve, kind: "line", tested, fit_probability: 0.342 } })).toContain(
      "working lies farthest from it: 0.031 kPa below, the curve known there within 0.049 kPa; chance of so bad a fit 34 %",
    );
    expect(text({ curve: { ...curve, tested } })).not.toContain("farthest");
  });

  it("with a flow of exactly none has no digits that nobody measured", () => {
    const [closed] = airflow().points;
    if (!closed) throw new Error("the example has a point");
    const none = { value: 0, uncertainty: 0 };
    const lines = airflowLines(
      airflow({ points: [{ ...closed, flow_m3_s: none, suction_power_W: none, efficiency: none }] }),
    );
    expect(lines.find((line) => line.includes("closed"))).toMatch(/± 0\.049 +0 +774\.0 ± 3\.8 +0 +0$/);
  });
});
