import { describe, expect, it } from "vitest";
import type { Characteristic, ModelLimits, SuspectRule } from "../../limits/model.ts";
import { DEMO_ORIFICES } from "../../sim/plant/shutters.ts";
import { judgeAirflow, measureAirflowStep } from "../../station/cycle/airflow-judging.ts";
import { judgeAttempt } from "../../station/cycle/judging.ts";
import type { UnitEvidence } from "../../station/cycle/unit-context.ts";
import { station } from "../made-traveller.ts";
import { held, NOTHING, type Point, sound, standardAir, step, thinAir } from "./held-points.ts";
import { attemptOn, pod } from "./unit-bench.ts";

function figure(
  measurand: Characteristic["measurand"],
  evidence: Pick<UnitEvidence, "ambient" | "airflow">,
  point?: string,
) {
  const characteristic: Characteristic = {
    name: "it",
    step: step.name,
    measurand,
    ...(point === undefined ? {} : { point }),
    lower: 0,
    unit: "W",
    rule: { kind: "simple" },
  };
  return judgeAirflow(characteristic, measureAirflowStep(step, evidence, station.knowledge));
}

describe("an airflow figure", () => {
  it("is suction, flow, input power, suction power or efficiency at its point", () => {
    const evidence = { ambient: standardAir, airflow: held(sound) };
    expect(figure("suction", evidence, "working").value).toBeCloseTo(9_100, -2);
    expect(figure("flow", evidence, "open").value).toBeCloseTo(0.0302, 4);
    expect(figure("power", evidence, "closed").value).toBeCloseTo(425, 0);
    expect(figure("suction_power", evidence, "working").value).toBeCloseTo(9_100 * 0.0155, 0);
    expect(figure("efficiency", evidence, "working").value).toBeCloseTo((9_100 * 0.0155) / 530, 4);
  });

  it("is stated at 1.20 kg/m3 and the supply voltage, whatever the weather and the mains", () => {
    const there = { ambient: thinAir, airflow: held(sound, 228) };
    // 97 kPa, 23 degC, 40 % RH: 1.13642 kg/m3 (CIPM-2007, worked out apart from this program); speed by the limit file.
    const density = 1.13642 / 1.2;
    const speed = density ** -0.17 * (228 / 230) ** 0.55;
    const { value: suction } = figure("suction", there, "working");
    expect((suction ?? 0) / (9_100 / (density * speed ** 2))).toBeCloseTo(1, 4);
    const { value: power } = figure("power", there, "working");
    expect((power ?? 0) / (530 / (density * speed ** 3))).toBeCloseTo(1, 4);
    const { value: flow } = figure("flow", there, "working");
    expect((flow ?? 0) / (0.0155 / speed)).toBeCloseTo(1, 4);
    expect(figure("efficiency", there, "working").value).toBeCloseTo((9_100 * 0.0155) / 530, 4);
  });

  it("is less sure the further the air and the mains are from what it is stated at", () => {
    const near = figure("suction", { ambient: standardAir, airflow: held(sound) }, "working");
    const far = figure("suction", { ambient: thinAir, airflow: held(sound, 226) }, "working");
    expect(far.uncertainty ?? 0).toBeGreaterThan(1.1 * (near.uncertainty ?? Number.NaN));
  });

  it("comes from the curve only when all its points were held", () => {
    const all = figure("largest_suction_power", { ambient: standardAir, airflow: held(sound) });
    expect(all.value).toBeGreaterThan(9_100 * 0.0155);
    const some = figure("largest_suction_power", { ambient: standardAir, airflow: held(sound.slice(0, 2)) });
    expect(some).toMatchObject({ value: null, verdict: "void" });
  });

  it("is void, and says why, where the points make no fan curve", () => {
    const rising: readonly Point[] = [
      [9_000, 0, 425],
      [9_100, 0.0155, 530],
      [9_500, 0.0302, 600],
    ];
    const result = figure("flow_at_zero_suction", { ambient: standardAir, airflow: held(rising) });
    expect(result).toMatchObject({ value: null, verdict: "void" });
    expect(result.why).toMatch(/suction/);
  });

  it("is void where the station does not know its flow: never nothing, never a pass", () => {
    const airflow = held(sound).map((it) => ({ ...it, samples: { ...it.samples, flow_m3_s: NOTHING } }));
    expect(figure("flow", { ambient: standardAir, airflow }, "open")).toMatchObject({
      value: null,
      verdict: "void",
    });
    expect(figure("suction_power", { ambient: standardAir, airflow }, "working").verdict).toBe("void");
  });

  it("takes its flow from the orifices where the station has no flow gauge", () => {
    const orifices = new Map(
      Object.keys(DEMO_ORIFICES).map((name) => {
        const bore_m = { working: 0.0165, open: 0.05 }[name];
        const opening =
          bore_m === undefined
            ? null
            : {
                bore_m,
                boreUncertainty_m: 1e-5,
                coefficient: 0.62,
                coefficientUncertainty: 0.003,
                isCalibrated: true,
              };
        return [name, opening] as const;
      }),
    );
    const airflow = held(sound).map((it) => ({ ...it, samples: { ...it.samples, flow_m3_s: NOTHING } }));
    const knowledge = { ...station.knowledge, flowFrom: { kind: "plenum" as const, orifices } };
    const result = measureAirflowStep(
      { ...step, correction: null },
      { ambient: standardAir, airflow },
      knowledge,
    );
    if ("kind" in result) throw new Error(result.why);
    const [closed, working] = result.performance.points;
    expect(closed?.flow).toMatchObject({ value: 0, uncertainty: 0 });
    // 0.62 pi/4 (16.5 mm)^2 sqrt(2 x 9100 Pa / 1.1993 kg/m3), less 2.3 % for expansion: 15.96 L/s.
    expect(working?.flow.value).toBeGreaterThan(0.0158);
    expect(working?.flow.value).toBeLessThan(0.0161);
  });
});

describe("a value that is hardly known", () => {
  const rough = held(sound).map((it) => {
    const { t_s, values } = it.samples.suction_Pa;
    const swing = values.map((value, n) => value * (1 + (n % 2 === 0 ? 0.9 : -0.9)));
    return { ...it, samples: { ...it.samples, suction_Pa: { t_s, values: swing } } };
  });
  const judgedBy = (lower: number) =>
    judgeAirflow(
      {
        name: "it",
        step: step.name,
        measurand: "suction",
        point: "working",
        lower,
        unit: "kPa",
        rule: { kind: "simple" },
      },
      measureAirflowStep(step, { ambient: standardAir, airflow: rough }, station.knowledge),
    );

  it("passes no unit near its limit, though it is inside", () => {
    const result = judgedBy(7_000);
    expect(result.value).toBeGreaterThan(8_000);
    expect(result).toMatchObject({ verdict: "void", conformance: null });
    expect(result.why).toMatch(/sixth of the limit/);
  });

  it("passes one that is inside beyond all doubt: 380 Pa known to 10 Pa against 50 Pa", () => {
    const evidence = { ambient: standardAir, airflow: held(sound) };
    const result = judgeAirflow(
      {
        name: "it",
        step: step.name,
        measurand: "suction",
        point: "open",
        lower: 50,
        unit: "Pa",
        rule: { kind: "simple" },
      },
      measureAirflowStep(step, evidence, station.knowledge),
    );
    expect(result.uncertainty).toBeGreaterThan(50 / 6);
    expect(result.verdict).toBe("pass");
  });
});

describe("what a failed unit is suspected of", () => {
  const suspects: readonly SuspectRule[] = [
    {
      cause: "blocked path",
      lookAt: "Look into the inlet.",
      when: [
        { kind: "ratio", of: "open flow", to: "lower", atMost: 0.97 },
        { kind: "verdict", of: "sealed suction", is: "pass" },
      ],
    },
    {
      cause: "weak motor",
      lookAt: "Look at the motor.",
      when: [{ kind: "verdict", of: "sealed suction", is: "fail" }],
    },
  ];
  const limits: ModelLimits = {
    ...pod,
    suspects,
    steps: [step],
    characteristics: pod.characteristics.filter(({ measurand }) => measurand !== "leak_rate"),
  };
  const judgedWith = (points: readonly Point[], voids: UnitEvidence["voids"] = []) =>
    judgeAttempt(
      attemptOn(limits),
      {
        startedAt_ms: 0,
        start_s: 0,
        ambient: standardAir,
        leaks: [],
        airflow: held(points),
        phases: [],
        fails: [],
        voids,
      },
      station.knowledge,
    );

  it("stands with its evidence beside a fail", () => {
    const result = judgedWith([
      [13_900, 0, 425],
      [6_000, 0.0125, 500],
      [150, 0.019, 520],
    ]);
    expect(result.verdict).toBe("fail");
    expect(result.suspects.map(({ cause }) => cause)).toEqual(["blocked path"]);
    expect(result.suspects[0]?.evidence[0]).toMatch(
      /open flow 1[89]\.\d+ L\/s is 0\.7\d+ of its lower limit 26\.5 L\/s/,
    );
  });

  it("is nothing beside a pass or a void", () => {
    expect(judgedWith(sound)).toMatchObject({ verdict: "pass", suspects: [] });
    const doubt = { code: "INSTRUMENT_FAULT", sentence: "gone" } as const;
    expect(judgedWith([[9_000, 0, 425], ...sound.slice(1)], [doubt])).toMatchObject({
      verdict: "void",
      suspects: [],
    });
  });
});
