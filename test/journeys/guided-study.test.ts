import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { oneLeakRate } from "../../station/commands/study/model-of-station.ts";
import { NOT_CALIBRATED } from "../../station/cycle/attempt.ts";
import { writeStudyPlan } from "../../station/guided-study/plan-file.ts";
import { planStudy } from "../../station/guided-study/plan-study.ts";
import type { StudyPlan } from "../../station/guided-study/study-plan.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { readAttempts } from "../../station/records/read-attempts.ts";
import { plannedMeasurements } from "../../station/study-data/from-plan.ts";
import { recordedValues } from "../../station/study-data/from-records.ts";
import { readTimingRecords } from "../../station/timing-records.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const POD = loadLimitFile("limits/models/pod-4.yaml");

function planOf(parts: readonly string[], seed = 1, station = "Demo station 1", limits = POD): StudyPlan {
  return planStudy(
    {
      study: "repeatability",
      name: "RR-1",
      characteristic: "leak_rate",
      parts,
      references: new Map(),
      appraisers: ["A. Marsh"],
      trials: 2,
      seed,
    },
    { station, limits, limitFile: "pod-4.yaml", pieces: [], made_ms: 0 },
  );
}

const studied = (plan: StudyPlan) => ({ study: { plan, evaluate: () => "drumtight study" } });

/** Puts on and scans what the study asks for. */
function next(shift: SimulatedShift) {
  return shift.tryBody(shift.simulated.station.study()?.next?.part ?? "");
}

describe("a study measured at the station", () => {
  it("counts for nothing, takes only the piece it asks for, and goes on where it was left", async () => {
    const production = await SimulatedShift.proven();
    const { population, station } = production.simulated;
    const [passed, untested] = [0, 1].map((k) => population.unitAt(k).serial) as [string, string];
    const first = await production.tryBody(passed);
    expect(first.traveller?.verdict).toBe("pass");
    const before = station.dayCount();
    const left = await production.close();

    const plan = planOf([passed, untested]);
    const begun = await SimulatedShift.begin({ ...left, ...studied(plan) });
    // Whether the reference check is due is production's business.
    expect(begun.simulated.station.dueReferences()).toEqual([]);
    const asked = begun.simulated.station.study()?.next?.part ?? "";
    const wrong = await begun.tryBody(asked === passed ? untested : passed);
    expect(wrong.traveller).toBeNull();
    expect(wrong.refused.map(({ code }) => code)).toEqual(["NOT_ASKED_FOR"]);
    expect(wrong.refused[0]?.sentence).toContain(`asks for "${asked}" now`);
    const measured = await next(begun);
    expect(measured.traveller).toMatchObject({
      serial: asked,
      verdict: "pass",
      draft: true,
      study: { name: "RR-1", plan_sha256: plan.sha256, run: 1, of: 4, appraiser: "A. Marsh", trial: 1 },
    });
    begun.simulated.station.listen({
      phase: (attempt) => attempt.study?.run === 2 && begun.simulated.station.abort(),
    });
    const broken = await next(begun);
    expect(broken.traveller?.verdict).toBe("void");
    expect(begun.simulated.station.study()?.next?.run).toBe(2);
    expect(begun.simulated.station.dayCount()).toEqual(before);
    const middle = await begun.close();

    await expect(
      SimulatedShift.begin({ ...middle, ...studied(planOf([passed, untested], 2)) }),
    ).rejects.toThrow(/Study RR-1 has been begun with another plan/);

    const resumed = await SimulatedShift.begin({ ...middle, ...studied(plan) });
    const runs: unknown[] = [];
    while (resumed.simulated.station.study()?.next && runs.length < 9)
      runs.push((await next(resumed)).traveller?.study?.run);
    expect(runs).toEqual([2, 3, 4]);
    const done = await resumed.tryBody(passed);
    expect(done.refused.map(({ code }) => code)).toEqual(["STUDY_DONE"]);
    const end = await resumed.close();

    const after = await SimulatedShift.proven(end);
    expect((await after.tryBody(passed)).refused.map(({ code }) => code)).toEqual(["ALREADY_PASSED"]);
    // It has passed in the study, twice; for production it has not been tested yet.
    const own = await after.tryBody(untested);
    expect(own.traveller).toMatchObject({ verdict: "pass", draft: false, attempt: { kind: "first" } });
    expect(after.simulated.station.dayCount()).toMatchObject({
      tested: before.tested + 1,
      inspected: before.inspected + 1,
      firstPassed: before.firstPassed + 1,
    });
    const { recordsFolder } = await after.close();

    const path = join(scratchFolder(), "rr-1.json");
    writeStudyPlan(path, plan);
    const found = await plannedMeasurements({
      ...{ path, study: "repeatability", folder: recordsFolder, mayBeIncomplete: false },
    });
    const attempts = [
      ...(await readAttempts(recordsFolder, passed)).attempts,
      ...(await readAttempts(recordsFolder, untested)).attempts,
    ];
    const valuesOf = (isStudy: boolean) =>
      attempts
        .flatMap(({ traveller }) =>
          traveller && traveller.verdict !== "void" && (traveller.study !== undefined) === isStudy
            ? [traveller.characteristics.find(({ name }) => name === "leak rate")?.value]
            : [],
        )
        .sort();
    expect(found.measurements.map(({ value }) => value).sort()).toEqual(valuesOf(true));
    expect(found.measurements.map(({ part, trial }) => `${part} ${trial}`)).toEqual(
      plan.runs.map(({ part, trial }) => `${part} ${trial}`),
    );
    // Not even with --drafts --all-attempts is a study's value one of the process.
    const process = await recordedValues({
      ...{ folder: recordsFolder, model: "POD-4", characteristic: "leak_rate" },
      ...{ shifts: [], parts: new Map(), attempts: "all", withDrafts: true },
    });
    expect([...process.values].sort()).toEqual(valuesOf(false));
    // Nor does it say what units leak: the pieces of a study are chosen.
    const { knowledge } = readStationFileAlone("sim/demo-station.yaml");
    const timing = await readTimingRecords({
      ...{ limits: POD, ...oneLeakRate(POD), knowledge, recordsFolder, today: NOT_CALIBRATED },
      ...{ stationPath: "sim/demo-station.yaml", query: { model: "POD-4" } },
    });
    const tested = attempts.flatMap(({ traveller }) => (traveller?.study ? [] : (traveller?.id ?? [])));
    expect(timing.units.map(({ id }) => id).sort()).toEqual(tested.sort());
    expect(timing.studied).toBe(attempts.length - tested.length);
  });

  it("on a reference piece neither renews nor fails its check, whatever the piece reads", async () => {
    const production = await SimulatedShift.proven();
    const unit = production.simulated.population.unitAt(0).serial;
    expect((await production.tryBody(unit)).traveller?.verdict).toBe("pass");
    const { inForce, unitsLeft } = production.simulated.station.referenceState("POD-4");
    expect(inForce).not.toBeNull();
    const left = await production.close();

    const tight = "REF-TIGHT-POD-4";
    const plan = planStudy(
      {
        ...{ study: "type1", name: "T-1", characteristic: "leak_rate", references: new Map() },
        ...{ parts: [tight], appraisers: ["A. Marsh"], trials: 2, seed: 1 },
      },
      {
        ...{ station: "Demo station 1", limits: POD, limitFile: "pod-4.yaml", made_ms: 0 },
        pieces: readStationFileAlone("sim/demo-station.yaml").referenceCheck?.pieces ?? [],
      },
    );
    const study = await SimulatedShift.begin({ ...left, ...studied(plan) });
    const held: unknown[] = [];
    study.simulated.station.listen({ held: (disposition) => held.push(disposition) });
    const sound = await study.tryBody(tight);
    expect(sound.traveller).toMatchObject({ kind: "reference", draft: true, verdict: "pass" });
    // The leaking piece, put on in the place of the tight one.
    const leaking = study.simulated.unitOf("REF-LEAK-POD-4");
    if (!leaking) throw new Error("no leaking piece");
    const wrong = await study.tryUnit({ ...leaking, serial: tight });
    expect(wrong.traveller).toMatchObject({ kind: "reference", draft: true, verdict: "fail" });
    expect(held).toEqual([]);
    expect(study.simulated.station.referenceState("POD-4")).toMatchObject({ due: [], inForce, unitsLeft });
    const end = await study.close();

    const after = await SimulatedShift.begin(end);
    expect(after.simulated.held).toEqual([]);
    expect(after.simulated.station.referenceState("POD-4")).toMatchObject({ due: [], inForce, unitsLeft });
    expect(after.simulated.station.referenceTrend(tight)).toEqual(
      production.simulated.station.referenceTrend(tight),
    );
    expect((await after.tryBody(unit)).refused.map(({ code }) => code)).toEqual(["ALREADY_PASSED"]);
  });

  it.each([
    [
      "another station",
      planOf(["POD531811", "POD531812"], 1, "Line 9"),
      /planned for "Line 9", and this is "Demo station 1"/,
    ],
    [
      "limits that were changed since",
      planOf(["POD531811", "POD531812"], 1, "Demo station 1", {
        ...POD,
        source: { ...POD.source, sha256: "0".repeat(64) },
      }),
      /the limits of POD-4 are another file now/,
    ],
  ])("is refused before anything is opened where it is planned for %s", async (_, plan, sentence) => {
    await expect(SimulatedShift.begin(studied(plan))).rejects.toThrow(sentence);
  });
});
