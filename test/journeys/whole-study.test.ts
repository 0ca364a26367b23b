import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { parse, stringify } from "yaml";
import { readLimitFile } from "../../limits/limit-file.ts";
import { LEAK_PRESSURE } from "../../sim/instruments/demo-instruments.ts";
import { Population } from "../../sim/population.ts";
import { writeStudyPlan } from "../../station/guided-study/plan-file.ts";
import { planStudy } from "../../station/guided-study/plan-study.ts";
import { crossedStudy } from "../../station/quality/measurement-system/crossed-study.ts";
import { repeatability } from "../../station/quality/measurement-system/repeatability.ts";
import { plannedMeasurements } from "../../station/study-data/from-plan.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { OwnLimits } from "./own-limits.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const MEASURE_s = 1;
/** The stream gauge's, as its readings in the travellers come. */
const READING_EVERY_s = 0.02;
/** Of the demo's compact body and the fixture. */
const VOLUME_m3 = 4.4e-3;
const HOUSE_PRESSURE_Pa = 101_325;

/**
 * Standard deviation of the slope of a least-squares line through readings whose noise is known, as a leak rate, mL/min: the
 * slope is a weighted sum of the readings, and its variance follows from their covariances.
 */
function spreadOfSlope_mLmin(): number {
  const { white, correlated = 0, correlationTau_s = 1, resolution } = LEAK_PRESSURE;
  const count = Math.round(MEASURE_s / READING_EVERY_s) + 1;
  const t_s = Array.from({ length: count }, (_, i) => i * READING_EVERY_s - MEASURE_s / 2);
  const sum = t_s.reduce((total, t) => total + t * t, 0);
  const alone = white ** 2 + resolution ** 2 / 12;
  const variance = t_s
    .flatMap((a, i) =>
      t_s.map((b, k) => {
        const covariance =
          correlated ** 2 * Math.exp(-Math.abs(a - b) / correlationTau_s) + (i === k ? alone : 0);
        return ((a * b) / sum ** 2) * covariance;
      }),
    )
    .reduce((total, one) => total + one, 0);
  return (Math.sqrt(variance) * VOLUME_m3 * 60e6) / HOUSE_PRESSURE_Pa;
}

/** The leak step alone, by the slope over a whole measuring time. */
function leakAlone(): string {
  const file = parse(readFileSync("limits/models/pod-4.yaml", "utf8"));
  const [leak] = file.steps;
  return stringify({
    ...file,
    steps: [
      {
        ...leak,
        settle: "20 s",
        early_verdict: "off",
        method: { kind: "slope", subtract_mean_curve: false },
        measure_longest: `${MEASURE_s} s`,
      },
    ],
    characteristics: file.characteristics.filter((one: { step: string }) => one.step === "leak"),
    suspects: [],
  });
}

it("a whole study finds the spread that the gauge's noise makes", async () => {
  const own = new OwnLimits();
  own.write(leakAlone());
  own.withdrawApproval();
  const limits = readLimitFile(own.path, readFileSync(own.path, "utf8"));
  const population = new Population({ seed: 7, models: [limits] });
  const sound = Array.from(population.units(60)).filter(({ defects }) => defects.length === 0);
  const plan = planStudy(
    {
      ...{ study: "repeatability", name: "RR-10", characteristic: "leak_rate", references: new Map() },
      parts: sound.slice(0, 10).map(({ serial }) => serial),
      appraisers: ["A. Marsh", "B. Reyes", "C. Holm"],
      ...{ trials: 3, seed: 1 },
    },
    { station: "Demo station 1", limits, limitFile: "pod-4.yaml", pieces: [], made_ms: 0 },
  );
  const shift = await SimulatedShift.begin({
    stationPath: own.stationPath,
    allowDrafts: true,
    study: { plan, evaluate: () => "drumtight study" },
  });
  const { station } = shift.simulated;
  for (let next = station.study()?.next; next; next = station.study()?.next) {
    const { traveller, refused, faults } = await shift.tryBody(next.part);
    if (!traveller || traveller.verdict === "void")
      throw new Error(JSON.stringify([refused, faults, traveller?.reasons]));
  }
  const { recordsFolder } = await shift.close();
  const path = join(scratchFolder(), "rr-10.json");
  writeStudyPlan(path, plan);
  const { measurements } = await plannedMeasurements({
    ...{ path, study: "repeatability", folder: recordsFolder, mayBeIncomplete: false },
  });
  const found = repeatability(
    crossedStudy(measurements.map((one) => ({ ...one, value: one.value ?? Number.NaN }))),
    { method: "anova", rule: { interaction: "auto", poolAbove: 0.25 } },
  );
  expect(measurements).toHaveLength(90);
  // The body's heat is gone by then, and nobody's hands are in it: what is left is the gauge.
  const { EV, AV } = found.components;
  const expected = spreadOfSlope_mLmin();
  expect(EV.sd_CI95?.lower).toBeLessThan(expected);
  expect(EV.sd_CI95?.upper).toBeGreaterThan(expected);
  expect(AV?.sd).toBeLessThan(0.3 * expected);
});
